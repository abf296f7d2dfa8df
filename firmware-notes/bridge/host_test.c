/* The bridge without its controller, on any computer: worked lines, frames of every kind, an encoder
 * turned to and fro, and the whole loop on a board that is nothing but a clock and two buffers. That
 * board is an example of one, too. */
#define TICKS_PER_US 2
#include "board.h"
#include "bridge.h"
#include "protocol.h"
#include "taker.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int faults;

static void check(int good, const char *what)
{
    if (!good) {
        faults++;
        printf("wrong: %s\n", what);
    }
}

/* The board. */

const char board_id[] = "host";
static uint32_t micros;
static char sent[1 << 16], got[256];
static size_t sent_length, sent_room = sizeof sent - 1, got_from, got_to;

void board_lock(void) {}
void board_unlock(void) {}
void board_encoder_again(void) {}
void board_request(uint8_t on) { (void)on; }
size_t board_send_room(void) { return sent_room - sent_length; }
uint32_t board_baud(void) { return BAUD; }

uint32_t board_instant(uint16_t *count)
{
    *count = bridge_encoder.count;
    return micros;
}

/* Its capture timer runs with the clock, two ticks a microsecond. */
uint32_t board_when(uint16_t edge, uint8_t laps)
{
    uint32_t now = micros >> 15;
    now -= (uint8_t)((uint8_t)now - laps);
    return (now << 15) + (edge >> 1);
}

void board_send(const char *bytes, size_t n)
{
    memcpy(sent + sent_length, bytes, n);
    sent_length += n;
    sent[sent_length] = '\0';
}

int board_receive(void)
{
    return got_from < got_to ? (unsigned char)got[got_from++] : -1;
}

static void type(const char *text)
{
    got_from = 0;
    got_to = strlen(text);
    memcpy(got, text, got_to);
    bridge_poll();
}

static void forget(void)
{
    sent_length = 0;
    sent[0] = '\0';
}

/* Lines of this letter among those sent. */
static int lines(char letter)
{
    int count = 0;
    for (const char *line = sent; *line != '\0'; line = strchr(line, '\n') + 1)
        count += *line == letter;
    return count;
}

/* A field of the last line of this letter, counted from 0; nothing where there is none. */
static const char *field(char letter, int number)
{
    static char found[LINE_ROOM];
    const char *at = NULL;
    for (const char *line = sent; *line != '\0'; line = strchr(line, '\n') + 1)
        if (*line == letter)
            at = line;
    if (at == NULL)
        return "";
    while (number-- > 0)
        at = strchr(at, ',') + 1;
    snprintf(found, sizeof found, "%.*s", (int)strcspn(at, ",*"), at);
    return found;
}

static long flags(void)
{
    return strtol(field('S', 7), NULL, 16);
}

static void wait(uint32_t us)
{
    for (uint32_t i = 0; i < us; i += 100) {
        micros += 100;
        bridge_poll();
    }
}

/* A value as two26 sends it, a bit each 40 us; `bits` of it, or spoilt as asked. */
static void frame(int32_t value, int bits, uint16_t apart_us, uint16_t late_us)
{
    uint32_t all = 0x2u << 24 | ((uint32_t)value & 0x3FFFFF) << 2;
    for (int i = 0; i < bits; i++) {
        uint16_t edge = (uint16_t)(micros * 2);
        struct frame_caught *caught = frame_begins(&bridge_frames, edge);
        if (caught) {
            caught->edge = edge;
            caught->laps = (uint8_t)(micros >> 15);
            caught->count = bridge_encoder.count;
        }
        frame_edge(&bridge_frames, edge, (uint16_t)(edge + 2 * late_us), 1, i < 26 && all >> (25 - i) & 1);
        micros += apart_us;
    }
    micros += PAUSE_US;
    frame_pause(&bridge_frames);
}

static void turn(int steps)
{
    static const uint8_t levels[] = {0, ENCODER_A, ENCODER_BOTH, ENCODER_B};
    int at = bridge_encoder.levels ^ bridge_encoder.levels >> 1;
    for (int i = 0; i < abs(steps); i++) {
        int to = (at + (steps < 0 ? 3 : 1)) % 4;
        encoder_look(&bridge_encoder, levels[at] ^ levels[to], levels[to]);
        at = to;
    }
}

static void worked_lines(void)
{
    struct line line;
    struct sample s = {57, 1049848, 1899, 1, -1234, 1, 100, 0x10};
    struct command command;
    check(crc16("123456789", 9) == 0x29B1, "check value of the checksum");
    line_of_sample(&line, &s);
    check(strcmp(line.text, "S,57,1049848,1899,-1234,1,100,10*30C1\n") == 0, line.text);
    s = (struct sample){60, 4294967290u, 2410, 1, 6789, 2, 2500, 0x10};
    line_of_sample(&line, &s);
    check(strcmp(line.text, "S,60,4294967290,2410,6789,2,2500,10*AFFA\n") == 0, line.text);
    s = (struct sample){0, 109061, -49, 0, 0, 65535, -2300, 0x20};
    line_of_sample(&line, &s);
    check(strcmp(line.text, "S,0,109061,-49,,65535,-2300,20*A408\n") == 0, line.text);
    s = (struct sample){65535, 4294967295u, INT32_MIN, 1, INT32_MIN, 65535, INT32_MIN, 0xFF};
    check(line_of_sample(&line, &s) == 69, "the longest sample");
    line_begin(&line, 'A', 52);
    line_letter(&line, 'R');
    line_letter(&line, '1');
    line_unsigned(&line, 200);
    line_close(&line);
    check(strcmp(line.text, "A,52,R,1,200*C671\n") == 0, line.text);
    check(command_of_line("R,200*A0C2", 10, &command) && command.number == 200, "R with checksum");
    check(command_of_line("G\r", 2, &command) && command.letter == 'G', "G typed");
    check(!command_of_line("G*D9D4", 6, &command), "a wrong checksum");
    check(!command_of_line("Q", 1, &command), "no command");
    check(!command_of_line("R,012", 5, &command), "zeros before a number");
}

static void encoders(void)
{
    struct encoder *e = &bridge_encoder;
    turn(1000);
    turn(-300);
    check(e->count == 700 && e->backwards && !e->illegal, "to and fro");
    /* Any number of edges of one track alone is a step or none. */
    encoder_look(e, ENCODER_A, e->levels);
    check(e->count == 700 && !e->illegal, "a track that trembles");
    /* Where both fired nothing is counted, whatever the levels: 2, 3 or 4 edges were missed. */
    for (uint8_t levels = 0; levels < 4; levels++) {
        encoder_look(e, ENCODER_BOTH, levels);
        check(e->count == 700 && e->illegal == levels + 1, "both tracks at once");
    }
    encoder_look(e, ENCODER_BOTH, 0);
    e->illegal = 0;
    /* The first edge into the mark counts, its bounces do not. */
    e->index_quiet = 1;
    encoder_index(e, 1);
    check(e->index_edges == 1 && e->index_count == 700 && e->index_backwards, "an index edge");
    turn(2);
    encoder_index(e, 0);
    encoder_index(e, 1);
    encoder_index(e, 0);
    check(e->index_edges == 1 && e->index_count == 700, "a bounce");
    e->index_quiet = 1;
    encoder_index(e, 0);
    e->index_quiet = 1;
    encoder_index(e, 1);
    check(e->index_edges == 2 && e->index_count == 702 && !e->index_backwards, "the next one");
    memset(e, 0, sizeof *e);
}

/* Reads these bits, written in the order sent. */
static int reads(const struct frame_form *form, const char *text, int32_t *reading, uint8_t *inch)
{
    uint8_t bits[16] = {0};
    int count = 0;
    for (; *text != '\0'; text++)
        if (*text != ' ') {
            bits[count / 8] |= (uint8_t)((*text == '1') << count % 8);
            count++;
        }
    *reading = 0;
    return frame_read(form, bits, reading, inch) && count == form->bits;
}

static void forms(void)
{
    static const struct frame_form low = {
        12, VALUE_MAGNITUDE, 0, 8, 1, 0, {8, 1, 0, 1}, {9, 1, 0, 1}, 0, {0, 0, 0, 0}, {{10, 2, 2, 0}, {0}, {0}}};
    static const struct frame_form digits = {
        24, VALUE_DIGITS, 8, 3, 0, 1, {20, 4, 5, 10}, {0, 4, 3, 12}, 0, {4, 4, 3, 4}, {{0}, {0}, {0}}};
    static const struct frame_form whole = {
        32, VALUE_TWO, 0, 32, 0, 0, {0}, {0}, 1, {0}, {{0}, {0}, {0}}};
    int32_t r;
    uint8_t inch;
    check(reads(&indicator_form, "10 0000000000010011010010 00", &r, &inch) && r == 1234 && !inch,
          "two's complement");
    check(reads(&indicator_form, "10 1111111111101100101110 10", &r, &inch) && r == -1234 && inch,
          "two's complement, minus, inch");
    check(reads(&indicator_form, "10 1000000000000000000000 00", &r, &inch) && r == -2097152, "the least");
    check(!reads(&indicator_form, "11 0000000000010011010010 00", &r, &inch), "a fixed bit");
    check(!reads(&indicator_form, "10 0000000000010011010010 01", &r, &inch), "a value without meaning");
    check(reads(&low, "1100 0000 0 0 01", &r, &inch) && r == 3, "lowest bit first");
    check(reads(&low, "0000 0001 1 0 01", &r, &inch) && r == -128, "a magnitude with minus");
    check(reads(&low, "0000 0000 1 0 01", &r, &inch) && r == 0, "minus nothing");
    check(!reads(&low, "0000 0000 1 0 10", &r, &inch), "fixed bits of two");
    check(reads(&digits, "0011 0011 0011 0010 0001 0101", &r, &inch) && r == 123 && !inch, "digits");
    check(reads(&digits, "1100 0100 0011 0010 0001 1010", &r, &inch) && r == -123 && inch,
          "digits in inches");
    check(!reads(&digits, "0011 0011 1010 0010 0001 0101", &r, &inch), "a digit above nine");
    check(!reads(&digits, "0011 0011 0011 0010 0001 0111", &r, &inch), "neither plus nor minus");
    check(!reads(&digits, "0111 0011 0011 0010 0001 0101", &r, &inch), "neither mm nor inch");
    check(!reads(&digits, "0011 0100 0011 0010 0001 0101", &r, &inch), "the inch's decimals in mm");
    check(!reads(&digits, "0011 0010 0011 0010 0001 0101", &r, &inch), "other decimals");
    check(reads(&whole, "10000000000000000000000000000000", &r, &inch) && r == INT32_MIN && inch,
          "the longest value");
}

static void starts(void)
{
    bridge_poll();
    check(strncmp(sent, "\nH,0,proto=1,fw=", 16) == 0 && strstr(sent, ",ind=two26,"), sent);
    /* It begins to listen in the middle of a frame, which is none and no loss; and one that is
     * spoilt while nobody listens is counted and no loss. */
    frame(5, 13, 40, 3);
    frame(6, 26, 40, 3);
    wait(1000);
    frame(7, 25, 40, 3);
    wait(1000);
    for (int i = 0; i < 20; i++) {
        frame(100 + i, 26, 40, 3);
        wait(20000);
    }
    check(lines('S') == 0, "nothing is sent before it is asked for");
    forget();
    type("G\n");
    bridge_poll();
    check(flags() == 0, "frames before the start are no losses");
    frame(-77, 26, 40, 3);
    bridge_poll();
    check(strcmp(field('S', 4), "-77") == 0 && flags() == 0, "a frame behind it");
    forget();
    micros += 1000000;
    bridge_poll();
    check(lines('T') == 1 && strcmp(field('T', 3), "22") == 0 && strcmp(field('T', 4), "1") == 0, sent);
}

/* A frame that does not fit its description, which must be refused and told, and the next one read. */
static void refused(int bits, uint16_t apart_us, uint16_t late_us, const char *what)
{
    forget();
    frame(4321, bits, apart_us, late_us);
    bridge_poll();
    check(lines('S') == 0, what);
    frame(1, 26, 40, 3);
    bridge_poll();
    check(lines('S') == 1 && strcmp(field('S', 4), "1") == 0 && flags() & FLAG_BAD_FRAME, what);
}

static void refusals(void)
{
    type("R,0\n");
    refused(25, 40, 3, "a bit too few");
    refused(27, 40, 3, "a bit too many");
    refused(1, 40, 3, "one edge");
    refused(26, 20, 3, "a clock too fast");
    refused(26, 500, 3, "a clock too slow");
    refused(26, 40, 19, "bits read too late");
    refused(26, 40, (uint16_t)-1, "bits read before their edge: another one has come");
    /* Two whole ones before the loop looks: the second is lost, and that is told. */
    forget();
    frame(10, 26, 40, 3);
    frame(11, 26, 40, 3);
    bridge_poll();
    check(lines('S') == 1 && strcmp(field('S', 4), "10") == 0 && flags() == FLAG_FRAME_LOST, sent);
}

static void rates(void)
{
    /* So long without position lines, and then no burst of those that were not due. */
    forget();
    type("R,0\n");
    wait(3000000);
    check(lines('S') == 0, "no position lines");
    forget();
    type("R,100\n");
    wait(100000);
    check(lines('S') == 10, "a rate changed while sending");
    micros += 500000;
    forget();
    wait(100000);
    check(lines('S') >= 10 && lines('S') <= 11, "a loop that was held up sends no burst");
    forget();
    type("X\n");
    wait(1000000);
    type("G\n");
    wait(50000);
    check(lines('S') >= 5 && lines('S') <= 6, "started again");
    forget();
    type("R,601\n");
    check(strncmp(strchr(sent + 2, ','), ",R,0,*", 6) == 0, "a rate that leaves no room");
    forget();
    type("R,200R,200R,200R,200R,200R,200\n");
    check(lines('A') == 0, "a line too long is no command");
}

static void flags_stay(void)
{
    /* What no line could tell is told by the first that can. */
    type("R,100\n");
    wait(20000);
    forget();
    bridge_encoder.illegal = 1;
    sent_room = 0;
    wait(30000);
    sent_room = sizeof sent - 1;
    wait(10000);
    check(lines('S') == 1 && (flags() & 0x0C) == 0x0C, "flags that found no room");
    wait(10000);
    check((flags() & 0x0C) == 0, "and are told once");
}

static void overflows(void)
{
    int32_t before;
    uint16_t seq;
    forget();
    /* Counts over the end of 32 bits, 30,000 at a time. */
    for (int32_t i = 0; i < 71582; i++) {
        bridge_encoder.count += 30000;
        bridge_poll();
        sent_length = 0;
    }
    type("Z\n");
    before = (int32_t)strtol(field('A', 4), NULL, 10);
    check(before > 2147400000, "a count near its end");
    bridge_encoder.count = (uint16_t)(bridge_encoder.count + 5);
    type("Z\n");
    check(strcmp(field('A', 4), "5") == 0, "counted from 0");
    for (int32_t i = 0; i < 71583; i++) {
        bridge_encoder.count += 30000;
        bridge_poll();
        sent_length = 0;
    }
    type("Z\n");
    check(strcmp(field('A', 4), "-2147477296") == 0, field('A', 4));
    /* The index stays where it is to the count, over `Z` too. */
    bridge_encoder.index_quiet = 1;
    encoder_index(&bridge_encoder, 0);
    bridge_encoder.index_quiet = 1;
    encoder_index(&bridge_encoder, 1);
    turn(40);
    type("Z\n");
    wait(20000);
    check(strcmp(field('S', 6), "-40") == 0 && strcmp(field('S', 3), "0") == 0, "the index behind `Z`");
    /* Time over the end of 32 bits, with lines that go on. */
    type("R,100\n");
    micros = 4294967295u - 95000;
    type("G\n");
    forget();
    wait(200000);
    check(lines('S') >= 20 && lines('S') <= 21, "lines while time wraps");
    check(strtoul(field('S', 2), NULL, 10) < 200000, "time behind its end");
    micros = 4294967295u - 800;
    frame(33, 26, 40, 3);
    bridge_poll();
    check(strtoul(field('S', 2), NULL, 10) == 4294966495u, "a frame over the end of time");
    /* The sequence over the end of 16 bits. */
    seq = (uint16_t)(strtoul(field('S', 1), NULL, 10) + 1);
    for (uint32_t i = 0; i < 66000; i++) {
        forget();
        type("?\n");
        for (const char *line = sent; *line != '\0'; line = strchr(line, '\n') + 1)
            if (strtoul(line + 2, NULL, 10) != seq++)
                i = 100000;
        if (i >= 66000)
            check(0, "the sequence over its end");
    }
    /* An indicator that is silent for longer than the clock goes is still silent. */
    wait(2000000);
    type("R,1\n");
    for (int i = 0; i < 4400; i++) {
        forget();
        micros += 1000000;
        bridge_poll();
        if (lines('S') != 1 || !(flags() & FLAG_NO_FRAME)) {
            check(0, "no frame for longer than the clock goes");
            break;
        }
    }
}

int main(void)
{
    worked_lines();
    encoders();
    forms();
    starts();
    refusals();
    rates();
    flags_stay();
    overflows();
    puts(faults ? "some are wrong" : "all right");
    return faults != 0;
}
