/* The firmware: a board, and the bridge's loop. */
#include "board.h"
#include "bridge.h"

int main(void)
{
    board_start();
    for (;;)
        bridge_poll();
}
