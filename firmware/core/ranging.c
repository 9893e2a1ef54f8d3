/*
 * Range switching with hysteresis.
 */
#include "ranging.h"

enum sense_range ranging_next(struct ranging *ranging, int32_t units)
{
    int32_t size = units < 0 ? -units : units;
    if (ranging->range == RANGE_NARROW) {
        if (size >= RANGING_UP_UNITS) {
            ranging->range = RANGE_WIDE;
            ranging->low_count = 0;
        }
        return ranging->range;
    }
    if (size >= RANGING_DOWN_UNITS)
        ranging->low_count = 0;
    else if (++ranging->low_count >= RANGING_DOWN_COUNT)
        ranging->range = RANGE_NARROW;
    return ranging->range;
}
