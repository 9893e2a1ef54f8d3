/*
 * The harness's INA228: see ina228.h.
 */
#include "ina228.h"
#include <math.h>
#include <string.h>

#define SHUNT_OHM 0.005
#define BUS_V 12.6
#define TEMP_C 21.0

static const double conversion_us[] = {50, 84, 150, 280, 540, 1052, 2074, 4120};

void ina228_power_on(struct ina228 *chip, double now_s)
{
    chip->config = 0;
    chip->adc_config = 0xFB68;
    chip->diag_alrt = 0x0001;
    chip->start_s = now_s;
}

static double shunt_s(const struct ina228 *chip)
{
    return chip->adc_config & 0x2000 ? conversion_us[chip->adc_config >> 6 & 7] * 1e-6 : 0;
}

double ina228_round_s(const struct ina228 *chip)
{
    double sum_s = shunt_s(chip);
    if (chip->adc_config & 0x1000)
        sum_s += conversion_us[chip->adc_config >> 9 & 7] * 1e-6;
    if (chip->adc_config & 0x4000)
        sum_s += conversion_us[chip->adc_config >> 3 & 7] * 1e-6;
    return sum_s;
}

static int32_t clip20(double steps)
{
    return (int32_t)fmax(-524288, fmin(524287, steps));
}

bool ina228_end_round(struct ina228 *chip, double now_s)
{
    double length_s = shunt_s(chip);
    if (length_s > 0) {
        double mean_A = (chip->charge_mC(chip->start_s + length_s) - chip->charge_mC(chip->start_s)) / length_s / 1000;
        double step_V = chip->config & 0x0010 ? 78.125e-9 : 312.5e-9;
        chip->vshunt = clip20(floor(mean_A * SHUNT_OHM / step_V + 0.5));
    }
    if (chip->adc_config & 0x1000)
        chip->vbus = clip20(floor(BUS_V / 195.3125e-6 + 0.5));
    if (chip->adc_config & 0x4000)
        chip->dietemp = (int32_t)floor(TEMP_C / 7.8125e-3 + 0.5);
    chip->start_s = now_s;
    return chip->diag_alrt & 0x4000;
}

static void put(struct ina228 *chip, uint32_t value, int bytes)
{
    for (int i = 0; i < bytes; i++)
        chip->reply[i] = (uint8_t)(value >> (8 * (bytes - 1 - i)));
}

bool ina228_begin(struct ina228 *chip, bool reading)
{
    chip->written_count = chip->reply_at = 0;
    if (!reading)
        return false;
    memset(chip->reply, 0xFF, sizeof chip->reply);
    switch (chip->pointer) {
    case 0x00: put(chip, chip->config, 2); break;
    case 0x01: put(chip, chip->adc_config, 2); break;
    case 0x04: put(chip, (uint32_t)chip->vshunt << 4, 3); break;
    case 0x05: put(chip, (uint32_t)chip->vbus << 4, 3); break;
    case 0x06: put(chip, (uint32_t)chip->dietemp, 2); break;
    case 0x0B: put(chip, chip->diag_alrt, 2); break;
    case 0x3E: put(chip, 0x5449, 2); break;
    case 0x3F: put(chip, 0x2281, 2); break;
    default: break;
    }
    return chip->pointer == 0x0B;
}

bool ina228_write(struct ina228 *chip, uint8_t byte, double now_s)
{
    if (chip->written_count == 0)
        chip->pointer = byte;
    if (chip->written_count < 3)
        chip->written[chip->written_count++] = byte;
    if (chip->written_count != 3)
        return false;
    chip->written_count = 4;
    uint16_t value = (uint16_t)(chip->written[1] << 8 | chip->written[2]);
    if (chip->pointer == 0x0B)
        chip->diag_alrt = value;
    if (chip->pointer > 0x01)
        return false;
    if (chip->pointer == 0x00)
        chip->config = value;
    else
        chip->adc_config = value;
    chip->start_s = now_s;
    return true;
}

uint8_t ina228_read(struct ina228 *chip)
{
    return chip->reply_at < 3 ? chip->reply[chip->reply_at++] : 0xFF;
}
