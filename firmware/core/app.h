/*
 * The firmware's main loop, on any board.
 */
#ifndef CORE_APP_H
#define CORE_APP_H

#include "sense.h"
#include <stdbool.h>

/* After board_init(): counts the boot, looks for one of the chips in turn, makes the hello line. */
void app_init(const struct sense_chip *const *chips, uint8_t count);
/* One pass; true where another one may find more to do at once, false where the processor may sleep. */
bool app_step(void);

#endif
