/*
 * The lines of PROTOCOL.md, one function per line type: from values to a
 * whole line in the transmit ring. Each returns false where the line did not
 * fit and was thrown away whole.
 */
#ifndef CORE_RECORDS_H
#define CORE_RECORDS_H

#include "blocks.h"
#include "command.h"
#include "txring.h"
#include "window.h"
#include <stdbool.h>
#include <stdint.h>

/* Longest lines with their LF: each field at its widest, 1 for the space before it. */
#define WINDOW_BYTES_MAX (1 + 9 + 17 + 9 + 5 + 3 * 10 + 18 + 3 + 10)
#define VOLTAGE_BYTES_MAX (1 + 9 + 17 + 10 + 10 + 9 + 10)
#define STATUS_BYTES_MAX (1 + 9 + 17 + 15 + 9 + 10)
#define ANSWER_BYTES_MAX (1 + 5 + 17 + 10)
/* 197 bytes with every value at its widest; the rest is for keys to come. A test holds it. */
#define HELLO_BYTES_MAX 240

struct voltage {
    uint64_t t_us;
    uint32_t seq;
    int32_t bus_mV;
    int32_t temp_mC;
};

enum status_code {
    STATUS_SENSOR_MISSING,
    STATUS_SENSOR_ID,
    STATUS_BUS_NACK,
    STATUS_BUS_STUCK,
    STATUS_NO_CONVERSION,
    STATUS_SENSOR_OK,
};

struct status {
    uint64_t t_us;
    uint32_t seq;
    uint32_t detail;
    enum status_code code;
};

enum answer_kind { ANSWER_PLAIN, ANSWER_TIME, ANSWER_ID, ANSWER_ERROR };

struct answer {
    uint64_t t_us;
    uint32_t id;
    uint16_t tag;
    enum answer_kind kind;
    enum reason reason;
};

/* The words lie in flash (FLASH_WORD). */
struct hello {
    const char *fw;
    const char *mcu;
    const char *sensor;
    const char *cause;
    const char *stream;
    const struct identity *identity;
    const struct calibration *cal;
    uint32_t boot;
    uint32_t window_us;
};

bool record_window(struct txring *ring, const struct window *window);
bool record_voltage(struct txring *ring, const struct voltage *voltage, uint32_t dropped);
bool record_status(struct txring *ring, const struct status *status);
bool record_answer(struct txring *ring, const struct answer *answer);
bool record_hello(struct txring *ring, const struct hello *hello);

#endif
