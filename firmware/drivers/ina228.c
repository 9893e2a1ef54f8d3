/*
 * INA228: see ina228.h. Each constant is derived here.
 *
 * CONFIG (0h): bit 4 ADCRANGE, 1 = 40.96 mV; the rest 0 (no reset, no delay).
 *   narrow 0010h, wide 0000h.
 *
 * ADC_CONFIG (1h): MODE 15:12, VBUSCT 11:9, VSHCT 8:6, VTCT 5:3, AVG 2:0.
 *   Conversion times are coded 0 = 50 us ... 5 = 1052 us ... 7 = 4120 us.
 *   MODE Ah: shunt, continuous. Fh: temperature, shunt and bus, continuous.
 *   VSHCT 5 (1052 us) << 6 = 0140h, VBUSCT 0, VTCT 0 (50 us each), AVG 0 (one).
 *   shunt alone A140h (one result in 1052 us), all F140h (one in 1152 us).
 *   Writing this register stops the conversion that runs and starts a new one
 *   (the manufacturer's answer in its support forum; the data sheet does not say so).
 *
 * DIAG_ALRT (Bh): bit 15 ALATCH 0, bit 14 CNVR 1, bit 12 APOL 0: 4000h. The pin
 *   pulses low at each end of a conversion and goes high again by itself,
 *   without a read of the register (same forum answer); the data sheet can be
 *   read so that it stays low until the register is read, and either will do.
 *
 * VSHUNT, VBUS: 24-bit registers, value in bits 23:4, two's complement.
 *   VSHUNT LSB 312.5 nV wide, 78.125 nV narrow: a wide reading is four narrow units.
 *   VBUS LSB 195.3125 uV = 25/128 mV.
 * DIETEMP: 16 bits, LSB 7.8125 mC = 125/16 mC.
 */
#include "ina228.h"
#include "flash.h"

const struct sense_chip ina228_chip FLASH_TABLE = {
    .name = "ina228",
    /* Section 6.5: shunt offset +-1 uV, gain +-0.05 %. */
    .limits = {163840, 78125, 1000, 500, 1052},
    /* "TI" in ASCII. */
    .manufacturer = 0x5449, .part = 0x228, .manufacturer_reg = 0x3E, .part_reg = 0x3F,
    .alert = {.reg = 0x0B, .value = 0x4000},
    .range = {{.reg = 0x00, .value = 0x0010}, {.reg = 0x00, .value = 0x0000}},
    .mode = {{.reg = 0x01, .value = 0xA140}, {.reg = 0x01, .value = 0xF140}},
    .shunt_reg = 0x04, .shunt_bytes = 3, .units = {1, 4},
    .bus_reg = 0x05, .bus_bytes = 3, .bus_mul = 25, .bus_div = 128,
    .temp_reg = 0x06, .ready_reg = 0x0B,
};
