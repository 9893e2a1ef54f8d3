/*
 * The whole firmware on the native board: streams, settings, calibration,
 * replay, the second sense chip, each as PROTOCOL.md promises it.
 */
#include "core/blocks.h"
#include "core/command.h"
#include "test.h"
#include "whole_board.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void wait_ms(uint32_t ms)
{
    run_us(ms * 1000);
}

static void window_length_is_set_and_told(void **state)
{
    (void)state;
    fresh();
    command("w 1 2710"); /* 10 ms */
    wait_ms(1000);
    assert_int_equal(lines_with("A 1 "), 1);
    int windows = lines_with("W ");
    assert_in_range(windows, 94, 101);
    for (int i = 2; i < windows; i++) {
        struct numbers w = line_numbers("W", i), before = line_numbers("W", i - 1);
        assert_int_equal(w.at[W_T] - w.at[W_DUR], before.at[W_T]);
        assert_int_equal(w.at[W_CHARGE] - before.at[W_CHARGE], 20 * w.at[W_DUR]);
    }
    command("w 2 f4240"); /* 1 s */
    wait_ms(5000);
    assert_in_range(lines_with("W ") - windows, 4, 6);
    struct numbers w = line_numbers("W", windows + 3);
    assert_in_range(w.at[W_COUNT], 945, 955);
    assert_int_equal(w.at[W_MEAN], 20000);
    command("h 3");
    settle();
    assert_non_null(strstr(wire, " window_us=f4240 "));
}

static void raw_stream_sends_every_conversion(void **state)
{
    (void)state;
    fresh();
    command("s 1 1");
    wait_ms(10000);
    assert_int_equal(lines_with("A 1 "), 1);
    int lines = lines_with("R ");
    assert_in_range(lines, 9400 / 6, 9600 / 6);
    long long t_us = 0;
    for (int i = 0; i < 200; i++) {
        struct numbers r = line_numbers("R", i);
        assert_int_equal(r.at[0], i);
        if (i > 0)
            assert_in_range(r.at[1] - t_us, 1051, 1153);
        t_us = r.at[1];
        for (int k = 0; k < 6; k++) {
            assert_int_equal(r.at[2 + 3 * k], 1280);
            assert_int_equal(r.at[3 + 3 * k], i == 0 && k == 0 ? 8 : 0);
            if (k < 5)
                t_us += r.at[4 + 3 * k];
        }
    }
    assert_in_range(lines_with("W "), 198, 201); /* windows go on */
    command("s 2 0");
    settle();
    int after = lines_with("R ");
    wait_ms(1000);
    assert_int_equal(lines_with("R "), after);
}

static void burst_has_what_came_before(void **state)
{
    (void)state;
    fresh();
    command("s 1 2");
    command("t 2 4e20"); /* 20 mA */
    wait_ms(3000);
    assert_int_equal(lines_with("R "), 0);
    chip_set_shunt(1280 + 64 * 30); /* 30 mA more */
    long long step_us = native.ticks / 2;
    wait_ms(2000);
    int lines = lines_with("R ");
    struct numbers first = line_numbers("R", 0), last = line_numbers("R", lines - 1);
    /* The played chip has no noise: two bytes a conversion, 92 of them beside the headroom. */
    assert_in_range(step_us - first.at[1], 90000, 105000);
    assert_int_equal(first.at[3], 8);
    assert_in_range(last.at[1] - step_us, 440000, 460000);
    int conversions = 0;
    long long t_us = 0;
    for (int i = 0; i < lines; i++) {
        struct numbers r = line_numbers("R", i);
        if (i > 0)
            assert_in_range(r.at[1] - t_us, 1051, 1300);
        t_us = r.at[1];
        conversions++;
        for (int k = 1; k < 6 && r.count > 3 * k + 2; k++) {
            t_us += r.at[1 + 3 * k];
            conversions++;
        }
    }
    assert_in_range(conversions, 510, 560);
    wait_ms(2000);
    assert_int_equal(lines_with("R "), lines); /* it is over */
    /* Windows never stopped. */
    int windows = lines_with("W ");
    for (int i = 1; i < windows; i++)
        assert_int_equal(line_numbers("W", i).at[W_SEQ], i);
}

static void zero_and_gain_are_measured_and_kept(void **state)
{
    (void)state;
    fresh();
    chip_set_shunt(13); /* 1015.625 nV */
    command("z 1");
    wait_ms(500);
    assert_int_equal(lines_with("A 1 "), 0);
    command("z 2");
    command("p 3");
    settle();
    assert_int_equal(lines_with("E 2 busy "), 1);
    assert_int_equal(lines_with("A 3 "), 1); /* others are answered meanwhile */
    wait_ms(1000);
    assert_int_equal(lines_with("A 1 3f8 "), 1); /* 1016 */
    chip_set_shunt(64013);
    command("g 4 f6950"); /* 1.01 A */
    wait_ms(1500);
    assert_int_equal(lines_with("A 4 2710 "), 1);
    command("h 5");
    settle();
    assert_non_null(strstr(wire, " gain_ppm=2710 offset_nV=3f8 window_us=c350 stream=windows speed=1 trigger_uA=4e20 cal=changed cal_gen=0 "));
    wait_ms(200);
    assert_int_equal(line_numbers("W", lines_with("W ") - 1).at[W_MEAN], 1010000);
    command("k 6");
    idle_ms(40); /* conversions need not go on */
    run_us(300000);
    assert_int_equal(lines_with("A 6 1 "), 1);
    boot();
    assert_non_null(strstr(wire, " gain_ppm=2710 offset_nV=3f8 window_us=c350 stream=windows speed=1 trigger_uA=4e20 cal=stored cal_gen=1 "));
    command("f 7");
    run_us(300000);
    assert_int_equal(lines_with("A 7 2 "), 1);
    command("h 8");
    settle();
    assert_non_null(strstr(wire, " gain_ppm=0 offset_nV=0 window_us=c350 stream=windows speed=1 trigger_uA=4e20 cal=none cal_gen=2 "));
    boot();
    assert_non_null(strstr(wire, " cal=none cal_gen=2 "));
}

/* A window never mixes two calibrations: its charge is its own mean times its time. */
static void change_of_calibration_splits_the_window(void **state)
{
    (void)state;
    fresh();
    wait_ms(1025);
    command("u 1 989680"); /* 10 mOhm */
    settle();
    wait_ms(500);
    int windows = lines_with("W ");
    bool before = true;
    for (int i = 1; i < windows; i++) {
        struct numbers w = line_numbers("W", i), last = line_numbers("W", i - 1);
        assert_true(w.at[W_MEAN] == 20000 || w.at[W_MEAN] == 10000);
        assert_true(before || w.at[W_MEAN] == 10000);
        before = w.at[W_MEAN] == 20000;
        assert_int_equal(w.at[W_T] - w.at[W_DUR], last.at[W_T]);
        assert_int_equal(w.at[W_CHARGE] - last.at[W_CHARGE], w.at[W_MEAN] * w.at[W_DUR] / 1000);
        assert_int_equal(w.at[W_FLAGS], 0);
    }
    assert_false(before);
}

static void refused_measurements_change_nothing(void **state)
{
    (void)state;
    fresh();
    command("z 1"); /* 20 mA flow */
    wait_ms(1500);
    assert_int_equal(lines_with("E 1 range "), 1);
    command("g 2 186a0"); /* 100 mA are said to flow */
    wait_ms(1500);
    assert_int_equal(lines_with("E 2 range "), 1);
    command("z 3");
    wait_ms(100);
    idle_ms(80); /* readings end */
    assert_int_equal(lines_with("E 3 sensor "), 1);
    chip.absent = true;
    idle_ms(100);
    command("z 4");
    settle();
    assert_int_equal(lines_with("E 4 sensor "), 1);
    chip.absent = false;
    wait_ms(3000);
    command("h 5");
    settle();
    assert_non_null(strstr(wire, "A 5 "));
    assert_null(strstr(wire, "cal=changed"));
}

static void replay_sends_the_same_lines_again(void **state)
{
    (void)state;
    fresh();
    wait_ms(3000);
    int windows = lines_with("W ");
    size_t sent = wire_length;
    command("r 1 0");
    settle();
    const char *answer = wire + sent;
    unsigned first, count;
    assert_int_equal(sscanf(answer, "A 1 %x %x ", &first, &count), 2);
    assert_int_equal(first + count, windows);
    assert_true(count >= 20);
    const char *again = strchr(answer, '\n') + 1;
    char head[32];
    snprintf(head, sizeof head, "\nW %x ", first);
    const char *before = strstr(wire, head) + 1;
    for (unsigned i = 0; i < count; i++) {
        /* Voltage lines may stand between the ones that came first. */
        while (*before != 'W')
            before = strchr(before, '\n') + 1;
        size_t length = (size_t)(strchr(before, '\n') - before) + 1;
        assert_memory_equal(again, before, length);
        again += length;
        before += length;
    }
    assert_int_equal(*again, 0);
    command("r 2 ffff");
    settle();
    assert_int_equal(lines_with("A 2 ffff 0 "), 1);
}

static void light_blinks_and_goes_out(void **state)
{
    (void)state;
    fresh();
    command("b 1");
    wait_ms(3000);
    assert_int_equal(lines_with("A 1 "), 1);
    assert_int_equal(native.light_changes, 16);
    assert_false(native.lit);
}

/* Three bytes a note, four an answer; what is in use stays as it was. */
static void notes_are_kept_and_read(void **state)
{
    (void)state;
    fresh();
    command("u 1 98968"); /* in use, not stored */
    settle();
    command("q 2 0");
    settle();
    assert_int_equal(lines_with("A 2 ffffffff "), 1);
    command("n 3 1334b43"); /* place 1, bytes 43h 4Bh 33h */
    wait_ms(50);
    assert_int_equal(lines_with("A 3 "), 1);
    assert_memory_equal(native.store + NOTES_AT, "\xFF\xFF\xFF\x43\x4B\x33\xFF", 7);
    command("q 4 2");
    settle();
    assert_int_equal(lines_with("A 4 334b43ff "), 1);
    command("n 5 23030201"); /* the last place */
    wait_ms(50);
    assert_memory_equal(native.store + NOTES_AT + NOTES_BYTES - 3, "\x01\x02\x03\xFF", 4);
    command("q 6 68");
    settle();
    assert_int_equal(lines_with("A 6 30201ff "), 1);
    command("h 7");
    settle();
    assert_non_null(strstr(wire, " cal=changed "));
    /* Worn out: told. */
    native.store_worn = true;
    command("n 8 2ffffff");
    wait_ms(50);
    command("n 9 10101");
    wait_ms(50);
    assert_int_equal(lines_with("E 9 store "), 1);
    assert_int_equal(lines_with("E "), 1);
}

static void second_chip_is_found_and_states_its_limits(void **state)
{
    (void)state;
    native_reset(chip_bus);
    chip_reset_226();
    chip.shunt226 = 40; /* 100 uV: 20 mA */
    chip.bus226 = 9584;
    boot();
    assert_non_null(strstr(wire, " sensor=ina226 "));
    assert_int_equal(lines_with("L range_uV=14000 step_pV=2625a0 offset_nV=2710 gain_ppm=3e8 conv_us=44c temp=no "), 1);
    wait_ms(10000);
    assert_int_equal(chip.refusals, 0);
    assert_true(chip.released > 9000);
    int windows = lines_with("W ");
    assert_in_range(windows, 198, 201);
    for (int i = 1; i < windows; i++) {
        struct numbers w = line_numbers("W", i);
        assert_int_equal(w.at[W_MEAN], 20000);
        assert_int_equal(w.at[W_FLAGS], 0);
    }
    assert_in_range(lines_with("V "), 9, 11);
    assert_non_null(strstr(wire, " 2ecc - 0 ")); /* 11.98 V, no temperature */
    /* Beyond 7/8 of the other chip's narrow range nothing is switched. */
    chip.shunt226 = 20000;
    unsigned restarts = chip.restarts;
    wait_ms(500);
    assert_in_range(chip.restarts, restarts, restarts + 2); /* those of a reading of the voltage */
    assert_int_equal(line_numbers("W", lines_with("W ") - 1).at[W_MEAN], 10000000);
    chip.shunt226 = 0x7FFF;
    wait_ms(500);
    assert_int_equal(line_numbers("W", lines_with("W ") - 1).at[W_FLAGS], 1);
}

/* A thousand lines that are well made but ask for what cannot be, or are not well made. */
static void malformed_commands_change_nothing(void **state)
{
    (void)state;
    static const char *const lines[] = {"s 1 3", "s 1", "w 1 0", "w 1 270f", "t 1 0", "g 1 1", "g 1", "u 1 0", "u 1 5f5e101",
                                        "r 1", "r 1 100000000", "k 1 1", "f 1 0", "b 1 1", "z 1 0", "n 1", "n 1 24000000", "q 1", "q 1 69", "S 1 1", "s 0 1", "s 10000 1"};
    uint8_t store[STORE_BYTES];
    fresh();
    memcpy(store, native.store, sizeof store);
    size_t count = sizeof lines / sizeof *lines;
    for (size_t i = 0; i < count; i++) {
        command(lines[i]);
        settle();
    }
    assert_int_equal(lines_with("E "), count);
    assert_int_equal(lines_with("A "), 0);
    assert_memory_equal(store, native.store, sizeof store);
    command("h 7");
    settle();
    const char *second = strstr(wire + 5, "\nH ");
    assert_non_null(second);
    assert_memory_equal(second + 1, wire, (size_t)(strchr(wire, '\n') - wire));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(window_length_is_set_and_told),
        cmocka_unit_test(raw_stream_sends_every_conversion),
        cmocka_unit_test(burst_has_what_came_before),
        cmocka_unit_test(zero_and_gain_are_measured_and_kept),
        cmocka_unit_test(change_of_calibration_splits_the_window),
        cmocka_unit_test(refused_measurements_change_nothing),
        cmocka_unit_test(replay_sends_the_same_lines_again),
        cmocka_unit_test(light_blinks_and_goes_out),
        cmocka_unit_test(notes_are_kept_and_read),
        cmocka_unit_test(second_chip_is_found_and_states_its_limits),
        cmocka_unit_test(malformed_commands_change_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
