/*
 * INA228 current sense chip. Source: data sheet SLYS021A, section 7.6
 * (registers), 7.3.4 (conversion), 7.3.7 (ALERT).
 */
#ifndef DRIVERS_INA228_H
#define DRIVERS_INA228_H

#include "../core/sense.h"

extern const struct sense_chip ina228_chip;

#endif
