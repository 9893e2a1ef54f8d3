/*
 * Stream policy: see output.h. A line is begun only where its longest form fits
 * (records_test.c holds those lengths), so that none fails here.
 */
#include "output.h"
#include <string.h>

void output_init(struct output *output)
{
    history_init(&output->history);
    past_init(&output->past);
}

void output_window(struct output *output, const struct window *window)
{
    history_add(&output->history, window);
    uint32_t first = history_first(&output->history);
    /* Windows pushed out before they were sent: the ring is many times longer than the wire ever lags. */
    if ((int32_t)(first - output->window_seq) > 0) {
        output->dropped += first - output->window_seq;
        output->window_seq = first;
    }
}

struct status *output_new_status(struct output *output)
{
    if (output->status_count == OUTPUT_STATUSES) {
        output->dropped++;
        return 0;
    }
    return &output->statuses[output->status_count++];
}

struct voltage *output_new_voltage(struct output *output)
{
    if (output->voltage_waits) {
        output->dropped++;
        return 0;
    }
    output->voltage_waits = true;
    return &output->voltage;
}

uint16_t output_replay(struct output *output, uint32_t seq, uint32_t *first)
{
    uint32_t oldest = history_first(&output->history);
    if ((int32_t)(seq - oldest) < 0)
        seq = oldest;
    *first = seq;
    int32_t count = (int32_t)(output->window_seq - seq);
    output->replay_seq = seq;
    output->replay_left = count > 0 ? (uint16_t)count : 0;
    return output->replay_left;
}

bool output_hello(struct output *output, const struct hello *hello)
{
    if (txring_room(&output->ring) < HELLO_PART_BYTES_MAX)
        return false;
    if (record_hello_part(&output->ring, hello, &output->hello_line, &output->hello_part)) {
        output->hello_part = 0;
        output->hello_waits = false;
    }
    return true;
}

static bool send_status(struct output *output)
{
    record_status(&output->ring, &output->statuses[0]);
    output->status_count--;
    memmove(&output->statuses[0], &output->statuses[1], sizeof output->statuses - sizeof output->statuses[0]);
    return true;
}

static bool send_window(struct output *output, uint32_t seq)
{
    struct window window;
    history_get(&output->history, seq, &window);
    return record_window(&output->ring, &window);
}

/* Raw conversions pushed out before they were sent: the lines that they would have made. */
static bool send_raw(struct output *output, uint64_t now_us)
{
    for (; output->past.lost > 0; output->past.lost -= output->past.lost < RAW_IN_LINE ? output->past.lost : RAW_IN_LINE) {
        output->dropped++;
        output->raw_seq++;
    }
    return record_raw(&output->ring, &output->past, output->raw_seq++, now_us);
}

/* Windows may have been pushed out since they were asked for. */
static bool send_replay(struct output *output)
{
    while (output->replay_left > 0) {
        uint32_t seq = output->replay_seq++;
        output->replay_left--;
        if ((int32_t)(seq - history_first(&output->history)) >= 0)
            return send_window(output, seq);
        output->dropped++;
    }
    return true;
}

bool output_next(struct output *output, uint64_t now_us)
{
    uint8_t room = txring_room(&output->ring);
    if (output->limits_of) {
        if (room < LIMITS_BYTES_MAX)
            return false;
        const struct sense_chip *chip = output->limits_of;
        output->limits_of = 0;
        return record_limits(&output->ring, chip);
    }
    if (output->status_count > 0)
        return room >= STATUS_BYTES_MAX && send_status(output);
    if (output->answer_waits) {
        if (room < ANSWER_BYTES_MAX)
            return false;
        output->answer_waits = false;
        return record_answer(&output->ring, &output->answer);
    }
    if (output->voltage_waits) {
        if (room < VOLTAGE_BYTES_MAX)
            return false;
        output->voltage_waits = false;
        output->voltage.dropped = output->dropped;
        return record_voltage(&output->ring, &output->voltage);
    }
    if (output_window_waits(output))
        return room >= WINDOW_BYTES_MAX && send_window(output, output->window_seq++);
    if (output_raw_waits(output))
        return room >= RAW_ROOM_MIN && send_raw(output, now_us);
    if (output->replay_left > 0)
        return room >= WINDOW_BYTES_MAX && send_replay(output);
    return false;
}
