/*
 * Windows: conversions in, one record with mean, smallest, largest and running
 * charge out. PROTOCOL.md, line W, defines where a window closes.
 */
#ifndef CORE_WINDOW_H
#define CORE_WINDOW_H

#include "sampler.h"
#include "scale.h"
#include <stdbool.h>
#include <stdint.h>

#define WINDOW_US_DEFAULT 50000ul
#define WINDOW_US_MIN 10000ul
#define WINDOW_US_MAX 1000000ul

/*
 * From one conversion to the next it takes 1052 us, 1.28 ms with voltage and
 * temperature, 1.51 ms with a change of range, up to 1.84 ms with both while the
 * wire is busy (measured in an emulated hour of bursts), each 0.5 % either way. Where one is missed it takes
 * 2.09 ms at least.
 */
#define MISSED_US 1960

enum window_flag {
    WINDOW_CLIPPED = 0x01,
    WINDOW_NEGATIVE = 0x02,
    WINDOW_SWITCHED = 0x04,
    WINDOW_WIDE = 0x08,
    WINDOW_MISSED = 0x10,
    WINDOW_UNJOINED = 0x20,
};

/* In the order of its line (records.c). */
struct window {
    uint32_t seq;
    uint64_t t_us;
    uint32_t dur_us; /* these five lie together: history.c */
    uint32_t count;
    int32_t mean_uA;
    int32_t min_uA;
    int32_t max_uA;
    int64_t charge_nC;
    uint8_t flags;
};

struct windowing {
    const struct calibration *cal;
    uint32_t window_us;
    uint64_t last_us; /* the conversion before */
    /* Lower halves of times, which are compared by their difference. */
    uint32_t edge_us;  /* the next multiple of window_us */
    uint32_t start_us; /* the last conversion of the window before */
    struct charge charge;
    int64_t area; /* units x microseconds in this window */
    uint32_t seq;
    int32_t sum;
    int32_t min;
    int32_t max;
    uint16_t count;
    uint8_t flags;
    bool joined; /* there is a conversion before, from which time runs */
};

void window_init(struct windowing *windowing, const struct calibration *cal, uint32_t window_us);
/* Takes one conversion. True: `out` is a window that it has closed. */
bool window_add(struct windowing *windowing, const struct sample *sample, uint64_t t_us, struct window *out);
/* The window under way ends with its last conversion, and another begins there. True: `out` is the one that ended. */
bool window_split(struct windowing *windowing, struct window *out);
/* Windows of this length from now on. */
void window_set_length(struct windowing *windowing, uint32_t window_us);
/* The conversions end here (a fault). True: `out` is the window cut short. */
bool window_cut(struct windowing *windowing, struct window *out);

#endif
