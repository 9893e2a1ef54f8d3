/*
 * The sampler with the played chip: what it does after each edge, how it
 * changes the range, how it reads voltage and temperature, and that a failed
 * transfer never becomes a reading.
 */
#include "chip_model.h"
#include "core/sampler.h"
#include "drivers/ina228.h"
#include "test.h"

static struct sampler sampler;
/* Whether the chip's line is low still when its edge is met. */
static bool line_held;

/* One edge and all transfers that follow; returns how many there were. */
static unsigned edge(uint32_t ticks)
{
    unsigned before = chip.transfers;
    bool more = sampler_on_ready(&sampler, ticks, line_held);
    while (more) {
        sampler.transfer.status = (uint8_t)chip_bus(&sampler.transfer);
        more = sampler_on_done(&sampler);
    }
    return chip.transfers - before;
}

static void begin(enum sense_range range)
{
    chip_reset();
    assert_int_equal(sense_start(&ina228_chip, chip_bus).found, SENSE_OK);
    if (range == RANGE_WIDE)
        chip.config = 0x0000;
    chip.restarts = 0;
    sampler_start(&sampler, &ina228_chip, range, 0);
}

static struct sample only_sample(void)
{
    struct sample sample, none;
    assert_true(sampler_take(&sampler, &sample));
    assert_false(sampler_take(&sampler, &none));
    return sample;
}

static void reads_the_shunt_after_each_edge(void **state)
{
    (void)state;
    begin(RANGE_NARROW);
    chip_set_shunt(-1280);
    assert_int_equal(edge(2104), 1);
    struct sample sample = only_sample();
    assert_int_equal(sample.ticks, 2104);
    assert_int_equal(sample.units, -1280);
    assert_int_equal(sample.flags, 0);
    assert_int_equal(chip.restarts, 0);
    assert_int_equal(chip.refusals, 0);
}

/* Last of all, so that the reading does not wait for it. */
static void lets_a_held_line_go(void **state)
{
    (void)state;
    begin(RANGE_NARROW);
    line_held = true;
    chip_set_shunt(7);
    assert_int_equal(edge(1), 2); /* shunt, DIAG_ALRT */
    assert_int_equal(sampler.transfer.reg, 0x0B);
    assert_int_equal(only_sample().units, 7);
    sampler.slow_wanted = true;
    assert_int_equal(edge(2), 3); /* mode, shunt, DIAG_ALRT */
    only_sample();
    chip_set_shunt(460000);
    assert_int_equal(edge(3), 7); /* mode, shunt, range, restart, bus, temperature, DIAG_ALRT */
    assert_int_equal(sampler.transfer.reg, 0x0B);
    line_held = false;
    assert_int_equal(edge(4), 1);
    assert_int_equal(chip.refusals, 0);
}

static void full_ring_keeps_the_oldest(void **state)
{
    (void)state;
    struct sample sample;
    begin(RANGE_NARROW);
    for (uint32_t i = 1; i <= SAMPLER_RING + 3; i++) {
        chip_set_shunt((int32_t)i);
        edge(i);
    }
    for (uint32_t i = 1; i < SAMPLER_RING; i++) {
        assert_true(sampler_take(&sampler, &sample));
        assert_int_equal(sample.ticks, i);
    }
    assert_false(sampler_take(&sampler, &sample));
}

static void edge_within_a_round_is_left_out(void **state)
{
    (void)state;
    begin(RANGE_NARROW);
    assert_true(sampler_on_ready(&sampler, 100, false));
    assert_false(sampler_on_ready(&sampler, 200, false));
    sampler.transfer.status = (uint8_t)chip_bus(&sampler.transfer);
    assert_false(sampler_on_done(&sampler));
    assert_int_equal(only_sample().ticks, 100);
}

/* Up at 7/8 of the narrow range, in the same round; the first wide reading is marked. */
static void switches_up_at_once(void **state)
{
    (void)state;
    begin(RANGE_NARROW);
    chip_set_shunt(458751);
    assert_int_equal(edge(1), 1);
    assert_int_equal(only_sample().flags, 0);
    chip_set_shunt(458752);
    assert_int_equal(edge(2), 3); /* shunt, range, restart */
    assert_int_equal(chip.config, 0x0000);
    assert_int_equal(chip.restarts, 1);
    assert_int_equal(only_sample().flags, 0); /* it was made in the narrow range */
    chip_set_shunt(114688); /* the same voltage in the wide range: a quarter of the counts */
    assert_int_equal(edge(3), 1);
    struct sample sample = only_sample();
    assert_int_equal(sample.units, 458752);
    assert_int_equal(sample.flags, SAMPLE_WIDE | SAMPLE_SWITCHED);
    edge(4);
    assert_int_equal(only_sample().flags, SAMPLE_WIDE);
}

static void switches_up_on_negative_current_too(void **state)
{
    (void)state;
    begin(RANGE_NARROW);
    chip_set_shunt(-458752);
    edge(1);
    assert_int_equal(chip.config, 0x0000);
}

/* Down below 5/8, after eight conversions in a row; one above it begins the count again. */
static void switches_down_with_hysteresis(void **state)
{
    (void)state;
    begin(RANGE_WIDE);
    for (int round = 0; round < 3; round++) {
        chip_set_shunt(327680 / 4 - 1);
        for (int i = 0; i < 7; i++) {
            assert_int_equal(edge(1), 1);
            only_sample();
        }
        chip_set_shunt(327680 / 4);
        assert_int_equal(edge(1), 1);
        only_sample();
    }
    chip_set_shunt(-(327680 / 4 - 1));
    for (int i = 0; i < 7; i++) {
        assert_int_equal(edge(1), 1);
        only_sample();
    }
    assert_int_equal(edge(2), 3);
    assert_int_equal(chip.config, 0x0010);
    assert_int_equal(only_sample().flags, SAMPLE_WIDE);
    chip_set_shunt(5);
    edge(3);
    struct sample sample = only_sample();
    assert_int_equal(sample.units, 5);
    assert_int_equal(sample.flags, SAMPLE_SWITCHED);
}

static void clipped_reading_is_marked(void **state)
{
    (void)state;
    begin(RANGE_NARROW);
    chip_set_shunt(524287);
    edge(1);
    assert_int_equal(only_sample().flags, SAMPLE_CLIPPED);
    chip_set_shunt(-524288);
    edge(2);
    struct sample sample = only_sample();
    assert_int_equal(sample.flags, SAMPLE_CLIPPED | SAMPLE_WIDE | SAMPLE_SWITCHED);
    assert_int_equal(sample.units, -2097152);
}

/* Voltage and temperature cost two restarts, and no conversion is left out. */
static void reads_voltage_and_temperature_when_asked(void **state)
{
    (void)state;
    begin(RANGE_NARROW);
    chip_set_shunt(10);
    chip.vbus = 0;
    chip.dietemp = 0;
    sampler.slow_wanted = true;
    assert_int_equal(edge(1), 2); /* mode, shunt */
    assert_int_equal(chip.adc_config >> 12, 0xF);
    only_sample();
    assert_false(sampler.slow_ready);
    chip.vbus = 63232u << 4; /* 12.35 V = 63232 x 195.3125 uV */
    chip.dietemp = 3200;
    assert_int_equal(edge(2), 4); /* mode, shunt, bus, temperature */
    assert_int_equal(chip.adc_config >> 12, 0xA);
    assert_int_equal(only_sample().ticks, 2);
    assert_true(sampler.slow_ready);
    assert_int_equal(sampler.slow.ticks, 2);
    assert_int_equal(sampler.slow.bus_mV, 12350);
    assert_int_equal(sampler.slow.temp_mC, 25000);
    assert_int_equal(edge(3), 1);
    only_sample();
    assert_int_equal(chip.restarts, 2);
    assert_int_equal(chip.refusals, 0);
}

/* The restart after a change of range keeps the mode that is under way. */
static void range_may_change_while_voltage_is_read(void **state)
{
    (void)state;
    begin(RANGE_NARROW);
    sampler.slow_wanted = true;
    chip_set_shunt(500000);
    assert_int_equal(edge(1), 4); /* mode, shunt, range, restart */
    assert_int_equal(chip.adc_config >> 12, 0xF);
    assert_int_equal(chip.config, 0x0000);
    only_sample();
    chip_set_shunt(125000);
    assert_int_equal(edge(2), 4);
    assert_int_equal(chip.adc_config >> 12, 0xA);
    assert_true(sampler.slow_ready);
    assert_int_equal(only_sample().flags, SAMPLE_WIDE | SAMPLE_SWITCHED);
}

static void failed_transfer_is_no_reading(void **state)
{
    (void)state;
    struct sample sample;
    begin(RANGE_NARROW);
    chip_set_shunt(77);
    chip.absent = true;
    edge(1);
    assert_false(sampler_take(&sampler, &sample));
    assert_true(sampler.failed);
    assert_int_equal(sampler.transfer.status, I2C_NO_ADDRESS);
    /* Stopped until it is started again. */
    chip.absent = false;
    assert_int_equal(edge(2), 0);
    assert_false(sampler_take(&sampler, &sample));
}

/* Each register of the round in turn refuses: never half a voltage, never a wrong range. */
static void fails_cleanly_at_every_register(void **state)
{
    (void)state;
    const int registers[] = {0x01, 0x04, 0x00};
    for (size_t i = 0; i < sizeof registers / sizeof *registers; i++) {
        begin(RANGE_NARROW);
        sampler.slow_wanted = true;
        chip_set_shunt(100);
        edge(1);
        only_sample();
        chip_set_shunt(460000);
        chip.nack_at_reg = registers[i];
        edge(2);
        assert_true(sampler.failed);
        assert_int_equal(sampler.transfer.reg, registers[i]);
        assert_false(sampler.slow_ready);
        assert_int_equal(sampler.range, RANGE_NARROW);
    }
    const int slow_registers[] = {0x05, 0x06};
    for (size_t i = 0; i < 2; i++) {
        begin(RANGE_NARROW);
        sampler.slow_wanted = true;
        edge(1);
        chip.nack_at_reg = slow_registers[i];
        edge(2);
        assert_true(sampler.failed);
        assert_false(sampler.slow_ready);
    }
}

/* A new range is written before voltage and temperature are read: the sooner, the less is missed. */
static void range_goes_before_voltage(void **state)
{
    (void)state;
    begin(RANGE_NARROW);
    sampler.slow_wanted = true;
    edge(1);
    chip_set_shunt(460000);
    assert_true(sampler_on_ready(&sampler, 2, false));
    const uint8_t order[] = {0x01, 0x04, 0x00, 0x01, 0x05, 0x06};
    for (size_t i = 0; i < sizeof order; i++) {
        assert_int_equal(sampler.transfer.reg, order[i]);
        sampler.transfer.status = (uint8_t)chip_bus(&sampler.transfer);
        assert_int_equal(sampler_on_done(&sampler), i + 1 < sizeof order);
    }
    assert_true(sampler.slow_ready);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_the_shunt_after_each_edge),
        cmocka_unit_test(lets_a_held_line_go),
        cmocka_unit_test(full_ring_keeps_the_oldest),
        cmocka_unit_test(edge_within_a_round_is_left_out),
        cmocka_unit_test(switches_up_at_once),
        cmocka_unit_test(switches_up_on_negative_current_too),
        cmocka_unit_test(switches_down_with_hysteresis),
        cmocka_unit_test(clipped_reading_is_marked),
        cmocka_unit_test(reads_voltage_and_temperature_when_asked),
        cmocka_unit_test(range_may_change_while_voltage_is_read),
        cmocka_unit_test(failed_transfer_is_no_reading),
        cmocka_unit_test(fails_cleanly_at_every_register),
        cmocka_unit_test(range_goes_before_voltage),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
