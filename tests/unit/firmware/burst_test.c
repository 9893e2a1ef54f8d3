/*
 * The burst trigger against its definition worked out in full: largest less
 * smallest of the last 50 ms (at most 57), in steps of 64 units.
 */
#include "core/burst.h"
#include "test.h"
#include <stdlib.h>
#include <string.h>

static const unsigned seed = 31;
static const struct calibration cal = {5000000, 0, 0, 40000000};
static struct burst burst;

static void clear(uint32_t trigger_uA)
{
    memset(&burst, 0, sizeof burst);
    burst_clear(&burst);
    burst.distance = burst_distance(&cal, trigger_uA);
}

static void distance_in_steps_of_5_uV(void **state)
{
    (void)state;
    assert_int_equal(burst_distance(&cal, 1000), 1);      /* 1 mA in 5 mOhm is 5 uV */
    assert_int_equal(burst_distance(&cal, 20000), 20);
    assert_int_equal(burst_distance(&cal, 30000000), 30000);
    const struct calibration small = {100000, 0, 0, 800000}, large = {100000000, 0, 0, 800000000};
    assert_int_equal(burst_distance(&small, 1000), 1);
    assert_int_equal(burst_distance(&large, 30000000), UINT16_MAX);
}

/* A step of 21 mA triggers one of 20 mA at once, and holds for 50 ms and 400 ms more; a step of 18 mA does not. */
static void step_begins_a_burst(void **state)
{
    (void)state;
    clear(20000);
    for (int i = 0; i < 500; i++)
        assert_false(burst_add(&burst, 1280, 1052));
    for (int i = 0; i < 500; i++)
        assert_false(burst_add(&burst, 1280 + 18 * 64, 1052));
    for (int i = 0; i < 60; i++)
        assert_false(burst_add(&burst, 1280, 1052));
    unsigned length_us = 0;
    while (burst_add(&burst, 1280 + 21 * 64, 1052))
        length_us += 1052;
    assert_in_range(length_us, 449000, 460000);
}

/* Ends of the scale: the difference is 65535 steps, wider than an int of 16 bits. */
static void whole_scale_is_no_overflow(void **state)
{
    (void)state;
    clear(30000000);
    assert_false(burst_add(&burst, -2097152, 1052));
    assert_true(burst_add(&burst, 2097148, 1052));
}

#define PAST 200
static void agrees_with_the_definition(void **state)
{
    (void)state;
    static int16_t step[PAST];
    static uint32_t at_us[PAST];
    uint32_t now_us = 0, passed_us = 0;
    unsigned bursts = 0;
    bool passed = false;
    srand(seed);
    clear(40000);
    int32_t level = 0;
    for (int i = 0; i < 200000; i++) {
        uint16_t dt_us = (uint16_t)(rand() % 50 ? 1052 : 1500);
        now_us += dt_us;
        level += rand() % 257 - 128;
        if (rand() % 400 == 0)
            level += rand() % 4000 - 2000;
        memmove(step + 1, step, sizeof step - sizeof *step);
        memmove(at_us + 1, at_us, sizeof at_us - sizeof *at_us);
        step[0] = (int16_t)(level >> 6);
        at_us[0] = now_us;
        int low = step[0], high = step[0], low_late = step[0], high_late = step[0];
        for (int k = 0; k < PAST && k <= i && now_us - at_us[k] <= 57000; k++) {
            low_late = step[k] < low_late ? step[k] : low_late;
            high_late = step[k] > high_late ? step[k] : high_late;
            if (now_us - at_us[k] <= 50000) {
                low = step[k] < low ? step[k] : low;
                high = step[k] > high ? step[k] : high;
            }
        }
        bool active = burst_add(&burst, level, dt_us);
        bool must = high - low >= 40, may = high_late - low_late >= 40;
        if (must && !active)
            fail_msg("seed %u conversion %d: no burst at %d steps", seed, i, high - low);
        if (may) {
            passed = true;
            passed_us = now_us;
        }
        if (active && (!passed || now_us - passed_us > 400000))
            fail_msg("seed %u conversion %d: a burst without cause", seed, i);
        bursts += active;
    }
    assert_in_range(bursts, 1000, 199000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distance_in_steps_of_5_uV),
        cmocka_unit_test(step_begins_a_burst),
        cmocka_unit_test(whole_scale_is_no_overflow),
        cmocka_unit_test(agrees_with_the_definition),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
