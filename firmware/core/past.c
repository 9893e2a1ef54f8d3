/*
 * The last conversions: see past.h. A record is: the change of the spacing
 * (folded) above a bit that tells whether flags follow, which they do where they
 * change and where it is not joined; there the time since the one before comes
 * next; the change of the reading.
 */
#include "past.h"

#define FLAGS_FOLLOW 1u

static void read_next(const struct past *past, uint16_t *at, struct raw *raw)
{
    uint32_t head = nibblering_get_u32(&past->ring, at);
    uint16_t half = (uint16_t)(head >> 2);
    raw->dt_us = (uint16_t)(raw->dt_us + (head & 2 ? ~half : half));
    raw->flags &= (uint8_t)~RAW_BROKEN;
    if (head & FLAGS_FOLLOW)
        raw->flags = (uint8_t)nibblering_get_u32(&past->ring, at);
    raw->t_us += raw->flags & RAW_BROKEN ? nibblering_get_u32(&past->ring, at) : raw->dt_us;
    raw->units += nibblering_get_s32(&past->ring, at);
}

static void drop(struct past *past)
{
    uint16_t at = past->ring.tail;
    read_next(past, &at, &past->before);
    nibblering_free(&past->ring, at);
    past->count--;
}

static void evict(struct nibblering *ring)
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
    *past = (struct past){.ring = {past->bytes, evict, 2 * PAST_BYTES, 0, 0, 0}, .broken = true};
}

void past_add(struct past *past, uint32_t t_us, int32_t units, uint8_t flags, bool joined)
{
    struct nibblering *ring = &past->ring;
    struct raw *last = &past->newest;
    uint16_t dt_us = joined ? (uint16_t)(t_us - last->t_us) : last->dt_us;
    int16_t change = (int16_t)(dt_us - last->dt_us);
    uint16_t folded = (uint16_t)(change * 2);
    if (change < 0)
        folded = (uint16_t)~folded;
    bool flags_follow = !joined || flags != last->flags;
    nibblering_put_u32(ring, ((uint32_t)folded << 1) | flags_follow);
    if (flags_follow)
        nibblering_put_u32(ring, flags | (joined ? 0 : RAW_BROKEN));
    if (!joined)
        nibblering_put_u32(ring, t_us - last->t_us);
    nibblering_put_s32(ring, units - last->units);
    *last = (struct raw){t_us, units, dt_us, flags};
    past->count++;
    if (past->wanted)
        past->due++;
}

void past_want(struct past *past, bool wanted)
{
    if (wanted && !past->wanted) {
        while (past->ring.used > 2 * (PAST_BYTES - PAST_HEADROOM_BYTES))
            evict(&past->ring);
        past->due = past->count;
        past->fresh = true;
    }
    past->wanted = wanted;
}

bool past_follows(const struct past *past)
{
    uint16_t at = past->ring.tail;
    struct raw next = past->before;
    read_next(past, &at, &next);
    return !past->broken && !(next.flags & RAW_BROKEN);
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
