/*
 * The command parser: what is refused, with which reason, and that no damaged
 * line is ever taken for a command.
 */
#include "core/command.h"
#include "core/crc32.h"
#include "test.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* `body`, a space and its check code, as a host would send it. */
static uint8_t sealed(const char *body, uint8_t *line)
{
    char text[128];
    int length = snprintf(text, sizeof text - 9, "%s ", body);
    snprintf(text + length, 9, "%08" PRIX32, crc32_of((const uint8_t *)text, (uint8_t)length));
    memcpy(line, text, (size_t)length + 8);
    return (uint8_t)(length + 8);
}

static enum reason reason_of(const char *body, struct command *command)
{
    uint8_t line[128];
    uint8_t length = sealed(body, line);
    return command_parse(line, length, command);
}

static void judges_in_the_order_of_the_page(void **state)
{
    (void)state;
    const struct { const char *body; enum reason reason; uint16_t tag; } cases[] = {
        {"h 1", REASON_NONE, 1},
        {"p ffff", REASON_NONE, 0xFFFF},
        {"i 2 ffffffff", REASON_NONE, 2},
        {"i 2 0", REASON_RANGE, 2},
        {"s 2 0", REASON_NONE, 2},
        {"s 2 2", REASON_NONE, 2},
        {"s 2 3", REASON_RANGE, 2},
        {"w 2 270f", REASON_RANGE, 2},     /* 9999 us */
        {"w 2 2710", REASON_NONE, 2},
        {"w 2 f4240", REASON_NONE, 2},     /* 1 s */
        {"w 2 f4241", REASON_RANGE, 2},
        {"t 2 3e7", REASON_RANGE, 2},      /* 999 uA */
        {"t 2 3e8", REASON_NONE, 2},
        {"t 2 1c9c380", REASON_NONE, 2},   /* 30 A */
        {"t 2 1c9c381", REASON_RANGE, 2},
        {"g 2 1869f", REASON_RANGE, 2},    /* 99999 uA */
        {"g 2 186a0", REASON_NONE, 2},
        {"g 2 -186a0", REASON_NONE, 2},
        {"g 2 -1c9c380", REASON_NONE, 2},
        {"g 2 -1c9c381", REASON_RANGE, 2},
        {"g 2 -0", REASON_FORM, 2},
        {"g 2 --186a0", REASON_FORM, 2},
        {"g 2 -", REASON_FORM, 2},
        {"g 2", REASON_FORM, 2},
        {"g -2 186a0", REASON_FORM, 0},
        {"u 2 1869f", REASON_RANGE, 2},    /* 99999 nOhm */
        {"u 2 5f5e100", REASON_NONE, 2},   /* 100 mOhm */
        {"u 2 5f5e101", REASON_RANGE, 2},
        {"r 2 0", REASON_NONE, 2},
        {"r 2 ffffffff", REASON_NONE, 2},
        {"z 2", REASON_NONE, 2},
        {"k 2", REASON_NONE, 2},
        {"f 2", REASON_NONE, 2},
        {"b 2", REASON_NONE, 2},
        {"z 2 1", REASON_FORM, 2},
        {"t 2 -3e8", REASON_FORM, 2},      /* only a known current has a sign */
        {"h", REASON_FORM, 0},             /* no tag */
        {"h 0", REASON_RANGE, 0},          /* tags begin at 1 */
        {"h 10000", REASON_RANGE, 0},      /* and end at ffff */
        {"h 123456789", REASON_RANGE, 0},  /* over 32 bits */
        {"h 01", REASON_FORM, 0},          /* leading zero */
        {"h A", REASON_FORM, 0},           /* capital */
        {"h -1", REASON_FORM, 0},
        {"h 0x1", REASON_FORM, 0},
        {"h  1", REASON_FORM, 0},          /* two spaces */
        {"h 1 ", REASON_FORM, 1},          /* a space before the one of the check code */
        {"h 1 2", REASON_FORM, 1},         /* a field too many */
        {"hh 1", REASON_FORM, 0},          /* no space after the letter */
        {"h1", REASON_FORM, 0},
        {"i 3", REASON_FORM, 3},           /* no value */
        {"i 3 g", REASON_FORM, 3},
        {"i 3 00", REASON_FORM, 3},
        {"i 3 100000000", REASON_RANGE, 3},
        {"i 3 1 1", REASON_FORM, 3},
        {"W 4", REASON_UNKNOWN, 4},
        {"x 5 1 2 3", REASON_UNKNOWN, 5},
        {"  6", REASON_UNKNOWN, 6},        /* a space where the letter should be */
        {"H 7", REASON_UNKNOWN, 7},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct command command;
        enum reason reason = reason_of(cases[i].body, &command);
        if (reason != cases[i].reason || command.tag != cases[i].tag)
            fail_msg("'%s': reason %d tag %d", cases[i].body, reason, command.tag);
    }
}

/* A byte 0 where the letter should be, with a right check code: libFuzzer found it taken for the end of a list. */
static void a_zero_byte_is_no_letter(void **state)
{
    (void)state;
    uint8_t line[32];
    struct command command;
    uint8_t length = sealed("x 7", line);
    line[0] = 0;
    char code[9];
    snprintf(code, sizeof code, "%08" PRIX32, crc32_of(line, (uint8_t)(length - 8)));
    memcpy(line + length - 8, code, 8);
    assert_int_equal(command_parse(line, length, &command), REASON_UNKNOWN);
}

static void refuses_every_single_changed_byte(void **state)
{
    (void)state;
    uint8_t line[128], length = sealed("i 2a deadbeef", line);
    struct command command;
    assert_int_equal(command_parse(line, length, &command), REASON_NONE);
    for (uint8_t at = 0; at < length; at++) {
        uint8_t right = line[at];
        for (unsigned byte = 0; byte < 256; byte++) {
            line[at] = (uint8_t)byte;
            if (byte != right)
                assert_int_equal(command_parse(line, length, &command), REASON_CHECK);
        }
        line[at] = right;
    }
    for (uint8_t shorter = 0; shorter < length; shorter++)
        assert_int_equal(command_parse(line, shorter, &command), REASON_CHECK);
}

/* Small letters in the check code are a second spelling: refused. */
static void refuses_small_letters_in_the_check_code(void **state)
{
    (void)state;
    uint8_t line[128], length = sealed("h 1", line);
    struct command command;
    bool letters = false;
    for (uint8_t i = (uint8_t)(length - 8); i < length; i++) {
        if (line[i] >= 'A') {
            line[i] = (uint8_t)(line[i] + 'a' - 'A');
            letters = true;
        }
    }
    assert_true(letters); /* 1AA8616A */
    assert_int_equal(command_parse(line, length, &command), REASON_CHECK);
}

/*
 * Random bytes with a right check code, so that the rest of the parser is
 * reached: what it takes, it takes as its one spelling.
 */
static void takes_only_the_one_spelling(void **state)
{
    (void)state;
    const unsigned seed = 20260101;
    static const char alphabet[] = "hpi 0123456789abcdfgA-x";
    static const char letters[] = "hpiswtzgukfrnqb";
    unsigned taken = 0;
    srand(seed);
    for (int turn = 0; turn < 300000; turn++) {
        char body[16], again[32];
        int length = 3 + rand() % 9;
        for (int i = 0; i < length; i++)
            body[i] = alphabet[(unsigned)rand() % (sizeof alphabet - 1)];
        body[0] = letters[(unsigned)rand() % (sizeof letters - 1)];
        body[1] = ' ';
        body[length] = 0;
        struct command command;
        if (reason_of(body, &command) != REASON_NONE)
            continue;
        taken++;
        if (command.type == 'g' && (int32_t)command.value < 0)
            snprintf(again, sizeof again, "g %x -%" PRIx32, command.tag, 0 - command.value);
        else if (strchr("iswtgurnq", command.type))
            snprintf(again, sizeof again, "%c %x %" PRIx32, command.type, command.tag, command.value);
        else
            snprintf(again, sizeof again, "%c %x", command.type, command.tag);
        if (strcmp(body, again) != 0)
            fail_msg("seed %u: '%s' was taken for '%s'", seed, body, again);
    }
    assert_true(taken > 1000);
}

static void words_of_the_reasons(void **state)
{
    (void)state;
    assert_string_equal(reason_word(REASON_CHECK), "check");
    assert_string_equal(reason_word(REASON_FORM), "form");
    assert_string_equal(reason_word(REASON_UNKNOWN), "unknown");
    assert_string_equal(reason_word(REASON_RANGE), "range");
    assert_string_equal(reason_word(REASON_LONG), "long");
    assert_string_equal(reason_word(REASON_BUSY), "busy");
    assert_string_equal(reason_word(REASON_STORE), "store");
    assert_string_equal(reason_word(REASON_SENSOR), "sensor");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(judges_in_the_order_of_the_page),
        cmocka_unit_test(a_zero_byte_is_no_letter),
        cmocka_unit_test(refuses_every_single_changed_byte),
        cmocka_unit_test(refuses_small_letters_in_the_check_code),
        cmocka_unit_test(takes_only_the_one_spelling),
        cmocka_unit_test(words_of_the_reasons),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
