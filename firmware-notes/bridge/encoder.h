/* A quadrature encoder with an index mark, counted on every edge. */
#ifndef ENCODER_H
#define ENCODER_H

#include <stdint.h>

struct encoder {
    int32_t count;
    uint8_t state;         /* A and B as they were: A << 1 | B */
    int8_t direction;      /* of the last good step */
    uint8_t illegal;       /* A and B changed together since it was last cleared */
    uint16_t illegal_sum;
    uint8_t index_seen;    /* since it was last cleared */
    uint8_t index_backwards;
    uint16_t index_edges;
    int32_t index_count;
};

void encoder_edge(struct encoder *encoder, int a, int b);
void encoder_index(struct encoder *encoder);

#endif
