/* The worked lines of the protocol, and an encoder turned to and fro, on any computer. */
#include "encoder.h"
#include "protocol.h"
#include <stdio.h>
#include <string.h>

static int faults;

static void check(int good, const char *what)
{
    if (!good) {
        faults++;
        printf("wrong: %s\n", what);
    }
}

static void turn(struct encoder *encoder, int steps)
{
    static const int a[] = {0, 1, 1, 0}, b[] = {0, 0, 1, 1};
    static int at;
    for (int i = 0; i < (steps < 0 ? -steps : steps); i++) {
        at = (at + (steps < 0 ? 3 : 1)) % 4;
        encoder_edge(encoder, a[at], b[at]);
    }
}

int main(void)
{
    char line[LINE_ROOM];
    struct sample s = {57, 1049848, 1899, 1, -1234, 1, 100, 0x10};
    struct command command;
    struct encoder encoder = {0};

    check(crc16("123456789", 9) == 0x29B1, "check value of the checksum");
    line_of_sample(line, &s);
    check(strcmp(line, "S,57,1049848,1899,-1234,1,100,10*30C1\n") == 0, line);
    s = (struct sample){60, 4294967290u, 2410, 1, 6789, 2, 2500, 0x10};
    line_of_sample(line, &s);
    check(strcmp(line, "S,60,4294967290,2410,6789,2,2500,10*AFFA\n") == 0, line);
    s = (struct sample){0, 109061, -49, 0, 0, 65535, -2300, 0x20};
    line_of_sample(line, &s);
    check(strcmp(line, "S,0,109061,-49,,65535,-2300,20*A408\n") == 0, line);
    line_of_body(line, "A,52,R,1,200");
    check(strcmp(line, "A,52,R,1,200*C671\n") == 0, line);
    check(command_of_line("R,200*A0C2", 10, &command) && command.number == 200, "R with checksum");
    check(command_of_line("G\r", 2, &command) && command.letter == 'G', "G typed");
    check(!command_of_line("G*D9D4", 6, &command), "a wrong checksum");
    check(!command_of_line("Q", 1, &command), "no command");

    turn(&encoder, 1000);
    encoder_index(&encoder);
    turn(&encoder, -300);
    check(encoder.count == 700 && encoder.index_count == 1000, "count and index");
    check(!encoder.illegal, "no illegal step");
    encoder_index(&encoder);
    check(encoder.index_backwards == 1, "index passed backwards");
    encoder_edge(&encoder, !(encoder.state >> 1), !(encoder.state & 1));
    check(encoder.illegal && encoder.count == 700, "both tracks at once");
    puts(faults ? "some are wrong" : "all right");
    return faults != 0;
}
