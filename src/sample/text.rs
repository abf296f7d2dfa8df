//! Lines of text to samples, or to heights and positions where two instruments gave them.

use super::bridge::FOLLOWED;
use super::{Bench, Height, Mark, Marks, Position, Sample};
use crate::gauge::text::{TextLine, TextPattern};
use crate::quantity::{Angle, Time};

/// Most bytes of a line of text that is still waited for.
const LONGEST: usize = 4096;

/// Turns a stream of text lines into what they say. Time is the instrument's own where its lines
/// tell it, else the host's at the end of the read that brought the line.
#[derive(Clone, Debug)]
pub struct FromText {
    pattern: TextPattern,
    bench: Bench,
    begun: Vec<u8>,
    first: Option<Time>,
    /// Lines that were forgotten.
    shed: usize,
    rows: Vec<(Time, TextLine, Marks)>,
    refused: u64,
    replugs: u64,
    coming: Marks,
}

/// What an instrument gave.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TextSamples {
    /// Angle and reading from the same line.
    pub samples: Vec<Sample>,
    /// Readings from lines without an angle.
    pub heights: Vec<Height>,
    /// Angles from lines without a reading.
    pub positions: Vec<Position>,
}

impl FromText {
    /// Nothing read yet.
    pub fn new(pattern: TextPattern, bench: Bench) -> Self {
        Self {
            pattern,
            bench,
            begun: Vec::new(),
            first: None,
            shed: 0,
            rows: Vec::new(),
            refused: 0,
            replugs: 0,
            coming: Marks::NONE,
        }
    }

    /// Takes the next bytes of the stream, which had all come by this time of the host.
    pub fn feed(&mut self, bytes: &[u8], at: Time) {
        self.begun.extend_from_slice(bytes);
        let mut start = 0;
        while let Some(length) = memchr::memchr(self.pattern.end(), &self.begun[start..]) {
            let line = self.begun[start..start + length].to_vec();
            start += length + 1;
            self.line(line.trim_ascii(), at);
        }
        self.begun.drain(..start);
        if self.begun.len() > LONGEST {
            self.begun.clear();
            self.refused += 1;
        }
    }

    fn line(&mut self, line: &[u8], at: Time) {
        if line.is_empty() {
            return;
        }
        match self.pattern.read(line) {
            Some(read) => {
                let marks = std::mem::take(&mut self.coming);
                let time = read.time.unwrap_or(at);
                self.first.get_or_insert(time);
                self.rows.push((time, read, marks));
            }
            None => {
                self.refused += 1;
                self.coming.add(Mark::AfterLoss);
            }
        }
    }

    /// The device came back after it went away.
    pub fn replugged(&mut self) {
        self.begun.clear();
        self.replugs += 1;
        self.coming.add(Mark::AfterReplug);
    }

    /// Lines that fitted the pattern, and those that did not.
    pub fn counts(&self) -> (u64, u64) {
        ((self.shed + self.rows.len()) as u64, self.refused)
    }

    /// Forgets the lines that came long ago, as [`FromBridge::shed`](super::FromBridge::shed).
    pub fn shed(&mut self) {
        if self.rows.len() > 2 * FOLLOWED {
            let old = self.rows.len() - FOLLOWED;
            self.rows.drain(..old);
            self.shed += old;
        }
    }

    /// Times that the device came back.
    pub fn replugs(&self) -> u64 {
        self.replugs
    }

    /// Whether a line is begun and not ended.
    pub fn is_torn(&self) -> bool {
        !self.begun.trim_ascii().is_empty()
    }

    /// What came from the line with this number on, by growing time; times count from `start`,
    /// or from the first line where that is absent.
    pub fn since(&self, number: usize, start: Option<Time>) -> TextSamples {
        let zero = start.or(self.first);
        let zero = zero.unwrap_or(Time::ZERO);
        let mut found = TextSamples::default();
        let from = number.saturating_sub(self.shed);
        for (at, line, marks) in self.rows.get(from..).unwrap_or_default() {
            let (time, marks) = (*at - zero, *marks);
            match (self.angle(line), line.reading) {
                (Some(angle), Some(reading)) => found.samples.push(Sample {
                    time,
                    angle,
                    reading,
                    marks,
                }),
                (None, Some(reading)) => found.heights.push(Height {
                    time,
                    reading,
                    marks,
                }),
                (Some(angle), None) => found.positions.push(Position { time, angle, marks }),
                (None, None) => {}
            }
        }
        found.samples.sort_by(|a, b| a.time.total_cmp(&b.time));
        found
    }

    /// A count before an angle: it is exact.
    fn angle(&self, line: &TextLine) -> Option<Angle> {
        let told = match line.angle {
            Some(angle) if self.bench.counts_down => Some(-angle),
            angle => angle,
        };
        line.count.map(|count| self.bench.angle(count)).or(told)
    }
}
