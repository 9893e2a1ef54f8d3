/*
 * Windows against PROTOCOL.md: where they close, that they tile the time, what
 * their flags say.
 */
#include "core/window.h"
#include "test.h"
#include <string.h>

static const struct calibration cal = {5000000, 0, 0, 40000000}; /* 64 units are 1 mA */

/* Feeds one conversion of so many mA. */
static bool feed(struct windowing *windowing, uint64_t t_us, int32_t mA, uint8_t flags, struct window *out)
{
    struct sample sample = {(uint32_t)(t_us * 2), mA * 64, flags};
    return window_add(windowing, &sample, t_us, out);
}

static void close_at_or_past_each_multiple(void **state)
{
    (void)state;
    struct windowing windowing;
    struct window window;
    window_init(&windowing, &cal, 50000);
    assert_false(feed(&windowing, 48000, 1000, 0, &window)); /* starts the time, counts for nothing */
    assert_false(feed(&windowing, 49000, 10, 0, &window));
    assert_true(feed(&windowing, 50000, 20, 0, &window)); /* at the multiple: the last of its window */
    assert_int_equal(window.seq, 0);
    assert_int_equal(window.t_us, 50000);
    assert_int_equal(window.dur_us, 2000);
    assert_int_equal(window.count, 2);
    assert_int_equal(window.mean_uA, 15000);
    assert_int_equal(window.min_uA, 10000);
    assert_int_equal(window.max_uA, 20000);
    assert_int_equal(window.charge_nC, 10 * 1000 + 20 * 1000); /* mA x us = nC */
    assert_int_equal(window.flags, WINDOW_UNJOINED);
    assert_false(feed(&windowing, 51000, 20, 0, &window));
    assert_false(feed(&windowing, 99999, 20, 0, &window));
    assert_true(feed(&windowing, 100999, 20, 0, &window)); /* past it */
    assert_int_equal(window.seq, 1);
    assert_int_equal(window.dur_us, 50999);
    assert_int_equal(window.count, 3);
    /* The next multiple is 150000, not 150999. */
    assert_false(feed(&windowing, 149999, 20, 0, &window));
    assert_true(feed(&windowing, 150001, 20, 0, &window));
}

static void skip_multiples_without_a_conversion(void **state)
{
    (void)state;
    struct windowing windowing;
    struct window window;
    window_init(&windowing, &cal, 10000);
    feed(&windowing, 0, 5, 0, &window);
    assert_true(feed(&windowing, 47000, 5, 0, &window));
    assert_int_equal(window.dur_us, 47000);
    assert_true(window.flags & WINDOW_MISSED);
    assert_false(feed(&windowing, 49000, 5, 0, &window));
    assert_true(feed(&windowing, 50000, 5, 0, &window));
}

static void tile_the_time_and_add_up(void **state)
{
    (void)state;
    struct windowing windowing;
    struct window window;
    window_init(&windowing, &cal, 50000);
    uint64_t end_us = 777, t_us = 777;
    int64_t charge_nC = 0;
    uint32_t conversions = 0;
    feed(&windowing, t_us, 3, 0, &window);
    for (int i = 0; i < 20000; i++) {
        uint32_t step_us = i % 951 == 0 ? 1290 : 1052 + (uint32_t)(i % 3);
        int32_t mA = i % 977 < 40 ? 4000 : 20 + i % 5;
        t_us += step_us;
        charge_nC += (int64_t)mA * step_us;
        conversions++;
        if (!feed(&windowing, t_us, mA, 0, &window))
            continue;
        assert_int_equal(window.t_us, t_us);
        assert_int_equal(window.t_us - window.dur_us, end_us);
        assert_int_equal(window.charge_nC, charge_nC);
        assert_int_equal(window.count, conversions);
        assert_int_equal(window.flags & ~WINDOW_UNJOINED, 0);
        end_us = t_us;
        conversions = 0;
    }
    assert_true(window.seq > 400);
}

/* The flags of a window with one conversion of its own kind, `step_us` after the one before. */
static uint8_t flags_of(int32_t mA, uint8_t sample_flags, uint32_t step_us)
{
    struct windowing windowing;
    struct window window;
    window_init(&windowing, &cal, 50000);
    feed(&windowing, 49000, 0, 0, &window);
    assert_true(feed(&windowing, 50000, 0, 0, &window)); /* the unjoined one */
    for (uint64_t t_us = 51000; t_us <= 99000; t_us += 1000)
        assert_false(feed(&windowing, t_us, mA, 0, &window));
    assert_true(feed(&windowing, 99000 + step_us, mA, sample_flags, &window));
    return window.flags;
}

static void flags_say_what_happened(void **state)
{
    (void)state;
    assert_int_equal(flags_of(20, 0, 1052), 0);
    assert_int_equal(flags_of(20, SAMPLE_CLIPPED, 1052), WINDOW_CLIPPED);
    assert_int_equal(flags_of(20, SAMPLE_WIDE, 1052), WINDOW_WIDE);
    assert_int_equal(flags_of(20, SAMPLE_WIDE | SAMPLE_SWITCHED, 1052), WINDOW_WIDE | WINDOW_SWITCHED);
    assert_int_equal(flags_of(-20, 0, 1052), WINDOW_NEGATIVE);
    assert_int_equal(flags_of(20, 0, 3000), WINDOW_MISSED);
}

/* The bound of a missed conversion lies between the longest single one and the shortest two (window.h). */
static void missed_conversion_bound(void **state)
{
    (void)state;
    struct windowing windowing;
    struct window window;
    const struct { uint32_t step_us; bool missed; } cases[] = {{1845, false}, {1960, false}, {1961, true}, {2083, true}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        window_init(&windowing, &cal, 50000);
        feed(&windowing, 100000 - cases[i].step_us, 1, 0, &window);
        assert_true(feed(&windowing, 100000, 1, 0, &window));
        assert_int_equal(!!(window.flags & WINDOW_MISSED), cases[i].missed);
    }
}

static void cut_closes_early_and_the_next_is_unjoined(void **state)
{
    (void)state;
    struct windowing windowing;
    struct window window;
    window_init(&windowing, &cal, 50000);
    assert_false(window_cut(&windowing, &window)); /* nothing yet */
    feed(&windowing, 1000, 7, 0, &window);
    assert_false(window_cut(&windowing, &window)); /* only the start of time */
    feed(&windowing, 2000, 7, 0, &window);
    feed(&windowing, 3000, 7, 0, &window);
    assert_true(window_cut(&windowing, &window));
    assert_int_equal(window.t_us, 3000);
    assert_int_equal(window.dur_us, 1000);
    assert_int_equal(window.charge_nC, 7000);
    assert_int_equal(window.flags, WINDOW_UNJOINED);
    assert_false(window_cut(&windowing, &window));
    /* A minute later: no charge is invented for it. */
    feed(&windowing, 60000000, 9, 0, &window);
    for (uint64_t t_us = 60001000; !feed(&windowing, t_us, 9, 0, &window); t_us += 1000)
        assert_true(t_us < 61000000);
    assert_int_equal(window.t_us, 60050000);
    assert_int_equal(window.dur_us, 50000);
    assert_int_equal(window.charge_nC, 7000 + 9 * 50000);
    assert_int_equal(window.flags, WINDOW_UNJOINED);
    assert_int_equal(window.seq, 1);
}

/* A second of full scale: the sums stay within 32 bits (the sanitizer looks on). */
static void one_second_window_at_the_end_of_the_scale(void **state)
{
    (void)state;
    struct windowing windowing;
    struct window window;
    window_init(&windowing, &cal, WINDOW_US_MAX);
    for (uint64_t t_us = 0;; t_us += 1040) {
        struct sample sample = {0, -2097152, SAMPLE_CLIPPED | SAMPLE_WIDE};
        if (window_add(&windowing, &sample, t_us, &window))
            break;
    }
    assert_int_equal(window.count, 962);
    assert_int_equal(window.mean_uA, -32768000);
    assert_int_equal(window.charge_nC, -32768ll * 962 * 1040);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(close_at_or_past_each_multiple),
        cmocka_unit_test(skip_multiples_without_a_conversion),
        cmocka_unit_test(tile_the_time_and_add_up),
        cmocka_unit_test(flags_say_what_happened),
        cmocka_unit_test(missed_conversion_bound),
        cmocka_unit_test(cut_closes_early_and_the_next_is_unjoined),
        cmocka_unit_test(one_second_window_at_the_end_of_the_scale),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
