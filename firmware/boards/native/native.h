/*
 * The native board: the interface of board.h on a PC, played by a test. Time
 * stands still but where the test moves it, apart from half a microsecond for
 * each reading of the clock, so that bounded waits end.
 */
#ifndef BOARDS_NATIVE_NATIVE_H
#define BOARDS_NATIVE_NATIVE_H

#include "../board.h"

struct native_board {
    uint32_t ticks;
    enum board_cause cause;
    /* Plays the bus: performs one transfer and returns its status. */
    enum i2c_status (*bus)(struct i2c_transfer *transfer);
    struct i2c_transfer *under_way; /* started and not ended yet */
    bool bus_hangs;                 /* transfers never end */
    unsigned recoveries;
    uint8_t store[STORE_BYTES];
    long store_writes_left; /* the power goes after so many bytes; negative: never */
    bool store_worn;        /* bytes do not keep what is written */
    uint32_t store_ready_ticks;
    unsigned watchdog_feeds;
    bool woken;
    bool lit;
    unsigned light_changes;
};

extern struct native_board native;

/* As after power-on: blank store, no time passed. */
void native_reset(enum i2c_status (*bus)(struct i2c_transfer *transfer));
/* Ends the transfer under way, and those that the firmware starts at its end. */
void native_run_bus(void);

#endif
