/* What a board must give. */
#ifndef BOARD_H
#define BOARD_H

#include <stddef.h>
#include <stdint.h>

uint32_t board_micros(void);                 /* since the start, wrapping at 32 bits */
size_t board_send_room(void);                /* bytes that can be queued without waiting */
void board_send(const char *bytes, size_t n);/* queues them; called only with room */
int board_receive(void);                     /* the next byte from the host, or -1 */
void board_lock(void);                       /* interrupts off */
void board_unlock(void);                     /* interrupts on */
uint32_t board_baud(void);                   /* of the port, as the hello states it */

#endif
