/*
 * The blocks kept in EEPROM: identity, calibration, boot count. Each is two
 * letters, a layout number, little-endian values and a CRC-32 of all before
 * it; BOARD.md has the map. A block that is blank or cut short reads as absent.
 */
#ifndef CORE_BLOCKS_H
#define CORE_BLOCKS_H

#include "scale.h"
#include <stdbool.h>
#include <stdint.h>

#define IDENTITY_AT 0x00
#define IDENTITY_BYTES 15
/* Two slots each, written in turn, so that a cut while writing leaves the other. */
#define CALIBRATION_A_AT 0x60
#define CALIBRATION_B_AT 0x80
#define CALIBRATION_BYTES 23
#define BOOTS_A_AT 0x40
#define BOOTS_B_AT 0x50
#define BOOTS_BYTES 11

/*
 * What the host keeps in the board for itself (PROTOCOL.md, "n"): the firmware knows nothing of it.
 * A note's value is its place in the high byte, and three bytes.
 */
#define NOTES_AT 0x100
#define NOTES_BYTES 108
#define NOTE_BYTES 3
#define NOTE_VALUE_MAX (((uint32_t)(NOTES_BYTES / NOTE_BYTES) << 24) - 1)

#define BLOCK_BYTES_MAX 23

/* 5 mOhm, no corrections: what a board without a calibration works with. */
#define SHUNT_NOHM_DEFAULT 5000000ul
#define CALIBRATION_DEFAULT (struct calibration){SHUNT_NOHM_DEFAULT, 0, 0, 0}

typedef uint8_t (*store_read)(uint16_t address);

struct identity {
    uint32_t id;    /* 0: never given one */
    uint16_t speed; /* seconds of device time in one of the host's; above 1 in emulated boards alone */
};

struct boots {
    uint32_t count;   /* boots counted before this one */
    uint16_t next_at; /* where the next count goes: the slot that does not hold the present one */
};

/* What the two slots hold. */
struct kept_calibration {
    struct calibration cal; /* the defaults where none is kept; to be prepared (scale.h) */
    uint32_t generation;    /* calibrations stored and forgotten so far */
    bool kept;
    uint16_t next_at; /* where the next one goes: the slot that does not hold the present one */
};

struct identity identity_read(store_read read);
void identity_encode(uint8_t bytes[IDENTITY_BYTES], const struct identity *identity);
/*
 * The newer of the two that are sound: a block with values beyond the limits
 * of scale.h counts as absent, one whose shunt is 0 as a calibration forgotten.
 */
struct kept_calibration calibration_read(store_read read);
/* `cal` null: what was kept is forgotten. */
void calibration_encode(uint8_t bytes[CALIBRATION_BYTES], const struct calibration *cal, uint32_t generation);
struct boots boots_read(store_read read);
void boots_encode(uint8_t bytes[BOOTS_BYTES], uint32_t count);

#endif
