/*
 * Fault policy: which faults are told, how often, and when the chip is tried
 * again. Decides; does nothing itself.
 */
#ifndef CORE_FAULTS_H
#define CORE_FAULTS_H

#include "records.h"
#include <stdbool.h>
#include <stdint.h>

/* A conversion takes 1.15 ms at most: after this long without one something is wrong. */
#define NO_CONVERSION_MS 50
/* Tries: the first at once after a fault, then after 20 ms, doubled each time up to 1.28 s. */
#define RETRY_MS_FIRST 20
#define RETRY_MS_MAX 1280
/* A fault that lasts is told again this often. */
#define TELL_AGAIN_MS ((uint32_t)10000)

struct faults {
    uint32_t count;       /* faults since boot; one that lasts is one */
    uint32_t told_ticks;  /* when it was last told */
    uint32_t retry_ticks; /* when to try again */
    uint32_t wait_ticks;  /* before the try after the next fault */
    bool faulty;
    enum status_code code; /* what was told last */
};

/* A fault was met. True: it is to be told (a new one, another code, or 10 s have passed). */
bool faults_met(struct faults *faults, enum status_code code, uint32_t ticks);
/* Is it time to try again? */
bool faults_retry_due(const struct faults *faults, uint32_t ticks);
/* A reading came. True: a fault has ended, which is to be told. */
bool faults_over(struct faults *faults);

#endif
