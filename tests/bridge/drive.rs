//! What happens at the controller's pins, cycle by cycle, and what of that is true.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// Cycles of the controller in a microsecond, a millisecond and a second.
pub const US: u64 = 16;
pub const MS: u64 = 1000 * US;
pub const S: u64 = 1000 * MS;

/// What the emulator is told and tells: see `struct record` in `emulator.c`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Record {
    pub cycle: u64,
    pub what: u8,
    pub place: u8,
    pub address: u16,
    pub value: u32,
}

pub const PIN: u8 = 0;
pub const SERIAL: u8 = 1;
pub const RESET: u8 = 2;
pub const POKE: u8 = 3;
pub const END: u8 = 4;
pub const HOLD: u8 = 5;
pub const SENT: u8 = 10;
pub const OUTPUT: u8 = 11;
pub const BEGUN: u8 = 12;
pub const LOCKED: u8 = 13;

impl Record {
    pub fn bytes(&self) -> [u8; 16] {
        let mut bytes = [0; 16];
        bytes[..8].copy_from_slice(&self.cycle.to_le_bytes());
        bytes[8..10].copy_from_slice(&[self.what, self.place]);
        bytes[10..12].copy_from_slice(&self.address.to_le_bytes());
        bytes[12..].copy_from_slice(&self.value.to_le_bytes());
        bytes
    }

    pub fn of(bytes: &[u8]) -> Self {
        Self {
            cycle: u64::from_le_bytes(bytes[..8].try_into().unwrap()),
            what: bytes[8],
            place: bytes[9],
            address: u16::from_le_bytes(bytes[10..12].try_into().unwrap()),
            value: u32::from_le_bytes(bytes[12..].try_into().unwrap()),
        }
    }
}

/// The pins of the port for the ATmega328P.
pub const A: u8 = 0x32;
pub const B: u8 = 0x33;
pub const Z: u8 = 0x34;
pub const CLOCK: u8 = 0x10;
pub const DATA: u8 = 0x11;

/// A and B where the encoder stands at this count.
pub const fn levels(count: i64) -> (bool, bool) {
    match count.rem_euclid(4) {
        0 => (false, false),
        1 => (true, false),
        2 => (true, true),
        _ => (false, true),
    }
}

/// How an indicator's lines go.
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    pub half: u64,
    /// Data is read at the rising edge.
    pub rising: bool,
    pub inverts: bool,
}

/// A frame that was sent: when its first edge came, and what it says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Frame {
    pub cycle: u64,
    pub value: i32,
}

/// How evenly an encoder counts.
#[derive(Clone, Copy, Debug, Default)]
pub struct Uneven {
    /// Half the range that an edge may come early or late by, in counts.
    pub jitter: f64,
    /// By how much B's edges come late, in counts: 1 is 90 degrees of a period.
    pub phase: f64,
}

/// A bench that is written down before it runs.
pub struct Drive {
    events: Vec<Record>,
    /// Behind each edge of the encoder, the count.
    pub edges: Vec<(u64, i64)>,
    /// Each edge into the index mark: when, the count there, and whether it was passed backwards.
    pub marks: Vec<(u64, i64, bool)>,
    pub frames: Vec<Frame>,
    /// The index stands here in each turn, one count wide.
    pub index: Option<(i64, i64)>,
    pub count: i64,
    pub rng: Pcg64,
}

impl Drive {
    /// Everything stands still, the clock as it does between frames.
    pub fn new(clock: Clock, seed: u64) -> Self {
        Self::standing_at(0, clock, seed)
    }

    /// The same with the encoder at this count.
    pub fn standing_at(count: i64, clock: Clock, seed: u64) -> Self {
        let mut drive = Self {
            events: Vec::new(),
            edges: Vec::new(),
            marks: Vec::new(),
            frames: Vec::new(),
            index: None,
            count,
            rng: Pcg64::seed_from_u64(seed),
        };
        let (a, b) = levels(count);
        drive.pin(0, A, a);
        drive.pin(0, B, b);
        drive.pin(0, Z, false);
        drive.edges.push((0, count));
        drive.pin(0, CLOCK, clock.rising == clock.inverts);
        drive.pin(0, DATA, true);
        drive
    }

    pub fn event(&mut self, cycle: u64, what: u8, place: u8, address: u16, value: u32) {
        self.events.push(Record {
            cycle,
            what,
            place,
            address,
            value,
        });
    }

    pub fn pin(&mut self, cycle: u64, pin: u8, high: bool) {
        self.event(cycle, PIN, pin, 0, u32::from(high));
    }

    /// What the host sends, at 250,000 baud.
    pub fn types(&mut self, cycle: u64, text: &str) {
        for (byte, at) in text.bytes().zip((cycle..).step_by(640)) {
            self.event(at, SERIAL, 0, 0, u32::from(byte));
        }
    }

    pub fn ends(&mut self, cycle: u64) {
        self.event(cycle, END, 0, 0, 0);
    }

    /// The encoder goes on by one count either way.
    pub fn step(&mut self, cycle: u64, backwards: bool) {
        let from = self.count;
        self.count += if backwards { -1 } else { 1 };
        let (old, new) = (levels(from), levels(self.count));
        if old.0 != new.0 {
            self.pin(cycle, A, new.0);
        } else {
            self.pin(cycle, B, new.1);
        }
        self.edges.push((cycle, self.count));
        if let Some((place, per_turn)) = self.index {
            // Gated with the tracks, as an index mostly is.
            let on = |count: i64| count.rem_euclid(per_turn) == place;
            if on(self.count) {
                self.marks.push((cycle, self.count, backwards));
            }
            if on(from) != on(self.count) {
                self.pin(cycle + 1, Z, on(self.count));
            }
        }
    }

    /// Turns by so many counts, at a mean rate; gives when it is done.
    pub fn turn(&mut self, from: u64, counts: i64, rate: f64, uneven: Uneven) -> u64 {
        let period = S as f64 / rate;
        let backwards = counts < 0;
        for step in 0..counts.unsigned_abs() {
            // The edge between two counts is the same either way.
            let lower = self.count - i64::from(backwards);
            let late = if lower.rem_euclid(2) == 1 {
                uneven.phase
            } else {
                0.0
            };
            let late = if backwards { -late } else { late };
            let jitter = self.rng.random_range(-1.0..=1.0) * uneven.jitter;
            let at = from as f64 + (step as f64 + 1.0 + late + jitter) * period;
            self.step(at as u64, backwards);
        }
        from + (counts.unsigned_abs() as f64 * period) as u64
    }

    /// Sends bits, the data ready half a bit before the edge at which it is read.
    pub fn bits(&mut self, first_edge: u64, bits: &[bool], clock: Clock) {
        for (bit, edge) in bits
            .iter()
            .zip((first_edge..).step_by(2 * clock.half as usize))
        {
            self.pin(edge - clock.half + 1, DATA, bit ^ clock.inverts);
            self.pin(edge, CLOCK, clock.rising ^ clock.inverts);
            self.pin(edge + clock.half, CLOCK, clock.rising == clock.inverts);
        }
    }

    /// Sends a whole frame, and keeps it as one that is to be read.
    pub fn frame(&mut self, first_edge: u64, value: i32, bits: &[bool], clock: Clock) {
        self.bits(first_edge, bits, clock);
        self.frames.push(Frame {
            cycle: first_edge,
            value,
        });
    }

    /// All of it in order, for the emulator; those of the same cycle as they were written.
    pub fn written(&self) -> Vec<u8> {
        let mut events = self.events.clone();
        events.sort_by_key(|event| event.cycle);
        events.iter().flat_map(Record::bytes).collect()
    }

    /// The counts that the encoder stood at from one cycle to another.
    pub fn counts(&self, from: u64, to: u64) -> std::ops::RangeInclusive<i64> {
        let before = self.edges.partition_point(|edge| edge.0 <= from);
        let until = self.edges.partition_point(|edge| edge.0 <= to);
        let first = before.checked_sub(1).map_or(0, |at| self.edges[at].1);
        let seen = || std::iter::once(first).chain(self.edges[before..until].iter().map(|e| e.1));
        seen().min().unwrap()..=seen().max().unwrap()
    }
}

/// When a bench begins to move: its host has asked for lines by then.
pub const START: u64 = 60 * MS;

/// A bench whose host asks for so many position lines a second.
pub fn asked(clock: Clock, positions_per_s: u32, seed: u64) -> Drive {
    let mut drive = Drive::new(clock, seed);
    drive.types(20 * MS, &format!("R,{positions_per_s}\n"));
    drive.types(40 * MS, "G\n");
    drive
}

/// Readings from one cycle to another, so many a second, each a little early or late.
pub fn read(
    drive: &mut Drive,
    indicator: super::indicators::Indicator,
    from: u64,
    to: u64,
    per_s: u64,
) {
    let every = S / per_s;
    for at in (from..to).step_by(every as usize) {
        let first_edge = at + drive.rng.random_range(0..every / 20);
        let value = drive.rng.random_range(-indicator.most..=indicator.most);
        let bits = (indicator.bits)(value, false);
        drive.frame(first_edge, value, &bits, indicator.clock);
    }
}
