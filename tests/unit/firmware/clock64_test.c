/*
 * Device time across the wraps of the 16-bit timer and of 32 bits of half
 * microseconds, and with the overflow interrupt still pending.
 */
#include "core/clock64.h"
#include "test.h"

/* One wrap of the timer, seen at every combination of flag and count. */
static void join_settles_the_pending_overflow(void **state)
{
    (void)state;
    assert_int_equal(ticks_join(4, 0xFFFF, false), 0x0004FFFF);
    assert_int_equal(ticks_join(4, 0x0000, true), 0x00050000); /* wrapped, not counted yet */
    assert_int_equal(ticks_join(4, 0x0020, true), 0x00050020);
    assert_int_equal(ticks_join(4, 0xFFFF, true), 0x0004FFFF); /* wrapped after the timer was read */
    assert_int_equal(ticks_join(5, 0x0020, false), 0x00050020); /* counted */
    assert_int_equal(ticks_join(0xFFFF, 0x0001, true), 0x00000001);
}

/* A true timer, read at every count around a wrap with the interrupt late by up to 100 ticks. */
static void join_never_steps_back(void **state)
{
    (void)state;
    for (uint32_t late = 0; late < 100; late++) {
        for (uint32_t now = 3 * 65536u - 200; now < 3 * 65536u + 200; now++) {
            uint32_t wraps = now / 65536u;
            uint32_t counted = (now >= late ? now - late : 0) / 65536u;
            uint32_t seen = ticks_join((uint16_t)counted, (uint16_t)now, wraps != counted);
            assert_int_equal(seen, now);
        }
    }
}

static void counts_across_the_32_bit_wrap(void **state)
{
    (void)state;
    struct clock64 clock = {0, 0};
    uint64_t truth_ticks = 0;
    /* 100 hours in steps of 7.3 s: 167 wraps of 35.8 minutes. */
    for (int i = 0; i < 49315; i++) {
        truth_ticks += 14600001;
        assert_int_equal(clock64_us(&clock, (uint32_t)truth_ticks), truth_ticks / 2);
    }
    assert_true(truth_ticks >> 32 > 100);
}

/* Instants come slightly out of order: a stamp from an interrupt is read after the clock. */
static void takes_instants_out_of_order(void **state)
{
    (void)state;
    struct clock64 clock = {0, 0};
    for (uint64_t t = 1u << 30; t < 5ull << 32; t += 1u << 30) {
        assert_int_equal(clock64_us(&clock, (uint32_t)t), t / 2);
        assert_int_equal(clock64_us(&clock, (uint32_t)(t - 2001)), (t - 2001) / 2);
        assert_int_equal(clock64_us(&clock, (uint32_t)(t + 1)), (t + 1) / 2);
    }
}

static void goes_on_past_32_bits_of_microseconds(void **state)
{
    (void)state;
    struct clock64 clock = {0xFFFFFFF8, 1}; /* 2^33 - 8 ticks: 4 us before 2^32 */
    assert_int_equal(clock64_us(&clock, 20), 0x10000000Aull);
    /* And past 2^32 wraps' worth of nothing: a board would have to run for a million years. */
    clock = (struct clock64){0xFFFFFFFE, 0x7FFFFFFF};
    assert_int_equal(clock64_us(&clock, 2), 0x4000000000000001ull);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(join_settles_the_pending_overflow),
        cmocka_unit_test(join_never_steps_back),
        cmocka_unit_test(counts_across_the_32_bit_wrap),
        cmocka_unit_test(takes_instants_out_of_order),
        cmocka_unit_test(goes_on_past_32_bits_of_microseconds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
