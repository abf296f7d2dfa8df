/* Reads a whole frame by its description. */
#include "frame.h"

static uint32_t some_bits(const uint8_t *bits, uint8_t at, uint8_t length, uint8_t low_first)
{
    uint32_t value = 0;
    for (uint8_t i = 0; i < length; i++) {
        uint8_t place = (uint8_t)(at + (low_first ? length - 1 - i : i));
        value = value << 1 | (bits[place >> 3] >> (place & 7) & 1);
    }
    return value;
}

/* 0 or 1: which of its two values a field has, 0 where there is no such field; -1: neither. */
static int8_t which(const struct frame_form *form, const struct frame_field *field,
                    const uint8_t *bits)
{
    uint8_t value;
    if (field->bits == 0)
        return 0;
    value = (uint8_t)some_bits(bits, field->at, field->bits, form->low_first);
    return value == field->first ? 0 : value == field->second ? 1 : -1;
}

/* The value without its sign field; 0 where a digit is none. */
static int value_of(const struct frame_form *form, const uint8_t *bits, int32_t *value)
{
    uint32_t all = 0;
    if (form->kind != VALUE_DIGITS) {
        all = some_bits(bits, form->at, form->length, form->low_first);
        if (form->kind == VALUE_TWO && form->length < 32 && all >> (form->length - 1))
            all |= ~(uint32_t)0 << form->length;
        *value = (int32_t)all;
        return 1;
    }
    for (uint8_t i = 0; i < form->length; i++) {
        uint8_t digit = form->low_digit_first ? (uint8_t)(form->length - 1 - i) : i;
        uint32_t worth = some_bits(bits, (uint8_t)(form->at + 4 * digit), 4, form->low_first);
        if (worth > 9)
            return 0;
        all = all * 10 + worth;
    }
    *value = (int32_t)all;
    return 1;
}

int frame_read(const struct frame_form *form, const uint8_t *bits, int32_t *reading, uint8_t *inch)
{
    int8_t minus = which(form, &form->sign, bits);
    int8_t unit = which(form, &form->unit, bits);
    int8_t place = which(form, &form->place, bits);
    for (uint8_t i = 0; i < FRAME_MOST_FIXED; i++)
        if (which(form, &form->fixed[i], bits) != 0)
            return 0;
    if (minus < 0 || unit < 0 || place < 0 || !value_of(form, bits, reading))
        return 0;
    *inch = form->unit.bits == 0 ? form->always_inch : (uint8_t)unit;
    /* A place that belongs to the other unit would make the reading ten times too large. Where
     * both are alike `which` has found the first. */
    if (form->place.bits != 0 && form->place.first != form->place.second &&
        (uint8_t)place != *inch)
        return 0;
    if (minus)
        *reading = -*reading;
    return 1;
}
