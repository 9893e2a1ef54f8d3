/*
 * Stream policy: order, room, and that every line that is thrown away is counted.
 */
#include "core/output.h"
#include "ring_text.h"
#include "test.h"
#include <stdio.h>
#include <string.h>

static struct output output;
static const struct identity identity = {1, 1};
static const struct calibration cal = {5000000, 0, 0};
static const struct hello hello = {"0", "native", "ina228", "power", "windows", &identity, &cal, 1, 50000};

static void clear(void)
{
    memset(&output, 0, sizeof output);
}

static void add_window(uint32_t seq)
{
    struct window window = {.seq = seq, .count = 48};
    output_window(&output, &window);
}

static void add_status(uint32_t seq)
{
    struct status status = {0, seq, 0, STATUS_BUS_STUCK};
    output_status(&output, &status);
}

static void fill_ring(void)
{
    while (txring_room(&output.ring) > 0)
        txring_put(&output.ring, 'x');
    assert_true(txring_end_line(&output.ring));
}

static void sends_in_order(void **state)
{
    (void)state;
    char text[TXRING_BYTES], types[8] = "";
    struct voltage voltage = {0};
    struct answer answer = {.tag = 1, .kind = ANSWER_PLAIN};
    clear();
    add_window(0);
    output_voltage(&output, &voltage);
    output_answer(&output, &answer);
    add_status(0);
    output.hello_waits = true;
    while (output_waits(&output)) {
        assert_true(output_next(&output, &hello));
        ring_text(&output.ring, text, sizeof text);
        strncat(types, text, 1);
    }
    assert_string_equal(types, "HSAVW");
    assert_false(output_next(&output, &hello));
    assert_int_equal(output.dropped, 0);
}

/* With a full ring: so many records wait, every one beyond is counted. */
static void counts_what_it_throws_away(void **state)
{
    (void)state;
    clear();
    fill_ring();
    struct voltage voltage = {0};
    uint32_t thrown = 0;
    for (uint32_t i = 0; i < 100; i++) {
        add_window(i);
        add_status(i);
        output_voltage(&output, &voltage);
        assert_false(output_next(&output, &hello));
        thrown = (i + 1 > OUTPUT_WINDOWS ? i + 1 - OUTPUT_WINDOWS : 0) +
                 (i + 1 > OUTPUT_STATUSES ? i + 1 - OUTPUT_STATUSES : 0) + i;
        assert_int_equal(output.dropped, thrown);
    }
    /* What had a place comes out whole and in order, and V tells the count. */
    char text[TXRING_BYTES], expected[64];
    ring_text(&output.ring, text, sizeof text);
    for (uint32_t i = 0; i < OUTPUT_STATUSES; i++) {
        assert_true(output_next(&output, &hello));
        ring_text(&output.ring, text, sizeof text);
        snprintf(expected, sizeof expected, "S %x 0 bus-stuck 0 ", (unsigned)i);
        assert_memory_equal(text, expected, strlen(expected));
    }
    assert_true(output_next(&output, &hello));
    ring_text(&output.ring, text, sizeof text);
    snprintf(expected, sizeof expected, "V 0 0 0 0 %x ", (unsigned)thrown);
    assert_memory_equal(text, expected, strlen(expected));
    for (uint32_t i = 0; i < OUTPUT_WINDOWS; i++) {
        assert_true(output_next(&output, &hello));
        ring_text(&output.ring, text, sizeof text);
        snprintf(expected, sizeof expected, "W %x ", (unsigned)i);
        assert_memory_equal(text, expected, strlen(expected));
    }
    assert_false(output_waits(&output));
}

/* A hello needs nearly the whole ring: nothing passes it while it waits, so it goes as soon as there is room. */
static void nothing_passes_a_waiting_line(void **state)
{
    (void)state;
    char text[TXRING_BYTES];
    uint8_t byte;
    clear();
    add_window(0);
    assert_true(output_next(&output, &hello));
    output.hello_waits = true;
    add_window(1);
    while (txring_room(&output.ring) < HELLO_BYTES_MAX) {
        assert_false(output_next(&output, &hello));
        assert_true(txring_take(&output.ring, &byte));
    }
    assert_true(output_next(&output, &hello));
    assert_int_equal(output.dropped, 0);
    ring_text(&output.ring, text, sizeof text);
    assert_non_null(strstr(text, "H proto=1 "));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sends_in_order),
        cmocka_unit_test(counts_what_it_throws_away),
        cmocka_unit_test(nothing_passes_a_waiting_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
