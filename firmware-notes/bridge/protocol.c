/* Lines and checksums of bridge protocol 1. */
#include "protocol.h"

/* A byte at a time without a table: the polynomial 0x1021 has so few bits that eight steps of the
 * division fold into five shifts. */
static uint16_t crc_next(uint16_t crc, char byte)
{
    uint8_t x = (uint8_t)(crc >> 8) ^ (uint8_t)byte;
    x ^= x >> 4;
    return (uint16_t)((uint16_t)(crc << 8) ^ (uint16_t)((uint16_t)x << 12) ^
                      (uint16_t)((uint16_t)x << 5) ^ x);
}

uint16_t crc16(const char *body, size_t length)
{
    uint16_t crc = 0xFFFF;
    while (length-- > 0)
        crc = crc_next(crc, *body++);
    return crc;
}

static void put(struct line *line, char c)
{
    if (line->length < LINE_ROOM)
        line->text[line->length++] = c;
}

/* Digits by subtraction: a small controller has no division, and takes a tenth of the time so. */
void line_number(struct line *line, uint32_t value)
{
    static const uint32_t tens[] = {1000000000u, 100000000u, 10000000u, 1000000u, 100000u,
                                    10000u,      1000u,      100u,      10u};
    uint8_t begun = 0;
    for (uint8_t i = 0; i < sizeof tens / sizeof tens[0]; i++) {
        char digit = '0';
        while (value >= tens[i]) {
            value -= tens[i];
            digit++;
        }
        begun |= digit != '0';
        if (begun)
            put(line, digit);
    }
    put(line, (char)('0' + value));
}

static void put_hex(struct line *line, uint16_t value, int8_t digits)
{
    while (digits-- > 0)
        put(line, "0123456789ABCDEF"[value >> (4 * digits) & 15]);
}

void line_more(struct line *line, const char *text)
{
    while (*text != '\0')
        put(line, *text++);
}

void line_begin(struct line *line, char letter, uint16_t seq)
{
    line->length = 0;
    put(line, letter);
    line_unsigned(line, seq);
}

void line_nothing(struct line *line)
{
    put(line, ',');
}

void line_unsigned(struct line *line, uint32_t value)
{
    put(line, ',');
    line_number(line, value);
}

void line_signed(struct line *line, int32_t value)
{
    uint32_t size = (uint32_t)value;
    put(line, ',');
    if (value < 0) {
        put(line, '-');
        size = 0u - size; /* right for the least number too */
    }
    line_number(line, size);
}

void line_text(struct line *line, const char *text)
{
    put(line, ',');
    line_more(line, text);
}

void line_letter(struct line *line, char letter)
{
    put(line, ',');
    put(line, letter);
}

uint8_t line_close(struct line *line)
{
    uint16_t crc;
    if (line->length > 90)
        return 0;
    crc = crc16(line->text, line->length);
    put(line, '*');
    put_hex(line, crc, 4);
    put(line, '\n');
    line->text[line->length] = '\0';
    return line->length;
}

uint8_t line_of_sample(struct line *line, const struct sample *sample)
{
    line_begin(line, 'S', sample->seq);
    line_unsigned(line, sample->t);
    line_signed(line, sample->count);
    if (sample->has_reading)
        line_signed(line, sample->reading);
    else
        line_nothing(line);
    line_unsigned(line, sample->index_edges);
    line_signed(line, sample->index_count);
    line_nothing(line);
    put_hex(line, sample->flags, 2);
    return line_close(line);
}

static int8_t hex(char c)
{
    if (c >= '0' && c <= '9')
        return (int8_t)(c - '0');
    if (c >= 'A' && c <= 'F')
        return (int8_t)(c - 'A' + 10);
    return -1;
}

int command_of_line(const char *text, size_t length, struct command *command)
{
    if (length > 0 && text[length - 1] == '\r')
        length--;
    if (length >= 6 && text[length - 5] == '*') {
        uint16_t stated = 0;
        for (size_t i = length - 4; i < length; i++) {
            int8_t digit = hex(text[i]);
            if (digit < 0)
                return 0;
            stated = (uint16_t)((uint16_t)(stated << 4) | (uint16_t)digit);
        }
        length -= 5;
        if (stated != crc16(text, length))
            return 0;
    }
    if (length == 0)
        return 0;
    command->letter = text[0];
    command->number = 0;
    if (text[0] != 'R')
        return length == 1 && (text[0] == '?' || text[0] == 'G' || text[0] == 'X' ||
                               text[0] == 'Z' || text[0] == 'C');
    /* A number has no zeros before it, and no more digits than a rate can have. */
    if (length < 3 || length > 7 || text[1] != ',' || (text[2] == '0' && length > 3))
        return 0;
    for (size_t i = 2; i < length; i++) {
        if (text[i] < '0' || text[i] > '9')
            return 0;
        command->number = command->number * 10 + (uint32_t)(text[i] - '0');
    }
    return 1;
}
