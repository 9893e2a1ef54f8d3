/*
 * Stream policy: what waits to be sent, in which order it goes, and what is
 * thrown away and counted when the wire does not keep up.
 */
#ifndef CORE_OUTPUT_H
#define CORE_OUTPUT_H

#include "history.h"
#include "records.h"
#include <stdbool.h>
#include <stdint.h>

#define OUTPUT_STATUSES 2

struct output {
    struct txring ring;
    struct history history;
    struct past past;
    struct status statuses[OUTPUT_STATUSES];
    struct voltage voltage;
    struct answer answer; /* filled by the caller, who waits for the one before: none is ever thrown away */
    struct line hello_line; /* the hello that goes in parts */
    const struct sense_chip *limits_of; /* whose limits are to be told; null: none */
    uint32_t dropped;    /* lines thrown away since boot */
    uint32_t window_seq; /* the next window to go */
    uint32_t raw_seq;    /* of the next raw line */
    uint32_t replay_seq; /* the next window to go again */
    uint16_t replay_left;
    uint8_t status_count;
    uint8_t hello_part; /* of the hello under way, 0 before its first */
    bool voltage_waits, answer_waits, hello_waits;
};

/* `output` must be zero. */
void output_init(struct output *output);
/* Takes a window for sending. */
void output_window(struct output *output, const struct window *window);
/* A place for the caller to fill at once; null where there is none: that line is counted as thrown away. */
struct status *output_new_status(struct output *output);
struct voltage *output_new_voltage(struct output *output);
/*
 * Sends the windows from `seq` on again that have been sent and are still kept. Returns how many;
 * `*first` is where they begin.
 */
uint16_t output_replay(struct output *output, uint32_t seq, uint32_t *first);

/* Is a raw line ready? A short one goes only where no more follow. */
static inline bool output_raw_waits(const struct output *output)
{
    return output->past.due >= RAW_IN_LINE || (output->past.due > 0 && !output->past.wanted);
}

static inline bool output_window_waits(const struct output *output)
{
    return output->window_seq != output->history.newest.seq + 1;
}

/*
 * Puts the next part of the hello that waits into the ring if there is room. True: it did.
 * While one is under way nothing else may go.
 */
bool output_hello(struct output *output, const struct hello *hello);
/*
 * Puts the next waiting line into the ring if its longest form fits. True:
 * it did. After the hello go limits, status, answer, voltage, window, raw
 * conversions, replay; nothing passes a line that waits for room, so none
 * waits for ever.
 */
bool output_next(struct output *output, uint64_t now_us);

#endif
