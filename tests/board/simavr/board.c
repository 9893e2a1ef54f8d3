/*
 * The shipped image in libsimavr, an emulator that shares nothing with the
 * host's: what it sends goes to standard output.
 *   board CHIP IMAGE.hex SCRIPT SECONDS ALERT
 * ALERT: how the sense chip signals the end of a conversion, "pulse" or "held".
 */
#include "ina228.h"
#include "script.h"
#include <avr_ioport.h>
#include <avr_twi.h>
#include <avr_uart.h>
#include <sim_avr.h>
#include <sim_hex.h>
#include <sim_irq.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CLOCK_HZ 16000000.0
/* ALERT pulses low for about 1 us. */
#define ALERT_CYCLES 16

static avr_t *avr;
static struct script script;
static struct ina228 chip;
static avr_irq_t *twi, *alert, *receiver;
static bool selected;
/* ALERT stays low until DIAG_ALRT is read, and nothing else lets it go. */
static bool alert_held;
static size_t sent_bytes, sending;

static double now_s(void)
{
    return (double)avr->cycle / CLOCK_HZ;
}

static double charge_mC(double t_s)
{
    return script_charge_mC(&script, t_s);
}

static avr_cycle_count_t release_alert(avr_t *self, avr_cycle_count_t when, void *param)
{
    (void)self, (void)when, (void)param;
    avr_raise_irq(alert, 1);
    return 0;
}

static avr_cycle_count_t end_round(avr_t *self, avr_cycle_count_t when, void *param)
{
    (void)param;
    double end_s = chip.start_s + ina228_round_s(&chip);
    (void)when;
    if (ina228_end_round(&chip, end_s)) {
        avr_raise_irq(alert, 0);
        if (!alert_held)
            avr_cycle_timer_register(self, ALERT_CYCLES, release_alert, 0);
    }
    return (avr_cycle_count_t)((chip.start_s + ina228_round_s(&chip)) * CLOCK_HZ + 0.5);
}

static void plan_round(void)
{
    double end_s = chip.start_s + ina228_round_s(&chip);
    avr_cycle_timer_cancel(avr, end_round, 0);
    avr_cycle_timer_register(avr, (avr_cycle_count_t)(end_s * CLOCK_HZ + 0.5) - avr->cycle, end_round, 0);
}

/* What the master puts on the bus. */
static void on_bus(avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)param;
    avr_twi_msg_irq_t message = {.u.v = value};
    uint8_t kind = message.u.twi.msg, address = message.u.twi.addr;
    if (kind & TWI_COND_STOP)
        selected = false;
    if (kind & TWI_COND_START) {
        selected = address >> 1 == 0x40;
        if (selected) {
            if (ina228_begin(&chip, address & 1))
                avr_raise_irq(alert, 1);
            avr_raise_irq(twi + TWI_IRQ_INPUT, avr_twi_irq_msg(TWI_COND_ACK, address, 1));
        }
        return;
    }
    if (!selected)
        return;
    if (kind & TWI_COND_WRITE) {
        avr_raise_irq(twi + TWI_IRQ_INPUT, avr_twi_irq_msg(TWI_COND_ACK, address, 1));
        if (ina228_write(&chip, message.u.twi.data, now_s()))
            plan_round();
    } else if (kind & TWI_COND_READ) {
        avr_raise_irq(twi + TWI_IRQ_INPUT, avr_twi_irq_msg(TWI_COND_READ, address, ina228_read(&chip)));
    }
}

static void on_byte(avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)param;
    putchar((int)value);
}

/* One byte of what the script sends, each 20 us, the line's rate. */
static avr_cycle_count_t send_byte(avr_t *self, avr_cycle_count_t when, void *param)
{
    (void)self, (void)param;
    struct sending *now = &script.sendings[sending];
    avr_raise_irq(receiver, now->bytes[sent_bytes++]);
    if (sent_bytes < now->count)
        return when + 320;
    sent_bytes = 0;
    sending++;
    return sending < script.sending_count ? (avr_cycle_count_t)(script.sendings[sending].at_s * CLOCK_HZ) : 0;
}

static void load(const char *path)
{
    ihex_chunk_p chunks;
    int count = read_ihex_chunks(path, &chunks);
    if (count <= 0) {
        fprintf(stderr, "%s: no image\n", path);
        exit(2);
    }
    for (int i = 0; i < count; i++)
        memcpy(avr->flash + chunks[i].baseaddr, chunks[i].data, chunks[i].size);
    avr->codeend = avr->flashend;
}

static void wire(void)
{
    static const char *names[TWI_IRQ_COUNT] = {"8>twi.in", "32<twi.out", "8<twi.status"};
    uint32_t flags = 0;
    twi = avr_alloc_irq(&avr->irq_pool, 0, TWI_IRQ_COUNT, names);
    avr_connect_irq(twi + TWI_IRQ_INPUT, avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_INPUT));
    avr_connect_irq(avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_OUTPUT), twi + TWI_IRQ_OUTPUT);
    avr_irq_register_notify(twi + TWI_IRQ_OUTPUT, on_bus, 0);
    alert = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 2);
    avr_raise_irq(alert, 1);
    avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_byte, 0);
    receiver = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
}

/* The library keeps pace with the clock on the wall; nobody waits here. */
static void do_not_wait(avr_t *self, avr_cycle_count_t cycles)
{
    (void)self, (void)cycles;
}

int main(int count, char **arguments)
{
    if (count != 6) {
        fprintf(stderr, "usage: board CHIP IMAGE.hex SCRIPT SECONDS pulse|held\n");
        return 2;
    }
    script_read(&script, arguments[3]);
    alert_held = strcmp(arguments[5], "held") == 0;
    avr = avr_make_mcu_by_name(arguments[1]);
    if (!avr) {
        fprintf(stderr, "%s: libsimavr has no such chip\n", arguments[1]);
        return 2;
    }
    avr_init(avr);
    avr->frequency = (uint32_t)CLOCK_HZ;
    avr->log = LOG_ERROR;
    avr->sleep = do_not_wait;
    load(arguments[2]);
    wire();
    chip.charge_mC = charge_mC;
    ina228_power_on(&chip, 0);
    plan_round();
    if (script.sending_count > 0)
        avr_cycle_timer_register(avr, (avr_cycle_count_t)(script.sendings[0].at_s * CLOCK_HZ), send_byte, 0);
    avr_cycle_count_t end = (avr_cycle_count_t)(atof(arguments[4]) * CLOCK_HZ);
    while (avr->cycle < end) {
        int state = avr_run(avr);
        if (state == cpu_Done || state == cpu_Crashed) {
            fprintf(stderr, "the processor stopped (state %d) at %.6f s\n", state, now_s());
            return 1;
        }
    }
    return 0;
}
