/*
 * The lines of PROTOCOL.md, one function per line type: from values to a
 * whole line in the transmit ring. Each returns false where the line did not
 * fit and was thrown away whole.
 */
#ifndef CORE_RECORDS_H
#define CORE_RECORDS_H

#include "../boards/board.h"
#include "blocks.h"
#include "command.h"
#include "line.h"
#include "past.h"
#include "sense.h"
#include "txring.h"
#include "window.h"
#include <stdbool.h>
#include <stdint.h>

/* Longest lines with their LF: each field at its widest, 1 for the space before it. A count has 16 bits. */
#define WINDOW_BYTES_MAX (1 + 9 + 17 + 9 + 5 + 3 * 10 + 18 + 3 + 10)
#define VOLTAGE_BYTES_MAX (1 + 9 + 17 + 10 + 10 + 9 + 10)
#define STATUS_BYTES_MAX (1 + 9 + 17 + 15 + 9 + 10)
#define ANSWER_BYTES_MAX (1 + 5 + 18 + 10)
#define LINE_END_BYTES 10 /* the check code and the LF */
/*
 * Raw conversions: as many in a line as there are and as fit, six at most. With room for three
 * a line is begun, so that the wire has no pause while it is made.
 */
#define RAW_IN_LINE 6
#define RAW_NEXT_BYTES_MAX (5 + 8 + 2)
#define RAW_BYTES(count) (1 + 9 + 17 + 8 + 2 + ((count) - 1) * RAW_NEXT_BYTES_MAX + LINE_END_BYTES)
#define RAW_ROOM_MIN RAW_BYTES(3)
#define LIMITS_BYTES_MAX (1 + 18 + 17 + 19 + 18 + 17 + 9 + 10)
/* The longest part of a hello: " shunt_nOhm=" and eight digits, or the check code and the LF. */
#define HELLO_PART_BYTES_MAX 24

/* These are in the order of their lines. */
struct voltage {
    uint32_t seq;
    uint64_t t_us;
    int32_t bus_mV;
    int32_t temp_mC;
    uint32_t dropped;
    bool has_temp;
};

enum status_code {
    STATUS_SENSOR_MISSING,
    STATUS_SENSOR_ID,
    STATUS_BUS_NACK,
    STATUS_BUS_STUCK,
    STATUS_NO_CONVERSION,
    STATUS_SENSOR_OK,
    STATUS_BROWNOUT,
    STATUS_WATCHDOG,
};

struct status {
    uint32_t seq;
    uint64_t t_us;
    uint8_t code; /* enum status_code */
    uint32_t detail;
};

_Static_assert((int)STATUS_WATCHDOG - (int)STATUS_BROWNOUT == (int)CAUSE_WATCHDOG - (int)CAUSE_BROWNOUT, "told as they are");
_Static_assert((int)STATUS_SENSOR_MISSING == (int)SENSE_MISSING && (int)STATUS_BUS_STUCK == (int)SENSE_STUCK, "told as they are");

/* What follows the tag: nothing, `value`, `value` with its sign, `value` and `count`, the reason. */
enum answer_kind { ANSWER_PLAIN, ANSWER_VALUE, ANSWER_SIGNED, ANSWER_REPLAY, ANSWER_ERROR };

struct answer {
    uint64_t value;
    uint16_t count;
    uint16_t tag;
    enum answer_kind kind;
    enum reason reason;
};

enum cal_state { CAL_NONE, CAL_STORED, CAL_CHANGED };

/* What the board is and does, in the order of a hello's keys. The words lie in flash. */
struct hello {
    uint32_t proto;
    const char *fw;
    const char *mcu;
    const char *sensor;
    uint32_t id;
    uint32_t boot;
    const char *cause;
    struct calibration cal; /* in use */
    uint32_t window_us;
    const char *stream;
    uint32_t speed;
    uint32_t trigger_uA;
    const char *cal_state;
    uint32_t cal_gen; /* of the one in the store */
};

const char *cause_word(enum board_cause cause);
const char *stream_word(enum stream stream);
const char *cal_word(enum cal_state state);

bool record_window(struct txring *ring, const struct window *window);
bool record_voltage(struct txring *ring, const struct voltage *voltage);
bool record_status(struct txring *ring, const struct status *status);
bool record_answer(struct txring *ring, const struct answer *answer);
/* Conversions that follow each other, of those that are due (one at least). They came within the hour before `now_us`. */
bool record_raw(struct txring *ring, struct past *past, uint32_t seq, uint64_t now_us);
bool record_limits(struct txring *ring, const struct sense_chip *chip);
/*
 * A hello is longer than the ring: writes one part of it, for which there must
 * be room. `line` and `part` (0 at first) go from call to call; true at its end.
 */
bool record_hello_part(struct txring *ring, const struct hello *hello, struct line *line, uint8_t *part);

#endif
