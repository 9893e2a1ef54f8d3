/*
 * Stream policy: what waits to be sent, in which order it goes, and what is
 * thrown away and counted when the wire does not keep up.
 */
#ifndef CORE_OUTPUT_H
#define CORE_OUTPUT_H

#include "records.h"
#include <stdbool.h>
#include <stdint.h>

#define OUTPUT_WINDOWS 4
#define OUTPUT_STATUSES 4

struct output {
    struct txring ring;
    struct window windows[OUTPUT_WINDOWS];
    struct status statuses[OUTPUT_STATUSES];
    struct voltage voltage;
    struct answer answer;
    uint32_t dropped; /* lines thrown away since boot */
    uint8_t window_first, window_count;
    uint8_t status_first, status_count;
    bool voltage_waits, answer_waits, hello_waits;
};

/* Each takes a record for sending; one for which there is no place is thrown away and counted. */
void output_window(struct output *output, const struct window *window);
void output_status(struct output *output, const struct status *status);
void output_voltage(struct output *output, const struct voltage *voltage);
/* The caller waits for the one before (`answer_waits`): no answer is ever thrown away. */
void output_answer(struct output *output, const struct answer *answer);

/* Is there anything to send? */
static inline bool output_waits(const struct output *output)
{
    return output->window_count || output->voltage_waits || output->answer_waits || output->status_count ||
           output->hello_waits;
}

/*
 * Puts the next waiting line into the ring if its longest form fits. True:
 * it did. Hello goes first, then status, answer, voltage, windows; nothing
 * passes a line that waits for room, so none waits for ever.
 */
bool output_next(struct output *output, const struct hello *hello);

#endif
