/* The loop of the bridge. What interrupts write is copied and cleared under one lock. */
#include "bridge.h"
#include "board.h"
#include "protocol.h"

#define VERSION "0.2.0"
#define SECOND 1000000u
/* The index has been quiet when it has not changed for so long: longer than contacts bounce on a
 * turning spindle, shorter than the quickest turn. */
#define INDEX_QUIET_US 500u
/* Position lines a second until the host asks for others. */
#define RATE_AT_START 50u

/* The hello has no room for a longer name. */
typedef char name_of_the_indicator_fits[sizeof INDICATOR <= 10 ? 1 : -1];

struct encoder bridge_encoder;
struct frame_taker bridge_frames;

/* What the encoder and the indicator's interrupts counted, followed into the numbers of the lines. */
static struct {
    uint16_t raw; /* the encoder's count as it was followed last */
    int32_t count;
    uint16_t index_edges;
    int32_t index_count;
    uint8_t index_backwards;
    uint32_t index_t; /* when its track last changed */
    uint16_t illegal_sum;
} turned;

static struct {
    uint16_t ok_sum, bad_sum, lost_sum;
    uint8_t fresh, inch; /* a whole one came within the last second */
    uint32_t last_t;
} frames;

static struct {
    uint16_t seq, dropped_sum;
    uint8_t sending, owed; /* flags that no line has told yet */
    uint32_t every, next_t, counters_t;
    char command[24];
    uint8_t command_length; /* one more than there is room: the line is too long */
} host = {0, 0, 0, 0, SECOND / RATE_AT_START, 0, 0, {0}, 0};

static struct line line;

/* The sequence goes on for a line that finds no room, so that the host sees the gap. */
static uint8_t send(uint8_t length)
{
    host.seq++;
    if (length == 0 || board_send_room() < length) {
        host.owed |= FLAG_DROPPED;
        host.dropped_sum++;
        return 0;
    }
    board_send(line.text, length);
    return 1;
}

static void hello(void)
{
    line_begin(&line, 'H', host.seq);
    line_more(&line, ",proto=1,fw=" VERSION ",id=");
    line_more(&line, board_id);
    line_more(&line, ",tick=1000000,quad=4,ind=" INDICATOR ",max=96,baud=");
    line_number(&line, board_baud());
    send(line_close(&line));
}

static void answer(char letter, uint8_t ok, const int32_t *value)
{
    line_begin(&line, 'A', host.seq);
    line_letter(&line, letter);
    line_letter(&line, ok ? '1' : '0');
    if (value != NULL)
        line_signed(&line, *value);
    else
        line_nothing(&line);
    send(line_close(&line));
}

static void counters(uint32_t now)
{
    line_begin(&line, 'T', host.seq);
    line_unsigned(&line, now);
    line_unsigned(&line, frames.ok_sum);
    line_unsigned(&line, frames.bad_sum);
    line_unsigned(&line, frames.lost_sum);
    line_unsigned(&line, turned.illegal_sum);
    line_unsigned(&line, host.dropped_sum);
    send(line_close(&line));
}

/* Follows the encoder, and takes over what it tells once. Its count and the time are those of one
 * instant; what is told is taken behind that, so that no loss is in a count before it is told. */
static uint32_t look(void)
{
    struct encoder *encoder = &bridge_encoder;
    uint16_t raw, index_raw;
    uint8_t illegal, seen;
    uint32_t now = board_instant(&raw);
    board_lock();
    illegal = encoder->illegal;
    encoder->illegal = 0;
    seen = encoder->index_seen;
    encoder->index_seen = 0;
    index_raw = encoder->index_count;
    turned.index_edges = encoder->index_edges;
    turned.index_backwards = encoder->index_backwards;
    board_unlock();
    turned.count = (int32_t)((uint32_t)turned.count + (uint32_t)(int32_t)(int16_t)(raw - turned.raw));
    turned.raw = raw;
    if (illegal) {
        turned.illegal_sum = (uint16_t)(turned.illegal_sum + illegal);
        host.owed |= FLAG_ILLEGAL;
    }
    if (illegal >= ENCODER_STORM)
        board_encoder_again();
    if (seen) {
        turned.index_count = (int32_t)((uint32_t)turned.count -
                                       (uint32_t)(int32_t)(int16_t)(raw - index_raw));
        host.owed |= FLAG_INDEX;
    }
    return now;
}

/* Lets index edges count again once the track has been quiet. */
static void look_at_index(uint32_t now)
{
    if (bridge_encoder.index_changed) {
        bridge_encoder.index_changed = 0;
        turned.index_t = now;
    } else if (!bridge_encoder.index_quiet && now - turned.index_t >= INDEX_QUIET_US) {
        board_lock();
        bridge_encoder.index_quiet = !bridge_encoder.index_changed;
        board_unlock();
    }
}

static void sample(struct sample *s)
{
    uint8_t flags = host.owed;
    if (!frames.fresh)
        flags |= FLAG_NO_FRAME;
    if (frames.inch)
        flags |= FLAG_INCH;
    if (turned.index_backwards)
        flags |= FLAG_BACKWARDS;
    s->seq = host.seq;
    s->index_edges = turned.index_edges;
    s->index_count = turned.index_count;
    s->flags = flags;
    if (send(line_of_sample(&line, s)))
        host.owed &= (uint8_t)~flags; /* else they stay for the next line that is sent */
}

/* A frame that was caught, as a sample; 0 where it does not fit its description. */
static uint8_t read_frame(struct sample *s)
{
    const struct frame_caught *caught = &bridge_frames.caught[bridge_frames.filling ^ 1];
    uint8_t inch;
    uint8_t fits = (uint8_t)frame_read(&indicator_form, caught->bits, &s->reading, &inch);
    s->has_reading = 1;
    s->count = (int32_t)((uint32_t)turned.count -
                         (uint32_t)(int32_t)(int16_t)(turned.raw - caught->count));
    s->t = board_when(caught->edge, caught->laps);
    bridge_frames.full = 0; /* from here on it may be filled again */
    if (fits)
        frames.inch = inch;
    return fits;
}

/* Takes what the indicator sent, whether the host wants it or not: one that is not wanted is no loss.
 * Gives whether something came to its end. */
static uint8_t take_frames(uint32_t now)
{
    struct sample s;
    uint8_t bad, lost, full, good;
    board_lock();
    bad = bridge_frames.bad;
    bridge_frames.bad = 0;
    lost = bridge_frames.lost;
    bridge_frames.lost = 0;
    full = bridge_frames.full;
    board_unlock();
    good = full && read_frame(&s);
    if (full && !good)
        bad++;
    if (bad)
        host.owed |= FLAG_BAD_FRAME;
    if (lost)
        host.owed |= FLAG_FRAME_LOST;
    frames.bad_sum = (uint16_t)(frames.bad_sum + bad);
    frames.lost_sum = (uint16_t)(frames.lost_sum + lost);
    if (good) {
        frames.ok_sum++;
        frames.fresh = 1;
        frames.last_t = now;
        if (host.sending)
            sample(&s);
    } else if (frames.fresh && now - frames.last_t >= SECOND) {
        frames.fresh = 0;
    }
    return full || bad;
}

/* Asks an indicator that sends when it is asked. */
static void ask(uint32_t now, uint8_t came)
{
#if REQUEST
    static uint32_t asked;
    static uint8_t asking;
    if (asking && (came || now - asked >= REQUEST_HOLD_US)) {
        asking = 0;
        board_request(0);
    } else if (!asking && now - asked >= REQUEST_EVERY_US) {
        asking = 1;
        asked = now;
        board_request(1);
    }
#else
    (void)now;
    (void)came;
#endif
}

static void begin_to_send(uint32_t now)
{
    host.sending = 1;
    host.next_t = now;
    host.counters_t = now;
    /* What the indicator sent while nobody listened is nothing that was missed. */
    host.owed &= (uint8_t)~(FLAG_BAD_FRAME | FLAG_FRAME_LOST);
}

static uint8_t set_rate(uint32_t rate, uint32_t now)
{
    /* At most 0.6 baud / 500 lines a second leave room for readings. */
    if (rate > board_baud() / 1000u * 6u / 5u)
        return 0;
    host.every = rate > 0 ? SECOND / rate : 0;
    /* From now on, or the lines of the time since the last would all come at once. */
    host.next_t = now + host.every;
    return 1;
}

/* The index goes with the count, so that the way between them stays what it is. */
static int32_t zero(void)
{
    int32_t old = turned.count;
    turned.count = 0;
    turned.index_count = (int32_t)((uint32_t)turned.index_count - (uint32_t)old);
    return old;
}

static void clear(void)
{
    frames.ok_sum = frames.bad_sum = frames.lost_sum = 0;
    turned.illegal_sum = 0;
    host.dropped_sum = 0;
}

static void obey(const struct command *command)
{
    uint32_t now = look();
    int32_t value = (int32_t)command->number;
    uint8_t good;
    switch (command->letter) {
    case '?': hello(); return;
    case 'R':
        good = set_rate(command->number, now);
        answer('R', good, good ? &value : NULL);
        return;
    case 'Z':
        value = zero();
        answer('Z', 1, &value);
        return;
    case 'G': begin_to_send(now); break;
    case 'X': host.sending = 0; break;
    default: clear();
    }
    answer(command->letter, 1, NULL);
}

static void receive(void)
{
    int byte;
    while ((byte = board_receive()) >= 0) {
        struct command command;
        if (byte != '\n') {
            if (host.command_length < sizeof host.command)
                host.command[host.command_length] = (char)byte;
            if (host.command_length <= sizeof host.command)
                host.command_length++;
            continue;
        }
        if (host.command_length <= sizeof host.command &&
            command_of_line(host.command, host.command_length, &command))
            obey(&command);
        host.command_length = 0;
    }
}

static void position(void)
{
    struct sample s;
    s.t = look();
    s.count = turned.count;
    s.has_reading = 0;
    s.reading = 0;
    sample(&s);
}

void bridge_poll(void)
{
    static uint8_t greeted;
    uint32_t now = look();
    look_at_index(now);
    if (!greeted) {
        greeted = 1;
        /* Ends a line that was cut off by a reset, or it would take the hello with it. */
        board_send("\n", 1);
        hello();
    }
    ask(now, take_frames(now));
    receive();
    if (!host.sending)
        return;
    now = look();
    if (host.every != 0 && (int32_t)(now - host.next_t) >= 0) {
        host.next_t += host.every;
        /* Where more than one is due, those that are late are left out. */
        if ((int32_t)(now - host.next_t) >= 0)
            host.next_t = now + host.every;
        position();
    }
    if (now - host.counters_t >= SECOND) {
        host.counters_t = now;
        counters(now);
    }
}
