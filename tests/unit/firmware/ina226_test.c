/*
 * The INA226's table against its data sheet (SBOS547, June 2011): the worked
 * example ("Configure/Measure/Calculate Example", table 1: 10 A in 2 mOhm) and
 * the negative shunt voltage of the register's description, to the last bit.
 */
#include "drivers/ina226.h"
#include "chip_model.h"
#include "drivers/ina228.h"
#include "test.h"

static struct i2c_transfer holding(uint16_t value)
{
    return (struct i2c_transfer){.read_count = 2, .data = {(uint8_t)(value >> 8), (uint8_t)value}};
}

static struct sense_shunt shunt_of(uint16_t raw)
{
    struct i2c_transfer transfer = holding(raw);
    return sense_shunt(&ina226_chip, &transfer, RANGE_NARROW);
}

static void shunt_of_the_worked_example(void **state)
{
    (void)state;
    /* 1F40h = 8000 x 2.5 uV = 20 mV; in units of 78.125 nV that is 256000. */
    assert_int_equal(shunt_of(0x1F40).units, 256000);
    assert_int_equal((int64_t)shunt_of(0x1F40).units * 78125, 20000000000ll);
    /* 8300h = -32000 x 2.5 uV = -80 mV. */
    assert_int_equal((int64_t)shunt_of(0x8300).units * 78125, -80000000000ll);
    assert_int_equal(shunt_of(0x0001).units, 32);
    assert_int_equal(shunt_of(0xFFFF).units, -32);
}

static void shunt_clips_at_both_ends_only(void **state)
{
    (void)state;
    assert_true(shunt_of(0x7FFF).clipped);
    assert_true(shunt_of(0x8000).clipped);
    assert_false(shunt_of(0x7FFE).clipped);
    assert_false(shunt_of(0x8001).clipped);
    assert_false(shunt_of(0xFFFF).clipped);
}

static void bus_of_the_worked_example(void **state)
{
    (void)state;
    struct i2c_transfer transfer = holding(0x2570); /* 9584 x 1.25 mV = 11.98 V */
    assert_int_equal(sense_bus_mV(&ina226_chip, &transfer), 11980);
    transfer = holding(0x7FFF); /* 40.95875 V */
    assert_int_equal(sense_bus_mV(&ina226_chip, &transfer), 40959);
}

static void start_sets_the_chip_up(void **state)
{
    (void)state;
    chip_reset_226();
    assert_int_equal(sense_start(&ina226_chip, chip_bus).found, SENSE_OK);
    assert_int_equal(chip.refusals, 0);
    assert_int_equal(chip.mask226, 0x0400);          /* CNVR, bit 10 */
    assert_int_equal(chip.config226 & 7, 5);         /* shunt, continuous */
    assert_int_equal(chip.config226 >> 3 & 7, 4);    /* 1.1 ms */
    assert_int_equal(chip.config226 >> 9 & 7, 0);    /* one conversion per result */
    assert_int_equal(chip.restarts, 1);
    struct i2c_transfer transfer;
    sense_set_mode(&ina226_chip, &transfer, MODE_ALL);
    assert_int_equal(chip_bus(&transfer), I2C_OK);
    assert_int_equal(chip.config226, 0x4000 | 0 << 6 | 4 << 3 | 7);
}

static void each_table_knows_its_own_chip(void **state)
{
    (void)state;
    chip_reset_226();
    assert_int_equal(sense_start(&ina228_chip, chip_bus).found, SENSE_UNKNOWN);
    assert_int_equal(chip.restarts, 0);
    chip.device = 0x2270; /* another part */
    struct sense_search search = sense_start(&ina226_chip, chip_bus);
    assert_int_equal(search.found, SENSE_UNKNOWN);
    assert_int_equal(search.detail, 0x54492270);
    chip.device = 0x226F; /* another revision */
    assert_int_equal(sense_start(&ina226_chip, chip_bus).found, SENSE_OK);
    assert_true(sense_one_range(&ina226_chip) && !sense_has_temp(&ina226_chip));
    assert_true(!sense_one_range(&ina228_chip) && sense_has_temp(&ina228_chip));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shunt_of_the_worked_example),
        cmocka_unit_test(shunt_clips_at_both_ends_only),
        cmocka_unit_test(bus_of_the_worked_example),
        cmocka_unit_test(start_sets_the_chip_up),
        cmocka_unit_test(each_table_knows_its_own_chip),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
