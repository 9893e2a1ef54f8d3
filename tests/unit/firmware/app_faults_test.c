/*
 * The whole firmware on the native board: faults of the chip, the bus and the
 * wire, how they are told, and how they end.
 */
#include "test.h"
#include "whole_board.h"
#include <string.h>

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
    app_on_ready(native.ticks += 2104, false);
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
    app_on_ready(native.ticks += 2104, false);
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
    app_on_ready(native.ticks += 2104, false);
    native_run_bus();
    settle();
    assert_non_null(strstr(wire, " bus-nack 4 "));
}

/* The wire takes nothing for 10 s: what is lost is lost whole, counted, and shown by seq; the charge survives. */
static void blocked_wire_loses_whole_lines_and_counts_them(void **state)
{
    (void)state;
    fresh();
    run_us(1000000);
    wire_open = false;
    run_us(10000000);
    wire_open = true;
    run_us(2000000);
    int windows = lines_with("W "), voltages = lines_with("V ");
    struct numbers first = line_numbers("W", 0), last = line_numbers("W", windows - 1);
    struct numbers v = line_numbers("V", voltages - 1);
    long long lost_windows = last.at[W_SEQ] + 1 - windows;
    long long lost_voltages = v.at[0] + 1 - voltages;
    assert_true(lost_windows > 100);
    assert_int_equal(v.at[4], lost_windows + lost_voltages);
    long long span_us = last.at[W_T] - (first.at[W_T] - first.at[W_DUR]);
    assert_int_equal(last.at[W_CHARGE], 20 * span_us);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(missing_sensor_gives_status_and_no_window),
        cmocka_unit_test(wrong_chip_is_told_and_not_read),
        cmocka_unit_test(unplugged_sensor_comes_back),
        cmocka_unit_test(silent_chip_is_told),
        cmocka_unit_test(chip_that_was_reset_is_set_up_again),
        cmocka_unit_test(held_bus_is_cleared),
        cmocka_unit_test(refused_byte_is_told_with_its_register),
        cmocka_unit_test(blocked_wire_loses_whole_lines_and_counts_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
