/* A board with an ATmega328P at 16 MHz and 5 V.
 *
 * build with: avr-gcc -mmcu=atmega328p -DF_CPU=16000000UL
 *
 *     signal             pin          Arduino header
 *     encoder A          PD2  INT0    2
 *     encoder B          PD3  INT1    3
 *     encoder index Z    PD4  PCINT20 4
 *     indicator clock    PB0  ICP1    8
 *     indicator data     PB1          9
 *     indicator request  PC0          A0    where the indicator is to be asked
 *     host               PD0, PD1     0, 1  where a USB adapter on the board already sits
 *
 * All inputs have their pull-ups on. The timer's capture unit keeps the instant of each edge of
 * the indicator's clock whatever else goes on, so a bit that was read too late is known as such.
 * The encoder's interrupts come before all others, and all others are short or let them in. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>

#define TICKS_PER_US 2 /* timer 1 at an eighth of 16 MHz */

#include "board.h"
#include "bridge.h"
#include "taker.h"

#if F_CPU != 16000000UL
#error "F_CPU: the timer's ticks are worked out for 16 MHz"
#endif
#if PAUSE_US > 20000
#error "PAUSE_US: at most 20,000, since the timer goes round in 32,768"
#endif
/* A clock this fast leaves no time for an interrupt a bit: the whole frame is taken in one. */
#define BURST (CLOCK_LEAST_US < 25)
#if BURST && CLOCK_LEAST_US < 10
#error "CLOCK_LEAST_US: at least 10, that is a clock of 100 kHz"
#endif
#if BURST && HOLD_US < 5
#error "HOLD_US: at least 5 with a clock this fast, since the encoder is looked at between two bits"
#endif
#if !BURST && HOLD_US < 12
#error "HOLD_US: at least 12, since other interrupts may be under way; or give the true CLOCK_LEAST_US below 25"
#endif
#if BURST && PAUSE_US < 500
#error "PAUSE_US: at least 500 with a clock this fast, in which the frame is dealt with"
#endif
#if BURST && FRAME_BITS * CLOCK_MOST_US > 8000
#error "CLOCK_MOST_US: a frame of a fast clock may last 8 ms, since nothing else is done meanwhile"
#endif

#define DIVISOR ((F_CPU + 4UL * BAUD) / (8UL * BAUD))
#define BAUD_MADE (F_CPU / 8UL / DIVISOR)
#if BAUD_MADE > BAUD + BAUD / 40 || BAUD_MADE < BAUD - BAUD / 40
#error "BAUD: 16 MHz does not make this rate to 2.5 %; 250000, 500000 and 1000000 are exact"
#endif

enum { A_PIN = PD2, B_PIN = PD3, Z_PIN = PD4, CLOCK_PIN = PB0, DATA_PIN = PB1, REQUEST_PIN = PC0 };

const char board_id[] = "ref328p";

static volatile uint32_t laps; /* of timer 1 */
static volatile uint8_t sent_to, sent_from, got_to, got_from;
static volatile char to_host[256], from_host[64];

/* Whether a pin's level is that of the encoder's mark, of the clock behind its edge, of a data 1. */
static inline uint8_t index_active(uint8_t pins)
{
    return (uint8_t)(pins >> Z_PIN & 1) == !INDEX_LOW;
}

static inline uint8_t clock_steady(uint8_t pins)
{
    return (uint8_t)(pins >> CLOCK_PIN & 1) == (CLOCK_RISING ^ STAGE_INVERTS);
}

static inline uint8_t data_of(uint8_t pins)
{
    return (uint8_t)(pins >> DATA_PIN & 1) ^ STAGE_INVERTS;
}

/* The tracks' flags stand in the same bits as the levels two places higher up. */
ISR(INT0_vect)
{
    uint8_t fired = EIFR;
    uint8_t pins = PIND;
    if (encoder_look(&bridge_encoder, fired | ENCODER_A, (uint8_t)(pins >> A_PIN)))
        EIMSK = 0;
}

ISR(INT1_vect)
{
    uint8_t fired = EIFR;
    uint8_t pins = PIND;
    if (encoder_look(&bridge_encoder, fired | ENCODER_B, (uint8_t)(pins >> A_PIN)))
        EIMSK = 0;
}

ISR(PCINT2_vect)
{
    encoder_index(&bridge_encoder, index_active(PIND));
}

ISR(TIMER1_OVF_vect)
{
    laps++;
}

/* While a pause or a bit is dealt with, the encoder and all others may come between, but no other
 * bit and no other pause: the timer's own interrupts but its overflow go off before all others come
 * on. No step here changes a flag of the processor, so only one register is to be saved. */
#define LET_OTHERS "ldi r24, %[overflow]\n sts %[mask], r24\n pop r24\n sei\n"
#define LET_OTHERS_WITH [overflow] "M"(_BV(TOIE1)), [mask] "n"(_SFR_MEM_ADDR(TIMSK1))

static volatile uint16_t edge_kept, count_kept;

/* The levels, the timer now and at the edge, and the count (the first of the encoder's members) are
 * kept before anything that takes time. */
ISR(TIMER1_CAPT_vect, ISR_NAKED)
{
    __asm__ volatile(
        "push r24\n"
        "in r24, %[pins]\n out %[pins_kept], r24\n"
        "lds r24, %[now]\n out %[now_kept], r24\n"
        "lds r24, %[now]+1\n out %[now_kept]+1, r24\n"
        "lds r24, %[edge]\n sts edge_kept, r24\n"
        "lds r24, %[edge]+1\n sts edge_kept+1, r24\n"
        "lds r24, bridge_encoder\n sts count_kept, r24\n"
        "lds r24, bridge_encoder+1\n sts count_kept+1, r24\n"
#if BURST
        "pop r24\n"
#else
        LET_OTHERS
#endif
        "jmp __vector_bit\n"
        :: [pins] "I"(_SFR_IO_ADDR(PINB)), [pins_kept] "I"(_SFR_IO_ADDR(GPIOR0)),
           [now] "n"(_SFR_MEM_ADDR(TCNT1)), [now_kept] "I"(_SFR_IO_ADDR(GPIOR1)),
           [edge] "n"(_SFR_MEM_ADDR(ICR1)), LET_OTHERS_WITH);
}

ISR(TIMER1_COMPA_vect, ISR_NAKED)
{
    __asm__ volatile("push r24\n" LET_OTHERS "jmp __vector_pause\n" :: LET_OTHERS_WITH);
}

static inline void let_none(void)
{
    cli();
    TIMSK1 = _BV(TOIE1) | _BV(OCIE1A) | _BV(ICIE1);
}

ISR(__vector_pause)
{
    frame_pause(&bridge_frames);
    let_none();
}

/* One more where the timer has gone round and its interrupt had no time yet, by `flags` as they
 * stood when it was at `ticks`. */
static inline uint8_t round_again(uint8_t flags, uint16_t ticks)
{
    return (flags & _BV(TOV1)) && ticks < 0x8000;
}

static inline void take_edge(uint8_t pins, uint16_t now, uint16_t edge)
{
    frame_edge(&bridge_frames, edge, now, clock_steady(pins), data_of(pins));
}

/* The time and the count of a frame, where this edge begins one. Interrupts on. */
static inline void keep_begin(uint16_t edge)
{
    struct frame_caught *caught = frame_begins(&bridge_frames, edge);
    uint16_t ticks;
    uint8_t flags, all;
    if (!caught)
        return;
    cli();
    ticks = TCNT1;
    flags = TIFR1;
    all = (uint8_t)laps;
    sei();
    caught->edge = edge;
    caught->count = count_kept;
    caught->laps = (uint8_t)(all + round_again(flags, ticks) - (edge > ticks));
}

static inline void await_pause(void)
{
    OCR1A = (uint16_t)(bridge_frames.last + FRAME_TICKS(PAUSE_US));
    TIFR1 = _BV(OCF1A);
}

static inline void send_next(void)
{
    UDR0 = (uint8_t)to_host[sent_from++];
    if (sent_from == sent_to)
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
}

static inline void receive_next(void)
{
    uint8_t broken = UCSR0A & (_BV(FE0) | _BV(DOR0));
    uint8_t byte = UDR0;
    uint8_t next = (got_to + 1) % sizeof from_host;
    if (next == got_from)
        return;
    /* A byte that no command has, so that a broken one is no other. */
    from_host[got_to] = broken ? 0x7F : (char)byte;
    got_to = next;
}

#if BURST
/* Looks at the encoder, and at what else cannot wait for the end of a frame. */
static inline void look_around(void)
{
    uint8_t fired = EIFR & EIMSK;
    if (fired) {
        EIFR = fired;
        if (encoder_look(&bridge_encoder, fired, (uint8_t)(PIND >> A_PIN)))
            EIMSK = 0;
    } else if (PCIFR & _BV(PCIF2)) {
        PCIFR = _BV(PCIF2);
        encoder_index(&bridge_encoder, index_active(PIND));
    } else if (TIFR1 & _BV(ICF1)) {
        return;
    } else if ((UCSR0A & _BV(UDRE0)) && (UCSR0B & _BV(UDRIE0))) {
        send_next();
    } else if (UCSR0A & _BV(RXC0)) {
        receive_next();
    }
}

/* A whole frame: caught with all interrupts off and nothing done but that, then dealt with while
 * the others may come between. */
ISR(__vector_bit)
{
    static struct kept {
        uint16_t edge, now;
        uint8_t pins;
    } kept[FRAME_BITS];
    struct kept *bit = kept, *end;
    uint16_t edge = edge_kept;
    bit->now = (uint16_t)(GPIOR1 | (uint16_t)GPIOR2 << 8);
    bit->pins = GPIOR0;
    bit->edge = edge;
    while (++bit != kept + FRAME_BITS) {
        while (!(TIFR1 & _BV(ICF1))) {
            look_around();
            if ((uint16_t)(TCNT1 - edge) > FRAME_TICKS(CLOCK_MOST_US + 20))
                goto over;
        }
        TIFR1 = _BV(ICF1);
        bit->pins = PINB;
        bit->now = TCNT1;
        bit->edge = edge = ICR1;
        look_around();
    }
over:
    TIMSK1 = _BV(TOIE1);
    sei();
    end = bit;
    keep_begin(kept[0].edge);
    for (bit = kept; bit != end; bit++)
        take_edge(bit->pins, bit->now, bit->edge);
    let_none();
    await_pause();
}
#else
ISR(__vector_bit)
{
    uint8_t pins = GPIOR0;
    uint16_t now = (uint16_t)(GPIOR1 | (uint16_t)GPIOR2 << 8);
    uint16_t edge = edge_kept;
    keep_begin(edge);
    take_edge(pins, now, edge);
    let_none();
    await_pause();
}
#endif

ISR(USART_UDRE_vect)
{
    send_next();
}

ISR(USART_RX_vect)
{
    receive_next();
}

void board_start(void)
{
    MCUSR = 0;
    wdt_disable();
    /* Pull-ups on every input, also on pins that nothing is wired to. */
    PORTB = 0xFF;
    PORTC = REQUEST == 1 ? (uint8_t)~_BV(REQUEST_PIN) : 0xFF;
    PORTD = 0xFF;
    if (REQUEST != 0)
        DDRC = _BV(REQUEST_PIN);
    DDRD = _BV(PD1);

    UCSR0A = _BV(U2X0);
    UBRR0 = DIVISOR - 1;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);

    /* The noise canceller wants the clock to stand for four cycles, 0.25 us. */
    TCCR1A = 0;
    TCCR1B = _BV(ICNC1) | (CLOCK_RISING ^ STAGE_INVERTS ? _BV(ICES1) : 0) | _BV(CS11);
    OCR1A = FRAME_TICKS(PAUSE_US);
    TIFR1 = _BV(TOV1) | _BV(OCF1A) | _BV(ICF1);
    TIMSK1 = _BV(TOIE1) | _BV(OCIE1A) | _BV(ICIE1);

    EICRA = _BV(ISC00) | _BV(ISC10); /* any edge of A and of B */
    PCMSK2 = _BV(PCINT20);
    PCICR = _BV(PCIE2);
    bridge_encoder.index_active = index_active(PIND);
    board_encoder_again();
}

void board_encoder_again(void)
{
    cli();
    EIFR = _BV(INTF0) | _BV(INTF1);
    EIMSK = _BV(INT0) | _BV(INT1);
    bridge_encoder.levels = (uint8_t)(PIND >> A_PIN) & ENCODER_BOTH;
    sei();
}

void board_lock(void)
{
    cli();
}

void board_unlock(void)
{
    sei();
}

uint32_t board_instant(uint16_t *count)
{
    uint16_t ticks;
    uint32_t all;
    uint8_t flags;
    cli();
    ticks = TCNT1;
    flags = TIFR1;
    all = laps;
    *count = bridge_encoder.count;
    sei();
    return ((all + round_again(flags, ticks)) << 15) + (ticks >> 1);
}

uint32_t board_when(uint16_t edge, uint8_t edge_laps)
{
    uint16_t ticks;
    uint32_t all;
    uint8_t flags;
    cli();
    ticks = TCNT1;
    flags = TIFR1;
    all = laps;
    sei();
    all += round_again(flags, ticks);
    all -= (uint8_t)((uint8_t)all - edge_laps);
    return (all << 15) + (edge >> 1);
}

void board_request(uint8_t on)
{
    if ((REQUEST == 2) != on)
        PORTC |= _BV(REQUEST_PIN);
    else
        PORTC &= (uint8_t)~_BV(REQUEST_PIN);
}

size_t board_send_room(void)
{
    return (uint8_t)(sent_from - sent_to - 1);
}

void board_send(const char *bytes, size_t n)
{
    uint8_t to = sent_to;
    while (n-- > 0)
        to_host[to++] = *bytes++;
    board_lock();
    sent_to = to;
    UCSR0B |= _BV(UDRIE0);
    board_unlock();
}

int board_receive(void)
{
    uint8_t byte;
    if (got_from == got_to)
        return -1;
    byte = (uint8_t)from_host[got_from];
    got_from = (got_from + 1) % sizeof from_host;
    return byte;
}

uint32_t board_baud(void)
{
    return BAUD;
}
