/*
 * Commands to answers: PROTOCOL.md, "Lines from the host".
 */
#include "../boards/board.h"
#include "app_state.h"
#include <string.h>

/* The light changes 16 times: two seconds of blinking. */
#define BLINKS 16
#define BLINK_TICKS (125 * TICKS_PER_MS)

/* `answer_waits` is false here: see take_commands(). */
static void answer(uint16_t tag, enum answer_kind kind)
{
    app.output.answer.tag = tag;
    app.output.answer.kind = kind;
    app.output.answer_waits = true;
}

static void answer_error(uint16_t tag, enum reason reason)
{
    app.output.answer.reason = reason;
    answer(tag, ANSWER_ERROR);
}

static void answer_u32(uint16_t tag, enum answer_kind kind, uint32_t value)
{
    app.output.answer.value = value;
    answer(tag, kind);
}

void split_window(void)
{
    struct window window;
    if (window_split(&app.windowing, &window))
        output_window(&app.output, &window);
}

/*
 * The calibration in use has changed. What was read before was read with the
 * one before: the caller has split the window.
 */
static void use_calibration(enum cal_state state)
{
    scale_prepare(&app.hello.cal);
    app.windowing.charge.left = 0; /* less than 1 nC */
    app.burst.distance = burst_distance(&app.hello.cal, app.hello.trigger_uA);
    app.hello.cal_state = cal_word(state);
}

void identity_load(void)
{
    struct identity identity = identity_read(board_store_read);
    app.hello.id = identity.id;
    app.hello.speed = identity.speed;
}

/* Not inlined, so that what it needs of the stack is free again before anything else is done. */
static __attribute__((noinline)) enum cal_state read_calibration(void)
{
    struct kept_calibration kept = calibration_read(board_store_read);
    app.hello.cal_gen = kept.generation;
    app.hello.cal = kept.cal;
    return kept.kept ? CAL_STORED : CAL_NONE;
}

void calibration_load(void)
{
    split_window();
    use_calibration(read_calibration());
}

static void set_stream(uint8_t stream)
{
    app.stream = stream;
    app.hello.stream = stream_word((enum stream)stream);
    past_init(&app.output.past);
    burst_clear(&app.burst);
}

static __attribute__((noinline)) void store_calibration(const struct command *command)
{
    struct kept_calibration kept = calibration_read(board_store_read);
    calibration_encode(app.writer.block, command->type == 'k' ? &app.hello.cal : 0, kept.generation + 1);
    store_writer_start(&app.writer, kept.next_at, CALIBRATION_BYTES);
}

static void store(const struct command *command)
{
    if (command->type == 'i') {
        struct identity identity = {command->value, (uint16_t)app.hello.speed};
        identity_encode(app.writer.block, &identity);
        store_writer_start(&app.writer, IDENTITY_AT, IDENTITY_BYTES);
    } else if (command->type == 'n') {
        memcpy(app.writer.block, &command->value, NOTE_BYTES);
        store_writer_start(&app.writer, (uint16_t)(NOTES_AT + NOTE_BYTES * (uint8_t)(command->value >> 24)), NOTE_BYTES);
    } else {
        store_calibration(command);
    }
    app.storing = command->type;
    app.store_tag = command->tag;
}

static void replay(const struct command *command)
{
    uint32_t first;
    uint16_t count = output_replay(&app.output, command->value, &first);
    answer_u32(command->tag, ANSWER_REPLAY, first);
    app.output.answer.count = count;
}

static void read_note(uint8_t from)
{
    uint32_t four;
    for (uint8_t i = 0; i < sizeof four; i++)
        ((uint8_t *)&four)[i] = board_store_read((uint16_t)(NOTES_AT + from + i));
    answer_u32(app.output.answer.tag, ANSWER_VALUE, four);
}

/* The reason why a well-formed command cannot be done now. */
static enum reason refusal(const struct command *command)
{
    if (command->type == 'i' && app.hello.id != 0)
        return REASON_RANGE;
    if (command->type == 'z' || command->type == 'g') {
        if (app.measure.tag != 0)
            return REASON_BUSY;
        if (!app.sampler.running)
            return REASON_SENSOR;
    }
    return REASON_NONE;
}

/* Answered later: by the writer or by the measurement. */
static bool begin_long(const struct command *command)
{
    switch (command->type) {
    case 'i':
    case 'n':
    case 'k':
    case 'f':
        store(command);
        return true;
    case 'z': /* has no value: 0 */
    case 'g':
        measure_start(&app.measure, command->tag, (int32_t)command->value);
        return true;
    default:
        return false;
    }
}

static void obey(const struct command *command, uint32_t ticks)
{
    if (begin_long(command))
        return;
    answer(command->tag, ANSWER_PLAIN);
    switch (command->type) {
    case 'p':
        app.output.answer.value = clock64_us(&app.clock, ticks);
        answer(command->tag, ANSWER_VALUE);
        break;
    case 'r':
        replay(command);
        break;
    case 'q':
        read_note((uint8_t)command->value);
        break;
    case 's':
        set_stream((uint8_t)command->value);
        break;
    case 'w':
        app.hello.window_us = command->value;
        window_set_length(&app.windowing, command->value);
        break;
    case 't':
        app.hello.trigger_uA = command->value;
        app.burst.distance = burst_distance(&app.hello.cal, app.hello.trigger_uA);
        break;
    case 'u':
        split_window();
        app.hello.cal.shunt_nOhm = command->value;
        use_calibration(CAL_CHANGED);
        break;
    case 'b':
        app.blinks = BLINKS;
        app.blink_ticks = board_ticks();
        break;
    default: /* 'h' */
        app.output.hello_waits = true;
        break;
    }
}

/*
 * One command at a time: the next is read when the answer of the one before is in the ring. False where
 * there is none to obey. Not inlined: see read_calibration().
 */
static __attribute__((noinline)) bool read_command(struct command *command, uint32_t *ticks)
{
    uint8_t bytes[COMMAND_BYTES_MAX];
    struct rx_mark mark;
    enum reason reason = REASON_BUSY;
    command->tag = 0;
    if (rxlines_take(&app.rx, bytes, &mark)) {
        *ticks = mark.ticks;
        if (mark.state == RX_LONG)
            reason = REASON_LONG;
        else if (mark.state == RX_WHOLE)
            reason = command_parse(bytes, mark.length, command);
        if (reason == REASON_NONE)
            reason = refusal(command);
        if (reason == REASON_NONE)
            return true;
    } else if (app.rx.unmarked > 0) {
        uint8_t held = board_lock();
        app.rx.unmarked--;
        board_unlock(held);
    } else {
        return false;
    }
    answer_error(command->tag, reason);
    return false;
}

/* What the store holds now is what counts, whether or not the write went well. */
static void end_store(bool failed)
{
    if (failed) {
        answer_error(app.store_tag, REASON_STORE);
    } else {
        /* A note changes nothing that is in use; the board's number is as good an answer as any. */
        bool numbered = app.storing == 'i' || app.storing == 'n';
        if (numbered)
            identity_load();
        else
            calibration_load();
        answer_u32(app.store_tag, ANSWER_VALUE, numbered ? app.hello.id : app.hello.cal_gen);
    }
}

static void end_measure(void)
{
    int32_t found;
    split_window();
    if (measure_end(&app.measure, &app.hello.cal, &found)) {
        use_calibration(CAL_CHANGED);
        answer_u32(app.measure.tag, ANSWER_SIGNED, (uint32_t)found);
    } else {
        answer_error(app.measure.tag, REASON_RANGE);
    }
    app.measure.tag = 0;
}

static void blink(void)
{
    if (app.blinks == 0 || (int32_t)(board_ticks() - app.blink_ticks) < 0)
        return;
    app.blinks--;
    app.blink_ticks += BLINK_TICKS;
    board_light(app.blinks & 1);
}

void take_commands(void)
{
    blink();
    if (app.output.answer_waits)
        return;
    if (app.measure.tag != 0 && app.measure.lost) {
        answer_error(app.measure.tag, REASON_SENSOR);
        app.measure.tag = 0;
        return;
    }
    if (app.measure.tag != 0 && app.measure.count == MEASURE_COUNT) {
        end_measure();
        return;
    }
    enum write_state state = store_writer_step(&app.writer);
    struct command command;
    uint32_t ticks;
    if (state == WRITE_IDLE) {
        if (read_command(&command, &ticks))
            obey(&command, ticks);
    } else if (state != WRITE_BUSY) {
        end_store(state == WRITE_FAILED);
    }
}
