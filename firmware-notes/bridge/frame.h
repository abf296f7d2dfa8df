/* Frames of an indicator with a clocked serial output, described by their bits. Those of the
 * indicator that this is built for stand in indicators/, and taker.h catches them. */
#ifndef FRAME_H
#define FRAME_H

#include <stdint.h>

#define FRAME_MOST_BITS 128
#define FRAME_MOST_FIXED 3

/* Kinds of a value, as VALUE_KIND: two's complement; a magnitude with its sign beside it; decimal
 * digits of four bits. */
#define VALUE_TWO 0
#define VALUE_MAGNITUDE 1
#define VALUE_DIGITS 2

/* Some bits of a frame, and the one or two values that they may have; none where `bits` is 0. */
struct frame_field {
    uint8_t at, bits;
    uint8_t first, second;
};

/* What a frame looks like. Places are counted from 0 in the order in which bits are sent. */
struct frame_form {
    uint8_t bits;             /* in a frame */
    uint8_t kind;             /* VALUE_... */
    uint8_t at;               /* place of the value's first bit */
    uint8_t length;           /* bits of the value; digits of 4 bits where it has digits */
    uint8_t low_first;        /* in the value, a digit or a field, the lowest bit comes first */
    uint8_t low_digit_first;
    struct frame_field sign;  /* plus, minus */
    struct frame_field unit;  /* mm, inch */
    uint8_t always_inch;      /* where no bit tells the unit */
    struct frame_field place; /* decimals in mm, in inch */
    struct frame_field fixed[FRAME_MOST_FIXED]; /* always `first` */
};

/* A frame's bits, the first one sent in the lowest bit of the first byte. 0 where they do not fit. */
int frame_read(const struct frame_form *form, const uint8_t *bits, int32_t *reading, uint8_t *inch);

#ifdef FRAME_BITS
#define FRAME_BYTES ((FRAME_BITS + 7) / 8)

/* A frame as it was caught: bits, and when and where its first edge was. */
struct frame_caught {
    uint16_t edge;  /* capture timer */
    uint8_t laps;   /* of the capture timer, the lowest byte */
    uint16_t count; /* of the encoder */
    uint8_t bits[FRAME_BYTES];
};

enum { FRAME_WAITS = 0, FRAME_QUIET = 1, FRAME_TAKES = 2, FRAME_SPOILT = 3 };

struct frame_taker {
    uint8_t stand;   /* FRAME_WAITS: for the first pause, since it began to listen in the middle */
    uint8_t taken;   /* bits */
    uint8_t byte;    /* the bits of the byte under way */
    uint8_t *next;   /* where it goes */
    uint16_t last;   /* edge */
    uint8_t filling; /* which of the two is being filled */
    volatile uint8_t full; /* the other one waits for the loop */
    uint8_t bad, lost;     /* since the loop last took them */
    struct frame_caught caught[2];
};

#endif
#endif
