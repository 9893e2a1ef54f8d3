/*
 * The ATmega1284P's own pins and vectors. Source: data sheet DS40002071.
 */
#ifndef BOARDS_ATMEGA1284P_CHIP_H
#define BOARDS_ATMEGA1284P_CHIP_H

#define CHIP_WORD "atmega1284p"

/* ALERT of the sense chip, on INT0. */
#define READY_PORT PORTD
#define READY_PIN PIND
#define READY_BIT PD2

#define LIGHT_PORT PORTB
#define LIGHT_DDR DDRB
#define LIGHT_BIT PB0

/* The TWI's pins, both on port C. */
#define SDA_BIT PC1
#define SCL_BIT PC0

#define RECEIVED_vect USART0_RX_vect
#define SEND_vect USART0_UDRE_vect

#endif
