/*
 * Fault policy: see faults.h.
 */
#include "faults.h"
#include "clock64.h"

bool faults_met(struct faults *faults, enum status_code code, uint32_t ticks)
{
    bool tell = !faults->faulty || faults->code != code ||
                ticks - faults->told_ticks >= TELL_AGAIN_MS * TICKS_PER_MS;
    if (!faults->faulty) {
        faults->faulty = true;
        faults->count++;
        faults->retry_ms = 0;
    }
    faults->retry_ticks = ticks + faults->retry_ms * TICKS_PER_MS;
    uint16_t next_ms = faults->retry_ms == 0 ? RETRY_MS_FIRST : (uint16_t)(faults->retry_ms * 2);
    faults->retry_ms = next_ms > RETRY_MS_MAX ? RETRY_MS_MAX : next_ms;
    if (tell) {
        faults->told_ticks = ticks;
        faults->code = code;
    }
    return tell;
}

bool faults_retry_due(const struct faults *faults, uint32_t ticks)
{
    return (int32_t)(ticks - faults->retry_ticks) >= 0;
}

bool faults_over(struct faults *faults)
{
    bool ended = faults->faulty;
    faults->faulty = false;
    return ended;
}
