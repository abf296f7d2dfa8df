/* An indicator that sends by itself: 26 bits, a value in two's complement.
 *
 *     bits 0 to 1   always 1, 0
 *     bits 2 to 23  the value, highest bit first
 *     bit  24       1 in inches
 *     bit  25       1 where the value means nothing: such a frame is refused
 *
 * Copy this file under the name of your own, and write into it what your indicator's sheet says.
 * Places count from 0, in the order in which bits are sent; a field that your frame does not have
 * has 0 bits. The name of the file is what the hello says (`ind=`). */

#define FRAME_BITS 26 /* edges of the clock in one frame, 1 to 128 */

/* The value. */
#define VALUE_KIND VALUE_TWO /* VALUE_TWO, VALUE_MAGNITUDE, or VALUE_DIGITS of 4 bits each */
#define VALUE_AT 2           /* place of its first bit */
#define VALUE_LENGTH 22      /* bits, or digits */
#define LOW_BIT_FIRST 0      /* 1: the lowest bit of value, digit and field is sent first */
#define LOW_DIGIT_FIRST 0    /* 1: the last digit is sent first */

/* The sign of a magnitude or of digits: its bits, and what they say. Neither of the two is refused. */
#define SIGN_AT 0
#define SIGN_BITS 0
#define SIGN_PLUS 0
#define SIGN_MINUS 1

/* The unit that is shown; where no bit tells, whether it is always inches. */
#define UNIT_AT 24
#define UNIT_BITS 1
#define UNIT_MM 0
#define UNIT_INCH 1
#define ALWAYS_INCH 0

/* Decimals of the value, where the frame says them: those of the least count, for either unit.
 * Others are refused, since the reading would be ten times too large. */
#define PLACE_AT 0
#define PLACE_BITS 0
#define PLACE_MM 0
#define PLACE_INCH 0

/* Bits that are always the same: {place, bits, value}, or {0} */
#define FIXED_1 {0, 2, 2, 2}
#define FIXED_2 {25, 1, 0, 0}
#define FIXED_3 {0}

/* The clock, as the indicator sends it. */
#define CLOCK_RISING 0     /* data is read at the rising edge, or (0) at the falling one */
#define CLOCK_LEAST_US 25  /* from edge to edge within a frame */
#define CLOCK_MOST_US 400
#define HOLD_US 18         /* data, and the clock's new level, hold so long behind that edge */
#define PAUSE_US 2000      /* between frames nothing comes for at least so long; 20,000 at most */
#define STAGE_INVERTS 0    /* a transistor stage in each line turns both signals over */

/* A line that asks for a frame: 0 none, 1 asks while high, 2 asks while low. */
#define REQUEST 0
#define REQUEST_EVERY_US 20000
#define REQUEST_HOLD_US 15000 /* longest; it is let go when a frame has come */
