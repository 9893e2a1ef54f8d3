/*
 * The line format of PROTOCOL.md: fields, hexadecimal numbers, check code.
 */
#include "line.h"
#include "crc32.h"
#include "flash.h"

static void put(struct line *line, uint8_t byte)
{
    line->crc = crc32_add(line->crc, byte);
    txring_put(line->ring, byte);
}

static uint8_t digit(uint8_t nibble, uint8_t letter_a)
{
    return (uint8_t)(nibble < 10 ? '0' + nibble : letter_a - 10 + nibble);
}

/* Little-endian bytes of a number, without its leading zeros. */
static void put_hex(struct line *line, const uint8_t *bytes, uint8_t count)
{
    while (count > 1 && bytes[count - 1] == 0)
        count--;
    uint8_t top = bytes[count - 1];
    if (top >> 4)
        put(line, digit(top >> 4, 'a'));
    put(line, digit(top & 0x0F, 'a'));
    while (--count > 0) {
        put(line, digit(bytes[count - 1] >> 4, 'a'));
        put(line, digit(bytes[count - 1] & 0x0F, 'a'));
    }
}

static void put_word(struct line *line, const char *word)
{
    for (uint8_t c; (c = flash_u8(word)) != 0; word++)
        put(line, c);
}

static void put_u32(struct line *line, uint32_t value)
{
    uint8_t bytes[4];
    for (uint8_t i = 0; i < 4; i++) {
        bytes[i] = (uint8_t)value;
        value >>= 8;
    }
    put_hex(line, bytes, 4);
}

static void put_u64(struct line *line, uint64_t value)
{
    uint8_t bytes[8];
    for (uint8_t i = 0; i < 8; i++) {
        bytes[i] = (uint8_t)value;
        value >>= 8;
    }
    put_hex(line, bytes, 8);
}

void line_begin(struct line *line, struct txring *ring, char type)
{
    line->ring = ring;
    line->crc = CRC32_START;
    put(line, (uint8_t)type);
}

void line_value_u32(struct line *line, uint32_t value)
{
    put_u32(line, value);
}

void line_value_s32(struct line *line, int32_t value)
{
    uint32_t size = (uint32_t)value;
    if (value < 0) {
        put(line, '-');
        size = 0 - size; /* unsigned, so that the most negative value has a size too */
    }
    put_u32(line, size);
}

void line_value_word(struct line *line, const char *word)
{
    put_word(line, word);
}

void line_u32(struct line *line, uint32_t value)
{
    put(line, ' ');
    line_value_u32(line, value);
}

void line_s32(struct line *line, int32_t value)
{
    put(line, ' ');
    line_value_s32(line, value);
}

void line_u64(struct line *line, uint64_t value)
{
    put(line, ' ');
    put_u64(line, value);
}

void line_s64(struct line *line, int64_t value)
{
    uint64_t size = (uint64_t)value;
    put(line, ' ');
    if (value < 0) {
        put(line, '-');
        size = 0 - size;
    }
    put_u64(line, size);
}

void line_word(struct line *line, const char *word)
{
    put(line, ' ');
    put_word(line, word);
}

void line_key(struct line *line, const char *key)
{
    put(line, ' ');
    put_word(line, key);
    put(line, '=');
}

bool line_end(struct line *line)
{
    put(line, ' ');
    uint32_t code = crc32_end(line->crc);
    for (uint8_t shift = 32; shift > 0; shift = (uint8_t)(shift - 4))
        txring_put(line->ring, digit((uint8_t)(code >> (shift - 4)) & 0x0F, 'A'));
    txring_put(line->ring, '\n');
    return txring_end_line(line->ring);
}
