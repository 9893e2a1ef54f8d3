/*
 * Wires the main loop to the board and the sense chips; no logic.
 */
#include "boards/board.h"
#include "core/app.h"
#include "drivers/ina226.h"
#include "drivers/ina228.h"

static const struct sense_chip *const chips[] = {&ina228_chip, &ina226_chip};

int main(void)
{
    board_init();
    app_init(chips, sizeof chips / sizeof *chips);
    for (;;)
        if (!app_step())
            board_sleep();
}
