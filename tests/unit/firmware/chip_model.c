/*
 * The played sense chips: see chip_model.h.
 */
#include "chip_model.h"
#include "drivers/ina228.h"
#include <string.h>

struct chip_model chip;

void chip_reset(void)
{
    memset(&chip, 0, sizeof chip);
    chip.nack_at_reg = -1;
    chip.manufacturer = 0x5449;
    chip.device = 0x2281;
    chip.adc_config = 0xFB68;
    chip.diag_alrt = 0x0001;
}

void chip_set_shunt(int32_t raw)
{
    chip.vshunt = ((uint32_t)raw & 0xFFFFFu) << 4;
}

static enum i2c_status refuse(void)
{
    chip.refusals++;
    return I2C_NO_ACK;
}

static enum i2c_status give(struct i2c_transfer *transfer, uint32_t value, int bytes)
{
    if (transfer->read_count != bytes)
        return refuse();
    for (int i = 0; i < bytes; i++)
        transfer->data[i] = (uint8_t)(value >> (8 * (bytes - 1 - i)));
    return I2C_OK;
}

void chip_reset_226(void)
{
    chip_reset();
    chip.ina226 = true;
    chip.manufacturer = 0x5449;
    chip.device = 0x2260;
    chip.config226 = 0x4127;
}

/* Registers that an INA226 does not have read as zero here; the data sheet does not say. */
static enum i2c_status read_226(struct i2c_transfer *transfer)
{
    switch (transfer->reg) {
    case 0x00:
        return give(transfer, chip.config226, 2);
    case 0x01:
        return give(transfer, chip.shunt226, 2);
    case 0x02:
        return give(transfer, chip.bus226, 2);
    case 0x06:
        chip.released++;
        return give(transfer, chip.mask226, 2);
    case 0xFE:
        return give(transfer, chip.manufacturer, 2);
    case 0xFF:
        return give(transfer, chip.device, 2);
    case 0x3E:
    case 0x3F:
        return give(transfer, 0, 2);
    default:
        return refuse();
    }
}

static enum i2c_status write_226(const struct i2c_transfer *transfer)
{
    uint16_t value = (uint16_t)(transfer->data[0] << 8 | transfer->data[1]);
    if (transfer->write_count != 2 || (transfer->reg != 0x00 && transfer->reg != 0x06))
        return refuse();
    if (transfer->reg == 0x06) {
        chip.mask226 = value;
    } else {
        chip.config226 = value;
        chip.restarts++;
    }
    return I2C_OK;
}

static enum i2c_status read_register(struct i2c_transfer *transfer)
{
    switch (transfer->reg) {
    case 0x00:
        return give(transfer, chip.config, 2);
    case 0x01:
        return give(transfer, chip.adc_config, 2);
    case 0x04:
        return give(transfer, chip.vshunt, 3);
    case 0x05:
        return give(transfer, chip.vbus, 3);
    case 0x06:
        return give(transfer, chip.dietemp, 2);
    case 0x0B:
        return give(transfer, chip.diag_alrt, 2);
    case 0x3E:
        return give(transfer, chip.manufacturer, 2);
    case 0x3F:
        return give(transfer, chip.device, 2);
    default:
        return refuse();
    }
}

static enum i2c_status write_register(const struct i2c_transfer *transfer)
{
    uint16_t value = (uint16_t)(transfer->data[0] << 8 | transfer->data[1]);
    if (transfer->write_count != 2)
        return refuse();
    switch (transfer->reg) {
    case 0x00:
        chip.config = value;
        return I2C_OK;
    case 0x01:
        chip.adc_config = value;
        chip.restarts++;
        return I2C_OK;
    case 0x0B:
        chip.diag_alrt = value;
        return I2C_OK;
    default:
        return refuse();
    }
}

static enum i2c_status perform(struct i2c_transfer *transfer)
{
    chip.transfers++;
    if (chip.absent || transfer->address != 0x40)
        return I2C_NO_ADDRESS;
    if (chip.nack_at_reg == transfer->reg)
        return I2C_NO_ACK;
    if (chip.ina226)
        return transfer->read_count > 0 ? read_226(transfer) : write_226(transfer);
    return transfer->read_count > 0 ? read_register(transfer) : write_register(transfer);
}

enum i2c_status chip_bus(struct i2c_transfer *transfer)
{
    enum i2c_status status = perform(transfer);
    transfer->status = (uint8_t)status;
    return status;
}
