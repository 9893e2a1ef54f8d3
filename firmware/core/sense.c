/*
 * A chip's table to transfers, transfers to units: see sense.h.
 */
#include "sense.h"
#include "flash.h"

static void write16(struct i2c_transfer *transfer, const struct sense_write *write)
{
    uint16_t value = flash_u16(&write->value);
    transfer->address = SENSE_ADDRESS;
    transfer->reg = flash_u8(&write->reg);
    transfer->write_count = 2;
    transfer->read_count = 0;
    transfer->data[0] = (uint8_t)(value >> 8);
    transfer->data[1] = (uint8_t)value;
}

/* Out of line: its copies would cost 94 bytes of flash. */
static __attribute__((noinline)) void read_bytes(struct i2c_transfer *transfer, const uint8_t *reg, uint8_t count)
{
    transfer->address = SENSE_ADDRESS;
    transfer->reg = flash_u8(reg);
    transfer->write_count = 0;
    transfer->read_count = count;
}

void sense_set_range(const struct sense_chip *chip, struct i2c_transfer *transfer, enum sense_range range)
{
    write16(transfer, &chip->range[range]);
}

void sense_set_mode(const struct sense_chip *chip, struct i2c_transfer *transfer, enum sense_mode mode)
{
    write16(transfer, &chip->mode[mode]);
}

void sense_read_shunt(const struct sense_chip *chip, struct i2c_transfer *transfer)
{
    read_bytes(transfer, &chip->shunt_reg, flash_u8(&chip->shunt_bytes));
}

void sense_read_bus(const struct sense_chip *chip, struct i2c_transfer *transfer)
{
    read_bytes(transfer, &chip->bus_reg, flash_u8(&chip->bus_bytes));
}

void sense_read_temp(const struct sense_chip *chip, struct i2c_transfer *transfer)
{
    read_bytes(transfer, &chip->temp_reg, 2);
}

void sense_read_ready(const struct sense_chip *chip, struct i2c_transfer *transfer)
{
    read_bytes(transfer, &chip->ready_reg, 2);
}

static uint16_t word(const struct i2c_transfer *transfer)
{
    return (uint16_t)((uint16_t)transfer->data[0] << 8 | transfer->data[1]);
}

/* 16 bits, or bits 23:4 of 24, as a two's complement number. */
static int32_t reading(const struct i2c_transfer *transfer)
{
    int32_t raw = (int16_t)word(transfer);
    if (transfer->read_count == 3)
        raw = raw * 16 + (transfer->data[2] >> 4);
    return raw;
}

/* n / d, rounded half away from zero. */
static int32_t divide_rounded(int32_t n, uint8_t d)
{
    return (n < 0 ? n - d / 2 : n + d / 2) / d;
}

struct sense_shunt sense_shunt(const struct sense_chip *chip, const struct i2c_transfer *transfer, enum sense_range range)
{
    int32_t raw = reading(transfer);
    int32_t end = transfer->read_count == 3 ? 0x7FFFFl : 0x7FFFl;
    return (struct sense_shunt){raw * flash_u8(&chip->units[range]), raw == end || raw == -end - 1};
}

int32_t sense_bus_mV(const struct sense_chip *chip, const struct i2c_transfer *transfer)
{
    return divide_rounded(reading(transfer) * flash_u8(&chip->bus_mul), flash_u8(&chip->bus_div));
}

int32_t sense_temp_mC(const struct i2c_transfer *transfer)
{
    /* 7.8125 mC = 125/16 mC. */
    return divide_rounded(reading(transfer) * 125, 16);
}

bool sense_has_temp(const struct sense_chip *chip)
{
    return flash_u8(&chip->temp_reg) != 0;
}

bool sense_one_range(const struct sense_chip *chip)
{
    return flash_u8(&chip->one_range) != 0;
}

struct sense_search sense_failed(const struct i2c_transfer *transfer)
{
    switch (transfer->status) {
    case I2C_NO_ADDRESS:
        return (struct sense_search){SENSE_MISSING, transfer->status};
    case I2C_NO_ACK:
        return (struct sense_search){SENSE_NACK, transfer->reg};
    default:
        return (struct sense_search){SENSE_STUCK, 0};
    }
}

struct sense_search sense_start(const struct sense_chip *chip, i2c_run run)
{
    struct i2c_transfer transfer;
    read_bytes(&transfer, &chip->manufacturer_reg, 2);
    if (run(&transfer) != I2C_OK)
        return sense_failed(&transfer);
    uint16_t manufacturer = word(&transfer);
    read_bytes(&transfer, &chip->part_reg, 2);
    if (run(&transfer) != I2C_OK)
        return sense_failed(&transfer);
    uint16_t part = word(&transfer);
    if (manufacturer != flash_u16(&chip->manufacturer) || part >> 4 != flash_u16(&chip->part))
        return (struct sense_search){SENSE_UNKNOWN, ((uint32_t)manufacturer << 16) | part};

    const struct sense_write *const writes[] = {&chip->alert, &chip->range[RANGE_NARROW], &chip->mode[MODE_SHUNT]};
    for (uint8_t i = 0; i < 4; i++) {
        if (i == 1 && sense_one_range(chip))
            continue;
        /* Last of all a line is let go that fell before anyone watched it. */
        if (i == 3)
            sense_read_ready(chip, &transfer);
        else
            write16(&transfer, writes[i]);
        if (run(&transfer) != I2C_OK)
            return sense_failed(&transfer);
    }
    return (struct sense_search){SENSE_OK, 0};
}
