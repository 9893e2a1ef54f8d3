/*
 * The ATmega328P's own pins and vectors. Source: data sheet DS40002061.
 */
#ifndef BOARDS_ATMEGA328P_CHIP_H
#define BOARDS_ATMEGA328P_CHIP_H

#define CHIP_WORD "atmega328p"

/* ALERT of the sense chip, on INT0. */
#define READY_PORT PORTD
#define READY_PIN PIND
#define READY_BIT PD2

#define LIGHT_PORT PORTB
#define LIGHT_DDR DDRB
#define LIGHT_BIT PB5

/* The TWI's pins, both on port C. */
#define SDA_BIT PC4
#define SCL_BIT PC5

#define RECEIVED_vect USART_RX_vect
#define SEND_vect USART_UDRE_vect

#endif
