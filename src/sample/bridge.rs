//! Bridge lines to samples: time and counts made continuous, doubts marked, oldest first.

use super::index::{INDEX_WIDTH, IndexPlace};
use super::plausible::Plausible;
use super::{Bench, Mark, Marks, Position, Sample, Seen};
use crate::gauge::frame::{
    Assembler, Flags, Followed, Hello, Line, PROTOCOL, SampleLine, Sequence, Unwrap,
};
use crate::quantity::{Angle, Length, Time};

/// Lines that are kept of a stream that is followed: far more than one delivery brings.
pub(super) const FOLLOWED: usize = 16_384;

/// Counts that may be under way when the index is passed.
const UNDER_WAY: i64 = 1;

/// A clock that goes back further than a frame of the indicator can last has started anew: after so
/// long without a whole one the bridge says that there is none.
const CLOCK_BACK_US: i64 = 1_000_000;

/// What happened on the wire, counted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Lines that were accepted.
    pub good: u64,
    /// Lines that were refused; they stay in the raw log.
    pub refused: u64,
    /// Lines that the sequence says were made and never came.
    pub lost: u64,
    /// Lines that came again, and were left out.
    pub repeated: u64,
    /// Lines that came behind later ones.
    pub late: u64,
    /// Times that a controller said hello after it had started.
    pub starts: u64,
    /// Times that the controller started anew while samples were coming.
    pub restarts: u64,
    /// Times that the device came back after it went away.
    pub replugs: u64,
    /// Counts that the index showed to be lost.
    pub counts_lost: u64,
    /// Samples that said both encoder tracks had changed together.
    pub illegal_steps: u64,
    /// Times that the count went further than a tool is turned, and nothing told why.
    pub jumps: u64,
    /// Times that another bridge said hello than before.
    pub others: u64,
    /// Frames of the indicator that the bridge says it dropped or lost.
    pub frames_lost: u64,
    /// Readings that the bridge says are in inches where the card's count is in mm, or the other way.
    pub inch_mixed: u64,
    /// Lines with a reading.
    pub readings: u64,
    /// Whether the last line has no end: the capture was cut off there.
    pub torn: bool,
    /// Whether a hello said that nothing is measured: its bridge is called `simulated`.
    pub simulated: bool,
    /// The protocol that a hello named, where it is not the one known here.
    pub other_protocol: Option<u32>,
}

/// Turns a stream of bytes from the bridge into samples.
#[derive(Clone, Debug)]
pub struct FromBridge {
    lines: Assembler,
    state: State,
}

#[derive(Clone, Debug)]
struct State {
    bench: Bench,
    tally: Tally,
    sequence: Sequence,
    clock: Unwrap,
    /// Added to the clock, so that time goes on over a restart.
    clock_shift_us: i64,
    newest_us: Option<i64>,
    counter: Unwrap,
    /// Added to the counter: what was lost, or what stood before a restart.
    count_shift: i64,
    newest_count: i64,
    /// Added to every count that is given out, so that it goes with those of another stream.
    given_shift: i64,
    index: Index,
    in_doubt: bool,
    restarted: bool,
    said: Plausible,
    coming: Marks,
    /// Whether a line has come to its end: what comes before may be the rest of one.
    begun: bool,
    first_us: Option<i64>,
    /// Lines that were forgotten.
    shed: usize,
    rows: Vec<Row>,
}

/// A sample still in the bridge's own numbers.
#[derive(Clone, Copy, Debug)]
struct Row {
    us: i64,
    count: i64,
    steps: Option<i32>,
    marks: Marks,
}

/// The index, to catch lost counts.
#[derive(Clone, Copy, Debug, Default)]
struct Index {
    edges: Option<u16>,
    /// The first count at an index edge, for either direction.
    first: [Option<i64>; 2],
    /// Rows that were there when the index last agreed.
    agreed_at: usize,
    /// Counts by which it was beside its place last, too few for a loss that nothing else told.
    beside: Option<i64>,
}

impl FromBridge {
    /// Nothing read yet.
    pub fn new(bench: Bench) -> Self {
        Self {
            lines: Assembler::new(),
            state: State {
                bench,
                tally: Tally::default(),
                sequence: Sequence::default(),
                clock: Unwrap::default(),
                clock_shift_us: 0,
                newest_us: None,
                counter: Unwrap::default(),
                count_shift: 0,
                newest_count: 0,
                given_shift: 0,
                index: Index::default(),
                in_doubt: false,
                restarted: false,
                said: Plausible::default(),
                coming: Marks::NONE,
                begun: false,
                first_us: None,
                shed: 0,
                rows: Vec::new(),
            },
        }
    }

    /// Takes the next bytes of the stream.
    pub fn feed(&mut self, bytes: &[u8]) {
        let state = &mut self.state;
        self.lines.feed(bytes, |_, line| {
            match line {
                Ok(line) => state.take(&line),
                // Whoever begins to listen while a line is sent hears its rest.
                Err(_) if !state.begun => {}
                Err(_) => {
                    state.tally.refused += 1;
                    state.coming.add(Mark::AfterLoss);
                }
            }
            state.begun = true;
        });
    }

    /// The device came back after it went away; what was begun is lost.
    pub fn replugged(&mut self) {
        self.lines.forget();
        self.state.begun = false;
        self.state.tally.replugs += 1;
        // What was made while it was away is no line that was lost on the way.
        self.state.sequence.restart();
        // The encoder may have moved while dark.
        self.state.said.begins_again();
        self.state.coming.add(Mark::AfterReplug);
    }

    /// What happened so far.
    pub fn tally(&self) -> Tally {
        Tally {
            torn: self.lines.is_torn(),
            ..self.state.tally.clone()
        }
    }

    /// Whether a count of the indicator is one of inches, by the card.
    pub fn count_is_inch(&self) -> bool {
        self.state.bench.count_is_inch
    }

    /// Where the index stands, in the counts that are given out.
    pub fn index_place(&self) -> IndexPlace {
        let [forwards, backwards] = self.state.index.first;
        let place = IndexPlace {
            forwards,
            backwards,
        };
        place.moved(self.state.given_shift)
    }

    /// Adds this to every count, those that came and those to come.
    pub fn shift_counts(&mut self, by: i64) {
        self.state.given_shift += by;
    }

    /// Positions and readings so far.
    pub fn len(&self) -> usize {
        self.state.len()
    }

    /// Forgets the lines that came long ago, so that what follows a stream does not grow with it. Their
    /// numbers stay theirs.
    pub fn shed(&mut self) {
        let state = &mut self.state;
        if state.rows.len() > 2 * FOLLOWED {
            let old = state.rows.len() - FOLLOWED;
            state.rows.drain(..old);
            state.shed += old;
        }
    }

    /// Whether no sample has come yet.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The samples from the one with this number on, positions without a reading left out, in the
    /// order in which they came.
    pub fn since(&self, number: usize) -> impl Iterator<Item = Sample> + '_ {
        self.state
            .rows_from(number)
            .iter()
            .filter_map(|row| self.state.sample(row))
    }

    /// The positions from the line with this number on, with or without a reading.
    pub fn positions_since(&self, number: usize) -> impl Iterator<Item = Position> + '_ {
        self.state.rows_from(number).iter().map(|row| Position {
            time: self.state.time(row),
            angle: self.state.angle(row),
            marks: row.marks,
        })
    }

    /// What the lines from the one with this number on say, in the order in which they came.
    pub fn seen_since(&self, number: usize) -> impl Iterator<Item = Seen> + '_ {
        self.state.rows_from(number).iter().map(|row| Seen {
            time: self.state.time(row),
            angle: Some(self.state.angle(row)),
            reading: row
                .steps
                .map(|steps| self.state.bench.count * f64::from(steps)),
            marks: row.marks,
        })
    }
}

impl State {
    fn len(&self) -> usize {
        self.shed + self.rows.len()
    }

    /// The lines from the one with this number on that are not forgotten.
    fn rows_from(&self, number: usize) -> &[Row] {
        let from = number.saturating_sub(self.shed);
        self.rows.get(from..).unwrap_or_default()
    }

    fn take(&mut self, line: &Line<'_>) {
        self.tally.good += 1;
        if let Line::Hello(hello) = line {
            self.hello(hello);
        }
        if let Line::Sample(sample) = line
            && self.clock_went_back(sample)
        {
            // Its hello was lost, but the clock tells.
            self.restart();
        }
        let before = self.sequence;
        match self.sequence.follow(line.seq()) {
            Followed::Ahead(0) => {}
            // Further back than the sequence remembers, and made before what came: a whole stretch
            // comes again.
            Followed::Ahead(lost) if lost > u16::MAX / 2 && !self.is_newer(line) => {
                self.sequence = before;
                self.tally.good -= 1;
                self.tally.repeated += 1;
                return;
            }
            Followed::Ahead(lost) => {
                self.tally.lost += u64::from(lost);
                self.coming.add(Mark::AfterLoss);
            }
            // A clock that went on is another line, after a gap as long as the whole sequence.
            Followed::Repeated if !self.is_newer(line) => {
                self.tally.good -= 1;
                self.tally.repeated += 1;
                return;
            }
            Followed::Repeated => self.coming.add(Mark::AfterLoss),
            Followed::Late => {
                self.tally.late += 1;
                self.tally.lost = self.tally.lost.saturating_sub(1);
            }
        }
        match line {
            Line::Sample(sample) => self.sample_line(sample),
            Line::Counters(counters)
                if self.said.hides_steps(counters, self.tally.illegal_steps) =>
            {
                self.tally.illegal_steps += 1;
                self.in_doubt = true;
            }
            _ => {}
        }
    }

    fn hello(&mut self, hello: &Hello<'_>) {
        if let Some(proto) = hello.number("proto")
            && proto != PROTOCOL
        {
            self.tally.other_protocol = Some(proto);
        }
        if self.said.is_another(hello) {
            self.tally.others += 1;
            self.in_doubt = true;
        }
        self.tally.simulated |= hello.get("id") == Some(b"simulated");
        // A hello that was asked for goes on in the sequence; a controller that starts anew
        // counts its lines from 0.
        let mut sequence = self.sequence;
        let goes_on = sequence.has_begun() && sequence.follow(hello.seq) == Followed::Ahead(0);
        if hello.seq == 0 && !goes_on {
            self.tally.starts += 1;
            self.restart();
        }
    }

    fn restart(&mut self) {
        self.sequence.restart();
        self.said.begins_again();
        if self.len() == 0 {
            return;
        }
        self.tally.restarts += 1;
        self.restarted = true;
        self.in_doubt = true;
        self.clock = Unwrap::default();
        self.counter = Unwrap::default();
        // Nobody knows how long it was dark: time goes on as if it had not been, and the angle
        // from where it stood, until an index tells.
        self.clock_shift_us = self.newest_us.unwrap_or(0);
        self.count_shift = self.newest_count;
        self.index.edges = None;
        self.index.beside = None;
        self.index.agreed_at = self.len();
    }

    /// When a line was made, by the clock as it went on so far.
    fn made_us(&self, line: &SampleLine) -> i64 {
        let mut clock = self.clock;
        clock.follow(line.t) + self.clock_shift_us
    }

    fn clock_went_back(&self, line: &SampleLine) -> bool {
        let newest = self.newest_us;
        newest.is_some_and(|newest| self.made_us(line) < newest - CLOCK_BACK_US)
    }

    /// Whether a line was made after all that came; one that is no sample has no clock to tell.
    fn is_newer(&self, line: &Line<'_>) -> bool {
        match line {
            Line::Sample(sample) => self.newest_us.is_none_or(|it| self.made_us(sample) > it),
            _ => false,
        }
    }

    fn sample_line(&mut self, line: &SampleLine) {
        let us = self.clock.follow(line.t) + self.clock_shift_us;
        let raw = self.counter.follow_signed(line.count);
        self.note_flags(line);
        if self.said.jumps(us, raw) {
            self.tally.jumps += 1;
            self.in_doubt = true;
        }
        self.check_index(line, raw);
        let mut marks = std::mem::take(&mut self.coming);
        if self.in_doubt {
            marks.add(Mark::AngleInDoubt);
        }
        if self.restarted {
            marks.add(Mark::AfterRestart);
        }
        self.tally.readings += u64::from(line.reading.is_some());
        // Without a reading the bridge may not have heard yet what the indicator shows.
        if line.reading.is_some() && line.flags.has(Flags::INCH) != self.bench.count_is_inch {
            self.tally.inch_mixed += 1;
            marks.add(Mark::Unusable);
        }
        let count = raw + self.count_shift;
        self.newest_us = Some(self.newest_us.map_or(us, |newest| newest.max(us)));
        self.newest_count = count;
        self.first_us.get_or_insert(us);
        self.rows.push(Row {
            us,
            count,
            steps: line.reading,
            marks,
        });
    }

    fn note_flags(&mut self, line: &SampleLine) {
        if line.flags.has(Flags::ILLEGAL_STEP) {
            self.tally.illegal_steps += 1;
            self.in_doubt = true;
        }
        for flag in [Flags::BAD_FRAME, Flags::FRAME_LOST] {
            if line.flags.has(flag) {
                self.tally.frames_lost += 1;
                self.coming.add(Mark::AfterLoss);
            }
        }
        // Lines that were not sent are missing from the sequence, and counted there.
        if line.flags.has(Flags::LINES_DROPPED) {
            self.coming.add(Mark::AfterLoss);
        }
    }

    /// Each count at the index must agree with the first of its direction, modulo a turn.
    fn check_index(&mut self, line: &SampleLine, raw: i64) {
        let passed = self.index.edges.replace(line.index_edges) != Some(line.index_edges);
        let seen = line.index_edges > 0 && (passed || line.flags.has(Flags::INDEX));
        if !seen {
            return;
        }
        let per_turn = i64::from(self.bench.counts_per_turn);
        // The index' count is near the sample's own, whatever wrapped in between.
        let at = raw - i64::from(line.count.wrapping_sub(line.index_count)) + self.count_shift;
        let way = usize::from(line.flags.has(Flags::INDEX_BACKWARDS));
        let Some(first) = self.index.first[way] else {
            let never_passed = self.index.first == [None; 2];
            self.index.first[way] = Some(at);
            if self.restarted && never_passed {
                self.doubt_before_restart();
            }
            return;
        };
        let off = (at - first + per_turn / 2).rem_euclid(per_turn) - per_turn / 2;
        if off.abs() > UNDER_WAY {
            let before = self.index.beside.replace(off);
            let again = before.is_some_and(|before| (before - off).abs() <= UNDER_WAY);
            // A pulse that bounces may be this far off once; what was lost stays lost.
            if !self.in_doubt && off.abs() <= INDEX_WIDTH && !again {
                return;
            }
            if !self.restarted {
                self.tally.counts_lost += off.unsigned_abs();
            }
            // They were lost somewhere since the index last agreed.
            let since = self.index.agreed_at;
            self.doubt_since(since);
            self.count_shift -= off;
        }
        self.index_agrees();
    }

    fn index_agrees(&mut self) {
        self.in_doubt = false;
        self.restarted = false;
        self.index.beside = None;
        self.index.agreed_at = self.len();
    }

    fn doubt_since(&mut self, number: usize) {
        let since = number.saturating_sub(self.shed);
        for row in self.rows.get_mut(since..).unwrap_or_default() {
            row.marks.add(Mark::AngleInDoubt);
        }
    }

    /// The index is passed for the first time after a restart: nothing tells how far the tool moved
    /// while dark. What comes goes with the index, and what came before goes with nothing.
    fn doubt_before_restart(&mut self) {
        self.doubt_since(0);
        self.index_agrees();
    }

    /// Since the first line of the stream.
    fn time(&self, row: &Row) -> Time {
        let first = self.first_us.unwrap_or(0);
        Time::from_s((row.us - first) as f64 / 1e6)
    }

    fn angle(&self, row: &Row) -> Angle {
        self.bench.angle(row.count + self.given_shift)
    }

    fn sample(&self, row: &Row) -> Option<Sample> {
        Some(Sample {
            time: self.time(row),
            angle: self.angle(row),
            reading: self.bench.count * f64::from(row.steps?),
            marks: row.marks,
        })
    }
}

impl Bench {
    /// The tool's angle at a count, growing as it turns the way it cuts.
    pub fn angle(&self, count: i64) -> Angle {
        let turned = Angle::from_turns(count as f64 / f64::from(self.counts_per_turn));
        if self.counts_down { -turned } else { turned }
    }
}

/// Whether a count is one of those of inch instruments: 1, 2, 2.5 or 5 in its first digits there, and
/// not in millimetres.
pub(super) fn is_inch(count: Length) -> bool {
    let round = |value: f64| {
        let digits = value / 10f64.powf(value.log10().floor());
        [1.0, 2.0, 2.5, 5.0, 10.0]
            .iter()
            .any(|digit| (digits - digit).abs() < 1e-6)
    };
    round(count.inches()) && !round(count.mm())
}
