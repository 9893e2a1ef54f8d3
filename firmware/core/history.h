/*
 * The last windows, for sending and for sending again: each is kept as its
 * differences from the one before it, some 13 bytes for a car asleep, so that
 * more than a second of them fits. They are read back bit for bit.
 */
#ifndef CORE_HISTORY_H
#define CORE_HISTORY_H

#include "bytering.h"
#include "window.h"

/* 20 windows of a car asleep take 270 bytes (history_test.c measures it). */
#define HISTORY_BYTES 290

struct history {
    struct bytering ring;
    struct window newest;
    struct window before; /* the one before the oldest kept */
    uint16_t count;
    uint8_t bytes[HISTORY_BYTES];
};

void history_init(struct history *history);
/* Keeps a window; the oldest ones make room for it. Windows come in the order of their `seq`, none left out. */
void history_add(struct history *history, const struct window *window);
/* `seq` of the oldest window kept; that of the next one to come where there is none. */
static inline uint32_t history_first(const struct history *history)
{
    return history->newest.seq + 1 - history->count;
}
/* Gives the window `seq`, which must be kept. */
void history_get(const struct history *history, uint32_t seq, struct window *window);

#endif
