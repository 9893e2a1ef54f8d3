/*
 * Current and charge against exact rational arithmetic in 128 bits, written
 * from the definitions: current = (raw x 78.125 nV - offset) / (shunt / (1 +
 * gain)), the latter in whole eighths of a nano-ohm, charge = sum of current times time.
 */
#include "core/scale.h"
#include "test.h"
#include <stdlib.h>

__extension__ typedef __int128 wide;

static const unsigned seed = 8201;

static long long between(long long low, long long high)
{
    unsigned long long r = ((unsigned long long)(unsigned)rand() << 31) ^ (unsigned)rand();
    return low + (long long)(r % (unsigned long long)(high - low + 1));
}

/* n / d with d > 0, half away from zero. */
static wide rounded(wide n, wide d)
{
    wide half = (n < 0 ? -n : n) * 2 + d;
    wide q = half / (2 * d);
    return n < 0 ? -q : q;
}

static struct calibration prepared(uint32_t shunt_nOhm, int32_t gain_ppm, int32_t offset_nV)
{
    struct calibration cal = {shunt_nOhm, gain_ppm, offset_nV, 0};
    scale_prepare(&cal);
    return cal;
}

/* The shunt that stands for shunt and gain, rounded to an eighth of a nano-ohm, and what that costs. */
static void shunt_and_gain_are_joined(void **state)
{
    (void)state;
    assert_int_equal(prepared(5000000, 0, 0).shunt_eighths, 40000000);
    assert_int_equal(prepared(5000000, 10000, 0).shunt_eighths, 39603960); /* 40e6 / 1.01 = 39603960.4 */
    srand(seed);
    for (int turn = 0; turn < 100000; turn++) {
        struct calibration cal = prepared((uint32_t)between(SHUNT_NOHM_MIN, SHUNT_NOHM_MAX),
                                          (int32_t)between(-GAIN_PPM_MAX, GAIN_PPM_MAX), 0);
        wide n = (wide)8000000 * cal.shunt_nOhm;
        assert_int_equal(cal.shunt_eighths, (long long)rounded(n, 1000000 + cal.gain_ppm));
        double exact = (double)n / (1000000 + cal.gain_ppm);
        double off_ppm = ((double)cal.shunt_eighths / exact - 1) * 1e6;
        assert_true(off_ppm < 0.66 && off_ppm > -0.66);
        assert_true(cal.shunt_nOhm < 5000000 || (off_ppm < 0.0132 && off_ppm > -0.0132));
    }
}

static void currents_by_hand(void **state)
{
    (void)state;
    struct calibration cal = prepared(5000000, 0, 0);
    /* 5 mOhm: one unit of 78.125 nV is 15.625 uA; 1280 of them are 100 uV, 20 mA. */
    assert_int_equal(scale_uA(&cal, 1280, 1), 20000);
    assert_int_equal(scale_uA(&cal, 1, 1), 16);
    assert_int_equal(scale_uA(&cal, -1, 1), -16);
    /* 15.625 / 2 = 7.8125; 15.625 x 4 / 5 = 12.5: half goes away from zero. */
    assert_int_equal(scale_uA(&cal, 1, 2), 8);
    assert_int_equal(scale_uA(&cal, 4, 5), 13);
    assert_int_equal(scale_uA(&cal, -4, 5), -13);
    /* The ends of the wide range: 163.84 mV in 5 mOhm is 32.768 A. */
    assert_int_equal(scale_uA(&cal, -2097152, 1), -32768000);
    assert_int_equal(scale_uA(&cal, 2097148, 1), 32767938); /* 32767937.5 */
    /* Offset first, then gain: (100 uV - 0.5 uV) / 5 mOhm x 1.01 = 20.099 mA. */
    struct calibration corrected = prepared(5000000, 10000, 500);
    assert_int_equal(scale_uA(&corrected, 1280, 1), 20099);
}

static void currents_equal_exact_arithmetic(void **state)
{
    (void)state;
    srand(seed);
    for (int turn = 0; turn < 200000; turn++) {
        struct calibration cal = prepared((uint32_t)between(SHUNT_NOHM_MIN, SHUNT_NOHM_MAX),
                                  (int32_t)between(-GAIN_PPM_MAX, GAIN_PPM_MAX),
                                  (int32_t)between(-OFFSET_NV_MAX, OFFSET_NV_MAX));
        uint16_t count = (uint16_t)between(1, 1000);
        int32_t sum = (int32_t)between(-2097152ll * count, 2097148ll * count);
        /* uA = (625/8 sum/count - offset) nV / (E/8) nOhm x 1e6 */
        wide n = ((wide)625 * sum - (wide)8 * count * cal.offset_nV) * 1000000;
        wide d = (wide)count * cal.shunt_eighths;
        int32_t expected = (int32_t)rounded(n, d);
        if (scale_uA(&cal, sum, count) != expected)
            fail_msg("seed %u turn %d: %d, expected %d", seed, turn, scale_uA(&cal, sum, count), expected);
    }
}

/* The limits of scale.h all at once: the sanitizer would see an overflow. */
static void currents_at_the_limits(void **state)
{
    (void)state;
    for (int corner = 0; corner < 16; corner++) {
        struct calibration cal = prepared(corner & 1 ? SHUNT_NOHM_MIN : SHUNT_NOHM_MAX,
                                  (int32_t)(corner & 2 ? GAIN_PPM_MAX : -GAIN_PPM_MAX),
                                  (int32_t)(corner & 4 ? OFFSET_NV_MAX : -OFFSET_NV_MAX));
        int32_t sum = corner & 8 ? -2097152 * 1000 : 2097148 * 1000;
        wide n = ((wide)625 * sum - (wide)8000 * cal.offset_nV) * 1000000;
        wide expected = rounded(n, (wide)1000 * cal.shunt_eighths);
        assert_true(expected > INT32_MIN && expected < INT32_MAX);
        assert_int_equal(scale_uA(&cal, sum, 1000), (int32_t)expected);
        struct charge charge = {0, 0};
        charge_add(&charge, &cal, (int64_t)sum / 1000 * 4000000, 4000000);
        wide total = ((wide)sum / 1000 * 4000000 * 625 - (wide)8 * cal.offset_nV * 4000000) * 1000;
        wide down = total / cal.shunt_eighths;
        assert_in_range(charge.nC - (int64_t)down + 2, 0, 3);
    }
}

static void charge_by_hand(void **state)
{
    (void)state;
    struct calibration cal = prepared(5000000, 0, 0);
    struct charge charge = {0, 0};
    /* 20 mA for 50 ms is 1 mC. */
    charge_add(&charge, &cal, 1280ll * 50000, 50000);
    assert_int_equal(charge.nC, 1000000);
    /* One unit for 1 us is 1/64 nC: 63 of them are nothing yet, the 64th is 1 nC. */
    for (int i = 0; i < 63; i++)
        charge_add(&charge, &cal, 1, 1);
    assert_int_equal(charge.nC, 1000000);
    charge_add(&charge, &cal, 1, 1);
    assert_int_equal(charge.nC, 1000001);
    /* Below zero it is rounded down as well. */
    struct charge negative = {0, 0};
    charge_add(&negative, &cal, -1, 1);
    assert_int_equal(negative.nC, -1);
    for (int i = 0; i < 63; i++)
        charge_add(&negative, &cal, -1, 1);
    assert_int_equal(negative.nC, -1);
}

/* 40 nights of calibrations; in each, windows of all lengths; the bound of scale.h holds at every one. */
static void charge_never_drifts(void **state)
{
    (void)state;
    srand(seed);
    for (int night = 0; night < 40; night++) {
        struct calibration cal = prepared((uint32_t)between(SHUNT_NOHM_MIN, SHUNT_NOHM_MAX),
                                  night % 4 == 0 ? 0 : (int32_t)between(-GAIN_PPM_MAX, GAIN_PPM_MAX),
                                  (int32_t)between(-OFFSET_NV_MAX, OFFSET_NV_MAX));
        struct charge charge = {0, 0};
        wide exact = 0; /* nC x shunt_eighths */
        wide scale = cal.shunt_eighths;
        for (int window = 0; window < 20000; window++) {
            uint32_t dur_us = (uint32_t)between(1000, 1000000);
            int64_t area = between(-2097152, 2097148) * dur_us;
            charge_add(&charge, &cal, area, dur_us);
            exact += ((wide)area * 625 - (wide)cal.offset_nV * 8 * dur_us) * 1000;
            wide low = exact - (wide)charge.nC * scale;
            if (low < 0 || low >= scale)
                fail_msg("seed %u night %d window %d: off by %g nC", seed, night, window, (double)low / (double)scale);
        }
    }
}

/* Five weeks at 30 A are 9.07e16 nC: the counter holds a hundred times that. */
static void charge_holds_weeks_at_30_A(void **state)
{
    (void)state;
    struct calibration cal = prepared(5000000, 0, 0);
    struct charge charge = {0, 0};
    /* 30 A is 150 mV, 1920000 units. */
    for (int second = 0; second < 35 * 86400; second++)
        charge_add(&charge, &cal, 1920000ll * 1000000, 1000000);
    assert_int_equal(charge.nC, 30ll * 1000000000 * 35 * 86400);
    assert_true(charge.nC < INT64_MAX / 100);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shunt_and_gain_are_joined),
        cmocka_unit_test(currents_by_hand),
        cmocka_unit_test(currents_equal_exact_arithmetic),
        cmocka_unit_test(currents_at_the_limits),
        cmocka_unit_test(charge_by_hand),
        cmocka_unit_test(charge_never_drifts),
        cmocka_unit_test(charge_holds_weeks_at_30_A),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
