/*
 * Commands from the host: a received line to a command or to the reason why
 * it is none. PROTOCOL.md, "Lines from the host".
 */
#ifndef CORE_COMMAND_H
#define CORE_COMMAND_H

#include <stdint.h>

enum reason { REASON_NONE, REASON_CHECK, REASON_FORM, REASON_UNKNOWN, REASON_RANGE, REASON_LONG, REASON_BUSY, REASON_STORE };

struct command {
    char type;     /* 'h', 'p' or 'i'; where `reason` is none */
    uint16_t tag;  /* 0 where it could not be read */
    uint32_t value; /* of 'i' */
};

/* Reads a line without its LF. Changes nothing but `command`. */
enum reason command_parse(const uint8_t *line, uint8_t length, struct command *command);
/* The reason's word, in flash. */
const char *reason_word(enum reason reason);

#endif
