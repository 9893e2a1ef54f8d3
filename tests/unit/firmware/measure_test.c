/*
 * Zero and gain by hand: what they find, and what they refuse.
 */
#include "core/measure.h"
#include "test.h"
#include <string.h>

static struct calibration cal_of(int32_t gain_ppm, int32_t offset_nV)
{
    struct calibration cal = {5000000, gain_ppm, offset_nV, 0};
    scale_prepare(&cal);
    return cal;
}

static bool measured(struct calibration *cal, int32_t known_uA, int32_t units, int32_t *found)
{
    struct measure measure;
    measure_start(&measure, 1, known_uA);
    for (int i = 0; i < MEASURE_COUNT; i++) {
        assert_int_equal(measure.count, i);
        measure_add(&measure, units);
    }
    measure_add(&measure, 1 << 20); /* one too many: not taken */
    assert_int_equal(measure.count, MEASURE_COUNT);
    return measure_end(&measure, cal, found);
}

static void zero_finds_the_offset(void **state)
{
    (void)state;
    int32_t found = 0;
    struct calibration cal = cal_of(2000, -77); /* what was there before does not matter */
    assert_true(measured(&cal, 0, 13, &found));
    assert_int_equal(found, 1016); /* 13 x 78.125 nV = 1015.625 */
    assert_int_equal(cal.offset_nV, 1016);
    assert_int_equal(cal.gain_ppm, 2000);
    assert_true(measured(&cal, 0, -13, &found));
    assert_int_equal(cal.offset_nV, -1016);
}

/* 640 units are 50 uV, 10 mA: beyond it some current flows. */
static void zero_is_refused_while_a_current_flows(void **state)
{
    (void)state;
    int32_t found = 0;
    struct calibration cal = cal_of(0, 5);
    assert_true(measured(&cal, 0, 640, &found));
    cal.offset_nV = 5;
    assert_false(measured(&cal, 0, 641, &found));
    assert_false(measured(&cal, 0, -641, &found));
    assert_int_equal(cal.offset_nV, 5);
}

static void gain_from_a_known_current(void **state)
{
    (void)state;
    int32_t found = 0;
    /* 64000 units are 1 A in 5 mOhm; 1.01 A is known to flow: +1 %. */
    struct calibration cal = cal_of(0, 0);
    assert_true(measured(&cal, 1010000, 64000, &found));
    assert_int_equal(cal.gain_ppm, 10000);
    /* The offset comes off first: 64064 units less 5 uV are 1 A. */
    cal = cal_of(0, 5000);
    assert_true(measured(&cal, 1000000, 64064, &found));
    assert_int_equal(cal.gain_ppm, 0);
    /* From another gain the same is found: 1.01 / 1.02 of it. */
    cal = cal_of(20000, 0);
    assert_true(measured(&cal, 1010000, 64000, &found));
    assert_int_equal(cal.gain_ppm, 10000);
    /* Charging: both negative. */
    cal = cal_of(0, 0);
    assert_true(measured(&cal, -990000, -64000, &found));
    assert_int_equal(cal.gain_ppm, -10000);
}

static void gain_is_refused_beyond_5_percent(void **state)
{
    (void)state;
    int32_t found = 0;
    struct calibration cal = cal_of(123, 0);
    assert_false(measured(&cal, 1060000, 64000, &found));
    assert_false(measured(&cal, 940000, 64000, &found));
    assert_false(measured(&cal, -1000000, 64000, &found)); /* the clamps are swapped */
    assert_false(measured(&cal, 1000000, 0, &found));
    assert_int_equal(cal.gain_ppm, 123);
    /* The ends of the scale overflow nothing. */
    cal = cal_of(0, 0);
    assert_true(measured(&cal, 30000000, 1920000, &found));
    assert_int_equal(cal.gain_ppm, 0);
    assert_false(measured(&cal, 30000000, -2097152, &found));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(zero_finds_the_offset),
        cmocka_unit_test(zero_is_refused_while_a_current_flows),
        cmocka_unit_test(gain_from_a_known_current),
        cmocka_unit_test(gain_is_refused_beyond_5_percent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
