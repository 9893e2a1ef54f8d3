/*
 * Received bytes to whole lines: see rxlines.h.
 */
#include "rxlines.h"

static void spoil(struct rxlines *rx, enum rx_state why)
{
    rx->write = (uint8_t)(rx->write - rx->length) & (RXLINES_BYTES - 1);
    rx->length = 0;
    rx->state = why;
}

static bool end_line(struct rxlines *rx, uint32_t ticks)
{
    bool empty = rx->state == RX_WHOLE && rx->length == 0;
    uint8_t next = (rx->mark_write + 1) & (RXLINES_LINES - 1);
    if (!empty && next == rx->mark_read) {
        spoil(rx, RX_BUSY);
        if (rx->unmarked < UINT8_MAX)
            rx->unmarked++;
    } else if (!empty) {
        struct rx_mark *mark = &rx->marks[rx->mark_write];
        mark->ticks = ticks;
        mark->length = rx->length;
        mark->state = rx->state;
        rx->mark_write = next;
    }
    rx->length = 0;
    rx->state = RX_WHOLE;
    return !empty;
}

bool rxlines_byte(struct rxlines *rx, uint8_t byte, bool damaged, uint32_t ticks)
{
    if (!damaged && byte == '\n')
        return end_line(rx, ticks);
    if (rx->state != RX_WHOLE)
        return false;
    uint8_t next = (rx->write + 1) & (RXLINES_BYTES - 1);
    if (rx->length == COMMAND_BYTES_MAX - 1) {
        spoil(rx, RX_LONG);
    } else if (next == rx->read) {
        spoil(rx, RX_BUSY);
    } else {
        rx->bytes[rx->write] = damaged ? 0 : byte;
        rx->write = next;
        rx->length++;
    }
    return false;
}

bool rxlines_take(struct rxlines *rx, uint8_t *line, struct rx_mark *mark)
{
    uint8_t at = rx->mark_read;
    if (at == rx->mark_write)
        return false;
    *mark = rx->marks[at];
    for (uint8_t i = 0; i < mark->length; i++)
        line[i] = rx->bytes[(uint8_t)(rx->read + i) & (RXLINES_BYTES - 1)];
    rx->read = (uint8_t)(rx->read + mark->length) & (RXLINES_BYTES - 1);
    rx->mark_read = (at + 1) & (RXLINES_LINES - 1);
    return true;
}
