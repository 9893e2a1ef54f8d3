/*
 * The command parser.
 */
#include "command.h"
#include "blocks.h"
#include "crc32.h"
#include "flash.h"
#include "line.h"
#include "scale.h"
#include "window.h"
#include <stdbool.h>

/* A space and eight digits. */
#define CHECK_BYTES 9
#define TAG_MAX 0xFFFFul

/* Those that take a number come first; its limits, the sign aside. */
struct takes {
    uint32_t min;
    uint32_t max;
};
static const uint8_t letters[] FLASH_TABLE = "iswtgurnqhpzkfb";
static const struct takes takes[] FLASH_TABLE = {
    {1, UINT32_MAX},                  /* i */
    {STREAM_WINDOWS, STREAM_BURSTS},  /* s */
    {WINDOW_US_MIN, WINDOW_US_MAX},   /* w */
    {TRIGGER_UA_MIN, TRIGGER_UA_MAX}, /* t */
    {KNOWN_UA_MIN, KNOWN_UA_MAX},     /* g */
    {SHUNT_NOHM_MIN, SHUNT_NOHM_MAX}, /* u */
    {0, UINT32_MAX},                  /* r */
    {0, NOTE_VALUE_MAX},              /* n */
    {0, NOTES_BYTES - 4},             /* q */
};

struct reader {
    const uint8_t *at;
    const uint8_t *end;
};

/* The value of a hexadecimal digit whose letters begin at `letter_a`; 255 for anything else. */
static uint8_t digit(uint8_t c, uint8_t letter_a)
{
    if (c >= '0' && c <= '9')
        return (uint8_t)(c - '0');
    if (c >= letter_a && c < letter_a + 6)
        return (uint8_t)(c - letter_a + 10);
    return 255;
}

static bool check_code_fits(const uint8_t *line, uint8_t length)
{
    if (length <= CHECK_BYTES || line[length - CHECK_BYTES] != ' ')
        return false;
    uint32_t told = 0;
    for (uint8_t i = (uint8_t)(length - CHECK_BYTES + 1); i < length; i++) {
        uint8_t value = digit(line[i], 'A');
        if (value > 15)
            return false;
        told = (told << 4) | value;
    }
    return told == crc32_of(line, (uint8_t)(length - CHECK_BYTES + 1));
}

/*
 * Reads " number", with a sign where `negative` is given. One spelling only: no
 * leading zeros, small letters, at most 32 bits, no sign before zero.
 */
static enum reason read_number(struct reader *reader, uint32_t *value, bool *negative)
{
    if (reader->at == reader->end || *reader->at++ != ' ')
        return REASON_FORM;
    if (negative && reader->at < reader->end && *reader->at == '-') {
        *negative = true;
        reader->at++;
    }
    const uint8_t *first = reader->at;
    uint8_t digits = 0;
    *value = 0;
    while (reader->at < reader->end && *reader->at != ' ') {
        uint8_t d = digit(*reader->at++, 'a');
        if (d > 15)
            return REASON_FORM;
        *value = (*value << 4) | d;
        if (digits < 9)
            digits++;
    }
    if (digits == 0 || (*first == '0' && (digits > 1 || (negative && *negative))))
        return REASON_FORM;
    return digits > 8 ? REASON_RANGE : REASON_NONE;
}

static enum reason read_tag(struct reader *reader, struct command *command)
{
    uint32_t tag;
    enum reason reason = read_number(reader, &tag, 0);
    if (reason != REASON_NONE)
        return reason;
    if (tag == 0 || tag > TAG_MAX)
        return REASON_RANGE;
    command->tag = (uint16_t)tag;
    return REASON_NONE;
}

static enum reason read_value(struct reader *reader, const struct takes *limits, struct command *command)
{
    bool negative = false;
    enum reason reason = read_number(reader, &command->value, command->type == 'g' ? &negative : 0);
    if (reason != REASON_NONE)
        return reason;
    if (command->value < flash_u32(&limits->min) || command->value > flash_u32(&limits->max))
        return REASON_RANGE;
    if (negative)
        command->value = 0 - command->value;
    return REASON_NONE;
}

enum reason command_parse(const uint8_t *line, uint8_t length, struct command *command)
{
    *command = (struct command){0, 0, 0};
    if (!check_code_fits(line, length))
        return REASON_CHECK;
    struct reader reader = {line + 1, line + length - CHECK_BYTES};
    enum reason reason = read_tag(&reader, command);
    if (reason != REASON_NONE)
        return reason;
    uint8_t at = 0;
    while (flash_u8(letters + at) != line[0])
        if (++at == sizeof letters - 1)
            return REASON_UNKNOWN;
    command->type = (char)line[0];
    if (at < sizeof takes / sizeof *takes) {
        reason = read_value(&reader, &takes[at], command);
        if (reason != REASON_NONE)
            return reason;
    }
    return reader.at == reader.end ? REASON_NONE : REASON_FORM;
}

/* In the order of enum reason. */
static const char reasons[] FLASH_TABLE = "\0check\0form\0unknown\0range\0long\0busy\0store\0sensor";

const char *reason_word(enum reason reason)
{
    return line_nth_word(reasons, (uint8_t)reason);
}
