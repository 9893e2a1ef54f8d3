/*
 * The command parser.
 */
#include "command.h"
#include "crc32.h"
#include "flash.h"
#include "scale.h"
#include "window.h"
#include <stdbool.h>

/* A space and eight digits. */
#define CHECK_BYTES 9
#define TAG_MAX 0xFFFFul

/* What each command takes: nothing where `max` is 0, else one number, the sign aside within these limits. */
struct takes {
    uint32_t min;
    uint32_t max;
};
static const uint8_t letters[] FLASH_TABLE = "hpiswtzgukfrb";
static const struct takes takes[] FLASH_TABLE = {
    {0, 0},                             /* h */
    {0, 0},                             /* p */
    {1, UINT32_MAX},                    /* i */
    {STREAM_WINDOWS, STREAM_BURSTS},    /* s */
    {WINDOW_US_MIN, WINDOW_US_MAX},     /* w */
    {TRIGGER_UA_MIN, TRIGGER_UA_MAX},   /* t */
    {0, 0},                             /* z */
    {KNOWN_UA_MIN, KNOWN_UA_MAX},       /* g */
    {SHUNT_NOHM_MIN, SHUNT_NOHM_MAX},   /* u */
    {0, 0},                             /* k */
    {0, 0},                             /* f */
    {0, UINT32_MAX},                    /* r */
    {0, 0},                             /* b */
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
    for (uint8_t letter; (letter = flash_u8(letters + at)) != line[0]; at++)
        if (letter == 0)
            return REASON_UNKNOWN;
    command->type = (char)line[0];
    if (flash_u32(&takes[at].max) != 0) {
        reason = read_value(&reader, &takes[at], command);
        if (reason != REASON_NONE)
            return reason;
    }
    return reader.at == reader.end ? REASON_NONE : REASON_FORM;
}

const char *reason_word(enum reason reason)
{
    switch (reason) {
    case REASON_CHECK:
        return FLASH_WORD("check");
    case REASON_FORM:
        return FLASH_WORD("form");
    case REASON_UNKNOWN:
        return FLASH_WORD("unknown");
    case REASON_RANGE:
        return FLASH_WORD("range");
    case REASON_LONG:
        return FLASH_WORD("long");
    case REASON_BUSY:
        return FLASH_WORD("busy");
    case REASON_SENSOR:
        return FLASH_WORD("sensor");
    default:
        return FLASH_WORD("store");
    }
}
