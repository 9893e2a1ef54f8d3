/*
 * Constant tables and words need no care where flash is read like memory.
 */
#ifndef BOARDS_NATIVE_FLASH_H
#define BOARDS_NATIVE_FLASH_H

#define FLASH_TABLE
#define FLASH_WORD(text) (text)
#define flash_u32(address) (*(address))
#define flash_u16(address) (*(address))
#define flash_u8(address) (*(const unsigned char *)(address))

#endif
