/*
 * What the main loop (app.c) and the commands (obey.c) share: all the
 * firmware's state, in one place.
 */
#ifndef CORE_APP_STATE_H
#define CORE_APP_STATE_H

#include "blocks.h"
#include "burst.h"
#include "clock64.h"
#include "faults.h"
#include "measure.h"
#include "output.h"
#include "rxlines.h"
#include "sampler.h"
#include "store_writer.h"

struct app {
    const struct sense_chip *const *chips; /* those that are looked for */
    const struct sense_chip *chip;         /* the one that was found last; null before */
    struct output output;
    struct sampler sampler;
    struct rxlines rx;
    struct windowing windowing;
    struct burst burst;
    struct faults faults;
    struct store_writer writer;
    struct clock64 clock;
    struct measure measure;
    struct hello hello;
    uint32_t slow_ticks; /* when voltage and temperature are due */
    uint32_t blink_ticks; /* when the light changes next */
    uint32_t voltage_seq;
    uint32_t status_seq;
    uint16_t store_tag; /* the command that waits for the writer */
    uint8_t chip_count;
    uint8_t blinks;     /* changes of the light still to come */
    uint8_t stream;     /* enum stream */
    bool chip_found;
    char storing;       /* what the writer stores: the letter of its command */
};

extern struct app app;

/* Read what the store holds, and use it. */
void identity_load(void);
void calibration_load(void);
/* Answers what waits, takes the next command, keeps the light blinking. */
void take_commands(void);
/* The window under way ends here and goes its way. */
void split_window(void);

#endif
