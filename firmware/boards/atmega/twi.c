/*
 * I2C master on an ATmega's TWI, driven by its interrupt: the processor
 * sleeps while bytes travel. Status codes: data sheet DS40002061, tables 22-3
 * and 22-4 (master transmitter and receiver).
 */
#include "../board.h"
#include "chip.h"
#include "twi.h"
#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/delay.h>

/* SCL = F / (16 + 2 x TWBR x prescaler): 16 MHz / (16 + 2 x 12 x 1) = 400 kHz. */
#define TWBR_400KHZ 12
/* A transfer takes 0.19 ms at most; the bound leaves room for clock stretching. */
#define TRANSFER_TICKS_MAX (5ul * 2000)
/* A stop condition takes 2.5 us: 40 processor cycles, some 10 turns of the loop. */
#define STOP_TURNS_MAX 100

#define GO ((1 << TWINT) | (1 << TWEN) | (1 << TWIE))

static struct i2c_transfer *volatile transfer;
static volatile bool waited_for; /* board_i2c_run() waits; else the application is told */
static uint8_t sent;             /* bytes sent after the address, the register pointer included */
static uint8_t received;

void twi_init(void)
{
    TWSR = 0;
    TWBR = TWBR_400KHZ;
    TWCR = 1 << TWEN;
}

static void begin(struct i2c_transfer *next)
{
    next->status = I2C_RUNNING;
    sent = 0;
    received = 0;
    transfer = next;
}

static void start(struct i2c_transfer *next, bool wait)
{
    for (uint8_t i = 0; (TWCR & (1 << TWSTO)) && i < STOP_TURNS_MAX; i++)
        ;
    waited_for = wait;
    begin(next);
    TWCR = GO | (1 << TWSTA);
}

void board_i2c_start(struct i2c_transfer *next)
{
    start(next, false);
}

/* Ends the transfer with a stop condition; the application's next one follows at once. */
static void finish(uint8_t status)
{
    struct i2c_transfer *next = 0;
    transfer->status = status;
    transfer = 0;
    if (!waited_for)
        next = app_on_i2c_done();
    if (next) {
        begin(next);
        /* Both bits: a stop, then a start (table 22-3). */
        TWCR = GO | (1 << TWSTO) | (1 << TWSTA);
    } else {
        TWCR = (1 << TWINT) | (1 << TWEN) | (1 << TWSTO);
    }
    if (waited_for)
        board_wake();
}

/* The address or a byte was acknowledged: the register pointer, then what is to be written. */
static void send_next(void)
{
    if (sent == 0) {
        TWDR = transfer->reg;
    } else if (transfer->read_count > 0) {
        TWCR = GO | (1 << TWSTA);
        return;
    } else if (sent <= transfer->write_count) {
        TWDR = transfer->data[sent - 1];
    } else {
        finish(I2C_OK);
        return;
    }
    sent++;
    TWCR = GO;
}

/* Lets the next byte come in; the last one is not acknowledged, which tells the chip to stop. */
static void receive_next(void)
{
    bool last = received + 1 == transfer->read_count;
    TWCR = last ? GO : GO | (1 << TWEA);
}

ISR(TWI_vect)
{
    if (!transfer) {
        TWCR = (1 << TWINT) | (1 << TWEN);
        return;
    }
    switch (TWSR & 0xF8) {
    case 0x08: /* start sent */
        TWDR = (uint8_t)(transfer->address << 1);
        TWCR = GO;
        break;
    case 0x10: /* repeated start sent: after a pointer it means read, after a stop it is a start */
        TWDR = (uint8_t)((transfer->address << 1) | (sent > 0));
        TWCR = GO;
        break;
    case 0x18: /* address acknowledged, to write */
    case 0x28: /* byte acknowledged */
        send_next();
        break;
    case 0x40: /* address acknowledged, to read */
        receive_next();
        break;
    case 0x50: /* byte received, more wanted */
        transfer->data[received++] = TWDR;
        receive_next();
        break;
    case 0x58: /* last byte received */
        transfer->data[received] = TWDR;
        finish(I2C_OK);
        break;
    case 0x20: /* address not acknowledged */
        finish(I2C_NO_ADDRESS);
        break;
    case 0x30: /* byte not acknowledged */
    case 0x48: /* address not acknowledged, to read */
        finish(I2C_NO_ACK);
        break;
    default: /* 00h bus error, 38h arbitration lost */
        finish(I2C_BUS);
        break;
    }
}

enum i2c_status board_i2c_run(struct i2c_transfer *next)
{
    uint32_t begun = board_ticks();
    start(next, true);
    while (next->status == I2C_RUNNING && board_ticks() - begun < TRANSFER_TICKS_MAX)
        board_sleep_once();
    if (next->status == I2C_RUNNING) {
        TWCR = 0;
        transfer = 0;
        next->status = I2C_TIMEOUT;
        twi_init();
    }
    return (enum i2c_status)next->status;
}

/* Open drain by hand: the port bits stay 0, the direction bit pulls low. */
#define SDA (1 << SDA_BIT)
#define SCL (1 << SCL_BIT)
#define HALF_BIT_US 5

/*
 * A chip that was cut off within a byte holds SDA until it has sent the rest:
 * at most nine clocks free it (I2C specification UM10204, 3.1.16, bus clear).
 */
bool board_i2c_recover(void)
{
    TWCR = 0;
    transfer = 0;
    PORTC &= (uint8_t)~(SDA | SCL);
    for (uint8_t i = 0; i < 9; i++) {
        DDRC |= SCL;
        _delay_us(HALF_BIT_US);
        DDRC &= (uint8_t)~SCL;
        _delay_us(HALF_BIT_US);
    }
    DDRC |= SDA;
    _delay_us(HALF_BIT_US);
    DDRC &= (uint8_t)~SDA;
    _delay_us(HALF_BIT_US);
    bool free = (PINC & (SDA | SCL)) == (SDA | SCL);
    twi_init();
    return free;
}
