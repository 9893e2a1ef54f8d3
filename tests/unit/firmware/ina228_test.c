/*
 * The INA228 driver against its data sheet (SLYS021A): the worked example (10 A
 * in 16.2 mOhm) to the last bit, the register bits of section 7.6, and a
 * played chip that refuses wrong transfers.
 */
#include "drivers/ina228.h"
#include "chip_model.h"
#include "test.h"

static struct i2c_transfer holding(uint32_t value, uint8_t bytes)
{
    struct i2c_transfer transfer = {.read_count = bytes};
    for (uint8_t i = 0; i < bytes; i++)
        transfer.data[i] = (uint8_t)(value >> (8 * (bytes - 1 - i)));
    return transfer;
}

static int32_t units_of(uint32_t raw20, enum sense_range range)
{
    struct i2c_transfer transfer = holding(raw20 << 4, 3);
    return sense_shunt(&ina228_chip, &transfer, range).units;
}

/* 311040 x 312.5 nV = 97.2 mV; in units of 78.125 nV that is 1244160. */
static void shunt_of_the_worked_example(void **state)
{
    (void)state;
    assert_int_equal(units_of(311040, RANGE_WIDE), 1244160);
    assert_int_equal((int64_t)units_of(311040, RANGE_WIDE) * 78125, 97200000000ll);
    assert_int_equal(units_of(0xB4100, RANGE_WIDE), -1244160); /* B4100h = -97.2 mV */
    assert_int_equal(units_of(311040, RANGE_NARROW), 311040);
    assert_int_equal(units_of(0xB4100, RANGE_NARROW), -311040);
}

/* The low four bits of the register are reserved and must not count. */
static void shunt_ignores_reserved_bits(void **state)
{
    (void)state;
    struct i2c_transfer transfer = holding((1u << 4) | 0xF, 3);
    assert_int_equal(sense_shunt(&ina228_chip, &transfer, RANGE_NARROW).units, 1);
    transfer = holding(0xFFFFFF, 3);
    assert_int_equal(sense_shunt(&ina228_chip, &transfer, RANGE_NARROW).units, -1);
}

static void shunt_clips_at_both_ends_only(void **state)
{
    (void)state;
    const struct { uint32_t raw; bool clipped; } cases[] = {
        {0x7FFFF, true}, {0x80000, true}, {0x7FFFE, false}, {0x80001, false}, {0, false}, {0xFFFFF, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct i2c_transfer transfer = holding(cases[i].raw << 4, 3);
        assert_int_equal(sense_shunt(&ina228_chip, &transfer, RANGE_WIDE).clipped, cases[i].clipped);
        assert_int_equal(sense_shunt(&ina228_chip, &transfer, RANGE_NARROW).clipped, cases[i].clipped);
    }
}

/* 245760 x 195.3125 uV = 48 V. */
static void bus_of_the_worked_example(void **state)
{
    (void)state;
    struct i2c_transfer transfer = holding(245760u << 4, 3);
    assert_int_equal(sense_bus_mV(&ina228_chip, &transfer), 48000);
    /* 85 V, the end of the scale, is 435200: nothing overflows on the way. */
    transfer = holding(435200u << 4, 3);
    assert_int_equal(sense_bus_mV(&ina228_chip, &transfer), 85000);
    /* 64 x 25 / 128 = 12.5 mV: half away from zero, on both sides. */
    transfer = holding(64u << 4, 3);
    assert_int_equal(sense_bus_mV(&ina228_chip, &transfer), 13);
    transfer = holding((0x100000u - 64) << 4, 3);
    assert_int_equal(sense_bus_mV(&ina228_chip, &transfer), -13);
}

/* 3200 x 7.8125 mC = 25 C. */
static void temperature_of_the_worked_example(void **state)
{
    (void)state;
    struct i2c_transfer transfer = holding(3200, 2);
    assert_int_equal(sense_temp_mC(&transfer), 25000);
    transfer = holding((uint16_t)-5120, 2); /* -40 C */
    assert_int_equal(sense_temp_mC(&transfer), -40000);
    transfer = holding(1, 2); /* 7.8125 */
    assert_int_equal(sense_temp_mC(&transfer), 8);
    transfer = holding(0xFFFF, 2);
    assert_int_equal(sense_temp_mC(&transfer), -8);
}

static void start_sets_the_chip_up(void **state)
{
    (void)state;
    chip_reset();
    struct sense_search search = sense_start(&ina228_chip, chip_bus);
    assert_int_equal(search.found, SENSE_OK);
    assert_int_equal(chip.refusals, 0);
    assert_int_equal(chip.config, 0x0010);    /* ADCRANGE alone */
    assert_int_equal(chip.diag_alrt, 0x4000); /* CNVR, not latched, active low */
    /* MODE Ah shunt continuous, VSHCT 5 = 1052 us, one conversion per result. */
    assert_int_equal(chip.adc_config >> 12, 0xA);
    assert_int_equal(chip.adc_config >> 6 & 7, 5);
    assert_int_equal(chip.adc_config & 7, 0);
    assert_int_equal(chip.restarts, 1);
}

static void modes_and_ranges(void **state)
{
    (void)state;
    chip_reset();
    struct i2c_transfer transfer;
    sense_set_mode(&ina228_chip, &transfer, MODE_ALL);
    assert_int_equal(chip_bus(&transfer), I2C_OK);
    /* MODE Fh all continuous; bus and temperature 0 = 50 us, shunt 5 = 1052 us. */
    assert_int_equal(chip.adc_config, 0xF << 12 | 0 << 9 | 5 << 6 | 0 << 3 | 0);
    sense_set_range(&ina228_chip, &transfer, RANGE_WIDE);
    assert_int_equal(chip_bus(&transfer), I2C_OK);
    assert_int_equal(chip.config, 0);
    sense_read_shunt(&ina228_chip, &transfer);
    assert_int_equal(chip_bus(&transfer), I2C_OK);
    sense_read_bus(&ina228_chip, &transfer);
    assert_int_equal(chip_bus(&transfer), I2C_OK);
    sense_read_temp(&ina228_chip, &transfer);
    assert_int_equal(chip_bus(&transfer), I2C_OK);
    assert_int_equal(chip.refusals, 0);
}

static void missing_chip_is_told(void **state)
{
    (void)state;
    chip_reset();
    chip.absent = true;
    struct sense_search search = sense_start(&ina228_chip, chip_bus);
    assert_int_equal(search.found, SENSE_MISSING);
    assert_int_equal(search.detail, I2C_NO_ADDRESS);
    assert_int_equal(chip.transfers, 1);
}

static void wrong_identity_is_told_and_nothing_written(void **state)
{
    (void)state;
    const struct { uint16_t manufacturer, device; } wrong[] = {
        {0x5449, 0x2260}, {0x5448, 0x2281}, {0, 0}, {0xFFFF, 0xFFFF}};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        chip_reset();
        chip.manufacturer = wrong[i].manufacturer;
        chip.device = wrong[i].device;
        struct sense_search search = sense_start(&ina228_chip, chip_bus);
        assert_int_equal(search.found, SENSE_UNKNOWN);
        assert_int_equal(search.detail, (uint32_t)wrong[i].manufacturer << 16 | wrong[i].device);
        assert_int_equal(chip.restarts, 0);
    }
}

/* The revision, the lowest four bits, may be any. */
static void any_revision_is_accepted(void **state)
{
    (void)state;
    chip_reset();
    chip.device = 0x228F;
    assert_int_equal(sense_start(&ina228_chip, chip_bus).found, SENSE_OK);
}

static void refused_byte_is_told_with_its_register(void **state)
{
    (void)state;
    const int registers[] = {0x3E, 0x3F, 0x0B, 0x00, 0x01};
    for (size_t i = 0; i < sizeof registers / sizeof *registers; i++) {
        chip_reset();
        chip.nack_at_reg = registers[i];
        struct sense_search search = sense_start(&ina228_chip, chip_bus);
        assert_int_equal(search.found, SENSE_NACK);
        assert_int_equal(search.detail, registers[i]);
    }
}

static enum i2c_status stuck_bus(struct i2c_transfer *transfer)
{
    transfer->status = I2C_TIMEOUT;
    return I2C_TIMEOUT;
}

static void held_bus_is_told(void **state)
{
    (void)state;
    assert_int_equal(sense_start(&ina228_chip, stuck_bus).found, SENSE_STUCK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shunt_of_the_worked_example),
        cmocka_unit_test(shunt_ignores_reserved_bits),
        cmocka_unit_test(shunt_clips_at_both_ends_only),
        cmocka_unit_test(bus_of_the_worked_example),
        cmocka_unit_test(temperature_of_the_worked_example),
        cmocka_unit_test(start_sets_the_chip_up),
        cmocka_unit_test(modes_and_ranges),
        cmocka_unit_test(missing_chip_is_told),
        cmocka_unit_test(wrong_identity_is_told_and_nothing_written),
        cmocka_unit_test(any_revision_is_accepted),
        cmocka_unit_test(refused_byte_is_told_with_its_register),
        cmocka_unit_test(held_bus_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
