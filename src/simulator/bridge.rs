//! The simulated bench as a bridge: commands in, lines out, on a clock that the caller turns.

use super::probe::Rest;
use super::run::{Pose, Reading, Run};
use super::scenario::{Scenario, Unit};
use crate::gauge::frame::{
    Answer, Command, Counters, Encoded, Flags, Line, SampleLine, encode, encode_hello,
};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// Lines that wait for someone to read them at most; more are made but not sent.
const WAITING: usize = 20_000;
/// Between counter lines.
const COUNTERS_EVERY_US: u64 = 1_000_000;

/// A bridge whose indicator and encoder are simulated. Each `G` starts the next trace of the
/// recipe: the hand has moved the stylus there. One that is stopped before half a turn starts again. After the last it starts again with the first.
pub struct SimulatedBridge {
    scenario: Scenario,
    poses: Vec<(Pose, Arc<Rest>)>,
    next_pose: usize,
    run: Option<Started>,
    sending: bool,
    seq: u16,
    now_us: u64,
    boot_us: u64,
    counters_at_us: u64,
    dropped: u16,
    command: Vec<u8>,
    out: VecDeque<u8>,
    waiting_lines: usize,
    rng: Pcg64,
    broken: Broken,
    led: Arc<Lead>,
}

/// Leads the simulated hand from outside: which pose it takes next, and whether it turns yet.
#[derive(Debug, Default)]
pub struct Lead {
    /// One more than the pose wanted; 0 for the next of the recipe.
    pose: AtomicUsize,
    held: AtomicBool,
    unplugged: AtomicBool,
}

impl Lead {
    /// The next start takes this pose of the recipe, counted from 0, and the hand waits until it is
    /// [let go](Self::turn).
    pub fn hold_at(&self, pose: usize) {
        self.held.store(true, Ordering::Relaxed);
        self.pose.store(pose.saturating_add(1), Ordering::Relaxed);
    }

    /// The hand turns.
    pub fn turn(&self) {
        self.held.store(false, Ordering::Relaxed);
    }

    /// Pulls the plug, or puts it back.
    pub fn unplug(&self, away: bool) {
        self.unplugged.store(away, Ordering::Relaxed);
    }

    /// Whether the plug is pulled.
    pub fn is_unplugged(&self) -> bool {
        self.unplugged.load(Ordering::Relaxed)
    }
}

struct Started {
    pose: usize,
    run: Run,
    from_us: u64,
    next: Option<Reading>,
    held: Option<Reading>,
}

/// Faults that come once.
#[derive(Clone, Copy, Debug, Default)]
struct Broken {
    started_us: Option<u64>,
    restarted: bool,
    unplugged: bool,
}

impl SimulatedBridge {
    /// A bridge that has just been powered.
    pub fn new(scenario: Scenario) -> Self {
        let mut bridge = Self {
            // Worked out before the clock runs, so that no line is late for it.
            poses: scenario
                .poses()
                .into_iter()
                .map(|pose| {
                    let rest = Arc::new(scenario.rest(&pose));
                    (pose, rest)
                })
                .collect(),
            next_pose: 0,
            run: None,
            sending: false,
            seq: 0,
            now_us: 0,
            boot_us: 0,
            counters_at_us: COUNTERS_EVERY_US,
            dropped: 0,
            command: Vec::new(),
            out: VecDeque::new(),
            waiting_lines: 0,
            rng: Pcg64::seed_from_u64(scenario.seed ^ 0x6272_6964_6765),
            broken: Broken::default(),
            led: Arc::default(),
            scenario,
        };
        bridge.hello();
        bridge
    }

    /// What leads its hand.
    pub fn lead(&self) -> Arc<Lead> {
        Arc::clone(&self.led)
    }

    /// Takes bytes from the host.
    pub fn receive(&mut self, bytes: &[u8]) {
        for byte in bytes {
            if *byte != b'\n' {
                // A line that never ends is not kept for ever.
                if self.command.len() < 200 {
                    self.command.push(*byte);
                }
                continue;
            }
            let line = std::mem::take(&mut self.command);
            if let Ok(command) = Command::decode(&line) {
                self.obey(command);
            }
        }
    }

    /// Lets the clock run on to so many microseconds since power came, and makes what is due.
    pub fn run_to(&mut self, now_us: u64) {
        self.now_us = now_us.max(self.now_us);
        if self.is_unplugged() {
            self.out.clear();
            return;
        }
        self.restart_when_due();
        while let Some((reading, at_us)) = self.due() {
            if self.sending && !self.is_silent(at_us) {
                self.sample(&reading, at_us);
            }
        }
        if self.now_us >= self.counters_at_us && self.sending {
            self.counters_at_us = self.now_us + COUNTERS_EVERY_US;
            self.counters();
        }
    }

    /// Takes what waits to be sent into a buffer, and says how much that was.
    pub fn send(&mut self, buffer: &mut [u8]) -> usize {
        let count = buffer.len().min(self.out.len());
        for (place, byte) in buffer.iter_mut().zip(self.out.drain(..count)) {
            self.waiting_lines -= usize::from(byte == b'\n');
            *place = byte;
        }
        count
    }

    /// Whether nothing waits to be sent.
    pub fn is_drained(&self) -> bool {
        self.out.is_empty()
    }

    /// Whether the recipe has it away from its port now.
    pub fn is_unplugged(&mut self) -> bool {
        let faults = self.scenario.faults;
        let away = |started: u64| {
            let since = (self.now_us - started) as f64 / 1e6;
            let gone = faults.unplug_after_s.is_some_and(|s| since >= s);
            let back = faults.unplug_after_s.zip(faults.replug_after_s);
            gone && back.is_none_or(|(gone, after)| since < gone + after)
        };
        let away = self.broken.started_us.is_some_and(away) || self.led.is_unplugged();
        if self.broken.unplugged && !away {
            // Power came back with the plug.
            self.power_up();
        }
        self.broken.unplugged = away;
        away
    }

    /// When the next line is due, in microseconds since power came.
    pub fn next_due_us(&mut self) -> Option<u64> {
        let held = self.led.held.load(Ordering::Relaxed);
        let started = self.run.as_mut().filter(|_| self.sending)?;
        let next = started.peek(held);
        Some(started.from_us + (next.time_s * 1e6) as u64)
    }

    fn is_silent(&self, at_us: u64) -> bool {
        let silent = self.scenario.faults.silence_after_s;
        let started = self.broken.started_us.zip(silent);
        started.is_some_and(|(started, after)| (at_us - started) as f64 / 1e6 >= after)
    }

    fn restart_when_due(&mut self) {
        let due = self
            .scenario
            .faults
            .restart_after_s
            .zip(self.broken.started_us);
        let due = due.is_some_and(|(after, at)| (self.now_us - at) as f64 / 1e6 >= after);
        if due && !self.broken.restarted {
            self.broken.restarted = true;
            self.power_up();
        }
    }

    /// Sequence, clock and counts begin at 0 again; the hand goes on turning.
    fn power_up(&mut self) {
        self.seq = 0;
        self.sending = false;
        self.boot_us = self.now_us;
        if let Some(started) = &mut self.run {
            started.run.count_from_here();
        }
        self.hello();
    }

    fn obey(&mut self, command: Command) {
        let value = match command {
            Command::Identify => return self.hello(),
            Command::Start => {
                self.start();
                None
            }
            Command::Stop => {
                self.sending = false;
                // Who stops before the tool has turned wants the same trace again.
                let again = |started: Started| started.run.has_hardly_begun();
                if self.run.take().is_some_and(again) {
                    self.next_pose = self.next_pose.saturating_sub(1);
                }
                None
            }
            Command::Rate(rate) => i32::try_from(rate).ok(),
            Command::Zero => {
                let run = self
                    .run
                    .as_mut()
                    .map(|started| started.run.count_from_here());
                run.and_then(|old| i32::try_from(old).ok())
            }
            Command::Clear => {
                self.dropped = 0;
                None
            }
        };
        let seq = self.take_seq();
        self.push(&Line::Answer(Answer {
            seq,
            command: command.letter(),
            ok: true,
            value,
        }));
    }

    fn start(&mut self) {
        self.sending = true;
        let led_to = self.led.pose.load(Ordering::Relaxed).checked_sub(1);
        let number = led_to.unwrap_or(self.next_pose) % self.poses.len().max(1);
        // After a restart the same trace goes on: the hand knows nothing of it.
        let moved = led_to.is_some() && self.run.as_ref().is_none_or(|run| run.pose != number);
        if (self.run.is_none() || moved)
            && let Some((pose, rest)) = self.poses.get(number)
        {
            self.run = Some(Started {
                pose: number,
                run: self.scenario.run_over(Arc::clone(rest), pose, number),
                from_us: self.now_us,
                next: None,
                held: None,
            });
            self.next_pose += 1;
        }
        self.broken.started_us.get_or_insert(self.now_us);
    }

    fn due(&mut self) -> Option<(Reading, u64)> {
        let held = self.led.held.load(Ordering::Relaxed);
        let started = self.run.as_mut()?;
        let reading = started.peek(held);
        let at_us = started.from_us + (reading.time_s * 1e6) as u64;
        if at_us > self.now_us {
            return None;
        }
        started.next = None;
        Some((reading, at_us))
    }

    fn sample(&mut self, reading: &Reading, at_us: u64) {
        let seq = self.take_seq();
        let wrap = |count: i64| count as i32;
        let mut flags = Flags::default();
        let held = self.run.as_mut().and_then(|started| {
            let before = started.held.replace(*reading);
            before.map(|before| before.index)
        });
        if held.is_some_and(|before| before != reading.index) {
            flags = flags.with(Flags::INDEX);
        }
        if reading.backwards {
            flags = flags.with(Flags::INDEX_BACKWARDS);
        }
        if self.scenario.unit == Unit::In {
            flags = flags.with(Flags::INCH);
        }
        self.push(&Line::Sample(SampleLine {
            seq,
            t: at_us.saturating_sub(self.boot_us) as u32,
            count: wrap(reading.count),
            reading: reading.steps.map(wrap),
            index_edges: reading.index.0,
            index_count: wrap(reading.index.1),
            flags,
        }));
    }

    fn counters(&mut self) {
        let seq = self.take_seq();
        self.push(&Line::Counters(Counters {
            seq,
            t: (self.now_us - self.boot_us) as u32,
            lines_dropped: self.dropped,
            ..Counters::default()
        }));
    }

    fn hello(&mut self) {
        let seq = self.take_seq();
        let pairs = [
            ("proto", "1"),
            ("fw", "0.1.0"),
            ("id", "simulated"),
            ("tick", "1000000"),
            ("quad", "4"),
            ("max", "96"),
        ];
        if let Ok(line) = encode_hello(seq, &pairs) {
            self.push_encoded(&line);
        }
    }

    fn take_seq(&mut self) -> u16 {
        let seq = self.seq;
        self.seq = self.seq.wrapping_add(1);
        seq
    }

    fn push(&mut self, line: &Line<'_>) {
        let faults = self.scenario.faults;
        if self.happens(faults.lost_per_1000) {
            return;
        }
        let Ok(encoded) = encode(line) else {
            return;
        };
        if self.waiting_lines >= WAITING {
            self.dropped = self.dropped.wrapping_add(1);
        } else if self.happens(faults.bad_crc_per_1000) {
            let mut bytes = encoded.as_bytes().to_vec();
            let at = self.rng.random_range(0..bytes.len() - 1);
            bytes[at] ^= 1;
            self.out.extend(bytes);
            self.waiting_lines += 1;
        } else {
            self.push_encoded(&encoded);
        }
    }

    fn push_encoded(&mut self, line: &Encoded) {
        self.out.extend(line.as_bytes());
        self.waiting_lines += 1;
    }

    fn happens(&mut self, per_1000: f64) -> bool {
        per_1000 > 0.0 && self.rng.random::<f64>() * 1000.0 < per_1000
    }
}

impl Started {
    /// The next reading, which stays the next until it is taken.
    fn peek(&mut self, held: bool) -> Reading {
        match self.next {
            Some(next) => next,
            None => {
                let next = if held {
                    self.run.wait()
                } else {
                    self.run.next().unwrap_or_else(|| self.run.lie_still())
                };
                self.next = Some(next);
                next
            }
        }
    }
}
