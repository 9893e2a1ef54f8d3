/*
 * One transfer on the I2C bus, as the drivers describe it and the boards run it.
 */
#ifndef CORE_I2C_H
#define CORE_I2C_H

#include <stdint.h>

/* Bits 7:1 of the address and the register pointer are sent first; then either bytes are written or read. */
enum i2c_status {
    I2C_OK = 0,
    I2C_RUNNING,
    I2C_NO_ADDRESS, /* the address was not acknowledged */
    I2C_NO_ACK,     /* a later byte was not acknowledged */
    I2C_BUS,        /* bus error or lost arbitration */
    I2C_TIMEOUT,    /* not done in time: a line is held */
};

#define I2C_DATA_MAX 3

struct i2c_transfer {
    uint8_t address;
    uint8_t reg;
    uint8_t write_count; /* 0 where bytes are read */
    uint8_t read_count;  /* 0 where bytes are written */
    uint8_t data[I2C_DATA_MAX];
    volatile uint8_t status; /* enum i2c_status */
};

#endif
