/*
 * The scripted input: see script.h.
 */
#include "script.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void fail(const char *path, const char *line)
{
    fprintf(stderr, "%s: cannot be read: %s\n", path, line);
    exit(2);
}

void script_read(struct script *script, const char *path)
{
    char line[512], word[16], rest[256];
    double at_s;
    FILE *file = fopen(path, "r");
    if (!file)
        fail(path, "no such file");
    memset(script, 0, sizeof *script);
    while (fgets(line, sizeof line, file)) {
        if (sscanf(line, "%lf %15s %255s", &at_s, word, rest) != 3)
            fail(path, line);
        if (strcmp(word, "current") == 0 && script->step_count < 256) {
            struct step *step = &script->steps[script->step_count];
            *step = (struct step){at_s, atof(rest), 0};
            if (script->step_count > 0)
                step->charge_mC = step[-1].charge_mC + step[-1].mA * (at_s - step[-1].at_s);
            script->step_count++;
        } else if (strcmp(word, "send") == 0 && script->sending_count < 64) {
            struct sending *sending = &script->sendings[script->sending_count++];
            sending->at_s = at_s;
            unsigned byte;
            for (const char *hex = rest; sscanf(hex, "%2x", &byte) == 1 && sending->count < 64; hex += 2)
                sending->bytes[sending->count++] = (uint8_t)byte;
        } else {
            fail(path, line);
        }
    }
    fclose(file);
}

double script_charge_mC(const struct script *script, double t_s)
{
    size_t at = 0;
    while (at + 1 < script->step_count && script->steps[at + 1].at_s <= t_s)
        at++;
    const struct step *step = &script->steps[at];
    return step->charge_mC + step->mA * (t_s - step->at_s);
}
