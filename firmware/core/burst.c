/*
 * The burst trigger: see burst.h.
 *
 * uA times nOhm are femtovolts, 64 units are 5e9 of them.
 */
#include "burst.h"

uint16_t burst_distance(const struct calibration *cal, uint32_t trigger_uA)
{
    int64_t steps = divide_rounded((int64_t)trigger_uA * cal->shunt_nOhm, 5000000000ll);
    if (steps < 1)
        return 1;
    /* The whole scale is 65536 steps wide. */
    return steps > UINT16_MAX ? UINT16_MAX : (uint16_t)steps;
}

#define EMPTY (struct burst_slot){INT16_MAX, INT16_MIN}

void burst_clear(struct burst *burst)
{
    for (uint8_t i = 0; i < BURST_SLOTS; i++)
        burst->slots[i] = EMPTY;
    burst->left_us = 0;
}

static void widen(struct burst_slot *slot, int16_t low, int16_t high)
{
    if (low < slot->low)
        slot->low = low;
    if (high > slot->high)
        slot->high = high;
}

bool burst_add(struct burst *burst, int32_t units, uint16_t dt_us)
{
    burst->filled_us = (uint16_t)(burst->filled_us + dt_us);
    while (burst->filled_us >= BURST_SLOT_US) {
        burst->filled_us = (uint16_t)(burst->filled_us - BURST_SLOT_US);
        burst->at = burst->at == BURST_SLOTS - 1 ? 0 : (uint8_t)(burst->at + 1);
        burst->slots[burst->at] = EMPTY;
    }
    /* Rounded down: 22 bits become 16. */
    int16_t step = (int16_t)(units >> 6);
    widen(&burst->slots[burst->at], step, step);
    struct burst_slot all = EMPTY;
    for (uint8_t i = 0; i < BURST_SLOTS; i++)
        widen(&all, burst->slots[i].low, burst->slots[i].high);
    burst->left_us = burst->left_us > dt_us ? burst->left_us - dt_us : 0;
    /* Unsigned, since the difference may be wider than an int of 16 bits. */
    if ((uint16_t)((uint16_t)all.high - (uint16_t)all.low) >= burst->distance)
        burst->left_us = BURST_AFTER_US;
    return burst->left_us > 0;
}
