/* Catches an indicator's frame bit by bit. Inline, since it runs in interrupts; a board that includes
 * this has defined TICKS_PER_US, of its capture timer. */
#ifndef TAKER_H
#define TAKER_H

#include "frame.h"

#define FRAME_TICKS(us) ((uint16_t)((us) * TICKS_PER_US))

/* Nothing has come for PAUSE_US: what was taken is a whole frame, or none. */
static inline void frame_pause(struct frame_taker *taker)
{
    uint8_t stand = taker->stand;
    taker->stand = FRAME_QUIET;
    if (stand == FRAME_WAITS || stand == FRAME_QUIET)
        return;
    if (stand == FRAME_SPOILT || taker->taken != FRAME_BITS) {
        if (taker->bad < 255)
            taker->bad++;
        return;
    }
    if (taker->full) {
        if (taker->lost < 255)
            taker->lost++;
        return;
    }
#if FRAME_BITS % 8 != 0
    *taker->next = (uint8_t)(taker->byte >> (8 - FRAME_BITS % 8));
#endif
    taker->filling ^= 1;
    taker->full = 1;
}

/* What keeps the time and the count of a frame, where this edge of the clock begins one. */
static inline struct frame_caught *frame_begins(struct frame_taker *taker, uint16_t edge)
{
    struct frame_caught *caught;
    uint16_t since = (uint16_t)(edge - taker->last);
    if (taker->stand >= FRAME_TAKES && since >= FRAME_TICKS(PAUSE_US))
        frame_pause(taker); /* its own interrupt had no time yet */
    if (taker->stand != FRAME_QUIET)
        return 0;
    caught = &taker->caught[taker->filling];
    taker->next = caught->bits;
    return caught;
}

/* An edge of the clock that stood in the capture timer at `edge`, the data as it was read at `now`,
 * and whether the clock still stood at its new level then. Behind `frame_begins`. */
static inline void frame_edge(struct frame_taker *taker, uint16_t edge, uint16_t now,
                              uint8_t steady, uint8_t data)
{
    uint16_t since = (uint16_t)(edge - taker->last);
    taker->last = edge;
    if (taker->stand == FRAME_WAITS || taker->stand == FRAME_SPOILT)
        return;
    if (taker->stand == FRAME_QUIET) {
        taker->stand = FRAME_TAKES;
        taker->taken = 0;
    } else if (since < FRAME_TICKS(CLOCK_LEAST_US) || since > FRAME_TICKS(CLOCK_MOST_US)) {
        taker->stand = FRAME_SPOILT;
        return;
    }
    /* Read too late, or the clock went back meanwhile: the data may be that of the next bit. Where
     * another edge has come already, `edge` is that one and lies behind `now`. */
    if (!steady || (uint16_t)(now - edge) > FRAME_TICKS(HOLD_US) || taker->taken >= FRAME_BITS) {
        taker->stand = FRAME_SPOILT;
        return;
    }
    taker->byte = (uint8_t)(taker->byte >> 1 | (data ? 0x80 : 0));
    taker->taken++;
    if ((taker->taken & 7) == 0)
        *taker->next++ = taker->byte;
}

#endif
