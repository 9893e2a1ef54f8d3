/*
 * Received bytes to lines: stamps, length limit, more lines than there is
 * room for, damaged bytes.
 */
#include "core/rxlines.h"
#include "test.h"
#include <string.h>

static void receive(struct rxlines *rx, const char *text, uint32_t ticks)
{
    for (; *text; text++)
        rxlines_byte(rx, (uint8_t)*text, false, ticks);
}

static void expect(struct rxlines *rx, const char *text, uint32_t ticks)
{
    uint8_t line[COMMAND_BYTES_MAX];
    struct rx_mark mark;
    assert_true(rxlines_take(rx, line, &mark));
    assert_int_equal(mark.state, RX_WHOLE);
    assert_int_equal(mark.length, strlen(text));
    assert_memory_equal(line, text, mark.length);
    assert_int_equal(mark.ticks, ticks);
}

static void expect_state(struct rxlines *rx, enum rx_state state)
{
    uint8_t line[COMMAND_BYTES_MAX];
    struct rx_mark mark;
    assert_true(rxlines_take(rx, line, &mark));
    assert_int_equal(mark.state, state);
    assert_int_equal(mark.length, 0);
}

static void nothing_left(struct rxlines *rx)
{
    uint8_t line[COMMAND_BYTES_MAX];
    struct rx_mark mark;
    assert_false(rxlines_take(rx, line, &mark));
}

static void stamps_each_line_at_its_end(void **state)
{
    (void)state;
    struct rxlines rx = {.length = 0};
    receive(&rx, "h 1 ", 5);
    nothing_left(&rx);
    receive(&rx, "ABCD\np", 7);
    receive(&rx, " 2\n", 9);
    expect(&rx, "h 1 ABCD", 7);
    expect(&rx, "p 2", 9);
    nothing_left(&rx);
}

static void skips_empty_lines(void **state)
{
    (void)state;
    struct rxlines rx = {.length = 0};
    assert_false(rxlines_byte(&rx, '\n', false, 0));
    receive(&rx, "\n\n\n\n\n\na\n", 1);
    expect(&rx, "a", 1);
    nothing_left(&rx);
    assert_int_equal(rx.unmarked, 0);
}

static void refuses_long_lines_and_goes_on(void **state)
{
    (void)state;
    struct rxlines rx = {.length = 0};
    char text[COMMAND_BYTES_MAX + 2];
    memset(text, 'x', sizeof text);
    text[COMMAND_BYTES_MAX - 1] = 0; /* 31 bytes, 32 with the LF */
    for (int turn = 0; turn < 10; turn++) {
        receive(&rx, text, 1);
        receive(&rx, "\n", 2);
        expect(&rx, text, 2);
        receive(&rx, text, 1);
        receive(&rx, "y\n", 3);
        expect_state(&rx, RX_LONG);
        for (int i = 0; i < 20; i++)
            receive(&rx, text, 1);
        receive(&rx, "\nb\n", 4);
        expect_state(&rx, RX_LONG);
        expect(&rx, "b", 4);
        nothing_left(&rx);
    }
}

static void counts_lines_beyond_the_marks(void **state)
{
    (void)state;
    struct rxlines rx = {.length = 0};
    receive(&rx, "a\nb\nc\nd\ne\n", 1);
    assert_int_equal(rx.unmarked, 2);
    expect(&rx, "a", 1);
    receive(&rx, "f\n", 2);
    expect(&rx, "b", 1);
    expect(&rx, "c", 1);
    expect(&rx, "f", 2);
    nothing_left(&rx);
}

static void line_without_room_is_busy(void **state)
{
    (void)state;
    struct rxlines rx = {.length = 0};
    char text[26];
    memset(text, 'x', 25);
    text[25] = 0;
    receive(&rx, text, 1);
    receive(&rx, "\n", 1);
    receive(&rx, text, 1);
    receive(&rx, "\n", 1);
    receive(&rx, text, 1); /* 75 bytes into a ring of 64 */
    receive(&rx, "\n", 1);
    expect(&rx, text, 1);
    receive(&rx, "a\n", 2);
    expect(&rx, text, 1);
    expect_state(&rx, RX_BUSY);
    expect(&rx, "a", 2);
    nothing_left(&rx);
}

static void damaged_byte_becomes_zero(void **state)
{
    (void)state;
    struct rxlines rx = {.length = 0};
    uint8_t line[COMMAND_BYTES_MAX];
    struct rx_mark mark;
    receive(&rx, "h", 1);
    rxlines_byte(&rx, '\n', true, 1); /* not even an LF counts */
    receive(&rx, "1\n", 1);
    assert_true(rxlines_take(&rx, line, &mark));
    assert_int_equal(mark.length, 3);
    assert_memory_equal(line, "h\0" "1", 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stamps_each_line_at_its_end),
        cmocka_unit_test(skips_empty_lines),
        cmocka_unit_test(refuses_long_lines_and_goes_on),
        cmocka_unit_test(counts_lines_beyond_the_marks),
        cmocka_unit_test(line_without_room_is_busy),
        cmocka_unit_test(damaged_byte_becomes_zero),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
