/* What a board must give. Its file also calls `encoder_look` and `encoder_index` for each edge of
 * the encoder, and `frame_begins`, `frame_edge` and `frame_pause` for the indicator's clock. */
#ifndef BOARD_H
#define BOARD_H

#include <stddef.h>
#include <stdint.h>

extern const char board_id[];                /* at most 7 characters, for the hello */
void board_start(void);                      /* pins, timer, port; interrupts on */
void board_lock(void);                       /* interrupts off */
void board_unlock(void);                     /* interrupts on */
/* Microseconds since the start, wrapping at 32 bits, and the encoder's count at that instant. */
uint32_t board_instant(uint16_t *count);
/* The same of when the capture timer stood at `edge` of the lap with this lowest byte. */
uint32_t board_when(uint16_t edge, uint8_t laps);
void board_encoder_again(void);              /* listens to it again, after a storm too */
void board_request(uint8_t on);              /* the line that asks the indicator for a frame */
size_t board_send_room(void);                /* bytes that can be queued without waiting */
void board_send(const char *bytes, size_t n);/* queues them; called only with room */
int board_receive(void);                     /* the next byte from the host, or -1 */
uint32_t board_baud(void);                   /* of the port, as the hello states it */

#endif
