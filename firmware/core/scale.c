/*
 * The arithmetic of scale.h.
 *
 * One unit is 78.125 nV = 625/8 nV, so a sum of n readings is (625 sum - 8 n offset) / 8 nV,
 * and with E eighths of a nano-ohm (nV / nOhm = A):
 *
 *   mean_uA = (625 sum - 8 n offset) 1e6 / (n E)
 *
 *   |sum| <= 1000 x 2^21 (a wide reading is 4 x 2^19), so 625 |sum| < 2^41,
 *   8 n |offset| <= 8e9, and times 1e6 < 2^20 it stays below 2^61.1.
 *
 * Charge: nV us / nOhm = A us = 1000 nC, so
 *
 *   charge_nC = (625 area - 8 offset dur) 1000 / E
 *
 *   |area| <= 2^21 x dur; for dur below 2^22 us (4.19 s; a window lasts 1 s at
 *   most, and a silent chip is a fault after 50 ms) 625 |area| < 2^52.3, times
 *   1000 it stays below 2^62.3.
 */
#include "scale.h"

#define MILLION 1000000l

int64_t divide_rounded(int64_t n, int64_t d)
{
    return (n < 0 ? n - d / 2 : n + d / 2) / d;
}

void scale_prepare(struct calibration *cal)
{
    cal->shunt_eighths = (uint32_t)divide_rounded((int64_t)cal->shunt_nOhm * (8 * MILLION), MILLION + cal->gain_ppm);
}

/* `sum` of `n` readings, or of readings times microseconds that add up to `n`, less the offset, in eighths of nV. */
static int64_t corrected(const struct calibration *cal, int64_t sum, uint32_t n)
{
    return sum * 625 - (int64_t)cal->offset_nV * (int32_t)(8 * n);
}

int32_t scale_uA(const struct calibration *cal, int32_t sum, uint16_t count)
{
    return (int32_t)divide_rounded(corrected(cal, sum, count) * MILLION, (int64_t)cal->shunt_eighths * count);
}

void charge_add(struct charge *charge, const struct calibration *cal, int64_t area, uint32_t dur_us)
{
    int64_t n = corrected(cal, area, dur_us) * 1000 + charge->left;
    int64_t q = n / (int64_t)cal->shunt_eighths;
    /* Smaller in size than shunt_eighths, which is below 2^30, so that the lower halves tell it. */
    int32_t left = (int32_t)((uint32_t)n - (uint32_t)q * cal->shunt_eighths);
    /* Rounded down, so that what is left is never negative. */
    if (left < 0) {
        left += (int32_t)cal->shunt_eighths;
        q--;
    }
    charge->left = (uint32_t)left;
    charge->nC += q;
}
