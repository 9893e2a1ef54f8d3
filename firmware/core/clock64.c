/*
 * Widening of device time to 64 bits.
 */
#include "clock64.h"

uint64_t clock64_us(struct clock64 *clock, uint32_t ticks)
{
    /* The odd half microsecond is left off, so that instants before the latest round down too. */
    ticks &= ~(uint32_t)1;
    uint32_t ahead = ticks - clock->ticks;
    if (ahead & 0x80000000ul)
        return clock->us - (0 - ahead) / TICKS_PER_US;
    clock->ticks = ticks;
    clock->us += ahead / TICKS_PER_US;
    return clock->us;
}
