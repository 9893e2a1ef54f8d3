/*
 * INA226: see ina226.h. Each constant is derived here.
 *
 * CONFIG (00h): bit 14 reads as 1, AVG 11:9, VBUSCT 8:6, VSHCT 5:3, MODE 2:0.
 *   Conversion times are coded 0 = 140 us ... 4 = 1.1 ms ... 7 = 8.244 ms.
 *   MODE 5: shunt, continuous. 7: shunt and bus, continuous.
 *   4000h, AVG 0 (one), VBUSCT 0 (140 us), VSHCT 4 << 3 = 20h:
 *   shunt alone 4025h (one result in 1.1 ms), both 4027h (one in 1.24 ms).
 *   A write stops the conversion that runs and starts a new one (7.1.1).
 *
 * MASK_ENABLE (06h): bit 10 CNVR 1: 0400h. ALERT goes low at each end of a
 *   conversion and stays low until this register is read or CONFIG is written.
 *
 * SHUNT: 16 bits, two's complement, LSB 2.5 uV = 32 units of 78.125 nV.
 * BUS: LSB 1.25 mV = 5/4 mV, never negative.
 */
#include "ina226.h"
#include "flash.h"

const struct sense_chip ina226_chip FLASH_TABLE = {
    .name = "ina226",
    /* Electrical characteristics: shunt offset +-10 uV, gain +-0.1 %. */
    .limits = {81920, 2500000, 10000, 1000, 1100},
    .manufacturer = 0x5449, .part = 0x226, .manufacturer_reg = 0xFE, .part_reg = 0xFF,
    .one_range = true,
    .alert = {.reg = 0x06, .value = 0x0400},
    .mode = {{.reg = 0x00, .value = 0x4025}, {.reg = 0x00, .value = 0x4027}},
    .shunt_reg = 0x01, .shunt_bytes = 2, .units = {32, 32},
    .bus_reg = 0x02, .bus_bytes = 2, .bus_mul = 5, .bus_div = 4,
    .ready_reg = 0x06,
};
