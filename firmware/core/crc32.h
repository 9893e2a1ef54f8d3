/*
 * CRC-32/ISO-HDLC, the check code of lines and of EEPROM blocks.
 * Parameters: CRC RevEng catalogue; check value of "123456789": CBF43926h.
 */
#ifndef CORE_CRC32_H
#define CORE_CRC32_H

#include <stdint.h>

#define CRC32_START 0xFFFFFFFFul

/* Takes one byte into a running code that began as CRC32_START. */
uint32_t crc32_add(uint32_t running, uint8_t byte);

/* The finished code: the running one with every bit turned over. */
static inline uint32_t crc32_end(uint32_t running)
{
    return ~running;
}

uint32_t crc32_of(const uint8_t *bytes, uint8_t length);

#endif
