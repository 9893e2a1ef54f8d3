/*
 * Wires the main loop to the board and the sense chip; no logic.
 */
#include "boards/board.h"
#include "core/app.h"
#include "drivers/ina228.h"

int main(void)
{
    board_init();
    app_init(&ina228_chip);
    for (;;)
        if (!app_step())
            board_sleep();
}
