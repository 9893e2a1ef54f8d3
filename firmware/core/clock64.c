/*
 * Widening of device time to 64 bits.
 */
#include "clock64.h"

uint64_t clock64_us(struct clock64 *clock, uint32_t ticks)
{
    int32_t step = (int32_t)(ticks - (uint32_t)clock->ticks);
    uint64_t instant = clock->ticks + (uint64_t)(int64_t)step;
    if (step > 0)
        clock->ticks = instant;
    return instant / TICKS_PER_US;
}
