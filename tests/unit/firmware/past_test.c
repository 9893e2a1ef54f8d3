/*
 * The ring of the last conversions: what is due comes out in order and bit for
 * bit, what was pushed out is counted, and how far back a quiet car reaches.
 */
#include "core/past.h"
#include "test.h"
#include <stdlib.h>
#include <string.h>

static const unsigned seed = 99;
static struct past past;

static int32_t noise(int32_t sigma)
{
    int32_t sum = 0;
    for (int i = 0; i < 12; i++)
        sum += rand() % (2 * sigma + 1) - sigma;
    return sum / 2;
}

/* Conversions of 1052 us whose stamps are late by 0 to `late_us`. */
static void add_quiet(unsigned count, int32_t sigma, uint32_t late_us)
{
    static uint32_t ideal_us;
    for (unsigned i = 0; i < count; i++) {
        ideal_us += 1052;
        past_add(&past, ideal_us + (uint32_t)rand() % (late_us + 1), 1280 + noise(sigma), 0, past.count > 0);
    }
}

/* Sigma of a conversion is 2.0 uV, 26 units (data sheet, 12.6 noise-free bits); a blinking load adds to it. */
static void reaches_back_100_ms_while_the_current_is_quiet(void **state)
{
    (void)state;
    const struct { int32_t sigma; uint32_t late_us; unsigned least; } cases[] = {
        {26, 2, 92}, {26, 12, 65}, {300, 2, 62}, {4000, 2, 62}};
    srand(seed);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        past_init(&past);
        add_quiet(300, cases[i].sigma, cases[i].late_us);
        unsigned fewest = UINT8_MAX;
        for (int turn = 0; turn < 3000; turn++) {
            add_quiet(1, cases[i].sigma, cases[i].late_us);
            if (past.count < fewest)
                fewest = past.count;
        }
        print_message("noise of %d units, stamps late by up to %u us: at least %u conversions, %u ms\n",
                      (int)cases[i].sigma, (unsigned)cases[i].late_us, fewest, fewest * 1052 / 1000);
        assert_true(fewest >= cases[i].least);
    }
}

static void gives_back_what_is_due_in_order(void **state)
{
    (void)state;
    static struct raw added[5000];
    unsigned next_in = 0, next_out = 0;
    uint32_t t_us = 4294000000u; /* wraps on the way */
    srand(seed);
    past_init(&past);
    past_want(&past, true);
    while (next_out < 5000) {
        if (next_in < 5000 && past.due < 20 && rand() % 3) {
            bool joined = next_in > 0 && rand() % 20;
            uint32_t dt = joined ? (uint32_t)(900 + rand() % 64000) : (uint32_t)rand();
            t_us += dt;
            added[next_in] = (struct raw){t_us, rand() % 4194304 - 2097152, (uint16_t)dt, (uint8_t)(rand() & 7)};
            past_add(&past, t_us, added[next_in].units, added[next_in].flags, joined);
            if (!joined)
                added[next_in].flags |= RAW_BROKEN;
            next_in++;
        } else if (past.due > 0) {
            struct raw raw;
            assert_int_equal(past_follows(&past), !(added[next_out].flags & RAW_BROKEN));
            past_take(&past, &raw);
            assert_int_equal(raw.t_us, added[next_out].t_us);
            assert_int_equal(raw.units, added[next_out].units);
            assert_int_equal(raw.flags, added[next_out].flags);
            if (!(raw.flags & RAW_BROKEN))
                assert_int_equal(raw.dt_us, added[next_out].dt_us);
            next_out++;
        }
    }
    assert_int_equal(past.lost, 0);
}

/* Nobody wants them, then all that are kept are due; what comes out first does not follow. */
static void wanted_late_gives_what_is_kept(void **state)
{
    (void)state;
    struct raw raw;
    past_init(&past);
    add_quiet(500, 26, 2);
    assert_int_equal(past.due, 0);
    past_want(&past, true);
    assert_int_equal(past.due, past.count);
    assert_false(past_follows(&past));
    past_take(&past, &raw);
    assert_int_equal(raw.flags, RAW_BROKEN);
    assert_true(past_follows(&past));
    add_quiet(1, 26, 2);
    past_want(&past, false);
    unsigned due = past.due;
    add_quiet(1, 26, 2);
    assert_int_equal(past.due, due);
    while (past.due > 0)
        past_take(&past, &raw);
    assert_int_equal(past.count, 1);
    past_want(&past, true);
    assert_true(past_follows(&past)); /* nothing was lost between */
}

static void what_is_pushed_out_is_counted(void **state)
{
    (void)state;
    past_init(&past);
    past_want(&past, true);
    add_quiet(10, 26, 2);
    struct raw raw;
    past_take(&past, &raw);
    add_quiet(991, 26, 2);
    assert_int_equal(past.lost + past.due, 1000);
    assert_true(past.lost > 800);
    assert_false(past_follows(&past));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reaches_back_100_ms_while_the_current_is_quiet),
        cmocka_unit_test(gives_back_what_is_due_in_order),
        cmocka_unit_test(wanted_late_gives_what_is_kept),
        cmocka_unit_test(what_is_pushed_out_is_counted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
