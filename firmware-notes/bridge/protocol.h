/* Bridge protocol 1: lines to send, and commands to obey. No heap, no floats. */
#ifndef PROTOCOL_H
#define PROTOCOL_H

#include <stddef.h>
#include <stdint.h>

#define LINE_ROOM 97 /* 95 bytes, a line feed, and the end of the string */

enum {
    FLAG_NO_FRAME = 0x01, FLAG_BAD_FRAME = 0x02, FLAG_ILLEGAL = 0x04, FLAG_DROPPED = 0x08,
    FLAG_INDEX = 0x10, FLAG_BACKWARDS = 0x20, FLAG_INCH = 0x40, FLAG_FRAME_LOST = 0x80
};

struct sample {
    uint16_t seq;
    uint32_t t;
    int32_t count;
    int has_reading;
    int32_t reading;
    uint16_t index_edges;
    int32_t index_count;
    uint8_t flags;
};

struct command {
    char letter;     /* ? G X R Z C */
    uint32_t number; /* of R */
};

uint16_t crc16(const char *body, size_t length);

/* Both give the length of a whole line with its line feed, 0 where it has no room. */
size_t line_of_sample(char line[LINE_ROOM], const struct sample *sample);
size_t line_of_body(char line[LINE_ROOM], const char *body);

/* Reads a command without its line feed; 0 where it is none or its checksum is wrong. */
int command_of_line(const char *line, size_t length, struct command *command);

#endif
