/*
 * The last windows: see history.h. A record is: flags, the changes of the five
 * words from dur_us to max_uA, the gain of the running charge, and for a window
 * that does not join the time since the end of the one before.
 */
#include "history.h"
#include <stddef.h>

#define WORDS 5
_Static_assert(offsetof(struct window, max_uA) - offsetof(struct window, dur_us) == 4 * (WORDS - 1), "they lie together");

/* Moves `window` on to the one whose record is at `*at`. Differences wrap, so that any value comes back. */
static void read_next(const struct history *history, uint16_t *at, struct window *window)
{
    const struct bytering *ring = &history->ring;
    uint32_t *words = &window->dur_us;
    window->seq++;
    window->flags = bytering_get(ring, at);
    for (uint8_t i = 0; i < WORDS; i++)
        words[i] += (uint32_t)bytering_get_s32(ring, at);
    window->charge_nC = (int64_t)((uint64_t)window->charge_nC + bytering_get_u64(ring, at));
    window->t_us += window->flags & WINDOW_UNJOINED ? bytering_get_u64(ring, at) : window->dur_us;
}

static void evict(struct bytering *ring)
{
    struct history *history = (struct history *)ring; /* its first member */
    uint16_t at = ring->tail;
    read_next(history, &at, &history->before);
    bytering_free(ring, at);
    history->count--;
}

void history_init(struct history *history)
{
    history->ring = (struct bytering){history->bytes, evict, HISTORY_BYTES, 0, 0, 0};
    history->newest.seq = history->before.seq = UINT32_MAX; /* the first window is number 0 */
}

void history_add(struct history *history, const struct window *window)
{
    struct bytering *ring = &history->ring;
    const struct window *last = &history->newest;
    const uint32_t *words = &window->dur_us, *words_before = &last->dur_us;
    bytering_put(ring, window->flags);
    for (uint8_t i = 0; i < WORDS; i++)
        bytering_put_s32(ring, (int32_t)(words[i] - words_before[i]));
    bytering_put_u64(ring, (uint64_t)window->charge_nC - (uint64_t)last->charge_nC);
    if (window->flags & WINDOW_UNJOINED)
        bytering_put_u64(ring, window->t_us - last->t_us);
    history->newest = *window;
    history->count++;
}

void history_get(const struct history *history, uint32_t seq, struct window *window)
{
    if (seq == history->newest.seq) {
        *window = history->newest;
        return;
    }
    uint16_t at = history->ring.tail;
    *window = history->before;
    do
        read_next(history, &at, window);
    while (window->seq != seq);
}
