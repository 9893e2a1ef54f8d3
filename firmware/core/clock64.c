/*
 * Widening of device time to 64 bits.
 */
#include "clock64.h"
#include <string.h>

uint64_t clock64_us(struct clock64 *clock, uint32_t ticks)
{
    uint32_t wraps = clock->wraps;
    if ((int32_t)(ticks - clock->ticks) >= 0) {
        if (ticks < clock->ticks)
            clock->wraps = ++wraps;
        clock->ticks = ticks;
    } else if (ticks > clock->ticks) {
        wraps--; /* before the latest instant, and before its wrap */
    }
    /* Half of wraps x 2^32 + ticks, rounded down; in halves, since 64-bit shifts are long on small processors. */
    uint32_t halves[2] = {(ticks >> 1) | (wraps & 1 ? 0x80000000ul : 0), wraps >> 1};
    uint64_t us;
    memcpy(&us, halves, sizeof us);
    return us;
}
