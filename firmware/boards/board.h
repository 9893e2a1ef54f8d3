/*
 * What a board gives to the firmware, and what the firmware gives to the
 * board's interrupts. A port to another processor is one folder that fills
 * this page in, and brings a flash.h: how constants are kept in flash.
 */
#ifndef BOARDS_BOARD_H
#define BOARDS_BOARD_H

#include "../core/i2c.h"
#include <stdbool.h>
#include <stdint.h>

enum board_cause { CAUSE_POWER, CAUSE_PIN, CAUSE_BROWNOUT, CAUSE_WATCHDOG, CAUSE_UNKNOWN };

/* Clocks, pins, serial port, bus, watchdog; interrupts on. Must be called first. */
void board_init(void);
enum board_cause board_reset_cause(void);
/* The microcontroller's word for the hello line, in flash. */
const char *board_mcu(void);

/* Half microseconds since boot, 32 bits, wrapping. */
uint32_t board_ticks(void);

/*
 * Runs one transfer and waits for its end, asleep, for 5 ms at most; returns
 * its status. Not while the sampler runs.
 */
enum i2c_status board_i2c_run(struct i2c_transfer *transfer);
/* Starts a transfer whose end is told to app_on_i2c_done(). */
void board_i2c_start(struct i2c_transfer *transfer);
/* Gives up what runs, and clocks a held SDA free. False where SDA or SCL stays low. */
bool board_i2c_recover(void);

/* Wakes the transmitter after something was put into the transmit ring. */
void board_uart_kick(void);

/* Bytes that outlive a power cut. board_store_write() starts one byte; wait for board_store_ready(). */
#define STORE_BYTES 1024
uint8_t board_store_read(uint16_t address);
bool board_store_ready(void);
void board_store_write(uint16_t address, uint8_t byte);

void board_watchdog_feed(void);

/* The light that the command `b` blinks. */
void board_light(bool on);

/* Holds interrupts off; returns what board_unlock() needs to put back. */
uint8_t board_lock(void);
void board_unlock(uint8_t held);
/* Sleeps until an interrupt has called board_wake() since the last return. */
void board_sleep(void);
/* From an interrupt: there is work for the main loop. */
void board_wake(void);

/* The firmware's part, called from interrupts. */

/* The chip's conversion-ready edge came at `ticks`; `held` where the line is low still. */
void app_on_ready(uint32_t ticks, bool held);
/* A started transfer has ended (`status` is in it). Returns the next one to start at once, or null. */
struct i2c_transfer *app_on_i2c_done(void);
/* A byte was received; `damaged` where the receiver saw a framing error or an overrun. */
void app_on_receive(uint8_t byte, bool damaged, uint32_t ticks);
/* The next byte to send, and whether it is the last for now. */
enum next_byte { BYTE_NONE, BYTE_LAST, BYTE_MORE };
enum next_byte app_next_byte(uint8_t *byte);

#endif
