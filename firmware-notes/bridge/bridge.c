/* The loop of the bridge. What interrupts write and the loop reads is copied under lock. */
#include "bridge.h"
#include "board.h"
#include "protocol.h"

struct encoder bridge_encoder;

static struct {
    volatile uint8_t begun, full, bad, lost, inch;
    uint32_t begun_t, t;
    int32_t begun_count, count, reading;
    uint16_t ok_sum, bad_sum, lost_sum;
    uint32_t last_t;
    uint8_t any;
} frame;

static struct {
    uint16_t seq, dropped_sum;
    uint8_t sending, dropped;
    uint32_t every, next_t, counters_t;
    char command[24];
    uint8_t command_length;
} host = {0, 0, 0, 0, 20000, 0, 0, {0}, 0};

void bridge_frame_begins(void)
{
    frame.begun_t = board_micros();
    frame.begun_count = bridge_encoder.count;
    frame.begun = 1;
}

void bridge_frame(int good, int32_t reading, int inch)
{
    if (!good || !frame.begun) {
        frame.bad = 1;
        frame.bad_sum++;
        frame.begun = 0;
        return;
    }
    if (frame.full) {
        frame.lost = 1;
        frame.lost_sum++;
    }
    frame.t = frame.begun_t;
    frame.count = frame.begun_count;
    frame.reading = reading;
    frame.inch = (uint8_t)(inch != 0);
    frame.last_t = frame.t;
    frame.any = 1;
    frame.full = 1;
    frame.begun = 0;
    frame.ok_sum++;
}

/* The sequence goes on for a line that finds no room, so that the host sees the gap. */
static int send(const char *line, size_t length)
{
    if (length == 0 || board_send_room() < length) {
        host.dropped = 1;
        host.dropped_sum++;
        return 0;
    }
    board_send(line, length);
    return 1;
}

static char *put_text(char *to, const char *text)
{
    while (*text != '\0')
        *to++ = *text++;
    return to;
}

static char *put_number(char *to, uint32_t value)
{
    char digits[10];
    int count = 0;
    do {
        digits[count++] = (char)('0' + value % 10);
        value /= 10;
    } while (value > 0);
    while (count > 0)
        *to++ = digits[--count];
    return to;
}

static void send_body(char *body, char *end)
{
    char line[LINE_ROOM];
    *end = '\0';
    send(line, line_of_body(line, body));
}

static void hello(void)
{
    char body[LINE_ROOM];
    char *end = put_number(put_text(body, "H,"), host.seq++);
    end = put_text(end, ",proto=1,fw=0.1.0,id=ref,tick=1000000,quad=4,max=96,baud=");
    send_body(body, put_number(end, board_baud()));
}

static void answer(char letter, int ok, int has_value, int32_t value)
{
    char body[LINE_ROOM];
    char *end = put_number(put_text(body, "A,"), host.seq++);
    *end++ = ',';
    *end++ = letter;
    end = put_text(end, ok ? ",1," : ",0,");
    if (has_value && value < 0)
        *end++ = '-';
    if (has_value)
        end = put_number(end, value < 0 ? 0u - (uint32_t)value : (uint32_t)value);
    send_body(body, end);
}

static void counters(uint32_t now)
{
    char body[LINE_ROOM];
    char *end = put_number(put_text(body, "T,"), host.seq++);
    const uint32_t all[] = {now, frame.ok_sum, frame.bad_sum, frame.lost_sum,
                            bridge_encoder.illegal_sum, host.dropped_sum};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++) {
        *end++ = ',';
        end = put_number(end, all[i]);
    }
    send_body(body, end);
}

static void sample(uint32_t now)
{
    struct sample s;
    char line[LINE_ROOM];
    uint8_t flags = 0;
    board_lock();
    s.has_reading = frame.full;
    s.t = frame.full ? frame.t : now;
    s.count = frame.full ? frame.count : bridge_encoder.count;
    s.reading = frame.reading;
    frame.full = 0;
    s.index_edges = bridge_encoder.index_edges;
    s.index_count = bridge_encoder.index_count;
    if (!frame.any || now - frame.last_t > 1000000u) flags |= FLAG_NO_FRAME;
    if (frame.bad) flags |= FLAG_BAD_FRAME;
    if (bridge_encoder.illegal) flags |= FLAG_ILLEGAL;
    if (host.dropped) flags |= FLAG_DROPPED;
    if (bridge_encoder.index_seen) flags |= FLAG_INDEX;
    if (bridge_encoder.index_backwards) flags |= FLAG_BACKWARDS;
    if (frame.inch) flags |= FLAG_INCH;
    if (frame.lost) flags |= FLAG_FRAME_LOST;
    board_unlock();
    s.seq = host.seq++;
    s.flags = flags;
    if (!send(line, line_of_sample(line, &s)))
        return; /* the flags stay for the next line that is sent */
    board_lock();
    if (flags & FLAG_BAD_FRAME) frame.bad = 0;
    if (flags & FLAG_ILLEGAL) bridge_encoder.illegal = 0;
    if (flags & FLAG_INDEX) bridge_encoder.index_seen = 0;
    if (flags & FLAG_FRAME_LOST) frame.lost = 0;
    board_unlock();
    if (flags & FLAG_DROPPED) host.dropped = 0;
}

static void obey(const struct command *command)
{
    int32_t old = 0;
    switch (command->letter) {
    case '?': hello(); return;
    case 'G': host.sending = 1; host.next_t = board_micros(); break;
    case 'X': host.sending = 0; break;
    case 'R':
        /* At most 0.6 baud / 500 lines a second leave room for readings. */
        if (command->number > board_baud() / 1000u * 6u / 5u) {
            answer('R', 0, 0, 0);
            return;
        }
        host.every = command->number > 0 ? 1000000u / command->number : 0;
        answer('R', 1, 1, (int32_t)command->number);
        return;
    case 'Z':
        board_lock();
        old = bridge_encoder.count;
        bridge_encoder.count = 0;
        board_unlock();
        answer('Z', 1, 1, old);
        return;
    default:
        board_lock();
        frame.ok_sum = frame.bad_sum = frame.lost_sum = 0;
        bridge_encoder.illegal_sum = 0;
        board_unlock();
        host.dropped_sum = 0;
    }
    answer(command->letter, 1, 0, 0);
}

static void receive(void)
{
    int byte;
    while ((byte = board_receive()) >= 0) {
        struct command command;
        if (byte != '\n') {
            if (host.command_length < sizeof host.command)
                host.command[host.command_length++] = (char)byte;
            continue;
        }
        if (command_of_line(host.command, host.command_length, &command))
            obey(&command);
        host.command_length = 0;
    }
}

void bridge_poll(void)
{
    static uint8_t greeted;
    uint32_t now = board_micros();
    if (!greeted) {
        greeted = 1;
        hello();
    }
    receive();
    if (!host.sending)
        return;
    if (frame.full)
        sample(now);
    if (host.every != 0 && (int32_t)(now - host.next_t) >= 0) {
        host.next_t += host.every;
        sample(now);
    }
    if (now - host.counters_t >= 1000000u) {
        host.counters_t = now;
        counters(now);
    }
}
