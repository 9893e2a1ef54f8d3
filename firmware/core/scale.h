/*
 * From shunt voltage to current and charge, in whole numbers. All constants of
 * the shunt and its calibration come together here.
 */
#ifndef CORE_SCALE_H
#define CORE_SCALE_H

#include <stdint.h>

struct calibration {
    uint32_t shunt_nOhm;
    int32_t gain_ppm;  /* true = measured x (1 + gain_ppm / 1e6) */
    int32_t offset_nV; /* read at no current; taken off first */
    /* Eighths of a nano-ohm of the shunt that gives the same with gain 0; scale_prepare() fills it in. */
    uint32_t shunt_eighths;
};

/*
 * Limits within which no intermediate value overflows (see scale.c): shunt
 * 0.1 to 100 mOhm, gain 5 %, offset 1 mV.
 */
#define SHUNT_NOHM_MIN 100000ul
#define SHUNT_NOHM_MAX 100000000ul
#define GAIN_PPM_MAX 50000l
#define OFFSET_NV_MAX 1000000l

/*
 * Joins shunt and gain: shunt_eighths = 8 shunt / (1 + gain), rounded; the
 * rounding is 0.65 ppm at 0.1 mOhm, 0.013 ppm at 5 mOhm. To be called after each change.
 */
void scale_prepare(struct calibration *cal);

/* n / d, rounded half away from zero; d > 0. */
int64_t divide_rounded(int64_t n, int64_t d);

/*
 * Mean current of `count` readings whose units of 78.125 nV add up to `sum`,
 * microamperes, rounded half away from zero. `count` 1 to 1000.
 */
int32_t scale_uA(const struct calibration *cal, int32_t sum, uint16_t count);

/* Running charge. The remainder stays here, so that rounding never adds up. */
struct charge {
    int64_t nC;
    uint32_t left; /* 0 to shunt_eighths - 1: of the last nC */
};

/*
 * Adds `area` (units of 78.125 nV times microseconds, summed over conversions)
 * that lasted `dur_us`. `charge->nC` is the exact sum for `shunt_eighths` rounded
 * down: it is low by less than 1 nC, however long it runs.
 */
void charge_add(struct charge *charge, const struct calibration *cal, int64_t area, uint32_t dur_us);

#endif
