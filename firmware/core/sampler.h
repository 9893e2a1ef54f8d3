/*
 * The sampler: from the conversion-ready edge to a reading in a ring, driven
 * by two interrupts (edge, end of a transfer), so that no formatting delays a
 * reading. It knows neither bus nor timer: the caller runs the transfers.
 */
#ifndef CORE_SAMPLER_H
#define CORE_SAMPLER_H

#include "ranging.h"
#include "sense.h"
#include <stdbool.h>
#include <stdint.h>

/* Power of two. 8 conversions: the main loop may be away for 8 ms. */
#define SAMPLER_RING 8

enum sample_flag {
    SAMPLE_CLIPPED = 1,
    SAMPLE_WIDE = 2,
    SAMPLE_SWITCHED = 4, /* the first conversion in a new range */
};

struct sample {
    uint32_t ticks; /* when the conversion was ready */
    int32_t units;  /* of 78.125 nV */
    uint8_t flags;
};

/* Battery voltage and temperature. */
struct slow_sample {
    uint32_t ticks;
    int32_t bus_mV;
    int32_t temp_mC; /* where the chip has a thermometer */
};

struct sampler {
    const struct sense_chip *chip;
    struct sample ring[SAMPLER_RING];
    volatile uint8_t head; /* next place to fill; moved in the interrupt */
    volatile uint8_t tail; /* next place to read; moved by the main loop */
    struct slow_sample slow;
    volatile bool slow_ready;    /* `slow` holds a reading that nobody has taken */
    volatile bool slow_wanted;   /* set by the main loop, once a second */
    volatile bool running;
    volatile bool failed;        /* a transfer failed (`transfer` has it); sampling has stopped */
    volatile uint32_t ready_ticks; /* the last edge */
    struct i2c_transfer transfer;
    uint8_t steps;               /* steps of this round still to do, a bit each */
    uint8_t step;                /* the one under way, 0 between rounds */
    bool slow_converting;        /* the conversion under way includes voltage and temperature */
    enum sense_mode mode;        /* what the chip converts */
    bool switched;               /* the conversion under way is the first in its range */
    enum sense_range range;      /* of the conversion under way */
    struct ranging ranging;
};

/* Begins anew, with `chip` just started in `range`. */
void sampler_start(struct sampler *sampler, const struct sense_chip *chip, enum sense_range range, uint32_t ticks);
/* The edge, `held` where the line is low still. True: the caller must start `sampler->transfer`. */
bool sampler_on_ready(struct sampler *sampler, uint32_t ticks, bool held);
/* The end of a transfer. True: the caller must start `sampler->transfer` next. */
bool sampler_on_done(struct sampler *sampler);
/* Main loop: takes the oldest reading; false where there is none. */
bool sampler_take(struct sampler *sampler, struct sample *sample);

#endif
