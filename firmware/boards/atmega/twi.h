/*
 * What the ATmega328P's parts share among themselves.
 */
#ifndef BOARDS_ATMEGA_TWI_H
#define BOARDS_ATMEGA_TWI_H

void twi_init(void);
/* Sleeps until any interrupt has run. */
void board_sleep_once(void);

#endif
