/*
 * When the burst stream sends raw conversions: from the moment at which the
 * largest and the smallest of the last 50 ms lie a set distance apart, until
 * 400 ms after the last such moment. What came before lies in past.h.
 *
 * The 50 ms slide in steps of 5 ms, so that two bytes for each bound and step
 * are enough: the stretch that is looked at is 50 to 57 ms long. Readings are
 * compared in steps of 64 units, 5 uV (1 mA in 5 mOhm).
 */
#ifndef CORE_BURST_H
#define CORE_BURST_H

#include "scale.h"
#include <stdbool.h>

#define BURST_SLOTS 11 /* ten whole ones and the one being filled */
#define BURST_SLOT_US 5000
#define BURST_AFTER_US 400000ul

struct burst {
    struct burst_slot {
        int16_t low, high;
    } slots[BURST_SLOTS];
    uint8_t at;
    uint16_t filled_us;  /* of the slot being filled */
    uint16_t distance;   /* steps of 64 units that make a burst */
    uint32_t left_us;    /* of the burst; 0 where there is none */
};

/* Steps of 64 units in `trigger_uA`, rounded, 1 at least. */
uint16_t burst_distance(const struct calibration *cal, uint32_t trigger_uA);
/* Forgets what came before; the next conversion does not follow it. */
void burst_clear(struct burst *burst);
/* Takes a conversion `dt_us` after the one before; true while conversions are to be sent. */
bool burst_add(struct burst *burst, int32_t units, uint16_t dt_us);

#endif
