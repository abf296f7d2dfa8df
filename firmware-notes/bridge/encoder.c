/* Counts every edge of A and B; call from their interrupt with both levels. */
#include "encoder.h"

void encoder_edge(struct encoder *encoder, int a, int b)
{
    /* Step from the old state (row) to the new one (column); 2 is a step that cannot be. */
    static const int8_t step[4][4] = {
        {0, -1, 1, 2}, {1, 0, 2, -1}, {-1, 2, 0, 1}, {2, 1, -1, 0}};
    uint8_t state = (uint8_t)((a != 0) << 1 | (b != 0));
    int8_t by = step[encoder->state][state];
    encoder->state = state;
    if (by == 2) {
        /* One of the two edges was missed; nobody knows which way, so nothing is counted. */
        encoder->illegal = 1;
        encoder->illegal_sum++;
        return;
    }
    if (by != 0) {
        /* Wraps like the line's own 32 bits do. */
        encoder->count = (int32_t)((uint32_t)encoder->count + (uint32_t)(int32_t)by);
        encoder->direction = by;
    }
}

void encoder_index(struct encoder *encoder)
{
    encoder->index_edges++;
    encoder->index_count = encoder->count;
    encoder->index_backwards = encoder->direction < 0;
    encoder->index_seen = 1;
}
