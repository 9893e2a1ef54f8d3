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
 *   without a read of the register (same forum answer).
 *
 * VSHUNT, VBUS: 24-bit registers, value in bits 23:4, two's complement.
 *   VSHUNT LSB 312.5 nV wide, 78.125 nV narrow: a wide reading is four narrow units.
 *   VBUS LSB 195.3125 uV = 25/128 mV.
 * DIETEMP: 16 bits, LSB 7.8125 mC = 125/16 mC.
 */
#include "ina228.h"
#include "flash.h"

#define CONFIG_NARROW 0x0010
#define CONFIG_WIDE 0x0000
#define ADC_SHUNT 0xA140
#define ADC_ALL 0xF140
#define ALERT_ON_READY 0x4000
#define SHUNT_RAW_MAX 524287l
#define SHUNT_RAW_MIN (-524288l)

static void write16(struct i2c_transfer *transfer, uint8_t reg, uint16_t value)
{
    transfer->address = INA228_ADDRESS;
    transfer->reg = reg;
    transfer->write_count = 2;
    transfer->read_count = 0;
    transfer->data[0] = (uint8_t)(value >> 8);
    transfer->data[1] = (uint8_t)value;
}

static void read_bytes(struct i2c_transfer *transfer, uint8_t reg, uint8_t count)
{
    transfer->address = INA228_ADDRESS;
    transfer->reg = reg;
    transfer->write_count = 0;
    transfer->read_count = count;
}

static int16_t signed16(const struct i2c_transfer *transfer)
{
    return (int16_t)(((uint16_t)transfer->data[0] << 8) | transfer->data[1]);
}

/* Bits 23:4 as a two's complement number. */
static int32_t signed20(const struct i2c_transfer *transfer)
{
    uint32_t raw = ((uint32_t)transfer->data[0] << 12) | ((uint16_t)transfer->data[1] << 4) |
                   (transfer->data[2] >> 4);
    return raw & 0x80000ul ? (int32_t)raw - 0x100000l : (int32_t)raw;
}

/* n / d, rounded half away from zero. */
static int32_t divide_rounded(int32_t n, int32_t d)
{
    return (n < 0 ? n - d / 2 : n + d / 2) / d;
}

static void set_range(struct i2c_transfer *transfer, enum sense_range range)
{
    write16(transfer, INA228_CONFIG, range == RANGE_NARROW ? CONFIG_NARROW : CONFIG_WIDE);
}

static void set_mode(struct i2c_transfer *transfer, enum sense_mode mode)
{
    write16(transfer, INA228_ADC_CONFIG, mode == MODE_SHUNT ? ADC_SHUNT : ADC_ALL);
}

static void read_shunt(struct i2c_transfer *transfer)
{
    read_bytes(transfer, INA228_VSHUNT, 3);
}

static void read_bus(struct i2c_transfer *transfer)
{
    read_bytes(transfer, INA228_VBUS, 3);
}

static void read_temp(struct i2c_transfer *transfer)
{
    read_bytes(transfer, INA228_DIETEMP, 2);
}

static struct sense_shunt shunt(const struct i2c_transfer *transfer, enum sense_range range)
{
    int32_t raw = signed20(transfer);
    struct sense_shunt reading;
    reading.clipped = raw == SHUNT_RAW_MAX || raw == SHUNT_RAW_MIN;
    reading.units = range == RANGE_WIDE ? raw * 4 : raw;
    return reading;
}

static int32_t bus_mV(const struct i2c_transfer *transfer)
{
    return divide_rounded(signed20(transfer) * 25, 128);
}

static int32_t temp_mC(const struct i2c_transfer *transfer)
{
    return divide_rounded((int32_t)signed16(transfer) * 125, 16);
}

static struct sense_search failed(uint8_t reg, enum i2c_status status)
{
    switch (status) {
    case I2C_NO_ADDRESS:
        return (struct sense_search){SENSE_MISSING, status};
    case I2C_NO_ACK:
        return (struct sense_search){SENSE_NACK, reg};
    default:
        return (struct sense_search){SENSE_STUCK, 0};
    }
}

static struct sense_search start(i2c_run run, enum sense_range range)
{
    struct i2c_transfer transfer;
    enum i2c_status status;

    read_bytes(&transfer, INA228_MANUFACTURER_ID, 2);
    if ((status = run(&transfer)) != I2C_OK)
        return failed(transfer.reg, status);
    uint16_t manufacturer = (uint16_t)signed16(&transfer);
    read_bytes(&transfer, INA228_DEVICE_ID, 2);
    if ((status = run(&transfer)) != I2C_OK)
        return failed(transfer.reg, status);
    uint16_t device = (uint16_t)signed16(&transfer);
    if (manufacturer != INA228_MANUFACTURER || device >> 4 != INA228_DEVICE)
        return (struct sense_search){SENSE_UNKNOWN, ((uint32_t)manufacturer << 16) | device};

    write16(&transfer, INA228_DIAG_ALRT, ALERT_ON_READY);
    if ((status = run(&transfer)) != I2C_OK)
        return failed(transfer.reg, status);
    set_range(&transfer, range);
    if ((status = run(&transfer)) != I2C_OK)
        return failed(transfer.reg, status);
    set_mode(&transfer, MODE_SHUNT);
    if ((status = run(&transfer)) != I2C_OK)
        return failed(transfer.reg, status);
    return (struct sense_search){SENSE_OK, 0};
}

static const char name[] FLASH_TABLE = "ina228";

const struct sense_chip ina228_chip = {
    .name = name,
    .start = start,
    .set_range = set_range,
    .set_mode = set_mode,
    .read_shunt = read_shunt,
    .read_bus = read_bus,
    .read_temp = read_temp,
    .shunt = shunt,
    .bus_mV = bus_mV,
    .temp_mC = temp_mC,
};
