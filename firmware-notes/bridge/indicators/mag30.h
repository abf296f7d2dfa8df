/* An indicator that sends when a line asks it, read through inverting stages: 30 bits, a magnitude
 * with its lowest bit first.
 *
 *     bits 0 to 1   always 0, 1
 *     bits 2 to 25  the magnitude, lowest bit first
 *     bit  26       1 in inches
 *     bit  27       1 for minus
 *     bits 28 to 29 always 0
 *
 * What each line means stands in two26.h. */
#define FRAME_BITS 30

#define VALUE_KIND VALUE_MAGNITUDE
#define VALUE_AT 2
#define VALUE_LENGTH 24
#define LOW_BIT_FIRST 1
#define LOW_DIGIT_FIRST 0

#define SIGN_AT 27
#define SIGN_BITS 1
#define SIGN_PLUS 0
#define SIGN_MINUS 1

#define UNIT_AT 26
#define UNIT_BITS 1
#define UNIT_MM 0
#define UNIT_INCH 1
#define ALWAYS_INCH 0

#define PLACE_AT 0
#define PLACE_BITS 0
#define PLACE_MM 0
#define PLACE_INCH 0

#define FIXED_1 {0, 2, 2, 2}
#define FIXED_2 {28, 2, 0, 0}
#define FIXED_3 {0}

#define CLOCK_RISING 1
#define CLOCK_LEAST_US 60
#define CLOCK_MOST_US 1200
#define HOLD_US 40
#define PAUSE_US 4000
#define STAGE_INVERTS 1

#define REQUEST 2
#define REQUEST_EVERY_US 25000
#define REQUEST_HOLD_US 20000
