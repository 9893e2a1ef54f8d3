/*
 * Device time: a 16-bit timer at 2 MHz, widened to 32 bits of half
 * microseconds in the interrupt and to 64 bits in the main loop.
 */
#ifndef CORE_CLOCK64_H
#define CORE_CLOCK64_H

#include <stdbool.h>
#include <stdint.h>

/* 16 MHz / 8 = 2 MHz: one tick is half a microsecond. */
#define TICKS_PER_US 2u
#define TICKS_PER_MS ((uint32_t)2000)

/*
 * Joins the count of timer overflows and the timer. `overflow_pending`: the
 * timer has wrapped, but the interrupt that counts it has not run yet. The
 * flag may also have been raised after the timer was read; a timer still
 * high says that it was.
 */
static inline uint32_t ticks_join(uint16_t overflows, uint16_t timer, bool overflow_pending)
{
    if (overflow_pending && timer < 0x8000u)
        overflows++;
    return ((uint32_t)overflows << 16) | timer;
}

/* The latest instant seen, and how often the 32 bits had wrapped by then. */
struct clock64 {
    uint32_t ticks;
    uint32_t wraps;
};

/*
 * Widens a 32-bit instant, which wraps every 35.8 minutes, and remembers the
 * latest. Right for every instant within 17 minutes of the latest one, before
 * or after; it is called many times a second. Returns microseconds since boot:
 * 64 bits of half microseconds last 292 thousand years.
 */
uint64_t clock64_us(struct clock64 *clock, uint32_t ticks);

#endif
