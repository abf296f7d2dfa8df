/* The bridge: frames and edges in, lines out. */
#ifndef BRIDGE_H
#define BRIDGE_H

#include "encoder.h"

extern struct encoder bridge_encoder;

/* Call at the first clock edge of the indicator's frame: this is when it looked. */
void bridge_frame_begins(void);
/* Call when the frame is whole, or with `good` 0 when its length was wrong. */
void bridge_frame(int good, int32_t reading, int inch);
/* Call for ever. */
void bridge_poll(void);

#endif
