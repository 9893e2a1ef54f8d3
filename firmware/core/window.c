/*
 * Windows: see window.h and PROTOCOL.md.
 */
#include "window.h"

/* Not inlined: it saves 130 bytes of flash. */
static __attribute__((noinline)) void clear(struct windowing *windowing)
{
    windowing->area = 0;
    windowing->sum = 0;
    windowing->count = 0;
    windowing->flags = 0;
    windowing->min = INT32_MAX;
    windowing->max = INT32_MIN;
}

void window_init(struct windowing *windowing, const struct calibration *cal, uint32_t window_us)
{
    *windowing = (struct windowing){.cal = cal, .window_us = window_us};
    clear(windowing);
}

static void close(struct windowing *windowing, struct window *out)
{
    const struct calibration *cal = windowing->cal;
    out->t_us = windowing->last_us;
    out->dur_us = (uint32_t)windowing->last_us - windowing->start_us;
    out->count = windowing->count;
    out->mean_uA = scale_uA(cal, windowing->sum, windowing->count);
    out->min_uA = scale_uA(cal, windowing->min, 1);
    out->max_uA = scale_uA(cal, windowing->max, 1);
    charge_add(&windowing->charge, cal, windowing->area, out->dur_us);
    out->charge_nC = windowing->charge.nC;
    out->flags = windowing->flags;
    if (out->mean_uA < 0)
        out->flags |= WINDOW_NEGATIVE;
    out->seq = windowing->seq++;
    windowing->start_us = (uint32_t)windowing->last_us;
    clear(windowing);
}

/* The first multiple of the length after the last conversion. */
static void find_edge(struct windowing *windowing)
{
    uint32_t past_us = (uint32_t)(windowing->last_us % windowing->window_us);
    windowing->edge_us = (uint32_t)windowing->last_us - past_us + windowing->window_us;
}

/*
 * The first conversion after boot or a fault has none before it: how long its
 * current flowed is not known. It starts the time, and is not counted.
 */
static void join(struct windowing *windowing, uint64_t t_us)
{
    windowing->joined = true;
    windowing->last_us = t_us;
    windowing->start_us = (uint32_t)t_us;
    find_edge(windowing);
    windowing->flags = WINDOW_UNJOINED;
}

static void take(struct windowing *windowing, const struct sample *sample, uint64_t t_us)
{
    uint32_t dt_us = (uint32_t)t_us - (uint32_t)windowing->last_us;
    windowing->last_us = t_us;
    windowing->area += (int64_t)sample->units * (int32_t)dt_us;
    int32_t units = sample->units;
    uint8_t flags = windowing->flags;
    windowing->sum += units;
    windowing->count++;
    if (units < windowing->min)
        windowing->min = units;
    if (units > windowing->max)
        windowing->max = units;
    if (sample->flags & SAMPLE_CLIPPED)
        flags |= WINDOW_CLIPPED;
    if (sample->flags & SAMPLE_WIDE)
        flags |= WINDOW_WIDE;
    if (sample->flags & SAMPLE_SWITCHED)
        flags |= WINDOW_SWITCHED;
    if (dt_us > MISSED_US)
        flags |= WINDOW_MISSED;
    windowing->flags = flags;
}

bool window_add(struct windowing *windowing, const struct sample *sample, uint64_t t_us, struct window *out)
{
    if (!windowing->joined) {
        join(windowing, t_us);
        return false;
    }
    take(windowing, sample, t_us);
    if ((int32_t)((uint32_t)t_us - windowing->edge_us) < 0)
        return false;
    do
        windowing->edge_us += windowing->window_us;
    while ((int32_t)((uint32_t)t_us - windowing->edge_us) >= 0);
    close(windowing, out);
    return true;
}

bool window_split(struct windowing *windowing, struct window *out)
{
    bool some = windowing->joined && windowing->count > 0;
    if (some)
        close(windowing, out);
    return some;
}

void window_set_length(struct windowing *windowing, uint32_t window_us)
{
    windowing->window_us = window_us;
    find_edge(windowing);
}

bool window_cut(struct windowing *windowing, struct window *out)
{
    bool some = window_split(windowing, out);
    windowing->joined = false;
    clear(windowing);
    return some;
}
