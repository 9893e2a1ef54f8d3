/*
 * Takes what a transmit ring has published, as the transmit interrupt would,
 * and gives it as text.
 */
#ifndef RING_TEXT_H
#define RING_TEXT_H

#include "core/txring.h"

/* Empties the ring into `text` (`size` bytes, ended by a zero byte); returns how many bytes it had. */
static inline unsigned ring_text(struct txring *ring, char *text, unsigned size)
{
    unsigned count = 0;
    uint8_t byte;
    while (count + 1 < size && txring_take(ring, &byte))
        text[count++] = (char)byte;
    text[count] = 0;
    return count;
}

#endif
