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

#define FIELDS_MAX 16
struct vector {
    char type;
    int fields;
    char key[FIELDS_MAX][16];
    char value[FIELDS_MAX][24];
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

static void format_hello(struct txring *ring, const struct vector *v)
{
    struct identity identity = {u32_of(v, "id"), (uint16_t)u32_of(v, "speed")};
    struct calibration cal = {u32_of(v, "shunt_nOhm"), s32_of(v, "gain_ppm"), s32_of(v, "offset_nV")};
    struct hello hello = {
        .fw = text_of(v, "fw"), .mcu = text_of(v, "mcu"), .sensor = text_of(v, "sensor"),
        .cause = text_of(v, "cause"), .stream = text_of(v, "stream"), .identity = &identity,
        .cal = &cal, .boot = u32_of(v, "boot"), .window_us = u32_of(v, "window_us")};
    assert_true(record_hello(ring, &hello));
}

static void format_window(struct txring *ring, const struct vector *v)
{
    struct window window = {
        .t_us = (uint64_t)number_of(v, "t_us"), .charge_nC = number_of(v, "charge_nC"),
        .seq = u32_of(v, "seq"), .dur_us = u32_of(v, "dur_us"), .mean_uA = s32_of(v, "mean_uA"),
        .min_uA = s32_of(v, "min_uA"), .max_uA = s32_of(v, "max_uA"),
        .count = (uint16_t)number_of(v, "count"), .flags = (uint8_t)number_of(v, "flags")};
    assert_true(record_window(ring, &window));
}

static void format_voltage(struct txring *ring, const struct vector *v)
{
    struct voltage voltage = {(uint64_t)number_of(v, "t_us"), u32_of(v, "seq"), s32_of(v, "bus_mV"), s32_of(v, "temp_mC")};
    assert_true(record_voltage(ring, &voltage, u32_of(v, "dropped")));
}

static void format_status(struct txring *ring, const struct vector *v)
{
    /* In the order of enum status_code. */
    static const char *const codes[] = {"sensor-missing", "sensor-id", "bus-nack", "bus-stuck", "no-conversion", "sensor-ok"};
    struct status status = {(uint64_t)number_of(v, "t_us"), u32_of(v, "seq"), u32_of(v, "detail"),
                            (enum status_code)index_of(text_of(v, "code"), codes, 6)};
    assert_true(record_status(ring, &status));
}

static void format_answer(struct txring *ring, const struct vector *v)
{
    /* In the order of enum reason. */
    static const char *const reasons[] = {"", "check", "form", "unknown", "range", "long", "busy", "store"};
    struct answer answer = {.tag = (uint16_t)number_of(v, "tag"), .kind = ANSWER_PLAIN};
    if (v->type == 'E') {
        answer.kind = ANSWER_ERROR;
        answer.reason = (enum reason)index_of(text_of(v, "reason"), reasons, 8);
    } else if (v->fields == 2 && strcmp(v->key[1], "t_us") == 0) {
        answer.kind = ANSWER_TIME;
        answer.t_us = (uint64_t)number_of(v, "t_us");
    } else if (v->fields == 2) {
        answer.kind = ANSWER_ID;
        answer.id = u32_of(v, "id");
    }
    assert_true(record_answer(ring, &answer));
}

static void parse_command(const struct vector *v)
{
    struct command command;
    assert_int_equal(command_parse((const uint8_t *)v->wire, (uint8_t)strlen(v->wire), &command), REASON_NONE);
    assert_int_equal(command.type, v->type);
    assert_int_equal(command.tag, number_of(v, "tag"));
    if (v->type == 'i')
        assert_int_equal(command.value, u32_of(v, "id"));
}

static void check_vector(const struct vector *v)
{
    struct txring ring = {.taken = 0};
    char text[TXRING_BYTES], expected[LINE_BYTES_MAX + 2];
    switch (v->type) {
    case 'H':
        format_hello(&ring, v);
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
        assert_int_equal(sscanf(word, "%15[^=]=%23s", v->key[v->fields], v->value[v->fields]), 2);
        v->fields++;
    }
}

static void shared_vectors(void **state)
{
    (void)state;
    char path[512], text[512], types[64] = "";
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
    for (const char *type = "HWVSAEhpi"; *type; type++)
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
    struct window window = {UINT64_MAX, INT64_MIN, UINT32_MAX, UINT32_MAX, INT32_MIN, INT32_MIN, INT32_MIN, 0xFFFF, 0x3F};
    assert_true(record_window(&ring, &window));
    assert_int_equal(longest(text, &ring), WINDOW_BYTES_MAX);
    assert_non_null(strstr(text, " ffffffffffffffff ffffffff ffff -80000000 -80000000 -80000000 -8000000000000000 3f "));

    struct voltage voltage = {UINT64_MAX, UINT32_MAX, INT32_MIN, INT32_MIN};
    assert_true(record_voltage(&ring, &voltage, UINT32_MAX));
    assert_int_equal(longest(text, &ring), VOLTAGE_BYTES_MAX);

    struct status status = {UINT64_MAX, UINT32_MAX, UINT32_MAX, STATUS_SENSOR_MISSING};
    assert_true(record_status(&ring, &status));
    assert_int_equal(longest(text, &ring), STATUS_BYTES_MAX);

    struct answer answer = {.t_us = UINT64_MAX, .tag = 0xFFFF, .kind = ANSWER_TIME};
    assert_true(record_answer(&ring, &answer));
    assert_int_equal(longest(text, &ring), ANSWER_BYTES_MAX);

    struct identity identity = {UINT32_MAX, 0xFFFF};
    struct calibration cal = {SHUNT_NOHM_MAX, -GAIN_PPM_MAX, -OFFSET_NV_MAX};
    struct hello hello = {"255.255.255", "atmega328p", "ina228", "watchdog", "windows", &identity, &cal, UINT32_MAX, WINDOW_US_MAX};
    assert_true(record_hello(&ring, &hello));
    assert_true(longest(text, &ring) <= HELLO_BYTES_MAX);
}

static void line_that_does_not_fit_leaves_nothing(void **state)
{
    (void)state;
    struct txring ring = {.taken = 0};
    struct status status = {1, 2, 3, STATUS_BUS_STUCK};
    char text[TXRING_BYTES];
    unsigned kept = 0;
    while (record_status(&ring, &status))
        kept++;
    /* "S 2 1 bus-stuck 3 " and eight digits and LF: 27 bytes; 9 of them are 243 of 255. */
    assert_int_equal(kept, 9);
    assert_int_equal(ring_text(&ring, text, sizeof text), 243);
    assert_int_equal(text[242], '\n');
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
        cmocka_unit_test(longest_lines_fit_their_room),
        cmocka_unit_test(line_that_does_not_fit_leaves_nothing),
        cmocka_unit_test(ring_wraps_anywhere),
    };
    if (count > 1)
        folder = arguments[1];
    return cmocka_run_group_tests(tests, NULL, NULL);
}
