/*
 * The line types of PROTOCOL.md.
 */
#include "records.h"
#include "flash.h"
#include "line.h"
#include "version.h"

bool record_window(struct txring *ring, const struct window *window)
{
    struct line line;
    line_begin(&line, ring, 'W');
    line_u32(&line, window->seq);
    line_u64(&line, window->t_us);
    line_u32(&line, window->dur_us);
    line_u32(&line, window->count);
    line_s32(&line, window->mean_uA);
    line_s32(&line, window->min_uA);
    line_s32(&line, window->max_uA);
    line_s64(&line, window->charge_nC);
    line_u32(&line, window->flags);
    return line_end(&line);
}

bool record_voltage(struct txring *ring, const struct voltage *voltage, uint32_t dropped)
{
    struct line line;
    line_begin(&line, ring, 'V');
    line_u32(&line, voltage->seq);
    line_u64(&line, voltage->t_us);
    line_s32(&line, voltage->bus_mV);
    line_s32(&line, voltage->temp_mC);
    line_u32(&line, dropped);
    return line_end(&line);
}

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

bool record_status(struct txring *ring, const struct status *status)
{
    struct line line;
    line_begin(&line, ring, 'S');
    line_u32(&line, status->seq);
    line_u64(&line, status->t_us);
    line_word(&line, status_word(status->code));
    line_u32(&line, status->detail);
    return line_end(&line);
}

bool record_answer(struct txring *ring, const struct answer *answer)
{
    struct line line;
    line_begin(&line, ring, answer->kind == ANSWER_ERROR ? 'E' : 'A');
    line_u32(&line, answer->tag);
    if (answer->kind == ANSWER_TIME)
        line_u64(&line, answer->t_us);
    else if (answer->kind == ANSWER_ID)
        line_u32(&line, answer->id);
    else if (answer->kind == ANSWER_ERROR)
        line_word(&line, reason_word(answer->reason));
    return line_end(&line);
}

static void pair_u32(struct line *line, const char *key, uint32_t value)
{
    line_key(line, key);
    line_value_u32(line, value);
}

static void pair_s32(struct line *line, const char *key, int32_t value)
{
    line_key(line, key);
    line_value_s32(line, value);
}

static void pair_word(struct line *line, const char *key, const char *word)
{
    line_key(line, key);
    line_value_word(line, word);
}

bool record_hello(struct txring *ring, const struct hello *hello)
{
    struct line line;
    line_begin(&line, ring, 'H');
    pair_u32(&line, FLASH_WORD("proto"), PROTOCOL_VERSION);
    pair_word(&line, FLASH_WORD("fw"), hello->fw);
    pair_word(&line, FLASH_WORD("mcu"), hello->mcu);
    pair_word(&line, FLASH_WORD("sensor"), hello->sensor);
    pair_u32(&line, FLASH_WORD("id"), hello->identity->id);
    pair_u32(&line, FLASH_WORD("boot"), hello->boot);
    pair_word(&line, FLASH_WORD("cause"), hello->cause);
    pair_u32(&line, FLASH_WORD("shunt_nOhm"), hello->cal->shunt_nOhm);
    pair_s32(&line, FLASH_WORD("gain_ppm"), hello->cal->gain_ppm);
    pair_s32(&line, FLASH_WORD("offset_nV"), hello->cal->offset_nV);
    pair_u32(&line, FLASH_WORD("window_us"), hello->window_us);
    pair_word(&line, FLASH_WORD("stream"), hello->stream);
    pair_u32(&line, FLASH_WORD("speed"), hello->identity->speed);
    return line_end(&line);
}
