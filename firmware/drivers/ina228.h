/*
 * INA228 current sense chip: registers to physical units, and the transfers
 * that set it up. Source: data sheet SLYS021A, section 7.6 (registers), 7.3.4
 * (conversion), 7.3.7 (ALERT).
 */
#ifndef DRIVERS_INA228_H
#define DRIVERS_INA228_H

#include "../core/i2c.h"
#include <stdbool.h>
#include <stdint.h>

/* A1 = A0 = GND (table 7-2). */
#define INA228_ADDRESS 0x40

/* Table 7-3. */
#define INA228_CONFIG 0x00
#define INA228_ADC_CONFIG 0x01
#define INA228_VSHUNT 0x04
#define INA228_VBUS 0x05
#define INA228_DIETEMP 0x06
#define INA228_DIAG_ALRT 0x0B
#define INA228_MANUFACTURER_ID 0x3E
#define INA228_DEVICE_ID 0x3F

/* "TI" in ASCII; the device number is in the upper twelve bits, the revision below. */
#define INA228_MANUFACTURER 0x5449
#define INA228_DEVICE 0x228

/* The full scale: narrow 40.96 mV, wide 163.84 mV (ADCRANGE 1 and 0). */
enum sense_range { RANGE_NARROW, RANGE_WIDE };
/* What is converted: the shunt alone, or also battery voltage and temperature. */
enum sense_mode { MODE_SHUNT, MODE_ALL };

/* One reading of the shunt, in the narrow range's LSB. */
struct sense_shunt {
    int32_t units; /* of 78.125 nV */
    bool clipped;  /* at an end of the range: the true value lies beyond */
};

/* The transfers: each fills in `transfer` and runs nothing. */
void ina228_set_range(struct i2c_transfer *transfer, enum sense_range range);
void ina228_set_mode(struct i2c_transfer *transfer, enum sense_mode mode);
void ina228_read_shunt(struct i2c_transfer *transfer);
void ina228_read_bus(struct i2c_transfer *transfer);
void ina228_read_temp(struct i2c_transfer *transfer);

/* What finished reads hold. */
struct sense_shunt ina228_shunt(const struct i2c_transfer *transfer, enum sense_range range);
int32_t ina228_bus_mV(const struct i2c_transfer *transfer);
int32_t ina228_temp_mC(const struct i2c_transfer *transfer);

/* How a search for the chip ended. */
enum sense_found { SENSE_OK, SENSE_MISSING, SENSE_UNKNOWN, SENSE_NACK, SENSE_STUCK };
struct sense_search {
    enum sense_found found;
    uint32_t detail; /* I2C status, identity read (manufacturer in the upper half), register or 0 */
};

/*
 * Checks the identity and sets the chip up: range, conversion-ready on ALERT.
 * Conversions begin with the mode, which is written last. `run` performs one
 * transfer and returns its enum i2c_status.
 */
struct sense_search ina228_start(enum i2c_status (*run)(struct i2c_transfer *), enum sense_range range);

#endif
