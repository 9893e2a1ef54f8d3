/*
 * EEPROM blocks: see blocks.h.
 */
#include "blocks.h"
#include "crc32.h"

#define LAYOUT 1
#define HEAD_BYTES 3
#define CRC_BYTES 4
#define VALUES_MAX 4

/* A block's first two letters, the first in the low byte. */
#define LETTERS(first, second) (uint16_t)((first) | (second) << 8)
#define IDENTITY LETTERS('N', 'D')
#define CALIBRATION LETTERS('C', 'L')
#define BOOTS LETTERS('B', 'C')

/* A block as its bytes lie: all our processors put the lowest byte first and leave no holes in this. */
struct __attribute__((packed)) block {
    uint16_t letters;
    uint8_t layout;
    uint32_t values[VALUES_MAX + 1]; /* as many as the kind has, then the check code */
};
_Static_assert(sizeof(struct block) == BLOCK_BYTES_MAX, "no holes");

static uint32_t check_code(const struct block *block, uint8_t count)
{
    return crc32_of((const uint8_t *)block, (uint8_t)(HEAD_BYTES + 4 * count));
}

/*
 * Reads a block of `count` values; false where it is absent. The letters matter: the CRC-32 of
 * four bytes FFh is FFFFFFFFh, so that a blank EEPROM would pass without them.
 */
static bool block_read(store_read read, uint16_t at, uint16_t letters, uint8_t count, struct block *block)
{
    for (uint8_t i = 0; i < HEAD_BYTES + 4 * count + CRC_BYTES; i++)
        ((uint8_t *)block)[i] = read((uint16_t)(at + i));
    return block->letters == letters && block->layout == LAYOUT && block->values[count] == check_code(block, count);
}

/* Completes a block whose values are in place. Not inlined: it saves 50 bytes of flash. */
static __attribute__((noinline)) void block_seal(struct block *block, uint16_t letters, uint8_t count)
{
    block->letters = letters;
    block->layout = LAYOUT;
    block->values[count] = check_code(block, count);
}

struct identity identity_read(store_read read)
{
    struct block block;
    if (!block_read(read, IDENTITY_AT, IDENTITY, 2, &block))
        return (struct identity){0, 1};
    return (struct identity){block.values[0], (uint16_t)block.values[1]};
}

void identity_encode(uint8_t bytes[IDENTITY_BYTES], const struct identity *identity)
{
    struct block *block = (struct block *)bytes;
    block->values[0] = identity->id;
    block->values[1] = identity->speed;
    block_seal(block, IDENTITY, 2);
}

static bool within(int32_t value, int32_t limit)
{
    return value >= -limit && value <= limit;
}

/* Reads a slot of the calibration into `kept` where it is sound and newer than what `kept` has. */
static void calibration_slot(store_read read, uint16_t at, struct kept_calibration *kept)
{
    struct block block;
    if (!block_read(read, at, CALIBRATION, 4, &block) || block.values[0] <= kept->generation)
        return;
    struct calibration cal = {block.values[1], (int32_t)block.values[2], (int32_t)block.values[3], 0};
    bool forgotten = cal.shunt_nOhm == 0;
    bool sound = cal.shunt_nOhm >= SHUNT_NOHM_MIN && cal.shunt_nOhm <= SHUNT_NOHM_MAX &&
                 within(cal.gain_ppm, GAIN_PPM_MAX) && within(cal.offset_nV, OFFSET_NV_MAX);
    if (!sound && !forgotten)
        return;
    kept->generation = block.values[0];
    kept->kept = !forgotten;
    kept->next_at = CALIBRATION_A_AT + CALIBRATION_B_AT - at;
    kept->cal = forgotten ? CALIBRATION_DEFAULT : cal;
}

struct kept_calibration calibration_read(store_read read)
{
    struct kept_calibration kept = {CALIBRATION_DEFAULT, 0, false, CALIBRATION_A_AT};
    calibration_slot(read, CALIBRATION_A_AT, &kept);
    calibration_slot(read, CALIBRATION_B_AT, &kept);
    return kept;
}

void calibration_encode(uint8_t bytes[CALIBRATION_BYTES], const struct calibration *cal, uint32_t generation)
{
    struct block *block = (struct block *)bytes;
    block->values[0] = generation;
    block->values[1] = cal ? cal->shunt_nOhm : 0;
    block->values[2] = cal ? (uint32_t)cal->gain_ppm : 0;
    block->values[3] = cal ? (uint32_t)cal->offset_nV : 0;
    block_seal(block, CALIBRATION, 4);
}

struct boots boots_read(store_read read)
{
    struct boots boots = {0, BOOTS_A_AT};
    struct block block;
    for (uint16_t at = BOOTS_A_AT; at <= BOOTS_B_AT; at += BOOTS_B_AT - BOOTS_A_AT) {
        if (block_read(read, at, BOOTS, 1, &block) && block.values[0] > boots.count)
            boots = (struct boots){block.values[0], (uint16_t)(BOOTS_A_AT + BOOTS_B_AT - at)};
    }
    return boots;
}

void boots_encode(uint8_t bytes[BOOTS_BYTES], uint32_t count)
{
    struct block *block = (struct block *)bytes;
    block->values[0] = count;
    block_seal(block, BOOTS, 1);
}
