/* Lines and checksums of bridge protocol 1. */
#include "protocol.h"

uint16_t crc16(const char *body, size_t length)
{
    uint16_t crc = 0xFFFF;
    for (size_t i = 0; i < length; i++) {
        crc ^= (uint16_t)((uint16_t)(uint8_t)body[i] << 8);
        for (int bit = 0; bit < 8; bit++)
            crc = (uint16_t)(crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1);
    }
    return crc;
}

/* A line being written; what does not fit is noticed at its end. */
struct out {
    char *line;
    size_t length;
};

static void put(struct out *out, char c)
{
    if (out->length < LINE_ROOM)
        out->line[out->length] = c;
    out->length++;
}

static void put_unsigned(struct out *out, uint32_t value)
{
    char digits[10];
    int count = 0;
    do {
        digits[count++] = (char)('0' + value % 10);
        value /= 10;
    } while (value > 0);
    while (count > 0)
        put(out, digits[--count]);
}

static void put_signed(struct out *out, int32_t value)
{
    uint32_t size = (uint32_t)value;
    if (value < 0) {
        put(out, '-');
        size = 0u - size; /* right for the least number too */
    }
    put_unsigned(out, size);
}

static void put_hex(struct out *out, uint32_t value, int digits)
{
    while (digits-- > 0)
        put(out, "0123456789ABCDEF"[value >> (4 * digits) & 15]);
}

static size_t close_line(struct out *out)
{
    if (out->length > 90)
        return 0;
    uint16_t crc = crc16(out->line, out->length);
    put(out, '*');
    put_hex(out, crc, 4);
    put(out, '\n');
    out->line[out->length] = '\0';
    return out->length;
}

size_t line_of_sample(char line[LINE_ROOM], const struct sample *sample)
{
    struct out out = {line, 0};
    put(&out, 'S');
    put(&out, ',');
    put_unsigned(&out, sample->seq);
    put(&out, ',');
    put_unsigned(&out, sample->t);
    put(&out, ',');
    put_signed(&out, sample->count);
    put(&out, ',');
    if (sample->has_reading)
        put_signed(&out, sample->reading);
    put(&out, ',');
    put_unsigned(&out, sample->index_edges);
    put(&out, ',');
    put_signed(&out, sample->index_count);
    put(&out, ',');
    put_hex(&out, sample->flags, 2);
    return close_line(&out);
}

size_t line_of_body(char line[LINE_ROOM], const char *body)
{
    struct out out = {line, 0};
    while (*body != '\0')
        put(&out, *body++);
    return close_line(&out);
}

static int hex(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'A' && c <= 'F')
        return c - 'A' + 10;
    return -1;
}

int command_of_line(const char *line, size_t length, struct command *command)
{
    if (length > 0 && line[length - 1] == '\r')
        length--;
    if (length >= 6 && line[length - 5] == '*') {
        int32_t stated = 0;
        for (size_t i = length - 4; i < length; i++) {
            int digit = hex(line[i]);
            if (digit < 0)
                return 0;
            stated = stated << 4 | digit;
        }
        length -= 5;
        if (stated != crc16(line, length))
            return 0;
    }
    if (length == 0)
        return 0;
    command->letter = line[0];
    command->number = 0;
    if (line[0] != 'R')
        return length == 1 && (line[0] == '?' || line[0] == 'G' || line[0] == 'X' ||
                               line[0] == 'Z' || line[0] == 'C');
    if (length < 3 || length > 7 || line[1] != ',')
        return 0;
    for (size_t i = 2; i < length; i++) {
        if (line[i] < '0' || line[i] > '9')
            return 0;
        command->number = command->number * 10 + (uint32_t)(line[i] - '0');
    }
    return 1;
}
