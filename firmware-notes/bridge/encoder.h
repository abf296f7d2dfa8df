/* A quadrature encoder with an index mark, counted on every edge.
 *
 * All of it is inline, since it runs in the shortest interrupts there are. The count has 16 bits
 * here; the loop follows it into 32. */
#ifndef ENCODER_H
#define ENCODER_H

#include <stdint.h>

enum { ENCODER_A = 1, ENCODER_B = 2, ENCODER_BOTH = 3 };

/* So many illegal steps between two looks of the loop are no turning but noise: the port stops to
 * listen until the loop has looked, or nothing else would run. */
#define ENCODER_STORM 64

struct encoder {
    uint16_t count;
    uint8_t levels;          /* A and B as they were counted: ENCODER_A | ENCODER_B */
    uint8_t backwards;       /* the last step was */
    uint8_t illegal;         /* times that edges came too fast to be told apart, since last taken */
    uint8_t index_active;    /* the index track as it was */
    uint8_t index_changed;   /* it changed since the loop last looked */
    uint8_t index_quiet;     /* it has not changed for a while: an edge is one, and no bounce */
    uint8_t index_seen;      /* since last taken */
    uint8_t index_backwards; /* the last index edge was passed so */
    uint16_t index_edges;
    uint16_t index_count;    /* the count at the last one */
};

/* Call for each edge with which tracks fired since the last call and what the levels are now, the
 * former read first.
 *
 * Where one track alone fired, any number of its edges is the step between the two levels of that
 * track: nothing can be lost. Where both fired, nobody knows which came first, or how often; so
 * nothing is counted, and it is told. Gives 1 where that came too often: see ENCODER_STORM. */
static inline uint8_t encoder_look(struct encoder *encoder, uint8_t fired, uint8_t levels)
{
    uint8_t changed, now;
    fired &= ENCODER_BOTH;
    if (fired == ENCODER_BOTH) {
        encoder->levels = levels & ENCODER_BOTH;
        if (encoder->illegal < 255)
            encoder->illegal++;
        return encoder->illegal >= ENCODER_STORM;
    }
    now = encoder->levels;
    changed = (levels ^ now) & fired;
    if (changed == 0)
        return 0;
    now ^= changed;
    encoder->levels = now;
    /* Forwards A leads: behind an edge of A the tracks differ, behind one of B they are alike. */
    if ((now ^ (now >> 1) ^ (fired >> 1)) & 1) {
        encoder->count++;
        encoder->backwards = 0;
    } else {
        encoder->count--;
        encoder->backwards = 1;
    }
    return 0;
}

/* Call for each change of the index track with its level now. The first edge into the mark counts,
 * those that come before it has been quiet for a while are its bounces; a pulse that is over
 * before anybody looks is noise. */
static inline void encoder_index(struct encoder *encoder, uint8_t active)
{
    if (active && !encoder->index_active && encoder->index_quiet) {
        encoder->index_edges++;
        encoder->index_count = encoder->count;
        encoder->index_backwards = encoder->backwards;
        encoder->index_seen = 1;
    }
    encoder->index_active = active;
    encoder->index_quiet = 0;
    encoder->index_changed = 1;
}

#endif
