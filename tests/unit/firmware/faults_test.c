/*
 * Fault policy: what is told when, and how the tries are spaced.
 */
#include "core/clock64.h"
#include "core/faults.h"
#include "test.h"

static void told_once_then_every_ten_seconds(void **state)
{
    (void)state;
    struct faults faults = {0};
    uint32_t told = 0, now = 0xFFF00000u; /* across the wrap of the clock */
    for (uint32_t ms = 0; ms <= 25000; ms += 100)
        told += faults_met(&faults, STATUS_SENSOR_MISSING, now + ms * TICKS_PER_MS);
    assert_int_equal(told, 3); /* at 0, 10 and 20 s */
    assert_int_equal(faults.count, 1);
}

static void another_code_is_told_at_once(void **state)
{
    (void)state;
    struct faults faults = {0};
    assert_true(faults_met(&faults, STATUS_SENSOR_MISSING, 0));
    assert_false(faults_met(&faults, STATUS_SENSOR_MISSING, 10));
    assert_true(faults_met(&faults, STATUS_BUS_STUCK, 20));
    assert_false(faults_met(&faults, STATUS_BUS_STUCK, 30));
    assert_int_equal(faults.count, 1);
}

static void tries_are_spaced_and_bounded(void **state)
{
    (void)state;
    struct faults faults = {0};
    const uint32_t expected_ms[] = {0, 20, 40, 80, 160, 320, 640, 1280, 1280, 1280};
    uint32_t now = 0xFFFFF000u;
    for (size_t i = 0; i < sizeof expected_ms / sizeof *expected_ms; i++) {
        faults_met(&faults, STATUS_NO_CONVERSION, now);
        uint32_t due = now + expected_ms[i] * TICKS_PER_MS;
        assert_true(faults_retry_due(&faults, due));
        if (expected_ms[i] > 0)
            assert_false(faults_retry_due(&faults, due - 1));
        now = due;
    }
}

static void end_is_told_once_and_the_next_fault_counts(void **state)
{
    (void)state;
    struct faults faults = {0};
    assert_false(faults_over(&faults));
    faults_met(&faults, STATUS_BUS_NACK, 0);
    assert_true(faults_over(&faults));
    assert_false(faults_over(&faults));
    assert_true(faults_met(&faults, STATUS_BUS_NACK, 100));
    assert_int_equal(faults.count, 2);
    assert_true(faults_retry_due(&faults, 100)); /* the first try comes at once again */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(told_once_then_every_ten_seconds),
        cmocka_unit_test(another_code_is_told_at_once),
        cmocka_unit_test(tries_are_spaced_and_bounded),
        cmocka_unit_test(end_is_told_once_and_the_next_fault_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
