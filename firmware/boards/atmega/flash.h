/*
 * Constant tables and words stay in flash: an AVR copies what is merely const
 * into its 2 kB of RAM at start. Found by the include path of the board.
 */
#ifndef BOARDS_ATMEGA_FLASH_H
#define BOARDS_ATMEGA_FLASH_H

#include <avr/pgmspace.h>

#define FLASH_TABLE PROGMEM
#define FLASH_WORD(text) PSTR(text)
#define flash_u32(address) pgm_read_dword(address)
#define flash_u16(address) pgm_read_word(address)
#define flash_u8(address) pgm_read_byte(address)

#endif
