/*
 * Writes a block to EEPROM byte by byte from the main loop: a byte takes
 * 3.4 ms, and conversions go on meanwhile.
 */
#ifndef CORE_STORE_WRITER_H
#define CORE_STORE_WRITER_H

#include "blocks.h"
#include <stdint.h>

enum write_state { WRITE_IDLE, WRITE_BUSY, WRITE_DONE, WRITE_FAILED };

struct store_writer {
    uint8_t block[BLOCK_BYTES_MAX];
    uint16_t address;
    uint8_t length;
    uint8_t at;
    enum write_state state;
};

/* Begins to write the first `length` bytes of `writer->block` to `address`. */
void store_writer_start(struct store_writer *writer, uint16_t address, uint8_t length);
/*
 * Does what can be done now. WRITE_DONE: all bytes stand and have been read
 * back; WRITE_FAILED: one reads back wrong. Either is told once.
 */
enum write_state store_writer_step(struct store_writer *writer);

#endif
