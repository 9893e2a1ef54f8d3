/*
 * Zero and gain: see measure.h.
 *
 * Offset: a unit is 625/8 nV, so the mean of n is 625 sum / (8 n) nV.
 * Gain: the readings give a current with the present gain; the new 1 + gain is the present
 * one times known / current. |known| <= 30 A = 3e7 uA, times 1.05e6 below 2^45.
 */
#include "measure.h"

void measure_start(struct measure *measure, uint16_t tag, int32_t known_uA)
{
    *measure = (struct measure){.tag = tag, .known_uA = known_uA};
}

void measure_add(struct measure *measure, int32_t units)
{
    if (measure->tag == 0 || measure->count == MEASURE_COUNT)
        return;
    measure->sum += units;
    measure->count++;
}

bool measure_end(const struct measure *measure, struct calibration *cal, int32_t *found)
{
    int64_t value;
    int32_t limit = GAIN_PPM_MAX;
    if (measure->known_uA == 0) {
        value = divide_rounded((int64_t)measure->sum * 625, 8l * MEASURE_COUNT);
        limit = ZERO_NV_MAX;
    } else {
        int32_t uA = scale_uA(cal, measure->sum, MEASURE_COUNT);
        int32_t known_uA = measure->known_uA;
        if (uA < 0) {
            uA = -uA;
            known_uA = -known_uA;
        }
        if (uA == 0)
            return false;
        value = divide_rounded((int64_t)known_uA * (1000000l + cal->gain_ppm), uA) - 1000000l;
    }
    if (value > limit || value < -limit)
        return false;
    *found = (int32_t)value;
    if (measure->known_uA == 0)
        cal->offset_nV = *found;
    else
        cal->gain_ppm = *found;
    return true;
}
