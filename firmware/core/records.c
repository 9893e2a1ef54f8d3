/*
 * The line types of PROTOCOL.md.
 */
#include "records.h"
#include "flash.h"
#include "line.h"
#include "version.h"
#include <string.h>

static const char *status_word(enum status_code code)
{
    switch (code) {
    case STATUS_SENSOR_MISSING:
        return FLASH_WORD("sensor-missing");
    case STATUS_SENSOR_ID:
        return FLASH_WORD("sensor-id");
    case STATUS_BUS_NACK:
        return FLASH_WORD("bus-nack");
    case STATUS_BUS_STUCK:
        return FLASH_WORD("bus-stuck");
    case STATUS_NO_CONVERSION:
        return FLASH_WORD("no-conversion");
    default:
        return FLASH_WORD("sensor-ok");
    }
}

/* Where the next member of `bytes` bytes lies: an AVR leaves no holes, others do. */
static const uint8_t *aligned(const uint8_t *at, uint8_t bytes)
{
    uintptr_t hole = bytes == 8 ? _Alignof(uint64_t) : bytes == 4 ? _Alignof(uint32_t) : 1;
    return (const uint8_t *)(((uintptr_t)at + hole - 1) & ~(hole - 1));
}

/*
 * Writes a record's members as fields, as the pattern in flash says. The low
 * half of each letter's code is the member's bytes, bit 4 tells a sign:
 * H and X 64 bits without and with it, D and T 32 bits, A 8 bits, Q a status
 * code, 4 a lone "-" instead of 32 bits.
 */
static bool record(struct txring *ring, char type, const char *pattern, const void *members)
{
    const uint8_t *at = members;
    struct line line;
    line_begin(&line, ring, type);
    for (uint8_t kind; (kind = flash_u8(pattern)) != 0; pattern++) {
        uint64_t value = 0;
        uint8_t bytes = kind & 0x0F;
        at = aligned(at, bytes);
        memcpy(&value, at, bytes);
        at += bytes;
        if (kind == 'Q')
            line_word(&line, status_word((enum status_code)value));
        else if (kind == '4')
            line_word(&line, FLASH_WORD("-"));
        else if (kind == 'T')
            line_s32(&line, (int32_t)value);
        else if (kind == 'X')
            line_s64(&line, (int64_t)value);
        else
            line_u64(&line, value);
    }
    return line_end(&line);
}

bool record_window(struct txring *ring, const struct window *window)
{
    return record(ring, 'W', FLASH_WORD("DHDDTTTXA"), window);
}

bool record_voltage(struct txring *ring, const struct voltage *voltage)
{
    return record(ring, 'V', voltage->has_temp ? FLASH_WORD("DHTTD") : FLASH_WORD("DHT4D"), voltage);
}

bool record_status(struct txring *ring, const struct status *status)
{
    return record(ring, 'S', FLASH_WORD("DHQD"), status);
}

bool record_answer(struct txring *ring, const struct answer *answer)
{
    struct line line;
    line_begin(&line, ring, answer->kind == ANSWER_ERROR ? 'E' : 'A');
    line_u32(&line, answer->tag);
    if (answer->kind == ANSWER_ERROR)
        line_word(&line, reason_word(answer->reason));
    else if (answer->kind == ANSWER_SIGNED)
        line_s32(&line, (int32_t)answer->value);
    else if (answer->kind != ANSWER_PLAIN)
        line_u64(&line, answer->value);
    if (answer->kind == ANSWER_REPLAY)
        line_u32(&line, answer->count);
    return line_end(&line);
}

static void pair_word(struct line *line, const char *key, const char *word)
{
    line_key(line, key);
    line_value_word(line, word);
}

bool record_raw(struct txring *ring, struct past *past, uint32_t seq, uint64_t now_us)
{
    struct line line;
    struct raw raw;
    line_begin(&line, ring, 'R');
    line_u32(&line, seq);
    for (uint8_t i = 0; i < RAW_IN_LINE && past->due > 0 && (i == 0 || past_follows(past)); i++) {
        past_take(past, &raw);
        if (i == 0)
            line_u64(&line, now_us - ((uint32_t)now_us - raw.t_us));
        else
            line_u32(&line, raw.dt_us);
        line_s32(&line, raw.units);
        line_u32(&line, raw.flags);
    }
    return line_end(&line);
}

/* The keys of the chip's five numbers, in their order. */
static const char limit_keys[] FLASH_TABLE = "range_uV\0step_pV\0offset_nV\0gain_ppm\0conv_us";

bool record_limits(struct txring *ring, const struct sense_chip *chip)
{
    struct line line;
    const char *key = limit_keys;
    line_begin(&line, ring, 'L');
    for (uint8_t i = 0; i < 5; i++) {
        line_key(&line, key);
        line_value_u32(&line, flash_u32(&chip->limits[i]));
        while (flash_u8(key++) != 0)
            ;
    }
    pair_word(&line, FLASH_WORD("temp"), sense_has_temp(chip) ? FLASH_WORD("yes") : FLASH_WORD("no"));
    return line_end(&line);
}

static const char *cause_word(enum board_cause cause)
{
    switch (cause) {
    case CAUSE_POWER:
        return FLASH_WORD("power");
    case CAUSE_PIN:
        return FLASH_WORD("pin");
    case CAUSE_BROWNOUT:
        return FLASH_WORD("brownout");
    case CAUSE_WATCHDOG:
        return FLASH_WORD("watchdog");
    default:
        return FLASH_WORD("unknown");
    }
}

static const char *stream_word(enum stream stream)
{
    switch (stream) {
    case STREAM_RAW:
        return FLASH_WORD("raw");
    case STREAM_BURSTS:
        return FLASH_WORD("bursts");
    default:
        return FLASH_WORD("windows");
    }
}

static const char *cal_word(enum cal_state state)
{
    switch (state) {
    case CAL_STORED:
        return FLASH_WORD("stored");
    case CAL_CHANGED:
        return FLASH_WORD("changed");
    default:
        return FLASH_WORD("none");
    }
}

bool record_hello_part(struct txring *ring, const struct hello *hello, struct line *line, uint8_t *part)
{
    uint32_t value = 0;
    const char *word = 0, *key = 0;
    uint8_t at = (*part)++;
    switch (at) {
    case 0:
        line_begin(line, ring, 'H');
        key = FLASH_WORD("proto"), value = PROTOCOL_VERSION;
        break;
    case 1:
        key = FLASH_WORD("fw"), word = FLASH_WORD(FIRMWARE_VERSION);
        break;
    case 2:
        key = FLASH_WORD("mcu"), word = hello->mcu;
        break;
    case 3:
        key = FLASH_WORD("sensor"), word = hello->sensor;
        break;
    case 4:
        key = FLASH_WORD("id"), value = hello->identity.id;
        break;
    case 5:
        key = FLASH_WORD("boot"), value = hello->boot;
        break;
    case 6:
        key = FLASH_WORD("cause"), word = cause_word((enum board_cause)hello->cause);
        break;
    case 7:
        key = FLASH_WORD("shunt_nOhm"), value = hello->cal.shunt_nOhm;
        break;
    case 8:
        key = FLASH_WORD("gain_ppm"), value = (uint32_t)hello->cal.gain_ppm;
        break;
    case 9:
        key = FLASH_WORD("offset_nV"), value = (uint32_t)hello->cal.offset_nV;
        break;
    case 10:
        key = FLASH_WORD("window_us"), value = hello->window_us;
        break;
    case 11:
        key = FLASH_WORD("stream"), word = stream_word((enum stream)hello->stream);
        break;
    case 12:
        key = FLASH_WORD("speed"), value = hello->identity.speed;
        break;
    case 13:
        key = FLASH_WORD("trigger_uA"), value = hello->trigger_uA;
        break;
    case 14:
        key = FLASH_WORD("cal"), word = cal_word((enum cal_state)hello->cal_state);
        break;
    case 15:
        key = FLASH_WORD("cal_gen"), value = hello->cal_gen;
        break;
    default:
        line_end(line);
        return true;
    }
    if (word) {
        pair_word(line, key, word);
    } else {
        line_key(line, key);
        if (at == 8 || at == 9)
            line_value_s32(line, (int32_t)value);
        else
            line_value_u32(line, value);
    }
    line_part(line);
    return false;
}
