/*
 * Which full scale the next conversion should have: up at once, down with
 * hysteresis.
 */
#ifndef CORE_RANGING_H
#define CORE_RANGING_H

#include "sense.h"
#include <stdint.h>

/*
 * Units of 78.125 nV. The narrow range ends at 2^19 = 524288 units (40.96 mV).
 * Up at 7/8 of it (35.84 mV, 7.2 A in 5 mOhm), down below 5/8 (25.6 mV, 5.1 A),
 * held for 8 conversions, so that a pulsed load does not switch at every pulse.
 * No source: chosen so that one step of the load in a conversion mostly lands
 * short of the end, and noise (0.03 mV) is far from bridging the two.
 */
#define RANGING_UP_UNITS 458752l
#define RANGING_DOWN_UNITS 327680l
#define RANGING_DOWN_COUNT 8

struct ranging {
    enum sense_range range;
    uint8_t low_count; /* conversions below the lower bound, one after the other */
};

/* Takes a reading made in the present range; returns the range for the next. */
enum sense_range ranging_next(struct ranging *ranging, int32_t units);

#endif
