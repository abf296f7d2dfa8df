/* The bridge: frames and edges in, lines out. */
#ifndef BRIDGE_H
#define BRIDGE_H

#include "encoder.h"
#include "frame.h"

extern struct encoder bridge_encoder;
extern struct frame_taker bridge_frames;
extern const struct frame_form indicator_form;

/* Call for ever. */
void bridge_poll(void);

#endif
