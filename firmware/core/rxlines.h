/*
 * Received bytes to whole lines, in the receive interrupt: each LF is stamped
 * there, so that a ping can tell when it came.
 */
#ifndef CORE_RXLINES_H
#define CORE_RXLINES_H

#include <stdbool.h>
#include <stdint.h>

/* The longest command of PROTOCOL.md, LF included. */
#define COMMAND_BYTES_MAX 32
#define RXLINES_BYTES 64
#define RXLINES_LINES 4

enum rx_state { RX_WHOLE, RX_LONG, RX_BUSY };

struct rx_mark {
    uint32_t ticks; /* when the LF came */
    uint8_t length; /* without the LF; 0 unless the line is whole */
    uint8_t state;  /* enum rx_state */
};

struct rxlines {
    uint8_t bytes[RXLINES_BYTES]; /* ring of the bytes of whole lines and of the one coming in */
    struct rx_mark marks[RXLINES_LINES];
    uint8_t write;                 /* next place for a byte */
    volatile uint8_t read;         /* first byte of the oldest line; moved by the main loop */
    volatile uint8_t mark_write;   /* next mark; moved in the interrupt */
    volatile uint8_t mark_read;    /* oldest mark; moved by the main loop */
    uint8_t length;                /* bytes of the line coming in */
    uint8_t state;                 /* enum rx_state of the line coming in */
    volatile uint8_t unmarked;     /* lines that ended with no mark free: answered as busy */
};

/* Takes a byte. A damaged one is kept as 0, which no check code forgives. True at the end of a line. */
bool rxlines_byte(struct rxlines *rx, uint8_t byte, bool damaged, uint32_t ticks);
/* Main loop: copies the oldest line to `line` (COMMAND_BYTES_MAX bytes) and frees it; false where there is none. */
bool rxlines_take(struct rxlines *rx, uint8_t *line, struct rx_mark *mark);

#endif
