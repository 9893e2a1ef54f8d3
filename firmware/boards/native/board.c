/*
 * The native board: see native.h.
 */
#include "native.h"
#include <string.h>

struct native_board native;

/* Data sheet DS40002061, table 8-1: an EEPROM write takes 3.4 ms. */
#define STORE_TICKS (3400u * 2)
#define TRANSFER_TICKS_MAX (5u * 2000)

void native_reset(enum i2c_status (*bus)(struct i2c_transfer *transfer))
{
    memset(&native, 0, sizeof native);
    memset(native.store, 0xFF, sizeof native.store);
    native.store_writes_left = -1;
    native.bus = bus;
}

void native_run_bus(void)
{
    while (native.under_way && !native.bus_hangs) {
        struct i2c_transfer *transfer = native.under_way;
        transfer->status = (uint8_t)native.bus(transfer);
        native.under_way = app_on_i2c_done();
    }
}

void board_init(void)
{
}

enum board_cause board_reset_cause(void)
{
    return native.cause;
}

const char *board_mcu(void)
{
    return "native";
}

uint32_t board_ticks(void)
{
    return native.ticks++;
}

enum i2c_status board_i2c_run(struct i2c_transfer *transfer)
{
    if (native.bus_hangs) {
        native.ticks += TRANSFER_TICKS_MAX;
        transfer->status = I2C_TIMEOUT;
    } else {
        transfer->status = (uint8_t)native.bus(transfer);
    }
    return (enum i2c_status)transfer->status;
}

void board_i2c_start(struct i2c_transfer *transfer)
{
    transfer->status = I2C_RUNNING;
    native.under_way = transfer;
}

bool board_i2c_recover(void)
{
    native.recoveries++;
    native.under_way = 0;
    return !native.bus_hangs;
}

void board_uart_kick(void)
{
}

uint8_t board_store_read(uint16_t address)
{
    return native.store[address];
}

bool board_store_ready(void)
{
    return (int32_t)(native.ticks - native.store_ready_ticks) >= 0;
}

void board_store_write(uint16_t address, uint8_t byte)
{
    native.store_ready_ticks = native.ticks + STORE_TICKS;
    if (native.store_writes_left == 0)
        return;
    if (native.store_writes_left > 0)
        native.store_writes_left--;
    native.store[address] = native.store_worn ? byte & 0xFE : byte;
}

void board_watchdog_feed(void)
{
    native.watchdog_feeds++;
}

void board_light(bool on)
{
    native.light_changes += on != native.lit;
    native.lit = on;
}

uint8_t board_lock(void)
{
    return 0;
}

void board_unlock(uint8_t held)
{
    (void)held;
}

void board_sleep(void)
{
    native.woken = false;
}

void board_wake(void)
{
    native.woken = true;
}
