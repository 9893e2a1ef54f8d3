/*
 * The scripted input of a run: a current that is constant between times, and
 * bytes that the host sends. A text file, one entry a line, times ascending:
 *   SECONDS current MILLIAMPERES
 *   SECONDS send HEXBYTES
 */
#ifndef SCRIPT_H
#define SCRIPT_H

#include <stddef.h>
#include <stdint.h>

struct script {
    struct step {
        double at_s, mA, charge_mC; /* charge_mC: up to there */
    } steps[256];
    size_t step_count;
    struct sending {
        double at_s;
        uint8_t bytes[64];
        size_t count;
    } sendings[64];
    size_t sending_count;
};

/* Ends the program where the file cannot be read. */
void script_read(struct script *script, const char *path);
/* Integral of the current from 0 to `t_s`. */
double script_charge_mC(const struct script *script, double t_s);

#endif
