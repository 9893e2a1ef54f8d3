/*
 * EEPROM blocks byte by byte as BOARD.md lays them out, blank and spoiled
 * stores, and a power cut at every byte that is written.
 */
#include "boards/native/native.h"
#include "core/crc32.h"
#include "core/store_writer.h"
#include "test.h"
#include <string.h>

static void write_block(const uint8_t *block, uint16_t at, uint8_t length)
{
    struct store_writer writer = {.state = WRITE_IDLE};
    memcpy(writer.block, block, length);
    store_writer_start(&writer, at, length);
    enum write_state state;
    while ((state = store_writer_step(&writer)) == WRITE_BUSY)
        native.ticks += 1000;
    assert_int_equal(state, WRITE_DONE);
}

static void blank_store_gives_the_defaults(void **state)
{
    (void)state;
    native_reset(NULL);
    struct identity identity = identity_read(board_store_read);
    assert_int_equal(identity.id, 0);
    assert_int_equal(identity.speed, 1);
    struct kept_calibration kept = calibration_read(board_store_read);
    struct calibration cal = kept.cal;
    assert_false(kept.kept);
    assert_int_equal(kept.generation, 0);
    assert_int_equal(cal.shunt_nOhm, 5000000);
    assert_int_equal(cal.gain_ppm, 0);
    assert_int_equal(cal.offset_nV, 0);
    assert_int_equal(boots_read(board_store_read).count, 0);
    memset(native.store, 0, sizeof native.store);
    assert_int_equal(identity_read(board_store_read).speed, 1);
    assert_int_equal(boots_read(board_store_read).count, 0);
}

/* The bytes that others write: an emulated board's store is filled in this way. */
static void identity_layout(void **state)
{
    (void)state;
    native_reset(NULL);
    uint8_t bytes[IDENTITY_BYTES] = {'N', 'D', 1, 0x78, 0x56, 0x34, 0x12, 60};
    uint32_t crc = crc32_of(bytes, 11);
    for (int i = 0; i < 4; i++)
        bytes[11 + i] = (uint8_t)(crc >> (8 * i));
    memcpy(native.store, bytes, sizeof bytes);
    struct identity identity = identity_read(board_store_read);
    assert_int_equal(identity.id, 0x12345678);
    assert_int_equal(identity.speed, 60);
    uint8_t encoded[IDENTITY_BYTES];
    identity_encode(encoded, &identity);
    assert_memory_equal(encoded, bytes, IDENTITY_BYTES);
    for (int i = 0; i < IDENTITY_BYTES; i++) {
        native.store[i] ^= 0x10;
        assert_int_equal(identity_read(board_store_read).id, 0);
        native.store[i] ^= 0x10;
    }
}

static void put_calibration(uint16_t at, uint32_t generation, uint32_t shunt_nOhm, int32_t gain_ppm, int32_t offset_nV)
{
    uint8_t *block = native.store + at;
    const uint32_t values[4] = {generation, shunt_nOhm, (uint32_t)gain_ppm, (uint32_t)offset_nV};
    memcpy(block, "CL\1", 3);
    for (int i = 0; i < 16; i++)
        block[3 + i] = (uint8_t)(values[i / 4] >> (8 * (i % 4)));
    uint32_t crc = crc32_of(block, 19);
    for (int i = 0; i < 4; i++)
        block[19 + i] = (uint8_t)(crc >> (8 * i));
}

static void calibration_layout_and_limits(void **state)
{
    (void)state;
    native_reset(NULL);
    put_calibration(0x60, 7, 4987650, -1250, -812);
    struct kept_calibration kept = calibration_read(board_store_read);
    assert_int_equal(kept.cal.shunt_nOhm, 4987650);
    assert_int_equal(kept.cal.gain_ppm, -1250);
    assert_int_equal(kept.cal.offset_nV, -812);
    assert_int_equal(kept.generation, 7);
    assert_true(kept.kept);
    assert_int_equal(kept.next_at, 0x80);
    const struct { uint32_t shunt; int32_t gain, offset; bool sound; } cases[] = {
        {100000, 50000, 1000000, true}, {100000000, -50000, -1000000, true},
        {99999, 0, 0, false}, {100000001, 0, 0, false}, {5000001, 50001, 0, false},
        {5000001, -50001, 0, false}, {5000001, 0, 1000001, false}, {5000001, 0, -1000001, false},
        {5000001, INT32_MIN, 0, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        put_calibration(0x60, 7, cases[i].shunt, cases[i].gain, cases[i].offset);
        kept = calibration_read(board_store_read);
        assert_int_equal(kept.kept, cases[i].sound);
        assert_int_equal(kept.cal.shunt_nOhm, cases[i].sound ? cases[i].shunt : 5000000);
        assert_int_equal(kept.cal.gain_ppm, cases[i].sound ? cases[i].gain : 0);
    }
}

static void newer_calibration_counts(void **state)
{
    (void)state;
    native_reset(NULL);
    put_calibration(0x60, 8, 5000001, 0, 0);
    put_calibration(0x80, 9, 5000002, 0, 0);
    struct kept_calibration kept = calibration_read(board_store_read);
    assert_int_equal(kept.cal.shunt_nOhm, 5000002);
    assert_int_equal(kept.next_at, 0x60);
    put_calibration(0x60, 10, 0, 0, 0); /* forgotten */
    kept = calibration_read(board_store_read);
    assert_false(kept.kept);
    assert_int_equal(kept.generation, 10);
    assert_int_equal(kept.cal.shunt_nOhm, 5000000);
    assert_int_equal(kept.next_at, 0x80);
    native.store[0x60 + 5] ^= 1; /* spoiled: the one before it counts again */
    assert_int_equal(calibration_read(board_store_read).cal.shunt_nOhm, 5000002);
}

static void store_calibration(const struct calibration *cal)
{
    struct kept_calibration kept = calibration_read(board_store_read);
    struct store_writer writer = {.state = WRITE_IDLE};
    calibration_encode(writer.block, cal, kept.generation + 1);
    store_writer_start(&writer, kept.next_at, CALIBRATION_BYTES);
    while (store_writer_step(&writer) == WRITE_BUSY)
        native.ticks += 1000;
}

/* The power goes at each byte, when a calibration is stored over an older one and when one is forgotten. */
static void cut_while_storing_a_calibration_leaves_the_old_one(void **state)
{
    (void)state;
    const struct calibration first = {4900000, 100, -5, 0}, second = {5100000, -2000, 700, 0}, third = {4800000, 3, 1, 0};
    for (int forget = 0; forget < 2; forget++) {
        for (long bytes = 0; bytes <= CALIBRATION_BYTES; bytes++) {
            native_reset(NULL);
            store_calibration(&first);
            store_calibration(&second);
            native.store_writes_left = bytes;
            store_calibration(forget ? NULL : &third);
            native.store_writes_left = -1;
            struct kept_calibration kept = calibration_read(board_store_read);
            if (kept.generation == 2) {
                assert_true(kept.kept);
                assert_int_equal(kept.cal.shunt_nOhm, 5100000);
                assert_int_equal(kept.cal.gain_ppm, -2000);
                assert_int_equal(kept.cal.offset_nV, 700);
            } else {
                assert_int_equal(kept.generation, 3);
                assert_int_equal(kept.kept, !forget);
                assert_int_equal(kept.cal.shunt_nOhm, forget ? 5000000 : 4800000);
            }
            /* Few bytes differ from what the slot held, so that it is whole before the last byte of the block. */
            if (bytes == 0)
                assert_int_equal(kept.generation, 2);
            if (bytes == CALIBRATION_BYTES)
                assert_int_equal(kept.generation, 3);
            store_calibration(&third);
            assert_int_equal(calibration_read(board_store_read).cal.shunt_nOhm, 4800000);
        }
    }
}

static void count_a_boot(void)
{
    struct boots boots = boots_read(board_store_read);
    uint8_t block[BLOCK_BYTES_MAX];
    boots_encode(block, boots.count + 1);
    struct store_writer writer = {.state = WRITE_IDLE};
    memcpy(writer.block, block, BOOTS_BYTES);
    store_writer_start(&writer, boots.next_at, BOOTS_BYTES);
    while (store_writer_step(&writer) == WRITE_BUSY)
        native.ticks += 1000;
}

static void boots_count_up_in_turn(void **state)
{
    (void)state;
    native_reset(NULL);
    for (uint32_t count = 1; count < 600; count++) {
        count_a_boot();
        assert_int_equal(boots_read(board_store_read).count, count);
    }
    assert_memory_equal(native.store + 0x40, "BC\1", 3);
    assert_memory_equal(native.store + 0x50, "BC\1", 3);
}

/* The power goes after each number of bytes, at counts whose bytes change in many ways. */
static void cut_while_counting_leaves_the_old_count_or_the_new(void **state)
{
    (void)state;
    const uint32_t counts[] = {1, 2, 0xFF, 0x100, 0xFFFE, 0xFFFF, 0x123456};
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++) {
        for (long bytes = 0; bytes <= BOOTS_BYTES; bytes++) {
            native_reset(NULL);
            uint8_t block[BOOTS_BYTES];
            boots_encode(block, counts[i]);
            write_block(block, BOOTS_A_AT, BOOTS_BYTES);
            boots_encode(block, counts[i] - 1);
            write_block(block, BOOTS_B_AT, BOOTS_BYTES);
            native.store_writes_left = bytes;
            count_a_boot();
            uint32_t found = boots_read(board_store_read).count;
            assert_true(found == counts[i] || found == counts[i] + 1);
            native.store_writes_left = -1;
            count_a_boot();
            assert_int_equal(boots_read(board_store_read).count, found + 1);
        }
    }
}

static void writer_spares_bytes_that_stand(void **state)
{
    (void)state;
    native_reset(NULL);
    const uint8_t block[4] = {1, 2, 3, 4};
    write_block(block, 100, 4);
    native.store_writes_left = 0; /* nothing more would be kept */
    write_block(block, 100, 4);
}

static void writer_tells_a_worn_store(void **state)
{
    (void)state;
    native_reset(NULL);
    native.store_worn = true;
    struct store_writer writer = {.block = {1, 3, 5}, .state = WRITE_IDLE};
    store_writer_start(&writer, 8, 3);
    enum write_state end;
    while ((end = store_writer_step(&writer)) == WRITE_BUSY)
        native.ticks += 1000;
    assert_int_equal(end, WRITE_FAILED);
    assert_int_equal(store_writer_step(&writer), WRITE_IDLE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(blank_store_gives_the_defaults),
        cmocka_unit_test(identity_layout),
        cmocka_unit_test(calibration_layout_and_limits),
        cmocka_unit_test(newer_calibration_counts),
        cmocka_unit_test(cut_while_storing_a_calibration_leaves_the_old_one),
        cmocka_unit_test(boots_count_up_in_turn),
        cmocka_unit_test(cut_while_counting_leaves_the_old_count_or_the_new),
        cmocka_unit_test(writer_spares_bytes_that_stand),
        cmocka_unit_test(writer_tells_a_worn_store),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
