/*
 * What the firmware asks of a current sense chip. A driver fills `struct
 * sense_chip` in; the core knows no chip by name.
 */
#ifndef CORE_SENSE_H
#define CORE_SENSE_H

#include "i2c.h"
#include <stdbool.h>
#include <stdint.h>

/* The full scale: narrow 40.96 mV, wide 163.84 mV. */
enum sense_range { RANGE_NARROW, RANGE_WIDE };
/* What is converted: the shunt alone, or also battery voltage and temperature. */
enum sense_mode { MODE_SHUNT, MODE_ALL };

/* One reading of the shunt, in the narrow range's LSB. */
struct sense_shunt {
    int32_t units; /* of 78.125 nV */
    bool clipped;  /* at an end of the range: the true value lies beyond */
};

/* How a search for the chip ended. */
enum sense_found { SENSE_OK, SENSE_MISSING, SENSE_UNKNOWN, SENSE_NACK, SENSE_STUCK };
struct sense_search {
    enum sense_found found;
    uint32_t detail; /* I2C status, identity read (manufacturer in the upper half), register or 0 */
};

/* Performs one transfer and returns how it ended. */
typedef enum i2c_status (*i2c_run)(struct i2c_transfer *transfer);

struct sense_chip {
    const char *name; /* a word for the hello line, in flash */
    /*
     * Checks the identity and sets the chip up: range, conversion-ready signal.
     * Conversions of the shunt begin with the last write.
     */
    struct sense_search (*start)(i2c_run run, enum sense_range range);
    /* The transfers: each fills in `transfer` and runs nothing. Writing the mode restarts the conversion. */
    void (*set_range)(struct i2c_transfer *transfer, enum sense_range range);
    void (*set_mode)(struct i2c_transfer *transfer, enum sense_mode mode);
    void (*read_shunt)(struct i2c_transfer *transfer);
    void (*read_bus)(struct i2c_transfer *transfer);
    void (*read_temp)(struct i2c_transfer *transfer);
    /* What finished reads hold. `range` is the one in which the conversion was made. */
    struct sense_shunt (*shunt)(const struct i2c_transfer *transfer, enum sense_range range);
    int32_t (*bus_mV)(const struct i2c_transfer *transfer);
    int32_t (*temp_mC)(const struct i2c_transfer *transfer);
};

#endif
