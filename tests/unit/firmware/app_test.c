/*
 * The whole firmware on the native board: boot, stream, commands, store.
 */
#include "core/app.h"
#include "core/blocks.h"
#include "test.h"
#include "whole_board.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void boots_with_hello_first(void **state)
{
    (void)state;
    fresh();
    run_us(100000);
    assert_memory_equal(wire, "H proto=1 fw=", 13);
    assert_int_equal(lines_with("H "), 1);
    assert_non_null(strstr(wire, " mcu=native sensor=ina228 id=0 boot=1 cause=power shunt_nOhm=4c4b40 "
                                 "gain_ppm=0 offset_nV=0 window_us=c350 stream=windows speed=1 trigger_uA=4e20 cal=none cal_gen=0 "));
    assert_int_equal(lines_with("L range_uV=28000 step_pV=1312d offset_nV=3e8 gain_ppm=1f4 conv_us=41c temp=yes "), 1);
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
    command("x 9");
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

static void calibration_is_applied_and_told(void **state)
{
    (void)state;
    native_reset(chip_bus);
    chip_reset();
    chip_set_shunt(1280); /* 100 uV */
    /* 10 mOhm, +1 %, 480 nV: (100 - 0.48) uV / 10 mOhm x 1.01 = 10.05152 mA. */
    const struct calibration cal = {10000000, 10000, 480, 0};
    calibration_encode(native.store + CALIBRATION_A_AT, &cal, 3);
    boot();
    run_us(120000);
    assert_non_null(strstr(wire, " shunt_nOhm=989680 gain_ppm=2710 offset_nV=1e0 window_us=c350 stream=windows speed=1 trigger_uA=4e20 cal=stored cal_gen=3 "));
    assert_int_equal(line_numbers("W", 1).at[W_MEAN], 10052);
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
        cmocka_unit_test(calibration_is_applied_and_told),
        cmocka_unit_test(each_cause_has_its_word),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
