/*
 * EEPROM blocks: see blocks.h.
 */
#include "blocks.h"
#include "crc32.h"

#define LAYOUT 1
#define HEAD_BYTES 3
#define CRC_BYTES 4

static void put_le(uint8_t *at, uint32_t value, uint8_t bytes)
{
    for (uint8_t i = 0; i < bytes; i++) {
        at[i] = (uint8_t)value;
        value >>= 8;
    }
}

static uint32_t get_le(const uint8_t *at, uint8_t bytes)
{
    uint32_t value = 0;
    while (bytes > 0)
        value = (value << 8) | at[--bytes];
    return value;
}

/*
 * Reads a block; false where it is absent. The letters matter: the CRC-32 of
 * four bytes FFh is FFFFFFFFh, so that a blank EEPROM would pass without them.
 */
static bool block_read(store_read read, uint16_t at, uint8_t *block, uint8_t bytes, char first, char second)
{
    for (uint8_t i = 0; i < bytes; i++)
        block[i] = read((uint16_t)(at + i));
    uint8_t body = (uint8_t)(bytes - CRC_BYTES);
    return block[0] == (uint8_t)first && block[1] == (uint8_t)second && block[2] == LAYOUT &&
           get_le(block + body, CRC_BYTES) == crc32_of(block, body);
}

static void block_seal(uint8_t *block, uint8_t bytes, char first, char second)
{
    block[0] = (uint8_t)first;
    block[1] = (uint8_t)second;
    block[2] = LAYOUT;
    uint8_t body = (uint8_t)(bytes - CRC_BYTES);
    put_le(block + body, crc32_of(block, body), CRC_BYTES);
}

struct identity identity_read(store_read read)
{
    uint8_t block[IDENTITY_BYTES];
    if (!block_read(read, IDENTITY_AT, block, IDENTITY_BYTES, 'N', 'D'))
        return (struct identity){0, 1};
    return (struct identity){get_le(block + HEAD_BYTES, 4), (uint16_t)get_le(block + HEAD_BYTES + 4, 2)};
}

void identity_encode(uint8_t block[IDENTITY_BYTES], const struct identity *identity)
{
    put_le(block + HEAD_BYTES, identity->id, 4);
    put_le(block + HEAD_BYTES + 4, identity->speed, 2);
    block_seal(block, IDENTITY_BYTES, 'N', 'D');
}

static bool within(int32_t value, int32_t limit)
{
    return value >= -limit && value <= limit;
}

struct calibration calibration_read(store_read read)
{
    uint8_t block[CALIBRATION_BYTES];
    struct calibration none = {SHUNT_NOHM_DEFAULT, 0, 0};
    if (!block_read(read, CALIBRATION_AT, block, CALIBRATION_BYTES, 'C', 'L'))
        return none;
    struct calibration cal = {
        get_le(block + HEAD_BYTES, 4),
        (int32_t)get_le(block + HEAD_BYTES + 4, 4),
        (int32_t)get_le(block + HEAD_BYTES + 8, 4),
    };
    bool sound = cal.shunt_nOhm >= SHUNT_NOHM_MIN && cal.shunt_nOhm <= SHUNT_NOHM_MAX &&
                 within(cal.gain_ppm, GAIN_PPM_MAX) && within(cal.offset_nV, OFFSET_NV_MAX);
    return sound ? cal : none;
}

struct boots boots_read(store_read read)
{
    uint8_t block[BOOTS_BYTES];
    bool a = block_read(read, BOOTS_A_AT, block, BOOTS_BYTES, 'B', 'C');
    uint32_t count_a = a ? get_le(block + HEAD_BYTES, 4) : 0;
    bool b = block_read(read, BOOTS_B_AT, block, BOOTS_BYTES, 'B', 'C');
    uint32_t count_b = b ? get_le(block + HEAD_BYTES, 4) : 0;
    bool a_newer = a && (!b || count_a > count_b);
    return (struct boots){a_newer ? count_a : count_b, a_newer ? BOOTS_B_AT : BOOTS_A_AT};
}

void boots_encode(uint8_t block[BOOTS_BYTES], uint32_t count)
{
    put_le(block + HEAD_BYTES, count, 4);
    block_seal(block, BOOTS_BYTES, 'B', 'C');
}
