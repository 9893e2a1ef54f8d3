/*
 * The main loop: readings to windows, commands to answers, faults to status
 * lines, all to the transmit ring.
 */
#include "app.h"
#include "../boards/board.h"
#include "app_state.h"
#include "flash.h"
#include "version.h"
#include <string.h>

#define SLOW_EVERY_MS ((uint32_t)1000)
/* Counting a boot takes 11 bytes of 3.4 ms; a store that is not ready after this long is given up. */
#define BOOT_COUNT_MS_MAX ((uint32_t)100)

struct app app;

/* Interrupts. */

void app_on_ready(uint32_t ticks, bool held)
{
    if (sampler_on_ready(&app.sampler, ticks, held))
        board_i2c_start(&app.sampler.transfer);
}

struct i2c_transfer *app_on_i2c_done(void)
{
    if (sampler_on_done(&app.sampler))
        return &app.sampler.transfer;
    board_wake();
    return 0;
}

void app_on_receive(uint8_t byte, bool damaged, uint32_t ticks)
{
    if (rxlines_byte(&app.rx, byte, damaged, ticks))
        board_wake();
}

enum next_byte app_next_byte(uint8_t *byte)
{
    struct txring *ring = &app.output.ring;
    bool some = txring_take(ring, byte);
    if (some && ring->taken != ring->published)
        return BYTE_MORE;
    board_wake(); /* lines may have waited for room */
    return some ? BYTE_LAST : BYTE_NONE;
}

/* Main loop. */

static void tell_status(enum status_code code, uint32_t detail, uint32_t ticks)
{
    struct status *status = output_new_status(&app.output);
    uint32_t seq = app.status_seq++;
    if (status)
        *status = (struct status){seq, clock64_us(&app.clock, ticks), (uint8_t)code, detail};
}

static void meet_fault(enum status_code code, uint32_t detail)
{
    struct window window;
    app.sampler.running = false;
    app.measure.lost = true;
    burst_clear(&app.burst);
    /* What is due goes its way; what only waited for a trigger is old when readings go on. */
    past_want(&app.output.past, false);
    if (app.output.past.due == 0)
        past_init(&app.output.past);
    if (window_cut(&app.windowing, &window))
        output_window(&app.output, &window);
    uint32_t ticks = board_ticks();
    if (faults_met(&app.faults, code, ticks))
        tell_status(code, detail, ticks);
}

/* Each chip in turn, until one is found; where none knows what answers, what the first read is told. */
static struct sense_search search_chips(void)
{
    struct sense_search first = {SENSE_MISSING, 0};
    for (uint8_t i = 0; i < app.chip_count; i++) {
        app.chip = app.chips[i];
        struct sense_search search = sense_start(app.chip, board_i2c_run);
        if (search.found == SENSE_OK || search.found == SENSE_MISSING || search.found == SENSE_STUCK)
            return search;
        if (i == 0)
            first = search;
    }
    return first;
}

/* `search` did not end well. */
static void meet_failure(const struct sense_search *search)
{
    if (search->found == SENSE_STUCK)
        board_i2c_recover();
    meet_fault((enum status_code)search->found, search->detail);
}

static void start_chip(void)
{
    struct sense_search search = search_chips();
    bool found = search.found == SENSE_OK;
    app.hello.sensor = found ? app.chip->name : FLASH_WORD("none");
    app.chip_found = found;
    if (found)
        sampler_start(&app.sampler, app.chip, RANGE_NARROW, board_ticks());
    else
        meet_failure(&search);
}

static void watch_sensor(void)
{
    uint32_t now = board_ticks();
    if (app.sampler.failed) {
        struct sense_search search = sense_failed(&app.sampler.transfer);
        app.sampler.failed = false;
        meet_failure(&search);
    } else if (!app.sampler.running) {
        if (faults_retry_due(&app.faults, now))
            start_chip();
    } else {
        uint8_t held = board_lock();
        uint32_t waited = now - app.sampler.ready_ticks;
        bool in_round = app.sampler.step != 0;
        /* An edge between the two readings of the clock makes the difference wrap. */
        bool late = (int32_t)waited > (int32_t)(NO_CONVERSION_MS * TICKS_PER_MS);
        if (late)
            app.sampler.running = false;
        board_unlock(held);
        if (late && in_round) {
            board_i2c_recover();
            meet_fault(STATUS_BUS_STUCK, 0);
        } else if (late) {
            meet_fault(STATUS_NO_CONVERSION, waited / TICKS_PER_MS);
        }
    }
}

/* Raw conversions, in the streams that send them. */
static void keep_raw(const struct sample *sample, uint32_t t_us, bool joined)
{
    struct past *past = &app.output.past;
    if (app.stream == STREAM_WINDOWS)
        return;
    past_add(past, t_us, sample->units, sample->flags, joined);
    past_want(past, app.stream == STREAM_RAW || burst_add(&app.burst, sample->units, past->newest.dt_us));
}

static void take_samples(void)
{
    struct sample sample;
    struct window window;
    while (sampler_take(&app.sampler, &sample)) {
        if (faults_over(&app.faults))
            tell_status(STATUS_SENSOR_OK, app.faults.count, sample.ticks);
        uint64_t t_us = clock64_us(&app.clock, sample.ticks);
        bool joined = app.windowing.joined && app.output.past.newest.t_us == (uint32_t)app.windowing.last_us;
        if (window_add(&app.windowing, &sample, t_us, &window))
            output_window(&app.output, &window);
        keep_raw(&sample, (uint32_t)t_us, joined);
        measure_add(&app.measure, sample.units);
    }
}

static void take_voltage(void)
{
    uint32_t now = board_ticks();
    if (app.sampler.slow_ready) {
        const struct slow_sample *slow = &app.sampler.slow;
        struct voltage *voltage = output_new_voltage(&app.output);
        uint32_t seq = app.voltage_seq++;
        app.sampler.slow_ready = false;
        if (voltage) {
            voltage->seq = seq;
            voltage->t_us = clock64_us(&app.clock, slow->ticks);
            voltage->bus_mV = slow->bus_mV;
            voltage->temp_mC = slow->temp_mC;
            voltage->has_temp = sense_has_temp(app.chip);
        }
    }
    if ((int32_t)(now - app.slow_ticks) >= 0) {
        app.slow_ticks = now + SLOW_EVERY_MS * TICKS_PER_MS;
        app.sampler.slow_wanted = true;
        clock64_us(&app.clock, now); /* goes on while there are no readings, too */
    }
}

static void count_boot(void)
{
    struct boots boots = boots_read(board_store_read);
    app.hello.boot = boots.count + 1;
    boots_encode(app.writer.block, app.hello.boot);
    store_writer_start(&app.writer, boots.next_at, BOOTS_BYTES);
    uint32_t begun = board_ticks();
    while (store_writer_step(&app.writer) == WRITE_BUSY && board_ticks() - begun < BOOT_COUNT_MS_MAX * TICKS_PER_MS)
        board_watchdog_feed();
    app.writer.state = WRITE_IDLE;
}

/* A boot that nobody wanted is a fault of its own, which has ended. Its detail: boots counted. */
static void tell_boot(enum board_cause cause)
{
    app.hello.cause = cause_word(cause);
    if (cause == CAUSE_BROWNOUT || cause == CAUSE_WATCHDOG)
        tell_status((enum status_code)(cause - CAUSE_BROWNOUT + STATUS_BROWNOUT), app.hello.boot, board_ticks());
}

void app_init(const struct sense_chip *const *chips, uint8_t count)
{
    memset(&app, 0, sizeof app);
    app.chips = chips;
    app.chip_count = count;
    output_init(&app.output);
    identity_load();
    app.hello.trigger_uA = TRIGGER_UA_DEFAULT;
    app.hello.proto = PROTOCOL_VERSION;
    app.hello.fw = FLASH_WORD(FIRMWARE_VERSION);
    app.hello.mcu = board_mcu();
    app.hello.stream = stream_word(STREAM_WINDOWS);
    app.hello.window_us = WINDOW_US_DEFAULT;
    window_init(&app.windowing, &app.hello.cal, WINDOW_US_DEFAULT);
    calibration_load();
    count_boot();
    tell_boot(board_reset_cause());
    start_chip();
    app.slow_ticks = board_ticks();
    app.output.hello_waits = true;
}

/* The hello, then the limits of the chip where there is one. */
static bool send_hello(void)
{
    bool more = output_hello(&app.output, &app.hello);
    if (!app.output.hello_waits && app.chip_found)
        app.output.limits_of = app.chip;
    return more;
}

bool app_step(void)
{
    board_watchdog_feed();
    take_samples();
    take_voltage();
    watch_sensor();
    take_commands();
    bool more = app.output.hello_waits ? send_hello() : output_next(&app.output, app.windowing.last_us);
    if (more)
        board_uart_kick();
    return more;
}
