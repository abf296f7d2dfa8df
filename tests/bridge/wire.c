/* The firmware's half of the lines, asked over the standard input: a sample to be written, or a
 * command to be read. */
#include "protocol.h"
#include <stdio.h>
#include <string.h>

static void sample(const char *text)
{
    struct sample s = {0};
    struct line line;
    unsigned seq, edges, flags;
    unsigned long t;
    long count, reading, place;
    int has;
    if (sscanf(text, "%u %lu %ld %d %ld %u %ld %x", &seq, &t, &count, &has, &reading, &edges, &place,
               &flags) != 8)
        return;
    s.seq = (uint16_t)seq;
    s.t = (uint32_t)t;
    s.count = (int32_t)count;
    s.has_reading = (uint8_t)has;
    s.reading = (int32_t)reading;
    s.index_edges = (uint16_t)edges;
    s.index_count = (int32_t)place;
    s.flags = (uint8_t)flags;
    line_of_sample(&line, &s);
    fputs(line.text, stdout);
}

int main(void)
{
    char text[256];
    while (fgets(text, sizeof text, stdin) != NULL) {
        struct command command;
        size_t length = strcspn(text, "\n");
        if (text[0] == 'S')
            sample(text + 1);
        else if (command_of_line(text + 1, length - 1, &command))
            printf("%c %lu\n", command.letter, (unsigned long)command.number);
        else
            puts("none");
    }
    return 0;
}
