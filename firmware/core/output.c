/*
 * Stream policy: see output.h.
 */
#include "output.h"

void output_window(struct output *output, const struct window *window)
{
    if (output->window_count == OUTPUT_WINDOWS) {
        output->dropped++;
        return;
    }
    output->windows[(output->window_first + output->window_count) % OUTPUT_WINDOWS] = *window;
    output->window_count++;
}

void output_status(struct output *output, const struct status *status)
{
    if (output->status_count == OUTPUT_STATUSES) {
        output->dropped++;
        return;
    }
    output->statuses[(output->status_first + output->status_count) % OUTPUT_STATUSES] = *status;
    output->status_count++;
}

void output_voltage(struct output *output, const struct voltage *voltage)
{
    if (output->voltage_waits) {
        output->dropped++;
        return;
    }
    output->voltage = *voltage;
    output->voltage_waits = true;
}

void output_answer(struct output *output, const struct answer *answer)
{
    output->answer = *answer;
    output->answer_waits = true;
}

/* A line that did not fit in spite of the room asked for is counted like any other that is lost. */
static bool sent(struct output *output, bool whole)
{
    if (!whole)
        output->dropped++;
    return true;
}

bool output_next(struct output *output, const struct hello *hello)
{
    uint8_t room = txring_room(&output->ring);
    if (output->hello_waits) {
        if (room < HELLO_BYTES_MAX)
            return false;
        output->hello_waits = false;
        return sent(output, record_hello(&output->ring, hello));
    }
    if (output->status_count > 0) {
        if (room < STATUS_BYTES_MAX)
            return false;
        const struct status *status = &output->statuses[output->status_first];
        output->status_first = (uint8_t)((output->status_first + 1) % OUTPUT_STATUSES);
        output->status_count--;
        return sent(output, record_status(&output->ring, status));
    }
    if (output->answer_waits) {
        if (room < ANSWER_BYTES_MAX)
            return false;
        output->answer_waits = false;
        return sent(output, record_answer(&output->ring, &output->answer));
    }
    if (output->voltage_waits) {
        if (room < VOLTAGE_BYTES_MAX)
            return false;
        output->voltage_waits = false;
        return sent(output, record_voltage(&output->ring, &output->voltage, output->dropped));
    }
    if (output->window_count > 0) {
        if (room < WINDOW_BYTES_MAX)
            return false;
        const struct window *window = &output->windows[output->window_first];
        output->window_first = (uint8_t)((output->window_first + 1) % OUTPUT_WINDOWS);
        output->window_count--;
        return sent(output, record_window(&output->ring, window));
    }
    return false;
}
