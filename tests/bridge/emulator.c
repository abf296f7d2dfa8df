/* Runs the bridge's firmware on an emulated ATmega328P: drives its pins at given cycles, and keeps
 * what it sends and when.
 *
 * A program of its own, which the tests build and start, and nothing else does: it is linked with
 * libsimavr (https://github.com/buserror/simavr), which is licensed under the GNU General Public
 * License, version 3 or later, and so is the linked program. This file alone is under the
 * repository's own licences, and nothing of simavr is part of heelclear.
 *
 *     emulator FIRMWARE.elf EVENTS KEPT          runs the events to their end
 *     emulator FIRMWARE.elf EVENTS KEPT --pty    prints the path of a pseudo-terminal, and serves it
 *
 * EVENTS and KEPT hold records of 16 bytes, lowest byte first; see `struct record`.
 *
 * With --pty the events are in parts, each with its END, and a part's cycles count from when it
 * begins: the first at once, each later one with a host's `?` behind its `G`, which is how it begins
 * a trace. It runs as fast as it can and never ahead of what the host has read, until the standard
 * input is closed. */
#define _GNU_SOURCE
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_interrupts.h>
#include <simavr/sim_io.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

enum what {
    PIN = 0,     /* where: 16 for each port behind A, and the pin; value: its level */
    SERIAL = 1,  /* a byte from the host */
    RESET = 2,   /* by the reset pin */
    POKE = 3,    /* four bytes into RAM at `address` */
    END = 4,     /* of a part */
    HOLD = 5,    /* the hand waits until the host says `G` */
    SENT = 10,   /* a byte that the host gets */
    OUTPUT = 11, /* a pin of port C that the firmware drives */
    BEGUN = 12,  /* a part; its number */
    LOCKED = 13  /* the longest time without interrupts, in cycles; at `address` it ended */
};

struct record {
    uint64_t cycle;
    uint8_t what, where;
    uint16_t address;
    uint32_t value;
};

enum { CYCLES_PER_MS = 16000, BYTE_CYCLES = 320 /* at 500,000 baud */, HOST_ROOM = 1 << 16 };

static struct record *events;
static size_t event_count, next_event;
static uint64_t part_began; /* the cycle that the events of the part count from */
static uint32_t part;
static FILE *kept;
static avr_t *avr;
static uint8_t driven[4], levels[4]; /* from outside, by port */
static uint64_t held_since; /* the hand waits, where this is not 0 */
static int over, resets, host = -1, reads = 1;
static char from_host[HOST_ROOM];
static size_t host_from, host_to;
static char line_before, line_now; /* letters of the host's last commands */
static uint64_t starting; /* until then the firmware may be starting */

static void fail(const char *what)
{
    perror(what);
    exit(1);
}

static void keep(uint8_t what, uint8_t where, uint32_t value)
{
    struct record record = {avr->cycle, what, where, (uint16_t)avr->pc, value};
    if (fwrite(&record, sizeof record, 1, kept) != 1)
        fail("KEPT");
}

/* A level from outside. Whenever the firmware writes to a port, simavr asks again what is driven
 * there. */
static void drive(uint8_t where, uint32_t high)
{
    uint8_t at = where >> 4, pin = where & 7, mask = (uint8_t)(1 << pin);
    avr_ioport_external_t external = {.name = (unsigned char)('A' + at)};
    driven[at] |= mask;
    levels[at] = (uint8_t)(high ? levels[at] | mask : levels[at] & ~mask);
    external.mask = driven[at];
    external.value = levels[at];
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('A' + at), &external);
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('A' + at), pin), high != 0);
}

static avr_cycle_count_t happen(avr_t *of, avr_cycle_count_t when, void *param);
static avr_cycle_count_t listen_to_host(avr_t *of, avr_cycle_count_t when, void *param);
static avr_cycle_count_t type(avr_t *of, avr_cycle_count_t when, void *param);

static void await(void)
{
    if (next_event < event_count) {
        uint64_t at = part_began + events[next_event].cycle;
        avr_cycle_timer_register(avr, at > avr->cycle ? at - avr->cycle : 1, happen, NULL);
    }
}

/* Between two instructions, and with what simavr forgets: timers of ours, and levels that stand
 * outside. */
static void reset(void)
{
    resets = 0;
    avr_reset(avr);
    starting = avr->cycle + CYCLES_PER_MS;
    for (uint8_t where = 0; where < 64; where++)
        if (driven[where >> 4] & 1 << (where & 15) && (where & 15) < 8)
            drive(where, levels[where >> 4] >> (where & 7) & 1);
    if (host >= 0) {
        avr_cycle_timer_register(avr, CYCLES_PER_MS, listen_to_host, NULL);
        avr_cycle_timer_register(avr, BYTE_CYCLES, type, NULL);
    }
    await();
}

static avr_cycle_count_t happen(avr_t *of, avr_cycle_count_t when, void *param)
{
    (void)of;
    (void)when;
    (void)param;
    while (next_event < event_count && part_began + events[next_event].cycle <= avr->cycle) {
        const struct record *event = &events[next_event++];
        switch (event->what) {
        case PIN: drive(event->where, event->value); break;
        case SERIAL:
            avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), event->value);
            break;
        case RESET:
            resets = 1;
            return 0;
        case POKE:
            for (int i = 0; i < 4; i++)
                avr->data[event->address + i] = (uint8_t)(event->value >> (8 * i));
            break;
        case END:
            over = 1;
            return 0;
        case HOLD:
            held_since = avr->cycle;
            return 0;
        }
    }
    return next_event < event_count ? part_began + events[next_event].cycle : 0;
}

/* The host begins a trace: so does the next part, or the one under way goes on. */
static void begin_part(void)
{
    if (!over || next_event >= event_count)
        return;
    over = 0;
    part_began = avr->cycle;
    keep(BEGUN, 0, ++part);
    await();
}

/* Goes on as long after the waiting as it would have gone on before. */
static void go_on(void)
{
    part_began += avr->cycle - held_since;
    held_since = 0;
    await();
}

/* Hands the host's bytes to the firmware as fast as the line would. */
static avr_cycle_count_t type(avr_t *of, avr_cycle_count_t when, void *param)
{
    (void)of;
    (void)param;
    if (host_from != host_to) {
        char byte = from_host[host_from++ % HOST_ROOM];
        avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), (uint8_t)byte);
        if (byte == '\n') {
            if (line_now == 'G' && held_since)
                go_on();
            if (line_before == 'G' && line_now == '?')
                begin_part();
            line_before = line_now;
            line_now = 0;
        } else if (line_now == 0) {
            line_now = byte;
        }
    }
    return when + BYTE_CYCLES;
}

static avr_cycle_count_t listen_to_host(avr_t *of, avr_cycle_count_t when, void *param)
{
    char bytes[256];
    ssize_t count = read(host, bytes, sizeof bytes);
    struct pollfd end = {STDIN_FILENO, POLLIN, 0};
    (void)of;
    (void)param;
    for (ssize_t i = 0; i < count; i++)
        from_host[host_to++ % HOST_ROOM] = bytes[i];
    if (poll(&end, 1, 0) > 0 && read(STDIN_FILENO, bytes, 1) <= 0)
        reads = 0;
    return when + CYCLES_PER_MS;
}

static void sent(struct avr_irq_t *irq, uint32_t value, void *param)
{
    char byte = (char)value;
    (void)irq;
    (void)param;
    keep(SENT, 0, value & 0xFF);
    while (host >= 0 && write(host, &byte, 1) != 1) {
        struct pollfd room = {host, POLLOUT, 0};
        struct pollfd end = {STDIN_FILENO, POLLIN, 0};
        if (errno != EAGAIN && errno != EINTR)
            fail("pseudo-terminal");
        poll(&room, 1, 50);
        if (poll(&end, 1, 0) > 0 && read(STDIN_FILENO, &byte, 1) <= 0)
            exit(0);
    }
}

static void output(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)param;
    keep(OUTPUT, (uint8_t)irq->irq, value & 1);
}

/* Where simavr 1.6 differs from the data sheet (ATmega48A to 328P, DS40002061, from memory): a flag is
 * cleared by writing a one to it, and no other flag with it; and an interrupt that is enabled while
 * its flag stands comes at once. */
static void flags_written(avr_t *of, avr_io_addr_t address, uint8_t value, void *param)
{
    (void)param;
    for (int i = 0; i < of->interrupts.vector_count; i++) {
        avr_int_vector_t *vector = of->interrupts.vector[i];
        if (vector->raised.reg == address && value >> vector->raised.bit & 1)
            avr_clear_interrupt(of, vector);
    }
}

static void mask_written(avr_t *of, avr_io_addr_t address, uint8_t value, void *param)
{
    (void)param;
    of->data[address] = value;
    for (int i = 0; i < of->interrupts.vector_count; i++) {
        avr_int_vector_t *vector = of->interrupts.vector[i];
        if (vector->enable.reg == address && value >> vector->enable.bit & 1 &&
            avr_regbit_get(of, vector->raised))
            avr_raise_interrupt(of, vector);
    }
}

/* Reading the low byte of the capture register keeps the high one for the next read, which simavr
 * leaves out: an edge between the two reads would mix two instants. What a read gives is written to
 * the register too, so that the newer high byte has to be put back before it is read itself. */
static uint8_t capture_high, newer_high, is_newer;

static uint8_t capture_low_read(avr_t *of, avr_io_addr_t address, void *param)
{
    (void)param;
    if (is_newer && of->data[address + 1] == capture_high)
        of->data[address + 1] = newer_high;
    is_newer = 0;
    capture_high = of->data[address + 1];
    return of->data[address];
}

static uint8_t capture_high_read(avr_t *of, avr_io_addr_t address, void *param)
{
    (void)param;
    newer_high = of->data[address];
    is_newer = newer_high != capture_high;
    return capture_high;
}

/* simavr counts no cycles for going to an interrupt; the controller takes four. */
static void interrupted(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)param;
    if (value)
        avr->cycle += 4;
}

static void sleep_never(avr_t *of, avr_cycle_count_t how_long)
{
    (void)of;
    (void)how_long;
}

static void load(const char *firmware, const char *script)
{
    static elf_firmware_t elf;
    FILE *file = fopen(script, "rb");
    uint32_t no_flags = 0;
    long size;
    if (file == NULL || fseek(file, 0, SEEK_END) != 0 || (size = ftell(file)) < 0)
        fail(script);
    rewind(file);
    events = malloc((size_t)size + 1);
    event_count = (size_t)size / sizeof *events;
    if (events == NULL || fread(events, sizeof *events, event_count, file) != event_count)
        fail(script);
    fclose(file);
    if (elf_read_firmware(firmware, &elf) != 0)
        fail(firmware);
    avr = avr_make_mcu_by_name("atmega328p");
    if (avr == NULL)
        fail("atmega328p");
    avr_init(avr);
    avr->frequency = 16000000;
    avr->sleep = sleep_never;
    avr->log = LOG_ERROR;
    avr_load_firmware(avr, &elf);
    starting = CYCLES_PER_MS;
    avr->frequency = 16000000;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &no_flags);
    /* Else a level that is low while the firmware starts is an interrupt for ever. */
    avr_extint_set_strict_lvl_trig(avr, 0, 0);
    avr_extint_set_strict_lvl_trig(avr, 1, 0);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), sent, NULL);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('C'), 0), output, NULL);
    avr_irq_register_notify(avr_get_interrupt_irq(avr, AVR_INT_ANY) + AVR_INT_IRQ_RUNNING, interrupted, NULL);
    avr->io[AVR_DATA_TO_IO(0x36)].w.c = flags_written;     /* TIFR1: its own clears all */
    avr_register_io_write(avr, 0x3B, flags_written, NULL); /* PCIFR */
    avr_register_io_write(avr, 0x3C, flags_written, NULL); /* EIFR */
    avr_register_io_write(avr, 0x3D, mask_written, NULL);  /* EIMSK */
    avr_register_io_write(avr, 0x6F, mask_written, NULL);  /* TIMSK1 */
    avr_register_io_read(avr, 0x86, capture_low_read, NULL); /* ICR1L */
    avr_register_io_read(avr, 0x87, capture_high_read, NULL);
}

static void serve(void)
{
    struct termios raw;
    const char *path;
    int near;
    host = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (host < 0 || grantpt(host) != 0 || unlockpt(host) != 0 || (path = ptsname(host)) == NULL)
        fail("pseudo-terminal");
    /* Held open, so that nothing is thrown away before the host has opened it. */
    near = open(path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (near < 0 || tcgetattr(near, &raw) != 0)
        fail(path);
    cfmakeraw(&raw);
    tcsetattr(near, TCSANOW, &raw);
    puts(path);
    fflush(stdout);
    avr_cycle_timer_register(avr, CYCLES_PER_MS, listen_to_host, NULL);
    avr_cycle_timer_register(avr, BYTE_CYCLES, type, NULL);
}

int main(int count, char **words)
{
    uint64_t locked_at = 0, longest = 0;
    if (count < 4) {
        fputs("emulator FIRMWARE.elf EVENTS KEPT [--pty]\n", stderr);
        return 2;
    }
    kept = fopen(words[3], "wb");
    if (kept == NULL)
        fail(words[3]);
    load(words[1], words[2]);
    if (count > 4)
        serve();
    else
        avr->run_cycle_limit = 1;
    await();
    while (reads && (host >= 0 || !over)) {
        int state = avr_run(avr);
        if (resets)
            reset();
        if (state == cpu_Done || state == cpu_Crashed) {
            fputs("the firmware crashed\n", stderr);
            return 1;
        }
        if (avr->sreg[S_I] || avr->cycle < starting)
            locked_at = avr->cycle;
        else if (avr->cycle - locked_at > longest) {
            longest = avr->cycle - locked_at;
            keep(LOCKED, 0, (uint32_t)longest);
        }
    }
    return fclose(kept) != 0;
}
