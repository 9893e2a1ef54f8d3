/*
 * libFuzzer on the command parser and on the lines it is fed: whatever bytes
 * come, no memory is touched that is not the parser's (the sanitizers watch),
 * what is taken is taken as its one spelling, and what is refused has a reason.
 */
#include "core/command.h"
#include "core/crc32.h"
#include "core/rxlines.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(int condition)
{
    if (!condition)
        abort();
}

/* Writes the command that was taken, as a host would have. */
static int spelled(const struct command *command, char *text, size_t size)
{
    if (command->type == 'g' && (int32_t)command->value < 0)
        return snprintf(text, size, "g %x -%" PRIx32 " ", command->tag, 0 - command->value);
    if (strchr("iswtgurnq", command->type))
        return snprintf(text, size, "%c %x %" PRIx32 " ", command->type, command->tag, command->value);
    return snprintf(text, size, "%c %x ", command->type, command->tag);
}

/* On a copy of its exact size, so that a byte read beyond it is seen. */
static void parse(const uint8_t *line, size_t length)
{
    struct command command;
    uint8_t *copy = malloc(length ? length : 1);
    memcpy(copy, line, length);
    enum reason reason = command_parse(copy, (uint8_t)length, &command);
    must(reason <= REASON_SENSOR);
    if (reason == REASON_NONE) {
        char text[64];
        int spelling = spelled(&command, text, sizeof text);
        must(command.tag != 0);
        must((size_t)spelling + 8 == length && memcmp(text, copy, (size_t)spelling) == 0);
    } else {
        must(reason_word(reason)[0] != 0);
    }
    free(copy);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct rxlines rx;
    uint8_t line[COMMAND_BYTES_MAX];
    struct rx_mark mark;
    if (size == 0)
        return 0;
    /* As it came, and with its check code made right, so that what lies behind it is reached. */
    size_t body = size - 1 < 23 ? size - 1 : 23;
    uint8_t sealed[32];
    memcpy(sealed, data + 1, body);
    sealed[body] = ' ';
    char code[9];
    snprintf(code, sizeof code, "%08" PRIX32, crc32_of(sealed, (uint8_t)(body + 1)));
    memcpy(sealed + body + 1, code, 8);
    parse(data, size < 255 ? size : 255);
    parse(sealed, body + 9);

    /* Through the receive interrupt's half: bytes in, some damaged, lines taken now and then. */
    for (size_t i = 1; i < size; i++) {
        rxlines_byte(&rx, data[i], data[0] & 1 && data[i] == 0x7F, (uint32_t)i);
        if (data[i] & 0x20)
            continue;
        while (rxlines_take(&rx, line, &mark)) {
            must(mark.length < COMMAND_BYTES_MAX);
            if (mark.state == RX_WHOLE)
                parse(line, mark.length);
        }
    }
    return 0;
}
