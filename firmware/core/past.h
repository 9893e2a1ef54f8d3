/*
 * The last conversions, for raw lines: each is kept as its differences from
 * the one before it, 2 to 3 bytes while the current is quiet. In the burst
 * stream they wait here for a trigger; in a burst and in the raw stream they
 * wait for the wire.
 */
#ifndef CORE_PAST_H
#define CORE_PAST_H

#include "bytering.h"
#include <stdbool.h>

/* 100 ms are 95 conversions: 190 to 285 bytes while the current is quiet (past_test.c, BOARD.md). */
#define PAST_BYTES 208

/*
 * At a trigger the wire needs some time to catch up with what is kept, and what
 * comes meanwhile is anything but quiet: the oldest make room for it.
 */
#define PAST_HEADROOM_BYTES 24

/* Bits of a raw conversion's flags: the first three are enum sample_flag. */
#define RAW_BROKEN 8 /* what came before it was not sent */

struct raw {
    uint32_t t_us; /* the lower half: what waits is less than an hour old */
    int32_t units; /* of 78.125 nV */
    uint16_t dt_us; /* since the conversion before */
    uint8_t flags;
};

struct past {
    struct bytering ring;
    struct raw newest;
    struct raw before; /* the one before the oldest kept */
    uint8_t count; /* a record has two bytes at least */
    uint8_t due;  /* so many of the oldest are to be sent */
    bool wanted;  /* each new one is to be sent */
    bool fresh;   /* none has come out since it was wanted */
    bool broken;  /* what comes out next does not follow what came out last */
    uint16_t lost; /* due, and pushed out before they were sent; of what came before a burst, RAM alone says how much there is */
    uint8_t bytes[PAST_BYTES];
};

/* Empties it. */
void past_init(struct past *past);
/* Keeps a conversion. `joined`: it follows the one before within 65 ms, with nothing between. */
void past_add(struct past *past, uint32_t t_us, int32_t units, uint8_t flags, bool joined);
/* True: what is kept and what comes from now on is to be sent; false: what is due still is. */
void past_want(struct past *past, bool wanted);
/* Does the oldest one follow what came out last? Some must be due. */
bool past_follows(const struct past *past);
/* Takes the oldest one out. Some must be due. */
void past_take(struct past *past, struct raw *raw);

#endif
