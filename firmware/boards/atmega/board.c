/*
 * An ATmega with TWI, USART0 and Timer1 at 16 MHz: clock, conversion-ready input,
 * serial port, store, watchdog, sleep. What differs from chip to chip is in chip.h.
 * Register names and bits: data sheet DS40002061; those of DS40002071 are the same.
 */
#include "../board.h"
#include "../../core/clock64.h"
#include "chip.h"
#include "flash.h"
#include "twi.h"
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

/* 500 000 baud = 16 MHz / 16 / (UBRR + 1), exact; 16 samples per bit. */
#define UBRR_500K 1

static volatile uint16_t overflows; /* of Timer1, every 32.768 ms */
static volatile bool work;
static uint8_t reset_flags __attribute__((section(".noinit")));

/*
 * Before everything else: after a watchdog reset the watchdog still runs, at
 * its shortest. Its flag must be cleared before it can be stopped (10.9.2).
 */
void keep_reset_flags(void) __attribute__((naked, used, section(".init3")));
void keep_reset_flags(void)
{
    reset_flags = MCUSR;
    MCUSR = 0;
    wdt_disable();
}

void board_init(void)
{
    wdt_enable(WDTO_1S);
    /* Timer1 runs free at 16 MHz / 8. */
    TCCR1B = 1 << CS11;
    TIMSK1 = 1 << TOIE1;
    /* ALERT on INT0, open drain: pull-up on, falling edge. */
    READY_PORT |= 1 << READY_BIT;
    EICRA = 1 << ISC01;
    EIFR = 1 << INTF0;
    EIMSK = 1 << INT0;
    LIGHT_DDR = 1 << LIGHT_BIT;
    UBRR0 = UBRR_500K;
    UCSR0C = (1 << UCSZ01) | (1 << UCSZ00);
    UCSR0B = (1 << RXEN0) | (1 << TXEN0) | (1 << RXCIE0);
    twi_init();
    SMCR = 0; /* sleep mode: idle */
    sei();
}

enum board_cause board_reset_cause(void)
{
    /* Power-on sets the brown-out flag too on a slow rise, so it is asked first. */
    if (reset_flags & (1 << PORF))
        return CAUSE_POWER;
    if (reset_flags & (1 << WDRF))
        return CAUSE_WATCHDOG;
    if (reset_flags & (1 << BORF))
        return CAUSE_BROWNOUT;
    if (reset_flags & (1 << EXTRF))
        return CAUSE_PIN;
    return CAUSE_UNKNOWN; /* a boot loader has cleared them */
}

const char *board_mcu(void)
{
    return FLASH_WORD(CHIP_WORD);
}

/* With interrupts off. */
static inline uint32_t ticks_now(void)
{
    uint16_t timer = TCNT1;
    return ticks_join(overflows, timer, TIFR1 & (1 << TOV1));
}

uint32_t board_ticks(void)
{
    uint8_t held = board_lock();
    uint32_t ticks = ticks_now();
    board_unlock(held);
    return ticks;
}

ISR(INT0_vect)
{
    app_on_ready(ticks_now(), !(READY_PIN & (1 << READY_BIT)));
}

ISR(TIMER1_OVF_vect)
{
    overflows++;
    work = true;
}

ISR(RECEIVED_vect)
{
    bool damaged = UCSR0A & ((1 << FE0) | (1 << DOR0));
    uint8_t byte = UDR0;
    app_on_receive(byte, damaged, ticks_now());
}

ISR(SEND_vect)
{
    uint8_t byte;
    enum next_byte next = app_next_byte(&byte);
    if (next != BYTE_NONE)
        UDR0 = byte;
    if (next != BYTE_MORE)
        UCSR0B &= (uint8_t)~(1 << UDRIE0);
}

void board_uart_kick(void)
{
    uint8_t held = board_lock();
    UCSR0B |= 1 << UDRIE0;
    board_unlock(held);
}

uint8_t board_store_read(uint16_t address)
{
    return eeprom_read_byte((const uint8_t *)address);
}

bool board_store_ready(void)
{
    return eeprom_is_ready();
}

void board_store_write(uint16_t address, uint8_t byte)
{
    eeprom_write_byte((uint8_t *)address, byte);
}

void board_watchdog_feed(void)
{
    wdt_reset();
}

/* High is lit. */
void board_light(bool on)
{
    if (on)
        LIGHT_PORT |= 1 << LIGHT_BIT;
    else
        LIGHT_PORT &= (uint8_t)~(1 << LIGHT_BIT);
}

uint8_t board_lock(void)
{
    uint8_t held = SREG;
    cli();
    return held;
}

void board_unlock(uint8_t held)
{
    SREG = held;
}

void board_wake(void)
{
    work = true;
}

/* SEI lets one more instruction run before an interrupt, so that none slips in between and is slept over. */
void board_sleep_once(void)
{
    sleep_enable();
    sei();
    sleep_cpu();
    sleep_disable();
}

void board_sleep(void)
{
    for (;;) {
        cli();
        if (work) {
            work = false;
            sei();
            return;
        }
        board_sleep_once();
    }
}
