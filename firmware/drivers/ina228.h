/*
 * INA228 current sense chip, as core/sense.h asks for it: registers to physical
 * units, and the transfers that set it up. Source: data sheet SLYS021A, section 7.6 (registers), 7.3.4
 * (conversion), 7.3.7 (ALERT).
 */
#ifndef DRIVERS_INA228_H
#define DRIVERS_INA228_H

#include "../core/sense.h"

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

extern const struct sense_chip ina228_chip;

#endif
