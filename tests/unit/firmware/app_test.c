/*
 * The whole firmware on the native board with the played chip: boot, stream,
 * commands, faults and their end.
 */
#include "chip_model.h"
#include "core/app.h"
#include "core/blocks.h"
#include "core/crc32.h"
#include "test.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Every line that came since the test began, each ended by LF. */
static char wire[1 << 20];
static size_t wire_length;
static bool wire_open; /* the transmitter takes bytes */

static void settle(void)
{
    uint8_t byte;
    bool more = true;
    while (more) {
        more = app_step();
        while (wire_open && app_next_byte(&byte) != BYTE_NONE) {
            wire[wire_length++] = (char)byte;
            more = true;
        }
    }
    wire[wire_length] = 0;
}

static void boot(void)
{
    wire_length = 0;
    wire_open = true;
    board_init();
    app_init();
    settle();
}

static void fresh(void)
{
    native_reset(chip_bus);
    chip_reset();
    chip_set_shunt(1280); /* 20 mA in 5 mOhm */
    chip.vbus = 63232u << 4;
    chip.dietemp = 3200;
    boot();
}

/* The chip converts for so long: an edge every 1052 us (1152 with voltage and temperature). */
static void run_us(uint32_t us)
{
    uint32_t begun = native.ticks;
    while (native.ticks - begun < us * 2) {
        native.ticks += (chip.adc_config >> 12 == 0xF ? 1152u : 1052u) * 2;
        if (!chip.absent && (chip.diag_alrt & 0x4000)) {
            app_on_ready(native.ticks);
            native_run_bus();
        }
        settle();
    }
}

/* Time without an edge. */
static void idle_ms(uint32_t ms)
{
    for (; ms > 0; ms--) {
        native.ticks += 2000;
        native_run_bus();
        settle();
    }
}

static void command(const char *body)
{
    char line[96];
    int length = snprintf(line, sizeof line - 10, "%s ", body);
    snprintf(line + length, 10, "%08" PRIX32 "\n", crc32_of((const uint8_t *)line, (uint8_t)length));
    for (const char *c = line; *c; c++)
        app_on_receive((uint8_t)*c, false, native.ticks);
}

/* Counts the lines that begin with `head`; checks the CRC of every line on the way. */
static int lines_with(const char *head)
{
    int count = 0;
    for (char *line = wire; *line;) {
        char *end = strchr(line, '\n');
        char code[9];
        assert_non_null(end);
        assert_true(end - line > 10 && end - line < 240);
        snprintf(code, sizeof code, "%08" PRIX32, crc32_of((const uint8_t *)line, (uint8_t)(end - line - 8)));
        assert_memory_equal(end - 8, code, 8);
        count += strncmp(line, head, strlen(head)) == 0;
        line = end + 1;
    }
    return count;
}

/* The fields of the n-th line of a type that are numbers. */
struct numbers {
    long long at[10];
};
static struct numbers line_numbers(const char *type, int n)
{
    struct numbers numbers = {{0}};
    for (char *line = wire; *line; line = strchr(line, '\n') + 1) {
        if (strncmp(line, type, strlen(type)) != 0 || n-- > 0)
            continue;
        char *at = line + strlen(type);
        for (int i = 0; i < 10 && *at == ' '; i++)
            numbers.at[i] = strtoll(at, &at, 16);
        return numbers;
    }
    fail_msg("no line %s number %d in:\n%s", type, n, wire);
    return numbers;
}
enum { W_SEQ, W_T, W_DUR, W_COUNT, W_MEAN, W_MIN, W_MAX, W_CHARGE, W_FLAGS };

static void boots_with_hello_first(void **state)
{
    (void)state;
    fresh();
    run_us(100000);
    assert_memory_equal(wire, "H proto=1 fw=", 13);
    assert_int_equal(lines_with("H "), 1);
    assert_non_null(strstr(wire, " mcu=native sensor=ina228 id=0 boot=1 cause=power shunt_nOhm=4c4b40 "
                                 "gain_ppm=0 offset_nV=0 window_us=c350 stream=windows speed=1 "));
    assert_int_equal(lines_with("S "), 0);
}

static void streams_a_minute_without_a_hole(void **state)
{
    (void)state;
    fresh();
    run_us(60000000);
    int windows = lines_with("W ");
    assert_in_range(windows, 1198, 1200);
    struct numbers before = line_numbers("W", 0);
    assert_int_equal(before.at[W_FLAGS], 0x20);
    for (int i = 1; i < 200; i++) {
        struct numbers w = line_numbers("W", i);
        assert_int_equal(w.at[W_SEQ], i);
        assert_int_equal(w.at[W_T] - w.at[W_DUR], before.at[W_T]);
        assert_int_equal(w.at[W_MEAN], 20000);
        assert_int_equal(w.at[W_MIN], 20000);
        assert_int_equal(w.at[W_MAX], 20000);
        assert_in_range(w.at[W_COUNT], 46, 49);
        assert_int_equal(w.at[W_FLAGS], 0);
        /* 20 mA times microseconds are 20 nC each. */
        assert_int_equal(w.at[W_CHARGE] - before.at[W_CHARGE], 20 * w.at[W_DUR]);
        before = w;
    }
    int voltages = lines_with("V ");
    assert_in_range(voltages, 59, 61);
    struct numbers v = line_numbers("V", 3);
    assert_int_equal(v.at[2], 12350);
    assert_int_equal(v.at[3], 25000);
    assert_int_equal(v.at[4], 0);
    assert_int_equal(lines_with("S "), 0);
    assert_int_equal(chip.refusals, 0);
    assert_true(native.watchdog_feeds > 1000);
}

static void answers_each_command_once(void **state)
{
    (void)state;
    fresh();
    run_us(5000);
    native.ticks = 4000000; /* 2 s */
    command("p 7");
    command("h 8");
    command("q 9");
    settle();
    assert_int_equal(lines_with("A 7 1e8480 "), 1); /* 2 000 000 us */
    assert_int_equal(lines_with("A 8 "), 1);
    assert_int_equal(lines_with("E 9 unknown "), 1);
    assert_int_equal(lines_with("H "), 2);
    assert_true(strstr(wire, "A 8 ") > strstr(wire + 10, "\nH "));
    assert_int_equal(lines_with("A ") + lines_with("E "), 3);
}

static void ping_tells_the_stamp_of_the_line_feed(void **state)
{
    (void)state;
    fresh();
    native.ticks = 2000000;
    command("p 1");
    native.ticks += 20000; /* the main loop comes 10 ms later */
    settle();
    assert_int_equal(lines_with("A 1 f4240 "), 1);
}

static void identity_is_stored_once(void **state)
{
    (void)state;
    fresh();
    command("i 1 0");
    settle();
    assert_int_equal(lines_with("E 1 range "), 1);
    command("i 2 deadbeef");
    for (int i = 0; i < 200; i++) {
        native.ticks += 1000;
        settle();
    }
    assert_int_equal(lines_with("A 2 deadbeef "), 1);
    command("i 3 1");
    settle();
    assert_int_equal(lines_with("E 3 range "), 1);
    boot();
    assert_non_null(strstr(wire, " id=deadbeef boot=2 "));
}

/* The power goes at each byte: afterwards there is the whole number or none, and it can be given again. */
static void cut_while_storing_the_identity(void **state)
{
    (void)state;
    for (long bytes = 0; bytes <= IDENTITY_BYTES; bytes++) {
        fresh();
        native.store_writes_left = bytes;
        command("i 2 1234567");
        for (int i = 0; i < 200; i++) {
            native.ticks += 1000;
            settle();
        }
        bool whole = bytes == IDENTITY_BYTES;
        assert_int_equal(lines_with("A 2 1234567 "), whole);
        assert_int_equal(lines_with("E 2 store "), !whole);
        native.store_writes_left = -1;
        boot();
        assert_non_null(strstr(wire, whole ? " id=1234567 " : " id=0 "));
    }
}

static void malformed_lines_change_nothing(void **state)
{
    (void)state;
    const unsigned seed = 77;
    uint8_t store[STORE_BYTES];
    fresh();
    memcpy(store, native.store, sizeof store);
    srand(seed);
    for (int turn = 0; turn < 20000; turn++) {
        int length = rand() % 90;
        for (int i = 0; i < length; i++)
            app_on_receive((uint8_t)(rand() % 255 + 1) | (rand() % 4 ? 0x20 : 0), rand() % 50 == 0, native.ticks);
        app_on_receive('\n', false, native.ticks);
        settle();
    }
    assert_true(wire_length < sizeof wire / 2);
    if (memcmp(store, native.store, sizeof store) != 0)
        fail_msg("seed %u changed the store", seed);
    assert_int_equal(lines_with("A "), 0);
    assert_int_equal(lines_with("H "), 1);
    assert_true(lines_with("E 0 check ") > 1000);
    command("p 1");
    settle();
    assert_int_equal(lines_with("A 1 "), 1);
}

/* Eight commands in one burst, which no ring holds: eight answers, whatever they are. */
static void burst_of_commands_is_answered_in_full(void **state)
{
    (void)state;
    fresh();
    for (int i = 1; i <= 8; i++) {
        char body[16];
        snprintf(body, sizeof body, "p %x", i);
        command(body);
    }
    settle();
    assert_int_equal(lines_with("A "), 3);
    assert_int_equal(lines_with("E 0 busy "), 5);
}

static void missing_sensor_gives_status_and_no_window(void **state)
{
    (void)state;
    native_reset(chip_bus);
    chip_reset();
    chip.absent = true;
    boot();
    assert_memory_equal(wire, "H ", 2);
    assert_non_null(strstr(wire, " sensor=none "));
    assert_int_equal(lines_with("S 0 "), 1);
    assert_int_equal(lines_with("S "), 1);
    run_us(25000000);
    assert_int_equal(lines_with("W "), 0);
    assert_int_equal(lines_with("V "), 0);
    assert_in_range(lines_with("S "), 3, 3); /* at 0, 10 and 20 s */
    assert_true(chip.transfers < 30);        /* tries are spaced */
    /* Plugged in: readings go on within two tries. */
    chip_reset();
    chip_set_shunt(640);
    run_us(3000000);
    assert_int_equal(lines_with("W ") > 20, true);
    struct numbers w = line_numbers("W", 0);
    assert_int_equal(w.at[W_SEQ], 0);
    assert_int_equal(w.at[W_MEAN], 10000);
    assert_int_equal(w.at[W_FLAGS], 0x20);
    assert_int_equal(lines_with("S 3 "), 1);
    assert_non_null(strstr(wire, " sensor-ok 1 "));
}

static void wrong_chip_is_told_and_not_read(void **state)
{
    (void)state;
    native_reset(chip_bus);
    chip_reset();
    chip.device = 0x2260;
    boot();
    run_us(1000000);
    assert_non_null(strstr(wire, " sensor-id 54492260 "));
    assert_int_equal(lines_with("W "), 0);
    assert_int_equal(chip.restarts, 0);
}

/* Pulled out for two seconds in the middle: what came before stands, nothing is invented between. */
static void unplugged_sensor_comes_back(void **state)
{
    (void)state;
    fresh();
    run_us(1020000);
    chip.absent = true;
    /* One more edge, whose read nobody answers. */
    app_on_ready(native.ticks += 2104);
    native_run_bus();
    settle();
    int windows = lines_with("W ");
    struct numbers last = line_numbers("W", windows - 1);
    assert_true(last.at[W_DUR] < 45000); /* closed early */
    assert_non_null(strstr(wire, " sensor-missing 2 "));
    idle_ms(2000);
    assert_int_equal(lines_with("W "), windows);
    chip.absent = false;
    run_us(2000000); /* tries are at most 1.28 s apart */
    assert_non_null(strstr(wire, " sensor-ok 1 "));
    struct numbers next = line_numbers("W", windows);
    assert_int_equal(next.at[W_SEQ], last.at[W_SEQ] + 1);
    assert_int_equal(next.at[W_FLAGS], 0x20);
    assert_true(next.at[W_T] - last.at[W_T] > 2000000);
    assert_int_equal(next.at[W_CHARGE] - last.at[W_CHARGE], 20 * next.at[W_DUR]);
}

static void silent_chip_is_told(void **state)
{
    (void)state;
    fresh();
    run_us(500000);
    idle_ms(40);
    assert_int_equal(lines_with("S "), 0);
    idle_ms(20);
    assert_int_equal(lines_with("S "), 1);
    assert_non_null(strstr(wire, " no-conversion 3"));
    /* Every try finds the chip and sets it up again, yet no edge comes: one fault, told again after 10 s. */
    idle_ms(12000);
    assert_int_equal(lines_with("S "), 2);
    run_us(2000000);
    assert_non_null(strstr(wire, " sensor-ok 1 "));
}

/* The chip lost its supply and came back with its reset values: it would be read in the wrong range. */
static void chip_that_was_reset_is_set_up_again(void **state)
{
    (void)state;
    fresh();
    run_us(500000);
    chip_reset();
    chip_set_shunt(1280);
    run_us(500000); /* no edges: conversion-ready is off after a reset */
    assert_non_null(strstr(wire, " no-conversion "));
    assert_non_null(strstr(wire, " sensor-ok 1 "));
    assert_int_equal(chip.config, 0x0010);
    int windows = lines_with("W ");
    for (int i = 0; i < windows; i++)
        assert_int_equal(line_numbers("W", i).at[W_MEAN], 20000);
}

static void held_bus_is_cleared(void **state)
{
    (void)state;
    fresh();
    run_us(500000);
    native.bus_hangs = true;
    app_on_ready(native.ticks += 2104);
    idle_ms(60);
    assert_non_null(strstr(wire, " bus-stuck 0 "));
    assert_true(native.recoveries >= 1);
    native.bus_hangs = false;
    idle_ms(100);
    run_us(100000);
    assert_non_null(strstr(wire, " sensor-ok 1 "));
}

static void refused_byte_is_told_with_its_register(void **state)
{
    (void)state;
    fresh();
    run_us(100000);
    chip.nack_at_reg = 0x04;
    app_on_ready(native.ticks += 2104);
    native_run_bus();
    settle();
    assert_non_null(strstr(wire, " bus-nack 4 "));
}

/* The wire takes nothing for 2 s: what is lost is lost whole, counted, and shown by seq; the charge survives. */
static void blocked_wire_loses_whole_lines_and_counts_them(void **state)
{
    (void)state;
    fresh();
    run_us(1000000);
    wire_open = false;
    run_us(2000000);
    wire_open = true;
    run_us(2000000);
    int windows = lines_with("W "), voltages = lines_with("V ");
    struct numbers first = line_numbers("W", 0), last = line_numbers("W", windows - 1);
    struct numbers v = line_numbers("V", voltages - 1);
    long long lost_windows = last.at[W_SEQ] + 1 - windows;
    long long lost_voltages = v.at[0] + 1 - voltages;
    assert_true(lost_windows > 20);
    assert_int_equal(v.at[4], lost_windows + lost_voltages);
    long long span_us = last.at[W_T] - (first.at[W_T] - first.at[W_DUR]);
    assert_int_equal(last.at[W_CHARGE], 20 * span_us);
}

static void calibration_is_applied_and_told(void **state)
{
    (void)state;
    native_reset(chip_bus);
    chip_reset();
    chip_set_shunt(1280); /* 100 uV */
    uint8_t *block = native.store + CALIBRATION_AT;
    /* 10 mOhm, +1 %, 500 nV: (100 - 0.5) uV / 10 mOhm x 1.01 = 10.0495 mA. */
    memcpy(block, "CL\1\x80\x96\x98\0\x10\x27\0\0\xF4\1\0\0", 15);
    uint32_t crc = crc32_of(block, 15);
    memcpy(block + 15, (uint8_t[]){(uint8_t)crc, (uint8_t)(crc >> 8), (uint8_t)(crc >> 16), (uint8_t)(crc >> 24)}, 4);
    boot();
    run_us(120000);
    assert_non_null(strstr(wire, " shunt_nOhm=989680 gain_ppm=2710 offset_nV=1f4 "));
    assert_int_equal(line_numbers("W", 1).at[W_MEAN], 10050); /* 10049.5 */
}

static void each_cause_has_its_word(void **state)
{
    (void)state;
    static const char *const words[] = {"power", "pin", "brownout", "watchdog", "unknown"};
    for (int cause = 0; cause < 5; cause++) {
        char expected[32];
        native_reset(chip_bus);
        chip_reset();
        native.cause = (enum board_cause)cause;
        boot();
        snprintf(expected, sizeof expected, " cause=%s ", words[cause]);
        assert_non_null(strstr(wire, expected));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(boots_with_hello_first),
        cmocka_unit_test(streams_a_minute_without_a_hole),
        cmocka_unit_test(answers_each_command_once),
        cmocka_unit_test(ping_tells_the_stamp_of_the_line_feed),
        cmocka_unit_test(identity_is_stored_once),
        cmocka_unit_test(cut_while_storing_the_identity),
        cmocka_unit_test(malformed_lines_change_nothing),
        cmocka_unit_test(burst_of_commands_is_answered_in_full),
        cmocka_unit_test(missing_sensor_gives_status_and_no_window),
        cmocka_unit_test(wrong_chip_is_told_and_not_read),
        cmocka_unit_test(unplugged_sensor_comes_back),
        cmocka_unit_test(silent_chip_is_told),
        cmocka_unit_test(chip_that_was_reset_is_set_up_again),
        cmocka_unit_test(held_bus_is_cleared),
        cmocka_unit_test(refused_byte_is_told_with_its_register),
        cmocka_unit_test(blocked_wire_loses_whole_lines_and_counts_them),
        cmocka_unit_test(calibration_is_applied_and_told),
        cmocka_unit_test(each_cause_has_its_word),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
