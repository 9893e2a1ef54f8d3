/*
 * The ring of the last windows: every one that is kept comes back bit for bit,
 * however wild its values; a car asleep leaves more than a second of them.
 */
#include "core/history.h"
#include "test.h"
#include <stdlib.h>
#include <string.h>

static const unsigned seed = 4711;
static struct history history;
#define ALL 3000
static struct window added[ALL];

static void clear(void)
{
    memset(&history, 0, sizeof history);
    history_init(&history);
}

static void assert_same(const struct window *a, const struct window *b)
{
    assert_int_equal(a->seq, b->seq);
    assert_true(a->t_us == b->t_us);
    assert_int_equal(a->dur_us, b->dur_us);
    assert_int_equal(a->count, b->count);
    assert_int_equal(a->mean_uA, b->mean_uA);
    assert_int_equal(a->min_uA, b->min_uA);
    assert_int_equal(a->max_uA, b->max_uA);
    assert_true(a->charge_nC == b->charge_nC);
    assert_int_equal(a->flags, b->flags);
}

static void check_all_kept(uint32_t last)
{
    struct window window;
    uint32_t first = history_first(&history);
    for (uint32_t seq = first; seq <= last; seq++) {
        history_get(&history, seq, &window);
        assert_same(&window, &added[seq]);
    }
}

/* A sum of uniform numbers is near enough to the noise of a conversion's mean. */
static int32_t noise(int32_t sigma)
{
    int32_t sum = 0;
    for (int i = 0; i < 12; i++)
        sum += rand() % (2 * sigma + 1) - sigma;
    return sum / 2;
}

/* 20 mA with the noise of the data sheet: 0.4 mA a conversion, 57 uA a mean of 48, extremes at 2.2 sigma. */
static struct window asleep(uint32_t seq, const struct window *before, int32_t level_uA)
{
    struct window w = {.seq = seq, .flags = 0};
    w.dur_us = seq % 20 ? (uint32_t)(49450 + rand() % 2 * 1052) : 50700;
    w.t_us = before->t_us + w.dur_us;
    w.count = w.dur_us > 50000 ? 48 : 47;
    w.mean_uA = level_uA + noise(57);
    w.min_uA = level_uA - 900 + noise(150);
    w.max_uA = level_uA + 900 + noise(150);
    w.charge_nC = before->charge_nC + (int64_t)w.mean_uA * w.dur_us / 1000;
    return w;
}

static void keeps_more_than_a_second_of_a_car_asleep(void **state)
{
    (void)state;
    const int32_t levels_uA[] = {12000, 20000, 48000, 640000, 7000000};
    srand(seed);
    for (size_t level = 0; level < sizeof levels_uA / sizeof *levels_uA; level++) {
        clear();
        unsigned fewest = UINT16_MAX;
        for (uint32_t seq = 0; seq < ALL; seq++) {
            added[seq] = asleep(seq, seq ? &added[seq - 1] : &(struct window){.t_us = 0}, levels_uA[level]);
            history_add(&history, &added[seq]);
            if (seq > 100 && history.count < fewest)
                fewest = history.count;
        }
        check_all_kept(ALL - 1);
        print_message("at %d mA at least %u windows of 50 ms are kept\n", levels_uA[level] / 1000, fewest);
        assert_true(fewest >= (levels_uA[level] < 1000000 ? 20 : 18));
    }
}

static uint64_t wild(void)
{
    uint64_t value = 0;
    for (int i = 0; i < 5; i++)
        value = value << 15 ^ (uint64_t)rand();
    return value >> rand() % 64;
}

static void any_values_come_back(void **state)
{
    (void)state;
    srand(seed);
    clear();
    unsigned fewest = UINT16_MAX;
    for (uint32_t seq = 0; seq < ALL; seq++) {
        struct window *w = &added[seq];
        bool unjoined = seq == 0 || rand() % 5 == 0;
        uint64_t before_us = seq ? added[seq - 1].t_us : 0;
        *w = (struct window){.seq = seq, .dur_us = (uint32_t)wild(), .count = (uint32_t)wild() & 0xFFFF,
                             .mean_uA = (int32_t)wild(), .min_uA = (int32_t)wild(), .max_uA = (int32_t)wild(),
                             .charge_nC = (int64_t)wild(), .flags = (uint8_t)(rand() & 0x1F)};
        if (unjoined)
            w->flags |= WINDOW_UNJOINED;
        w->t_us = before_us + w->dur_us + (unjoined ? wild() >> 20 : 0);
        history_add(&history, w);
        if (seq > 100 && history.count < fewest)
            fewest = history.count;
        if (seq % 97 == 0)
            check_all_kept(seq);
    }
    check_all_kept(ALL - 1);
    assert_true(fewest >= 5); /* the longest record is 50 bytes */
}

static void empty_history_holds_nothing(void **state)
{
    (void)state;
    clear();
    assert_int_equal(history_first(&history), 0);
    assert_int_equal(history.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(empty_history_holds_nothing),
        cmocka_unit_test(keeps_more_than_a_second_of_a_car_asleep),
        cmocka_unit_test(any_values_come_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
