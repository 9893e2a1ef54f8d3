/*
 * The line types of PROTOCOL.md.
 */
#include "records.h"
#include "flash.h"
#include "line.h"
#include <stddef.h>
#include <string.h>

/* Each in the order of its enum. */
static const char statuses[] FLASH_TABLE = "sensor-missing\0sensor-id\0bus-nack\0bus-stuck\0no-conversion\0sensor-ok\0brownout\0watchdog";
static const char causes[] FLASH_TABLE = "power\0pin\0brownout\0watchdog\0unknown";
static const char streams[] FLASH_TABLE = "windows\0raw\0bursts";
static const char cal_states[] FLASH_TABLE = "none\0stored\0changed";

const char *cause_word(enum board_cause cause)
{
    return line_nth_word(causes, (uint8_t)cause);
}

const char *stream_word(enum stream stream)
{
    return line_nth_word(streams, (uint8_t)stream);
}

const char *cal_word(enum cal_state state)
{
    return line_nth_word(cal_states, (uint8_t)state);
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
            line_word(&line, line_nth_word(statuses, (uint8_t)value));
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

bool record_raw(struct txring *ring, struct past *past, uint32_t seq, uint64_t now_us)
{
    struct line line;
    struct raw raw;
    line_begin(&line, ring, 'R');
    line_u32(&line, seq);
    for (uint8_t i = 0; i < RAW_IN_LINE && past->due > 0; i++) {
        if (i > 0 && (txring_room(ring) < RAW_NEXT_BYTES_MAX + LINE_END_BYTES || !past_follows(past)))
            break;
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
    line_begin(&line, ring, 'L');
    for (uint8_t i = 0; i < 5; i++) {
        line_key(&line, line_nth_word(limit_keys, i));
        line_value_u32(&line, flash_u32(&chip->limits[i]));
    }
    line_key(&line, FLASH_WORD("temp"));
    line_value_word(&line, sense_has_temp(chip) ? FLASH_WORD("yes") : FLASH_WORD("no"));
    return line_end(&line);
}

/* The keys of a hello; where each value lies and what it is: D without a sign, T with one, W a word. */
static const char hello_keys[] FLASH_TABLE = "proto\0fw\0mcu\0sensor\0id\0boot\0cause\0shunt_nOhm\0gain_ppm\0offset_nV\0"
                                             "window_us\0stream\0speed\0trigger_uA\0cal\0cal_gen";
#define AT(member) (uint8_t)offsetof(struct hello, member)
static const uint8_t hello_values[][2] FLASH_TABLE = {
    {AT(proto), 'D'}, {AT(fw), 'W'}, {AT(mcu), 'W'}, {AT(sensor), 'W'}, {AT(id), 'D'}, {AT(boot), 'D'}, {AT(cause), 'W'},
    {AT(cal.shunt_nOhm), 'D'}, {AT(cal.gain_ppm), 'T'}, {AT(cal.offset_nV), 'T'}, {AT(window_us), 'D'}, {AT(stream), 'W'},
    {AT(speed), 'D'}, {AT(trigger_uA), 'D'}, {AT(cal_state), 'W'}, {AT(cal_gen), 'D'},
};

bool record_hello_part(struct txring *ring, const struct hello *hello, struct line *line, uint8_t *part)
{
    uint8_t at = (*part)++;
    if (at == 0)
        line_begin(line, ring, 'H');
    if (at == sizeof hello_values / sizeof *hello_values) {
        line_end(line);
        return true;
    }
    const char *value = (const char *)hello + flash_u8(&hello_values[at][0]);
    uint8_t kind = flash_u8(&hello_values[at][1]);
    line_key(line, line_nth_word(hello_keys, at));
    if (kind == 'W')
        line_value_word(line, *(const char *const *)(const void *)value);
    else if (kind == 'T')
        line_value_s32(line, *(const int32_t *)(const void *)value);
    else
        line_value_u32(line, *(const uint32_t *)(const void *)value);
    line_part(line);
    return false;
}
