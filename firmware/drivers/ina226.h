/*
 * INA226 current sense chip: one range, coarser, no thermometer. Source: data
 * sheet SBOS547 (registers, configuration, mask/enable).
 */
#ifndef DRIVERS_INA226_H
#define DRIVERS_INA226_H

#include "../core/sense.h"

extern const struct sense_chip ina226_chip;

#endif
