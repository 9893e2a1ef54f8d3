/*
 * The last conversions: see past.h. A record is: the change of the spacing
 * (folded) above four flags, where it is not joined the time since the one
 * before (u64), the change of the reading.
 */
#include "past.h"

static void read_next(const struct past *past, uint16_t *at, struct raw *raw)
{
    uint32_t head = bytering_get_u32(&past->ring, at);
    uint16_t folded = (uint16_t)(head >> 4);
    uint16_t half = folded >> 1;
    raw->flags = head & 0x0F;
    raw->dt_us = (uint16_t)(raw->dt_us + (folded & 1 ? ~half : half));
    raw->t_us += raw->flags & RAW_BROKEN ? bytering_get_u32(&past->ring, at) : raw->dt_us;
    raw->units += bytering_get_s32(&past->ring, at);
}

static void drop(struct past *past)
{
    uint16_t at = past->ring.tail;
    read_next(past, &at, &past->before);
    bytering_free(&past->ring, at);
    past->count--;
}

static void evict(struct bytering *ring)
{
    struct past *past = (struct past *)ring; /* its first member */
    drop(past);
    past->broken = true;
    if (past->due > 0) {
        past->due--;
        if (!past->fresh)
            past->lost++;
    }
}

void past_init(struct past *past)
{
    *past = (struct past){.ring = {past->bytes, evict, PAST_BYTES, 0, 0, 0}, .broken = true};
}

void past_add(struct past *past, uint32_t t_us, int32_t units, uint8_t flags, bool joined)
{
    struct bytering *ring = &past->ring;
    struct raw *last = &past->newest;
    uint16_t dt_us = joined ? (uint16_t)(t_us - last->t_us) : last->dt_us;
    int16_t change = (int16_t)(dt_us - last->dt_us);
    uint16_t folded = (uint16_t)(change * 2);
    if (change < 0)
        folded = (uint16_t)~folded;
    bytering_put_u32(ring, ((uint32_t)folded << 4) | flags | (joined ? 0 : RAW_BROKEN));
    if (!joined)
        bytering_put_u32(ring, t_us - last->t_us);
    bytering_put_s32(ring, units - last->units);
    *last = (struct raw){t_us, units, dt_us, flags};
    past->count++;
    if (past->wanted)
        past->due++;
}

void past_want(struct past *past, bool wanted)
{
    if (wanted && !past->wanted) {
        while (past->ring.used > PAST_BYTES - PAST_HEADROOM_BYTES)
            evict(&past->ring);
        past->due = past->count;
        past->fresh = true;
    }
    past->wanted = wanted;
}

bool past_follows(const struct past *past)
{
    /* The first byte of a record has the flags. */
    return !past->broken && !(past->bytes[past->ring.tail] & RAW_BROKEN);
}

void past_take(struct past *past, struct raw *raw)
{
    drop(past);
    *raw = past->before;
    if (past->broken)
        raw->flags |= RAW_BROKEN;
    past->fresh = past->broken = false;
    past->due--;
}
