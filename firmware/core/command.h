/*
 * Commands from the host: a received line to a command or to the reason why
 * it is none. PROTOCOL.md, "Lines from the host".
 */
#ifndef CORE_COMMAND_H
#define CORE_COMMAND_H

#include <stdint.h>

enum reason { REASON_NONE, REASON_CHECK, REASON_FORM, REASON_UNKNOWN, REASON_RANGE, REASON_LONG, REASON_BUSY, REASON_STORE, REASON_SENSOR };

/* Streams, as the command numbers them. */
enum stream { STREAM_WINDOWS, STREAM_RAW, STREAM_BURSTS };

#define TRIGGER_UA_MIN 1000ul
#define TRIGGER_UA_MAX 30000000ul
#define TRIGGER_UA_DEFAULT 20000ul
/* A known current below this says too little about the gain. */
#define KNOWN_UA_MIN 100000ul
#define KNOWN_UA_MAX 30000000ul

struct command {
    char type;     /* a letter of PROTOCOL.md; where the reason is none */
    uint16_t tag;  /* 0 where it could not be read */
    uint32_t value; /* where the command has one; negative ones of 'g' as two's complement */
};

/* Reads a line without its LF. Changes nothing but `command`. */
enum reason command_parse(const uint8_t *line, uint8_t length, struct command *command);
/* The reason's word, in flash. */
const char *reason_word(enum reason reason);

#endif
