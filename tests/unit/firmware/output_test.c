/*
 * Stream policy: order, room, and that every line that is thrown away is counted.
 */
#include "core/output.h"
#include "ring_text.h"
#include "test.h"
#include <stdio.h>
#include <string.h>

static struct output output;
static const struct hello hello = {.proto = 1, .fw = "0", .mcu = "native", .sensor = "ina228", .cause = "pin", .stream = "raw", .cal_state = "none", .cal = {5000000, 0, 0, 40000000}};
static struct sense_chip chip = {.limits = {1, 2, 3, 4, 5}};

static void clear(void)
{
    memset(&output, 0, sizeof output);
    output_init(&output);
}

static void add_window(uint32_t seq)
{
    struct window window = {.seq = seq, .count = 48};
    output_window(&output, &window);
}

static void add_status(uint32_t seq)
{
    struct status *status = output_new_status(&output);
    if (status)
        *status = (struct status){seq, 0, STATUS_BUS_STUCK, 0};
}

static void add_voltage(void)
{
    struct voltage *voltage = output_new_voltage(&output);
    if (voltage)
        *voltage = (struct voltage){.has_temp = true};
}

static void add_raw(unsigned count)
{
    past_want(&output.past, true);
    for (unsigned i = 0; i < count; i++)
        past_add(&output.past, output.past.newest.t_us + 1052, 1280, 0, true);
}

static void fill_ring(void)
{
    while (txring_room(&output.ring) > 0)
        txring_put(&output.ring, 'x');
    assert_true(txring_end_line(&output.ring));
}

static bool next_line(char *text)
{
    bool more = output.hello_waits ? output_hello(&output, &hello) : output_next(&output, 1000000);
    ring_text(&output.ring, text, TXRING_BYTES);
    return more;
}

static void sends_in_order(void **state)
{
    (void)state;
    char text[TXRING_BYTES], types[16] = "";
    uint32_t first;
    clear();
    add_window(0);
    while (next_line(text))
        ;
    add_raw(RAW_IN_LINE);
    add_window(1);
    assert_int_equal(output_replay(&output, 0, &first), 1);
    add_voltage();
    output.answer = (struct answer){.tag = 1, .kind = ANSWER_PLAIN};
    output.answer_waits = true;
    add_status(0);
    output.limits_of = &chip;
    output.hello_waits = true;
    while (next_line(text))
        strncat(types, text[0] == ' ' ? "" : text, 1);
    assert_string_equal(types, "HLSAVWRW");
    assert_int_equal(output.dropped, 0);
}

/* With a full ring: so many records wait, every one beyond is counted. */
static void counts_what_it_throws_away(void **state)
{
    (void)state;
    clear();
    fill_ring();
    uint32_t windows = 0;
    for (uint32_t i = 0; i < 100; i++) {
        add_window(i);
        add_status(i);
        add_voltage();
        assert_false(output_next(&output, 0));
        windows = history_first(&output.history);
        assert_int_equal(output.dropped, windows + (i + 1 > OUTPUT_STATUSES ? i + 1 - OUTPUT_STATUSES : 0) + i);
    }
    assert_in_range(windows, 50, 80);
    uint32_t thrown = output.dropped;
    /* What had a place comes out whole and in order, and V tells the count. */
    char text[TXRING_BYTES], expected[64];
    ring_text(&output.ring, text, sizeof text);
    for (uint32_t i = 0; i < OUTPUT_STATUSES; i++) {
        assert_true(next_line(text));
        snprintf(expected, sizeof expected, "S %x 0 bus-stuck 0 ", (unsigned)i);
        assert_memory_equal(text, expected, strlen(expected));
    }
    assert_true(next_line(text));
    snprintf(expected, sizeof expected, "V 0 0 0 0 %x ", (unsigned)thrown);
    assert_memory_equal(text, expected, strlen(expected));
    for (uint32_t i = windows; i < 100; i++) {
        assert_true(next_line(text));
        snprintf(expected, sizeof expected, "W %x ", (unsigned)i);
        assert_memory_equal(text, expected, strlen(expected));
    }
    assert_false(next_line(text));
}

/* Raw conversions that the wire was too slow for: whole lines are counted, and `seq` has the hole. */
static void raw_lines_lost_are_counted(void **state)
{
    (void)state;
    char text[TXRING_BYTES];
    clear();
    add_raw(RAW_IN_LINE);
    assert_true(next_line(text));
    assert_memory_equal(text, "R 0 ", 4);
    fill_ring();
    add_raw(400);
    unsigned lost = output.past.lost;
    assert_in_range(lost, 280, 320);
    assert_int_equal(lost + output.past.due, 400);
    ring_text(&output.ring, text, sizeof text);
    assert_true(next_line(text));
    unsigned lines = (lost + RAW_IN_LINE - 1) / RAW_IN_LINE;
    assert_int_equal(output.dropped, lines);
    char expected[16];
    snprintf(expected, sizeof expected, "R %x ", lines + 1);
    assert_memory_equal(text, expected, strlen(expected));
    /* The first conversion tells that others are missing before it. */
    int flags = -1;
    sscanf(text, "R %*x %*x %*x %x", (unsigned *)&flags);
    assert_int_equal(flags, RAW_BROKEN);
}

static void replay_serves_what_is_kept(void **state)
{
    (void)state;
    char text[TXRING_BYTES], expected[16];
    uint32_t first;
    clear();
    assert_int_equal(output_replay(&output, 0, &first), 0);
    for (uint32_t i = 0; i < 100; i++) {
        add_window(i);
        assert_true(next_line(text));
    }
    uint32_t oldest = history_first(&output.history);
    /* All of it, however old what was asked for. */
    assert_int_equal(output_replay(&output, 3, &first), 100 - oldest);
    assert_int_equal(first, oldest);
    for (uint32_t i = oldest; i < 100; i++) {
        assert_true(next_line(text));
        snprintf(expected, sizeof expected, "W %x ", (unsigned)i);
        assert_memory_equal(text, expected, strlen(expected));
    }
    assert_false(next_line(text));
    /* The last two; none that is still to come. */
    assert_int_equal(output_replay(&output, 98, &first), 2);
    assert_int_equal(first, 98);
    assert_int_equal(output_replay(&output, 100, &first), 0);
    assert_int_equal(output_replay(&output, 0xFFFFFFF0u, &first), 100 - oldest); /* before 0: wrapped */
    assert_false(output.dropped);
}

/* A hello is under way: nothing passes it, and what came meanwhile goes after it. */
static void nothing_passes_a_hello(void **state)
{
    (void)state;
    char text[TXRING_BYTES], all[512] = "";
    uint8_t byte;
    clear();
    fill_ring();
    output.hello_waits = true;
    add_window(0);
    while (txring_room(&output.ring) < HELLO_PART_BYTES_MAX) {
        assert_false(output_hello(&output, &hello));
        assert_true(txring_take(&output.ring, &byte));
    }
    assert_true(output_hello(&output, &hello));
    ring_text(&output.ring, text, sizeof text);
    strcat(all, strchr(text, 'H'));
    while (next_line(text))
        strcat(all, text);
    assert_memory_equal(all, "H proto=1 fw=", 13);
    assert_non_null(strstr(all, " cal_gen=0 "));
    assert_ptr_equal(strchr(all, '\n') + 1, strstr(all, "W 0 "));
    assert_int_equal(output.dropped, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sends_in_order),
        cmocka_unit_test(counts_what_it_throws_away),
        cmocka_unit_test(raw_lines_lost_are_counted),
        cmocka_unit_test(replay_serves_what_is_kept),
        cmocka_unit_test(nothing_passes_a_hello),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
