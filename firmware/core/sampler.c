/*
 * The sampler's round after each conversion-ready edge, one I2C transfer per
 * step. At 400 kHz a byte takes 22.5 us and the longest round (mode, shunt,
 * range, restart, bus, temperature) about 0.9 ms: shorter than a conversion.
 * The times below were measured in an emulated microcontroller.
 *
 * Battery voltage and temperature, once a second: the mode that includes them
 * is written first thing after an edge, the next edge brings all three results,
 * and the mode goes back first thing after that. No conversion is missed; the
 * cost is two restarts (0.126 ms each, from the edge to the end of the write)
 * and 0.1 ms of other conversions, in which the current is not integrated:
 * 0.35 ms in each second, for which the next reading stands.
 *
 * A chip that holds its conversion-ready line low is read last of all, so that
 * the line goes: a chip whose line goes by itself is spared that transfer.
 *
 * A new range is written after the reading that asks for it, then the
 * conversion is restarted, so that none is made in two ranges: the next reading
 * comes 1.51 ms after the one before, marked as switched.
 */
#include "sampler.h"

enum step {
    STEP_MODE = 1, /* in the order in which they are done */
    STEP_SHUNT = 2,
    STEP_RANGE = 4,
    STEP_RESTART = 8,
    STEP_BUS = 16,
    STEP_TEMP = 32,
    STEP_READY = 64,
};

void sampler_start(struct sampler *sampler, const struct sense_chip *chip, enum sense_range range, uint32_t ticks)
{
    sampler->chip = chip;
    sampler->head = sampler->tail = 0;
    sampler->slow_ready = sampler->slow_wanted = sampler->slow_converting = false;
    sampler->failed = sampler->switched = false;
    sampler->steps = sampler->step = 0;
    sampler->mode = MODE_SHUNT;
    sampler->range = range;
    sampler->ranging.range = range;
    sampler->ranging.low_count = 0;
    sampler->ready_ticks = ticks;
    sampler->running = true;
}

static void describe(struct sampler *sampler)
{
    const struct sense_chip *chip = sampler->chip;
    struct i2c_transfer *transfer = &sampler->transfer;
    switch (sampler->step) {
    case STEP_SHUNT:
        sense_read_shunt(chip, transfer);
        break;
    case STEP_BUS:
        sense_read_bus(chip, transfer);
        break;
    case STEP_TEMP:
        sense_read_temp(chip, transfer);
        break;
    case STEP_RANGE:
        sense_set_range(chip, transfer, sampler->ranging.range);
        break;
    case STEP_READY:
        sense_read_ready(chip, transfer);
        break;
    default: /* STEP_MODE, STEP_RESTART */
        sense_set_mode(chip, transfer, sampler->mode);
        break;
    }
}

/* Takes the next step of the round; false at its end. */
static bool next_step(struct sampler *sampler)
{
    sampler->step = sampler->steps & (uint8_t)-sampler->steps;
    sampler->steps ^= sampler->step;
    if (sampler->step == 0)
        return false;
    describe(sampler);
    return true;
}

bool sampler_on_ready(struct sampler *sampler, uint32_t ticks, bool held)
{
    /* A round still under way: that conversion is lost, and the time to the next one tells so. */
    if (!sampler->running || sampler->step != 0)
        return false;
    sampler->ready_ticks = ticks;
    sampler->steps = held ? STEP_SHUNT | STEP_READY : STEP_SHUNT;
    if (sampler->slow_converting) {
        sampler->slow_converting = false;
        sampler->mode = MODE_SHUNT;
        sampler->steps |= sense_has_temp(sampler->chip) ? STEP_MODE | STEP_BUS | STEP_TEMP : STEP_MODE | STEP_BUS;
    } else if (sampler->slow_wanted) {
        sampler->slow_wanted = false;
        sampler->slow_converting = true;
        sampler->mode = MODE_ALL;
        sampler->steps |= STEP_MODE;
    }
    return next_step(sampler);
}

static void keep_shunt(struct sampler *sampler)
{
    struct sense_shunt shunt = sense_shunt(sampler->chip, &sampler->transfer, sampler->range);
    uint8_t head = sampler->head;
    uint8_t next = (head + 1) & (SAMPLER_RING - 1);
    if (next != sampler->tail) {
        uint8_t flags = (uint8_t)((shunt.clipped ? SAMPLE_CLIPPED : 0) |
                                  (sampler->range == RANGE_WIDE ? SAMPLE_WIDE : 0) |
                                  (sampler->switched ? SAMPLE_SWITCHED : 0));
        sampler->ring[head] = (struct sample){sampler->ready_ticks, shunt.units, flags};
        sampler->head = next;
        sampler->switched = false;
    }
    if (!sense_one_range(sampler->chip) && ranging_next(&sampler->ranging, shunt.units) != sampler->range)
        sampler->steps |= STEP_RANGE | STEP_RESTART;
}

bool sampler_on_done(struct sampler *sampler)
{
    struct i2c_transfer *transfer = &sampler->transfer;
    if (transfer->status != I2C_OK) {
        sampler->running = false;
        sampler->failed = true;
        sampler->step = 0;
        return false;
    }
    switch (sampler->step) {
    case STEP_SHUNT:
        keep_shunt(sampler);
        break;
    case STEP_BUS:
        sampler->slow.ticks = sampler->ready_ticks;
        sampler->slow.bus_mV = sense_bus_mV(sampler->chip, transfer);
        sampler->slow_ready = !sense_has_temp(sampler->chip);
        break;
    case STEP_TEMP:
        sampler->slow.temp_mC = sense_temp_mC(transfer);
        sampler->slow_ready = true;
        break;
    case STEP_RANGE:
        sampler->range = sampler->ranging.range;
        sampler->switched = true;
        break;
    default:
        break;
    }
    return next_step(sampler);
}

bool sampler_take(struct sampler *sampler, struct sample *sample)
{
    uint8_t tail = sampler->tail;
    if (tail == sampler->head)
        return false;
    *sample = sampler->ring[tail];
    sampler->tail = (tail + 1) & (SAMPLER_RING - 1);
    return true;
}
