/*
 * The line formatter and the command parser against the vectors that the
 * host's parser is tested with too, and against the limits of PROTOCOL.md.
 */
#include "core/command.h"
#include "core/crc32.h"
#include "core/line.h"
#include "core/records.h"
#include "ring_text.h"
#include "test.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *folder = ".";

#define FIELDS_MAX 17
struct vector {
    char type;
    int fields;
    char key[FIELDS_MAX][16];
    char value[FIELDS_MAX][128];
    char wire[LINE_BYTES_MAX + 1];
};

static const char *text_of(const struct vector *v, const char *key)
{
    for (int i = 0; i < v->fields; i++)
        if (strcmp(v->key[i], key) == 0)
            return v->value[i];
    fail_msg("vector '%s' has no field %s", v->wire, key);
    return "";
}

static int64_t number_of(const struct vector *v, const char *key)
{
    return strtoll(text_of(v, key), NULL, 10);
}

static uint32_t u32_of(const struct vector *v, const char *key)
{
    return (uint32_t)number_of(v, key);
}

static int32_t s32_of(const struct vector *v, const char *key)
{
    return (int32_t)number_of(v, key);
}

/* The index of `word` among what `name` gives for 0, 1, 2 ... */
static int index_of(const char *word, const char *const *words, int count)
{
    for (int i = 0; i < count; i++)
        if (strcmp(words[i], word) == 0)
            return i;
    fail_msg("unknown word %s", word);
    return 0;
}

static void write_hello(struct txring *ring, const struct hello *hello, char *text)
{
    struct line line;
    uint8_t part = 0;
    unsigned count = 0;
    bool end;
    do {
        uint8_t before = txring_room(ring);
        end = record_hello_part(ring, hello, &line, &part);
        assert_true(before - txring_room(ring) <= HELLO_PART_BYTES_MAX);
        count += ring_text(ring, text + count, LINE_BYTES_MAX + 1 - count);
    } while (!end);
}

static void format_hello(const struct vector *v, char *text)
{
    struct txring ring = {.taken = 0};
    struct hello hello = {
        .proto = u32_of(v, "proto"), .fw = text_of(v, "fw"), .mcu = text_of(v, "mcu"), .sensor = text_of(v, "sensor"),
        .id = u32_of(v, "id"), .speed = u32_of(v, "speed"),
        .cal = {u32_of(v, "shunt_nOhm"), s32_of(v, "gain_ppm"), s32_of(v, "offset_nV"), 0},
        .boot = u32_of(v, "boot"), .window_us = u32_of(v, "window_us"),
        .trigger_uA = u32_of(v, "trigger_uA"), .cal_gen = u32_of(v, "cal_gen"),
        .cause = text_of(v, "cause"), .stream = text_of(v, "stream"), .cal_state = text_of(v, "cal")};
    write_hello(&ring, &hello, text);
}

static void format_limits(struct txring *ring, const struct vector *v)
{
    struct sense_chip chip = {
        .limits = {u32_of(v, "range_uV"), u32_of(v, "step_pV"), u32_of(v, "offset_nV"), u32_of(v, "gain_ppm"), u32_of(v, "conv_us")},
        .temp_reg = strcmp(text_of(v, "temp"), "yes") == 0};
    assert_true(record_limits(ring, &chip));
}

/* "samples=t,units,flags/dt,units,flags/...": the first with its whole time. */
static void format_raw(struct txring *ring, const struct vector *v)
{
    struct past past;
    past_init(&past);
    uint64_t t_us = (uint64_t)number_of(v, "t_us");
    past_want(&past, true);
    past.newest.t_us = past.before.t_us = (uint32_t)t_us - 1052;
    bool first = true;
    unsigned dt, flags;
    int units, read;
    for (const char *at = text_of(v, "samples"); sscanf(at, "%u,%d,%u%n", &dt, &units, &flags, &read) == 3;) {
        t_us += dt;
        if (first)
            past_add(&past, (uint32_t)t_us, units, (uint8_t)(flags & 7), !(flags & RAW_BROKEN));
        else
            past_add(&past, (uint32_t)t_us, units, (uint8_t)flags, true);
        if (first && !(flags & RAW_BROKEN))
            past.broken = false;
        first = false;
        at += read;
        at += *at == '/';
    }
    assert_true(record_raw(ring, &past, u32_of(v, "seq"), t_us + 1000));
}

static void format_window(struct txring *ring, const struct vector *v)
{
    struct window window = {
        .t_us = (uint64_t)number_of(v, "t_us"), .charge_nC = number_of(v, "charge_nC"),
        .seq = u32_of(v, "seq"), .dur_us = u32_of(v, "dur_us"), .mean_uA = s32_of(v, "mean_uA"),
        .min_uA = s32_of(v, "min_uA"), .max_uA = s32_of(v, "max_uA"),
        .count = u32_of(v, "count"), .flags = (uint8_t)number_of(v, "flags")};
    assert_true(record_window(ring, &window));
}

static void format_voltage(struct txring *ring, const struct vector *v)
{
    struct voltage voltage = {
        .seq = u32_of(v, "seq"), .t_us = (uint64_t)number_of(v, "t_us"), .bus_mV = s32_of(v, "bus_mV"),
        .dropped = u32_of(v, "dropped"), .has_temp = strcmp(text_of(v, "temp_mC"), "none") != 0};
    if (voltage.has_temp)
        voltage.temp_mC = s32_of(v, "temp_mC");
    assert_true(record_voltage(ring, &voltage));
}

static void format_status(struct txring *ring, const struct vector *v)
{
    /* In the order of enum status_code. */
    static const char *const codes[] = {"sensor-missing", "sensor-id", "bus-nack", "bus-stuck", "no-conversion", "sensor-ok", "brownout", "watchdog"};
    struct status status = {u32_of(v, "seq"), (uint64_t)number_of(v, "t_us"),
                            (uint8_t)index_of(text_of(v, "code"), codes, 8), u32_of(v, "detail")};
    assert_true(record_status(ring, &status));
}

static void format_answer(struct txring *ring, const struct vector *v)
{
    /* In the order of enum reason. */
    static const char *const reasons[] = {"", "check", "form", "unknown", "range", "long", "busy", "store", "sensor"};
    struct answer answer = {.tag = (uint16_t)number_of(v, "tag"), .kind = ANSWER_PLAIN};
    if (v->type == 'E') {
        answer.kind = ANSWER_ERROR;
        answer.reason = (enum reason)index_of(text_of(v, "reason"), reasons, 9);
    } else if (v->fields == 3) {
        answer.kind = ANSWER_REPLAY;
        answer.value = u32_of(v, "first");
        answer.count = (uint16_t)number_of(v, "count");
    } else if (v->fields == 2 && (strcmp(v->key[1], "offset_nV") == 0 || strcmp(v->key[1], "gain_ppm") == 0)) {
        answer.kind = ANSWER_SIGNED;
        answer.value = (uint64_t)number_of(v, v->key[1]);
    } else if (v->fields == 2) {
        answer.kind = ANSWER_VALUE;
        answer.value = (uint64_t)number_of(v, v->key[1]);
    }
    assert_true(record_answer(ring, &answer));
}

static void parse_command(const struct vector *v)
{
    struct command command;
    assert_int_equal(command_parse((const uint8_t *)v->wire, (uint8_t)strlen(v->wire), &command), REASON_NONE);
    assert_int_equal(command.type, v->type);
    assert_int_equal(command.tag, number_of(v, "tag"));
    if (v->fields == 2)
        assert_int_equal(command.value, (uint32_t)number_of(v, v->key[1]));
}

static void check_vector(const struct vector *v)
{
    struct txring ring = {.taken = 0};
    char text[LINE_BYTES_MAX + 2] = "", expected[LINE_BYTES_MAX + 2];
    switch (v->type) {
    case 'H':
        format_hello(v, text);
        break;
    case 'L':
        format_limits(&ring, v);
        break;
    case 'R':
        format_raw(&ring, v);
        break;
    case 'W':
        format_window(&ring, v);
        break;
    case 'V':
        format_voltage(&ring, v);
        break;
    case 'S':
        format_status(&ring, v);
        break;
    case 'A':
    case 'E':
        format_answer(&ring, v);
        break;
    default:
        parse_command(v);
        return;
    }
    if (v->type != 'H')
        ring_text(&ring, text, sizeof text);
    snprintf(expected, sizeof expected, "%s\n", v->wire);
    assert_string_equal(text, expected);
}

/* Reads "= TYPE key=value ...". */
static void read_fields(struct vector *v, char *text)
{
    v->type = text[2];
    v->fields = 0;
    for (char *word = strtok(text + 3, " \n"); word; word = strtok(NULL, " \n")) {
        assert_true(v->fields < FIELDS_MAX);
        assert_int_equal(sscanf(word, "%15[^=]=%127s", v->key[v->fields], v->value[v->fields]), 2);
        v->fields++;
    }
}

static void shared_vectors(void **state)
{
    (void)state;
    char path[512], text[768], types[64] = "";
    snprintf(path, sizeof path, "%s/line-vectors.txt", folder);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    struct vector v;
    while (fgets(text, sizeof text, file)) {
        if (text[0] != '=')
            continue;
        read_fields(&v, text);
        assert_non_null(fgets(text, sizeof text, file));
        text[strcspn(text, "\n")] = 0;
        assert_true(strlen(text) < sizeof v.wire);
        strcpy(v.wire, text);
        check_vector(&v);
        if (!strchr(types, v.type) && strlen(types) < 60)
            strncat(types, &v.type, 1);
    }
    fclose(file);
    /* Every line type of PROTOCOL.md has been met. */
    for (const char *type = "HLWRVSAEhpiswtzgukfrb"; *type; type++)
        assert_non_null(strchr(types, *type));
}

/* Every line at its longest, with its CRC checked, against the room that is asked for it. */
static unsigned longest(char *text, struct txring *ring)
{
    unsigned count = ring_text(ring, text, TXRING_BYTES);
    char code[9];
    assert_int_equal(text[count - 1], '\n');
    snprintf(code, sizeof code, "%08" PRIX32, crc32_of((const uint8_t *)text, (uint8_t)(count - 9)));
    assert_memory_equal(text + count - 9, code, 8);
    return count;
}

static void longest_lines_fit_their_room(void **state)
{
    (void)state;
    struct txring ring = {.taken = 0};
    char text[TXRING_BYTES];
    struct window window = {UINT32_MAX, UINT64_MAX, UINT32_MAX, 0xFFFF, INT32_MIN, INT32_MIN, INT32_MIN, INT64_MIN, 0x3F};
    assert_true(record_window(&ring, &window));
    assert_int_equal(longest(text, &ring), WINDOW_BYTES_MAX);
    assert_non_null(strstr(text, " ffffffffffffffff ffffffff ffff -80000000 -80000000 -80000000 -8000000000000000 3f "));

    struct voltage voltage = {UINT32_MAX, UINT64_MAX, INT32_MIN, INT32_MIN, UINT32_MAX, true};
    assert_true(record_voltage(&ring, &voltage));
    assert_int_equal(longest(text, &ring), VOLTAGE_BYTES_MAX);

    struct status status = {UINT32_MAX, UINT64_MAX, STATUS_SENSOR_MISSING, UINT32_MAX};
    assert_true(record_status(&ring, &status));
    assert_int_equal(longest(text, &ring), STATUS_BYTES_MAX);

    struct answer answer = {.value = UINT64_MAX, .tag = 0xFFFF, .kind = ANSWER_VALUE};
    assert_true(record_answer(&ring, &answer));
    assert_true(longest(text, &ring) <= ANSWER_BYTES_MAX);
    answer = (struct answer){.value = UINT32_MAX, .count = 0xFFFF, .tag = 0xFFFF, .kind = ANSWER_REPLAY};
    assert_true(record_answer(&ring, &answer));
    assert_true(longest(text, &ring) <= ANSWER_BYTES_MAX);

    struct sense_chip chip = {.limits = {UINT32_MAX, UINT32_MAX, UINT32_MAX, UINT32_MAX, UINT32_MAX}, .temp_reg = 1};
    assert_true(record_limits(&ring, &chip));
    assert_int_equal(longest(text, &ring), LIMITS_BYTES_MAX);

    struct past past;
    past_init(&past);
    past_want(&past, true);
    for (uint32_t i = 0; i < RAW_IN_LINE; i++) /* spacings of 65 ms, clipped in the wide range */
        past_add(&past, 0xFFFFFFFFu - (RAW_IN_LINE - i) * 0xFFFFu, -2097152, 7, i > 0);
    assert_true(record_raw(&ring, &past, UINT32_MAX, UINT64_MAX));
    assert_int_equal(longest(text, &ring), RAW_BYTES(RAW_IN_LINE));

    struct hello hello = {
        .proto = 1, .fw = "9.99.9", .mcu = "atmega328p", .sensor = "ina228", .id = UINT32_MAX, .speed = 0xFFFF,
        .cal = {SHUNT_NOHM_MAX, -GAIN_PPM_MAX, -OFFSET_NV_MAX, 0}, .cal_gen = UINT32_MAX, .boot = UINT32_MAX,
        .window_us = WINDOW_US_MAX, .trigger_uA = TRIGGER_UA_MAX, .cause = cause_word(CAUSE_WATCHDOG),
        .stream = stream_word(STREAM_WINDOWS), .cal_state = cal_word(CAL_CHANGED)};
    char long_text[LINE_BYTES_MAX + 2];
    write_hello(&ring, &hello, long_text);
    assert_true(strlen(long_text) <= LINE_BYTES_MAX);
    assert_int_equal(long_text[strlen(long_text) - 1], '\n');
}

static void words_of_the_hello(void **state)
{
    (void)state;
    assert_string_equal(cause_word(CAUSE_POWER), "power");
    assert_string_equal(cause_word(CAUSE_PIN), "pin");
    assert_string_equal(cause_word(CAUSE_BROWNOUT), "brownout");
    assert_string_equal(cause_word(CAUSE_WATCHDOG), "watchdog");
    assert_string_equal(cause_word(CAUSE_UNKNOWN), "unknown");
    assert_string_equal(stream_word(STREAM_WINDOWS), "windows");
    assert_string_equal(stream_word(STREAM_RAW), "raw");
    assert_string_equal(stream_word(STREAM_BURSTS), "bursts");
    assert_string_equal(cal_word(CAL_NONE), "none");
    assert_string_equal(cal_word(CAL_STORED), "stored");
    assert_string_equal(cal_word(CAL_CHANGED), "changed");
}

static void line_that_does_not_fit_leaves_nothing(void **state)
{
    (void)state;
    struct txring ring = {.taken = 0};
    struct status status = {2, 1, STATUS_BUS_STUCK, 3};
    char text[TXRING_BYTES];
    unsigned kept = 0;
    while (record_status(&ring, &status))
        kept++;
    /* "S 2 1 bus-stuck 3 " and eight digits and LF: 27 bytes; 4 of them are 108 of 127. */
    assert_int_equal(kept, 4);
    assert_int_equal(ring_text(&ring, text, sizeof text), 108);
    assert_int_equal(text[107], '\n');
    /* The ring works on as if nothing had been tried. */
    assert_true(record_status(&ring, &status));
    assert_int_equal(ring_text(&ring, text, sizeof text), 27);
}

/* One byte after another through every position of the ring: indices wrap. */
static void ring_wraps_anywhere(void **state)
{
    (void)state;
    struct txring ring = {.taken = 0};
    struct answer answer = {.tag = 1, .kind = ANSWER_PLAIN};
    char text[TXRING_BYTES];
    for (int i = 0; i < 600; i++) {
        assert_true(record_answer(&ring, &answer));
        ring_text(&ring, text, sizeof text);
        assert_string_equal(text, "A 1 C79281DE\n");
    }
}

int main(int count, char **arguments)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shared_vectors),
        cmocka_unit_test(words_of_the_hello),
        cmocka_unit_test(longest_lines_fit_their_room),
        cmocka_unit_test(line_that_does_not_fit_leaves_nothing),
        cmocka_unit_test(ring_wraps_anywhere),
    };
    if (count > 1)
        folder = arguments[1];
    return cmocka_run_group_tests(tests, NULL, NULL);
}
