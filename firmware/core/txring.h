/*
 * Transmit ring: the main loop writes whole lines, the transmit interrupt
 * takes bytes. A line that does not fit is taken back whole, so that the wire
 * never carries a part of one. (A hello is longer than the ring and goes in
 * parts, each when there is room for it: records.h.)
 */
#ifndef CORE_TXRING_H
#define CORE_TXRING_H

#include <stdbool.h>
#include <stdint.h>

/* A power of two, so that an index wraps by a mask; 2.5 ms of the wire. */
#define TXRING_BYTES 128
/* One place stays empty, so that full and empty differ. */
#define TXRING_ROOM_MAX 127

struct txring {
    uint8_t bytes[TXRING_BYTES];
    volatile uint8_t taken;     /* next byte to send; moved by the interrupt */
    volatile uint8_t published; /* end of the last whole line */
    uint8_t written;            /* end of the line under construction */
    bool overrun;               /* the line under construction did not fit */
};

static inline uint8_t txring_room(const struct txring *ring)
{
    return (uint8_t)(ring->taken - ring->written - 1) & (TXRING_BYTES - 1);
}

/* Adds a byte to the line under construction. */
static inline void txring_put(struct txring *ring, uint8_t byte)
{
    if (txring_room(ring) == 0) {
        ring->overrun = true;
        return;
    }
    ring->bytes[ring->written] = byte;
    ring->written = (ring->written + 1) & (TXRING_BYTES - 1);
}

/* Publishes what is under construction; false, with nothing kept, where it did not fit. */
static inline bool txring_end_line(struct txring *ring)
{
    bool fits = !ring->overrun;
    if (fits)
        ring->published = ring->written;
    else
        ring->written = ring->published;
    ring->overrun = false;
    return fits;
}

/* Takes the next byte to send; false where there is none. */
static inline bool txring_take(struct txring *ring, uint8_t *byte)
{
    uint8_t at = ring->taken;
    if (at == ring->published)
        return false;
    *byte = ring->bytes[at];
    ring->taken = (at + 1) & (TXRING_BYTES - 1);
    return true;
}

#endif
