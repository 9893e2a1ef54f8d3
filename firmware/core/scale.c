/*
 * The arithmetic of scale.h.
 *
 * One unit is 78.125 nV = 625/8 nV, so a sum of n readings is (625 sum - 8 n offset) / 8 nV,
 * and with the shunt R in nOhm (nV / nOhm = A):
 *
 *   mean_uA = (625 sum - 8 n offset) (1e6 + gain) / (8 n R)
 *
 *   |sum| <= 1000 x 2^21 (a wide reading is 4 x 2^19), so 625 |sum| < 2^41,
 *   8 n |offset| <= 8e9, and times (1e6 + gain) < 2^20.1 it stays below 2^61.2.
 *   8 n R <= 8 x 1000 x 1e8 < 2^40.
 *
 * Charge: nV us / nOhm = A us = 1000 nC, so
 *
 *   charge_nC = (625 area - 8 offset dur) (1e6 + gain) / 1e6 x 125 / R
 *
 *   |area| <= 2^21 x dur; for dur below 2^22 us (4.19 s; a window lasts 1 s at
 *   most, and a silent chip is a fault after 50 ms) 625 |area| < 2^52.3. The gain is
 *   applied as x + x gain / 1e6 with x = 1e6 q + r, so that only r gain < 2^36
 *   is formed; times 125 it stays below 2^59.4.
 */
#include "scale.h"

#define MILLION 1000000l

int32_t scale_uA(const struct calibration *cal, int32_t sum, uint16_t count)
{
    int64_t n = (int64_t)sum * 625 - (int64_t)cal->offset_nV * (int32_t)(8ul * count);
    n *= MILLION + cal->gain_ppm;
    int64_t d = (int64_t)cal->shunt_nOhm * (int32_t)(8ul * count);
    return (int32_t)((n < 0 ? n - d / 2 : n + d / 2) / d);
}

/* Rounds n / d down and leaves the remainder, 0 to d - 1. */
static int64_t divide_down(int64_t n, uint32_t d, uint32_t *left)
{
    int64_t q = n / (int64_t)d;
    int64_t r = n - q * (int64_t)d;
    if (r < 0) {
        r += d;
        q--;
    }
    *left = (uint32_t)r;
    return q;
}

void charge_add(struct charge *charge, const struct calibration *cal, int64_t area, uint32_t dur_us)
{
    int64_t x = area * 625 - (int64_t)cal->offset_nV * 8 * (int64_t)dur_us;
    if (cal->gain_ppm != 0) {
        uint32_t rest;
        int64_t whole = divide_down(x, MILLION, &rest);
        int64_t small = (int64_t)rest * cal->gain_ppm + charge->gain_left;
        x += whole * cal->gain_ppm + divide_down(small, MILLION, &charge->gain_left);
    }
    charge->nC += divide_down(x * 125 + charge->shunt_left, cal->shunt_nOhm, &charge->shunt_left);
}
