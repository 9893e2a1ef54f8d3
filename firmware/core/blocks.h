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
#define IDENTITY_BYTES 13
#define CALIBRATION_AT 0x20
#define CALIBRATION_BYTES 19
/* Two slots, written in turn, so that a cut while writing leaves the other. */
#define BOOTS_A_AT 0x40
#define BOOTS_B_AT 0x50
#define BOOTS_BYTES 11

#define BLOCK_BYTES_MAX 19

/* 5 mOhm, no corrections: what a board without a calibration works with. */
#define SHUNT_NOHM_DEFAULT 5000000ul

typedef uint8_t (*store_read)(uint16_t address);

struct identity {
    uint32_t id;    /* 0: never given one */
    uint16_t speed; /* seconds of device time in one of the host's; above 1 in emulated boards alone */
};

struct boots {
    uint32_t count;   /* boots counted before this one */
    uint16_t next_at; /* where the next count goes: the slot that does not hold the present one */
};

struct identity identity_read(store_read read);
void identity_encode(uint8_t block[IDENTITY_BYTES], const struct identity *identity);
/* A block with values beyond the limits of scale.h counts as absent. */
struct calibration calibration_read(store_read read);
struct boots boots_read(store_read read);
void boots_encode(uint8_t block[BOOTS_BYTES], uint32_t count);

#endif
