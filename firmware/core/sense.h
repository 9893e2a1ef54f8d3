/*
 * Current sense chips. A driver is one table: the chip's registers, what is
 * written to them, and how their readings scale. The core knows no chip by
 * name; core/sense.c turns the table into transfers and transfers into units.
 */
#ifndef CORE_SENSE_H
#define CORE_SENSE_H

#include "i2c.h"
#include <stdbool.h>
#include <stdint.h>

/* The full scale. A chip with one range uses RANGE_NARROW alone. */
enum sense_range { RANGE_NARROW, RANGE_WIDE };
/* What is converted: the shunt alone, or also battery voltage and temperature. */
enum sense_mode { MODE_SHUNT, MODE_ALL };

struct sense_write {
    uint16_t value;
    uint8_t reg;
};

/* All chips stand at the address that they have with A1 = A0 = GND. */
#define SENSE_ADDRESS 0x40

/* Lies in flash (FLASH_TABLE). Registers hold two's complement, in 16 bits or in bits 23:4 of 24. */
struct sense_chip {
    char name[8]; /* a word for the hello line */
    /* What it can do at best, for the line of limits: widest full scale, finest step, errors at 25 C, time. */
    uint32_t limits[5]; /* range_uV, step_pV, offset_max_nV, gain_max_ppm, conversion_us */
    /* Identity: manufacturer, and the part's number in the upper twelve bits. */
    uint16_t manufacturer;
    uint16_t part;
    uint8_t manufacturer_reg;
    uint8_t part_reg;
    bool one_range;
    struct sense_write alert;    /* the pin falls at each end of a conversion */
    struct sense_write range[2]; /* by enum sense_range; none is written where there is one range */
    struct sense_write mode[2];  /* by enum sense_mode; writing it restarts the conversion */
    uint8_t shunt_reg, shunt_bytes;
    uint8_t bus_reg, bus_bytes;
    uint8_t temp_reg;  /* 16 bits of 7.8125 mC; 0: it has no thermometer */
    uint8_t ready_reg; /* a read of it lets the pin go, where it does not go by itself */
    uint8_t units[2];  /* of 78.125 nV in a step of the shunt reading, by range */
    uint8_t bus_mul, bus_div; /* millivolts in a step of the bus reading */
};

/* One reading of the shunt. */
struct sense_shunt {
    int32_t units; /* of 78.125 nV */
    bool clipped;  /* at an end of the range: the true value lies beyond */
};

/* How a search for the chip, or a transfer, ended; the first four are status codes of records.h. */
enum sense_found { SENSE_MISSING, SENSE_UNKNOWN, SENSE_NACK, SENSE_STUCK, SENSE_OK };
struct sense_search {
    enum sense_found found;
    uint32_t detail; /* I2C status, identity read (manufacturer in the upper half), register or 0 */
};

/* Performs one transfer and returns how it ended, which is in its `status`, too. */
typedef enum i2c_status (*i2c_run)(struct i2c_transfer *transfer);

/*
 * Checks the identity and sets the chip up: conversion-ready signal, narrow
 * range. Conversions of the shunt begin with the last write.
 */
struct sense_search sense_start(const struct sense_chip *chip, i2c_run run);

/* How a transfer that failed is told. */
struct sense_search sense_failed(const struct i2c_transfer *transfer);

/* The transfers: each fills in `transfer` and runs nothing. */
void sense_set_range(const struct sense_chip *chip, struct i2c_transfer *transfer, enum sense_range range);
void sense_set_mode(const struct sense_chip *chip, struct i2c_transfer *transfer, enum sense_mode mode);
void sense_read_shunt(const struct sense_chip *chip, struct i2c_transfer *transfer);
void sense_read_bus(const struct sense_chip *chip, struct i2c_transfer *transfer);
void sense_read_temp(const struct sense_chip *chip, struct i2c_transfer *transfer);
void sense_read_ready(const struct sense_chip *chip, struct i2c_transfer *transfer);

/* What finished reads hold. `range` is the one in which the conversion was made. */
struct sense_shunt sense_shunt(const struct sense_chip *chip, const struct i2c_transfer *transfer, enum sense_range range);
/* Rounded half away from zero. */
int32_t sense_bus_mV(const struct sense_chip *chip, const struct i2c_transfer *transfer);
int32_t sense_temp_mC(const struct i2c_transfer *transfer);

bool sense_has_temp(const struct sense_chip *chip);
bool sense_one_range(const struct sense_chip *chip);

#endif
