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
    uint8_t has_reading;
    int32_t reading;
    uint16_t index_edges;
    int32_t index_count;
    uint8_t flags;
};

struct command {
    char letter;     /* ? G X R Z C */
    uint32_t number; /* of R */
};

/* A line being written; what does not fit is noticed when it is closed. */
struct line {
    uint8_t length;
    char text[LINE_ROOM];
};

uint16_t crc16(const char *body, size_t length);

void line_begin(struct line *line, char letter, uint16_t seq);
/* Each of these writes a comma before its field. */
void line_unsigned(struct line *line, uint32_t value);
void line_signed(struct line *line, int32_t value);
void line_text(struct line *line, const char *text);
void line_letter(struct line *line, char letter);
void line_nothing(struct line *line);
/* Writes no comma. */
void line_more(struct line *line, const char *text);
void line_number(struct line *line, uint32_t value);
/* The length of the whole line with its line feed, 0 where it has no room. */
uint8_t line_close(struct line *line);

/* The same for a whole sample. */
uint8_t line_of_sample(struct line *line, const struct sample *sample);

/* Reads a command without its line feed; 0 where it is none or its checksum is wrong. */
int command_of_line(const char *text, size_t length, struct command *command);

#endif
