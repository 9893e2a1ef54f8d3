/*
 * An INA228 played for the firmware's tests. It refuses what the real chip
 * could not do: another address, a register that is none, a read or write of
 * the wrong length, a write to a read-only register. Each refusal is counted.
 */
#ifndef CHIP_MODEL_H
#define CHIP_MODEL_H

#include "boards/native/native.h"

struct chip_model {
    bool absent;           /* nothing answers */
    bool ina226;           /* plays an INA226: the registers of SBOS547, as far as its driver needs them */
    int nack_at_reg;       /* refuses the byte after this register; -1: none */
    uint16_t manufacturer;
    uint16_t device;
    uint16_t config, adc_config, diag_alrt;
    uint32_t vshunt, vbus; /* 24-bit registers as read */
    uint16_t dietemp;
    uint16_t shunt226, bus226, mask226, config226;
    unsigned refusals;
    unsigned restarts;     /* writes of ADC_CONFIG */
    unsigned transfers;
    unsigned released;     /* reads of the INA226's mask/enable register */
};

extern struct chip_model chip;

/* An INA228 after power-on: reset values of data sheet SLYS021A, section 7.6. */
void chip_reset(void);
enum i2c_status chip_bus(struct i2c_transfer *transfer);
/* Sets VSHUNT to the signed 20-bit `raw`. */
void chip_set_shunt(int32_t raw);

/* An INA226 after power-on. */
void chip_reset_226(void);

#endif
