/*
 * Zero and gain: the mean of the next thousand conversions, and what it says
 * about offset or gain.
 */
#ifndef CORE_MEASURE_H
#define CORE_MEASURE_H

#include "scale.h"
#include <stdbool.h>

#define MEASURE_COUNT 1000
/* With 5 mOhm 10 mA: more than any chip's offset, less than most cars asleep. */
#define ZERO_NV_MAX 50000l

struct measure {
    int32_t sum; /* of units; a thousand readings of 22 bits fit */
    uint16_t count;
    uint16_t tag; /* of the command that waits for it; 0: none */
    int32_t known_uA; /* 0: the offset is sought */
    bool lost;        /* readings ended before it had enough */
};

/* Begins; `known_uA` 0 for the offset. */
void measure_start(struct measure *measure, uint16_t tag, int32_t known_uA);
/* Takes a reading where one is wanted. */
void measure_add(struct measure *measure, int32_t units);
/*
 * Puts the offset or the gain found into `cal`, rounded half away from zero, and its value into
 * `found`. False, with `cal` unchanged, where it is beyond what can be true of a sound board.
 */
bool measure_end(const struct measure *measure, struct calibration *cal, int32_t *found);

#endif
