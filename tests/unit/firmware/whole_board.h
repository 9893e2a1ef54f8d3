/*
 * The whole firmware on the native board with the played chip, for tests:
 * moves time, brings edges, carries bytes, and keeps every line that is sent.
 */
#ifndef WHOLE_BOARD_H
#define WHOLE_BOARD_H

#include "chip_model.h"
#include <stddef.h>

/* Every line that came since the last boot, each ended by LF. */
extern char wire[1 << 20];
extern size_t wire_length;
/* The transmitter takes bytes. */
extern bool wire_open;

/* Runs the main loop, and the transmitter, until neither has anything to do. */
void settle(void);
void boot(void);
/* Boots a new board with a chip that reads 20 mA in 5 mOhm, 12.35 V, 25 C. */
void fresh(void);
/* The chip converts for so long: an edge every 1052 us (1152 with voltage and temperature). */
void run_us(uint32_t us);
/* Time without an edge. */
void idle_ms(uint32_t ms);
/* The host sends `body` with its check code. */
void command(const char *body);
/* Counts the lines that begin with `head`; checks the length and the CRC of every line on the way. */
int lines_with(const char *head);

/* The fields of the n-th line (from 0) whose first field is `type`, up to the first that is no number. */
struct numbers {
    long long at[20];
    int count;
};
struct numbers line_numbers(const char *type, int n);
/* Where a W line has its fields. */
enum { W_SEQ, W_T, W_DUR, W_COUNT, W_MEAN, W_MIN, W_MAX, W_CHARGE, W_FLAGS };

#endif
