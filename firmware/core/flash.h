/*
 * Constant tables and words stay in flash: an AVR would copy them into its
 * 2 kB of RAM at start, other processors read flash like memory.
 */
#ifndef CORE_FLASH_H
#define CORE_FLASH_H

#if defined(__AVR__)
#include <avr/pgmspace.h>
#define FLASH_TABLE PROGMEM
#define FLASH_WORD(text) PSTR(text)
#define flash_u32(address) pgm_read_dword(address)
#define flash_u8(address) pgm_read_byte(address)
#else
#define FLASH_TABLE
#define FLASH_WORD(text) (text)
#define flash_u32(address) (*(address))
#define flash_u8(address) (*(const unsigned char *)(address))
#endif

#endif
