/* An indicator with a fast clock that sends decimal digits: 36 bits, in groups of four with the
 * highest bit first.
 *
 *     bits 0 to 3   unit: 3 mm, 12 inches
 *     bits 4 to 7   decimals: 3 in mm, 4 in inches
 *     bits 8 to 31  six digits, the last one first
 *     bits 32 to 35 sign: 5 plus, 10 minus
 *
 * What each line means stands in two26.h. */
#define FRAME_BITS 36

#define VALUE_KIND VALUE_DIGITS
#define VALUE_AT 8
#define VALUE_LENGTH 6
#define LOW_BIT_FIRST 0
#define LOW_DIGIT_FIRST 1

#define SIGN_AT 32
#define SIGN_BITS 4
#define SIGN_PLUS 5
#define SIGN_MINUS 10

#define UNIT_AT 0
#define UNIT_BITS 4
#define UNIT_MM 3
#define UNIT_INCH 12
#define ALWAYS_INCH 0

#define PLACE_AT 4
#define PLACE_BITS 4
#define PLACE_MM 3
#define PLACE_INCH 4

#define FIXED_1 {0}
#define FIXED_2 {0}
#define FIXED_3 {0}

#define CLOCK_RISING 0
#define CLOCK_LEAST_US 10
#define CLOCK_MOST_US 40
#define HOLD_US 5
#define PAUSE_US 1000
#define STAGE_INVERTS 0

#define REQUEST 0
#define REQUEST_EVERY_US 20000
#define REQUEST_HOLD_US 15000
