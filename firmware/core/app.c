/*
 * The main loop: readings to windows, commands to answers, faults to status
 * lines, all to the transmit ring.
 */
#include "app.h"
#include "../boards/board.h"
#include "blocks.h"
#include "clock64.h"
#include "command.h"
#include "faults.h"
#include "flash.h"
#include "output.h"
#include "rxlines.h"
#include "sampler.h"
#include "store_writer.h"
#include "version.h"
#include "window.h"
#include <string.h>

#define SLOW_EVERY_MS ((uint32_t)1000)
/* Counting a boot takes 11 bytes of 3.4 ms; a store that is not ready after this long is given up. */
#define BOOT_COUNT_MS_MAX ((uint32_t)100)

static struct {
    const struct sense_chip *chip;
    struct output output;
    struct sampler sampler;
    struct rxlines rx;
    struct windowing windowing;
    struct faults faults;
    struct store_writer writer;
    struct clock64 clock;
    struct identity identity;
    struct calibration cal;
    uint32_t boot;
    uint32_t slow_ticks; /* when voltage and temperature are due */
    uint32_t voltage_seq;
    uint32_t status_seq;
    uint16_t store_tag; /* the command that waits for the writer */
    bool sensor_found;
} app;

/* Interrupts. */

void app_on_ready(uint32_t ticks)
{
    if (sampler_on_ready(&app.sampler, ticks))
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

static const char *cause_word(enum board_cause cause)
{
    switch (cause) {
    case CAUSE_POWER:
        return FLASH_WORD("power");
    case CAUSE_PIN:
        return FLASH_WORD("pin");
    case CAUSE_BROWNOUT:
        return FLASH_WORD("brownout");
    case CAUSE_WATCHDOG:
        return FLASH_WORD("watchdog");
    default:
        return FLASH_WORD("unknown");
    }
}

static struct hello hello_now(void)
{
    return (struct hello){
        .fw = FLASH_WORD(FIRMWARE_VERSION),
        .mcu = board_mcu(),
        .sensor = app.sensor_found ? app.chip->name : FLASH_WORD("none"),
        .cause = cause_word(board_reset_cause()),
        .stream = FLASH_WORD("windows"),
        .identity = &app.identity,
        .cal = &app.cal,
        .boot = app.boot,
        .window_us = app.windowing.window_us,
    };
}

static void tell_status(enum status_code code, uint32_t detail, uint32_t ticks)
{
    struct status status = {clock64_us(&app.clock, ticks), app.status_seq++, detail, code};
    output_status(&app.output, &status);
}

static void meet_fault(enum status_code code, uint32_t detail)
{
    struct window window;
    app.sampler.running = false;
    if (window_cut(&app.windowing, &window))
        output_window(&app.output, &window);
    uint32_t ticks = board_ticks();
    if (faults_met(&app.faults, code, ticks))
        tell_status(code, detail, ticks);
}

static void start_chip(void)
{
    struct sense_search search = app.chip->start(board_i2c_run, RANGE_NARROW);
    app.sensor_found = search.found == SENSE_OK;
    switch (search.found) {
    case SENSE_OK:
        sampler_start(&app.sampler, app.chip, RANGE_NARROW, board_ticks());
        break;
    case SENSE_MISSING:
        meet_fault(STATUS_SENSOR_MISSING, search.detail);
        break;
    case SENSE_UNKNOWN:
        meet_fault(STATUS_SENSOR_ID, search.detail);
        break;
    case SENSE_NACK:
        meet_fault(STATUS_BUS_NACK, search.detail);
        break;
    case SENSE_STUCK:
        board_i2c_recover();
        meet_fault(STATUS_BUS_STUCK, search.detail);
        break;
    }
}

/* A transfer of the sampler has failed. */
static void meet_failed_transfer(void)
{
    struct i2c_transfer *transfer = &app.sampler.transfer;
    app.sampler.failed = false;
    if (transfer->status == I2C_NO_ADDRESS) {
        meet_fault(STATUS_SENSOR_MISSING, transfer->status);
    } else if (transfer->status == I2C_NO_ACK) {
        meet_fault(STATUS_BUS_NACK, transfer->reg);
    } else {
        board_i2c_recover();
        meet_fault(STATUS_BUS_STUCK, 0);
    }
}

static void watch_sensor(void)
{
    uint32_t now = board_ticks();
    if (app.sampler.failed) {
        meet_failed_transfer();
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

static void take_samples(void)
{
    struct sample sample;
    struct window window;
    while (sampler_take(&app.sampler, &sample)) {
        if (faults_over(&app.faults))
            tell_status(STATUS_SENSOR_OK, app.faults.count, sample.ticks);
        if (window_add(&app.windowing, &sample, clock64_us(&app.clock, sample.ticks), &window))
            output_window(&app.output, &window);
    }
}

static void take_voltage(void)
{
    uint32_t now = board_ticks();
    if (app.sampler.slow_ready) {
        const struct slow_sample *slow = &app.sampler.slow;
        struct voltage voltage = {clock64_us(&app.clock, slow->ticks), app.voltage_seq++, slow->bus_mV, slow->temp_mC};
        app.sampler.slow_ready = false;
        output_voltage(&app.output, &voltage);
    }
    if ((int32_t)(now - app.slow_ticks) >= 0) {
        app.slow_ticks = now + SLOW_EVERY_MS * TICKS_PER_MS;
        app.sampler.slow_wanted = true;
        clock64_us(&app.clock, now); /* goes on while there are no readings, too */
    }
}

static void answer_error(uint16_t tag, enum reason reason)
{
    struct answer answer = {.tag = tag, .kind = ANSWER_ERROR, .reason = reason};
    output_answer(&app.output, &answer);
}

static void store_identity(const struct command *command)
{
    if (command->value == 0 || app.identity.id != 0) {
        answer_error(command->tag, REASON_RANGE);
        return;
    }
    struct identity identity = {command->value, app.identity.speed};
    identity_encode(app.writer.block, &identity);
    store_writer_start(&app.writer, IDENTITY_AT, IDENTITY_BYTES);
    app.store_tag = command->tag;
}

static void obey(const struct command *command, uint32_t ticks)
{
    struct answer answer = {.tag = command->tag, .kind = ANSWER_PLAIN};
    switch (command->type) {
    case 'i':
        store_identity(command);
        return;
    case 'p':
        answer.kind = ANSWER_TIME;
        answer.t_us = clock64_us(&app.clock, ticks);
        break;
    default: /* 'h' */
        app.output.hello_waits = true;
        break;
    }
    output_answer(&app.output, &answer);
}

/* One command at a time: the next is read when the answer of the one before is in the ring. */
static void take_command(void)
{
    uint8_t bytes[COMMAND_BYTES_MAX];
    struct rx_mark mark;
    struct command command;
    if (rxlines_take(&app.rx, bytes, &mark)) {
        enum reason reason = mark.state == RX_LONG ? REASON_LONG : REASON_BUSY;
        command.tag = 0;
        if (mark.state == RX_WHOLE)
            reason = command_parse(bytes, mark.length, &command);
        if (reason == REASON_NONE)
            obey(&command, mark.ticks);
        else
            answer_error(command.tag, reason);
    } else if (app.rx.unmarked > 0) {
        uint8_t held = board_lock();
        app.rx.unmarked--;
        board_unlock(held);
        answer_error(0, REASON_BUSY);
    }
}

static void take_commands(void)
{
    if (app.output.answer_waits)
        return;
    enum write_state state = store_writer_step(&app.writer);
    if (state == WRITE_BUSY)
        return;
    if (state == WRITE_IDLE) {
        take_command();
        return;
    }
    /* What the store holds now is what counts, whether or not the write went well. */
    app.identity = identity_read(board_store_read);
    struct answer answer = {.tag = app.store_tag, .kind = ANSWER_ID, .id = app.identity.id};
    if (state == WRITE_FAILED)
        answer_error(app.store_tag, REASON_STORE);
    else
        output_answer(&app.output, &answer);
}

static void count_boot(void)
{
    struct boots boots = boots_read(board_store_read);
    app.boot = boots.count + 1;
    boots_encode(app.writer.block, app.boot);
    store_writer_start(&app.writer, boots.next_at, BOOTS_BYTES);
    uint32_t begun = board_ticks();
    while (store_writer_step(&app.writer) == WRITE_BUSY && board_ticks() - begun < BOOT_COUNT_MS_MAX * TICKS_PER_MS)
        board_watchdog_feed();
    app.writer.state = WRITE_IDLE;
}

void app_init(const struct sense_chip *chip)
{
    memset(&app, 0, sizeof app);
    app.chip = chip;
    app.identity = identity_read(board_store_read);
    app.cal = calibration_read(board_store_read);
    window_init(&app.windowing, &app.cal, WINDOW_US_DEFAULT);
    count_boot();
    start_chip();
    app.slow_ticks = board_ticks();
    app.output.hello_waits = true;
}

bool app_step(void)
{
    board_watchdog_feed();
    take_samples();
    take_voltage();
    watch_sensor();
    take_commands();
    if (!output_waits(&app.output))
        return false;
    struct hello hello = hello_now();
    bool more = output_next(&app.output, &hello);
    if (more)
        board_uart_kick();
    return more;
}
