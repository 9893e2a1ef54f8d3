/*
 * Wires the main loop to the board; no logic.
 */
#include "boards/board.h"
#include "core/app.h"

int main(void)
{
    board_init();
    app_init();
    for (;;)
        if (!app_step())
            board_sleep();
}
