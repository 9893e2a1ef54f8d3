/*
 * The line format of PROTOCOL.md: fields, hexadecimal numbers, check code.
 */
#include "line.h"
#include "crc32.h"
#include "flash.h"

/* Numbers are written and blocks are kept byte by byte, the lowest first. */
_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "a little-endian processor");

static void put(struct line *line, uint8_t byte)
{
    line->crc = crc32_add(line->crc, byte);
    txring_put(line->ring, byte);
}

static uint8_t digit(uint8_t nibble, uint8_t letter_a)
{
    return (uint8_t)(nibble < 10 ? '0' + nibble : letter_a - 10 + nibble);
}

/* Without leading zeros. */
static void put_hex(struct line *line, uint64_t value)
{
    const uint8_t *bytes = (const uint8_t *)&value;
    uint8_t at = sizeof value - 1;
    while (at > 0 && bytes[at] == 0)
        at--;
    if (bytes[at] >> 4)
        put(line, digit(bytes[at] >> 4, 'a'));
    for (;;) {
        put(line, digit(bytes[at] & 0x0F, 'a'));
        if (at-- == 0)
            break;
        put(line, digit(bytes[at] >> 4, 'a'));
    }
}

static void put_word(struct line *line, const char *word)
{
    for (uint8_t c; (c = flash_u8(word)) != 0; word++)
        put(line, c);
}

const char *line_nth_word(const char *words, uint8_t n)
{
    for (; n > 0; words++)
        if (flash_u8(words) == 0)
            n--;
    return words;
}

void line_begin(struct line *line, struct txring *ring, char type)
{
    line->ring = ring;
    line->crc = CRC32_START;
    put(line, (uint8_t)type);
}

static void put_signed(struct line *line, int64_t value)
{
    uint64_t size = (uint64_t)value;
    if (value < 0) {
        put(line, '-');
        size = 0 - size; /* unsigned, so that the most negative value has a size too */
    }
    put_hex(line, size);
}

void line_value_u32(struct line *line, uint32_t value)
{
    put_hex(line, value);
}

void line_value_s32(struct line *line, int32_t value)
{
    put_signed(line, value);
}

void line_value_word(struct line *line, const char *word)
{
    put_word(line, word);
}

void line_u64(struct line *line, uint64_t value)
{
    put(line, ' ');
    put_hex(line, value);
}

void line_s64(struct line *line, int64_t value)
{
    put(line, ' ');
    put_signed(line, value);
}

void line_u32(struct line *line, uint32_t value)
{
    line_u64(line, value);
}

void line_s32(struct line *line, int32_t value)
{
    line_s64(line, value);
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

void line_part(struct line *line)
{
    txring_end_line(line->ring);
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
