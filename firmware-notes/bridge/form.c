/* The frame that this firmware is built for, out of its description in indicators/, and what the
 * compiler can see to be impossible in it. */
#include "frame.h"

#if FRAME_BITS < 1 || FRAME_BITS > FRAME_MOST_BITS
#error "FRAME_BITS: a frame has 1 to 128 bits"
#endif
#if VALUE_KIND == VALUE_DIGITS && (VALUE_LENGTH < 1 || VALUE_LENGTH > 9)
#error "VALUE_LENGTH: a value of digits has 1 to 9"
#endif
#if VALUE_KIND == VALUE_TWO && (VALUE_LENGTH < 2 || VALUE_LENGTH > 32)
#error "VALUE_LENGTH: a value in two's complement has 2 to 32 bits"
#endif
#if VALUE_KIND == VALUE_MAGNITUDE && (VALUE_LENGTH < 1 || VALUE_LENGTH > 31)
#error "VALUE_LENGTH: a magnitude has 1 to 31 bits"
#endif
#if VALUE_KIND == VALUE_TWO && SIGN_BITS != 0
#error "SIGN_BITS: a value in two's complement has its sign in it"
#endif
#if VALUE_AT + (VALUE_KIND == VALUE_DIGITS ? 4 : 1) * VALUE_LENGTH > FRAME_BITS
#error "VALUE_AT: the value reaches beyond the frame"
#endif
#if SIGN_BITS > 8 || UNIT_BITS > 8 || PLACE_BITS > 8
#error "a field has at most 8 bits"
#endif
#if SIGN_AT + SIGN_BITS > FRAME_BITS || UNIT_AT + UNIT_BITS > FRAME_BITS || \
    PLACE_AT + PLACE_BITS > FRAME_BITS
#error "a field reaches beyond the frame"
#endif
#if CLOCK_MOST_US < CLOCK_LEAST_US
#error "CLOCK_MOST_US: less than CLOCK_LEAST_US"
#endif
#if PAUSE_US <= CLOCK_MOST_US
#error "PAUSE_US: the pause between frames must be longer than any between two bits"
#endif
#if HOLD_US >= CLOCK_LEAST_US
#error "HOLD_US: data cannot hold for longer than the time to the next edge"
#endif

const struct frame_form indicator_form = {
    FRAME_BITS,
    VALUE_KIND,
    VALUE_AT,
    VALUE_LENGTH,
    LOW_BIT_FIRST,
    LOW_DIGIT_FIRST,
    {SIGN_AT, SIGN_BITS, SIGN_PLUS, SIGN_MINUS},
    {UNIT_AT, UNIT_BITS, UNIT_MM, UNIT_INCH},
    ALWAYS_INCH,
    {PLACE_AT, PLACE_BITS, PLACE_MM, PLACE_INCH},
    {FIXED_1, FIXED_2, FIXED_3},
};
