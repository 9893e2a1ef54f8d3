/*
 * CRC-32 against the CRC RevEng catalogue (CRC-32/ISO-HDLC, check value
 * CBF43926h) and against bit-by-bit division.
 */
#include "core/crc32.h"
#include "test.h"

static uint32_t bit_by_bit(const uint8_t *bytes, size_t count)
{
    uint32_t code = 0xFFFFFFFFu;
    for (size_t i = 0; i < count; i++) {
        code ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            code = code & 1 ? code >> 1 ^ 0xEDB88320u : code >> 1;
    }
    return ~code;
}

static void gives_the_catalogue_value(void **state)
{
    (void)state;
    assert_int_equal(crc32_of((const uint8_t *)"123456789", 9), 0xCBF43926u);
}

static void equals_bitwise_division_for_every_byte(void **state)
{
    (void)state;
    for (unsigned value = 0; value < 256; value++) {
        uint8_t bytes[3] = {(uint8_t)value, 0x5A, (uint8_t)~value};
        assert_int_equal(crc32_of(bytes, 3), bit_by_bit(bytes, 3));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_the_catalogue_value),
        cmocka_unit_test(equals_bitwise_division_for_every_byte),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
