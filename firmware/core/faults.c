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
        faults->wait_ticks = 0;
    }
    faults->retry_ticks = ticks + faults->wait_ticks;
    if (faults->wait_ticks < RETRY_MS_MAX * TICKS_PER_MS)
        faults->wait_ticks = faults->wait_ticks == 0 ? RETRY_MS_FIRST * TICKS_PER_MS : faults->wait_ticks * 2;
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
