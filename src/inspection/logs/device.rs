//! What one device gives, whichever protocol it speaks.

use crate::card::{GaugeCard, Hand, Positive};
use crate::error::{Code, Error, Result};
use crate::gauge::text::TextPattern;
use crate::quantity::Time;
use crate::sample::{
    Bench, FromBridge, FromText, Height, IndexPlace, Position, Sample, Seen, Tally,
};

/// Fewer readings in another unit may be a button that was touched.
const WRONG_UNIT_LEAST: u64 = 5;

/// What a device is there for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::inspection) enum Duty {
    /// Reading and angle.
    Both,
    /// The reading alone.
    Reading,
    /// The angle alone.
    Angle,
}

/// The stream of one device, turned into what it says.
#[derive(Clone, Debug)]
pub(in crate::inspection) enum Device {
    Bridge(Box<FromBridge>),
    Text(FromText),
}

impl Device {
    /// The device that the gauge card describes. With a tool of a `hand` on the bench its angles
    /// grow the way that tool cuts; otherwise they have the encoder's own sense.
    pub(in crate::inspection) fn new(
        gauge: &GaugeCard,
        duty: Duty,
        hand: Option<Hand>,
    ) -> Result<Self> {
        let positive = hand.map(|hand| gauge.encoder.positive(hand));
        let counts_down = positive == Some(Positive::Backing);
        let count = gauge.indicator.count();
        let bench = Bench::new(count, gauge.encoder.counts_per_turn, counts_down);
        let link = gauge.link.clone().unwrap_or_default();
        let pattern = match duty {
            Duty::Angle => TextPattern::of_encoder(&link)?,
            _ if link.protocol.as_deref() == Some("text") => {
                Some(TextPattern::of_indicator(&link)?)
            }
            _ => None,
        };
        Ok(match pattern {
            Some(pattern) => Device::Text(FromText::new(pattern, bench)),
            None => Device::Bridge(Box::new(FromBridge::new(bench))),
        })
    }

    pub(in crate::inspection) fn is_bridge(&self) -> bool {
        matches!(self, Device::Bridge(_))
    }

    pub(in crate::inspection) fn feed(&mut self, bytes: &[u8], at: Time) {
        match self {
            Device::Bridge(lines) => lines.feed(bytes),
            Device::Text(lines) => lines.feed(bytes, at),
        }
    }

    pub(in crate::inspection) fn replugged(&mut self) {
        match self {
            Device::Bridge(lines) => lines.replugged(),
            Device::Text(lines) => lines.replugged(),
        }
    }

    /// Where the encoder's index stands in its counts; unknown where it tells of none.
    pub(in crate::inspection) fn index_place(&self) -> IndexPlace {
        match self {
            Device::Bridge(lines) => lines.index_place(),
            Device::Text(_) => IndexPlace::default(),
        }
    }

    /// Adds this to every count.
    pub(in crate::inspection) fn shift_counts(&mut self, by: i64) {
        if let Device::Bridge(lines) = self {
            lines.shift_counts(by);
        }
    }

    /// Lines with a position or a reading so far.
    pub(in crate::inspection) fn rows(&self) -> usize {
        match self {
            Device::Bridge(lines) => lines.len(),
            Device::Text(lines) => lines.counts().0 as usize,
        }
    }

    /// Forgets the lines that came long ago: the raw log has them, and whoever follows has seen them.
    pub(in crate::inspection) fn shed(&mut self) {
        match self {
            Device::Bridge(lines) => lines.shed(),
            Device::Text(lines) => lines.shed(),
        }
    }

    /// When the newest line was taken, by a clock of the device's own where it has one.
    pub(in crate::inspection) fn newest_time(&self) -> Option<Time> {
        match self {
            Device::Bridge(lines) => {
                let last = lines.len().checked_sub(1)?;
                lines.positions_since(last).last().map(|row| row.time)
            }
            // These are on the host's clock already.
            Device::Text(_) => None,
        }
    }

    pub(in crate::inspection) fn tally(&self) -> Tally {
        match self {
            Device::Bridge(lines) => lines.tally(),
            Device::Text(lines) => Tally {
                good: lines.counts().0,
                refused: lines.counts().1,
                replugs: lines.replugs(),
                torn: lines.is_torn(),
                ..Tally::default()
            },
        }
    }

    /// Refuses an indicator that shows another unit than the gauge card has its count in: every
    /// reading would be wrong by some factor, and look like one.
    ///
    /// # Errors
    /// `protocol` where most readings came in the other unit; a few are left out and told.
    pub(in crate::inspection) fn right_unit(&self) -> Result<()> {
        let tally = self.tally();
        if tally.inch_mixed < WRONG_UNIT_LEAST || tally.inch_mixed * 2 < tally.readings {
            return Ok(());
        }
        let Device::Bridge(lines) = self else {
            return Ok(());
        };
        let (shows, card) = match lines.count_is_inch() {
            true => ("millimetres", "inches"),
            false => ("inches", "millimetres"),
        };
        Err(Error::new(
            Code::Protocol,
            format!(
                "the bridge says that the indicator shows {shows}, expected {card}, in which the gauge card has what a count is worth"
            ),
        )
        .help("switch the indicator to the unit of its card, or name the card of an indicator in this unit; `count_mm` or `count_in` under `[indicator]` is what one count is worth"))
    }

    /// What the lines from this number on say, in the order in which they came.
    pub(in crate::inspection) fn news(&self, from: usize, mut seen: impl FnMut(Seen)) {
        match self {
            Device::Bridge(lines) => lines.seen_since(from).for_each(seen),
            Device::Text(lines) => {
                // Heights and positions of one instrument do not mix with whole samples.
                let rows = lines.since(from, Some(Time::ZERO));
                for row in rows.heights {
                    seen(Seen {
                        time: row.time,
                        angle: None,
                        reading: Some(row.reading),
                        marks: row.marks,
                    });
                }
                for row in rows.positions {
                    seen(Seen {
                        time: row.time,
                        angle: Some(row.angle),
                        reading: None,
                        marks: row.marks,
                    });
                }
                for row in rows.samples {
                    seen(Seen {
                        time: row.time,
                        angle: Some(row.angle),
                        reading: Some(row.reading),
                        marks: row.marks,
                    });
                }
            }
        }
    }

    /// All samples from the line with this number on, by growing time.
    pub(in crate::inspection) fn samples(&self, from: usize) -> Vec<Sample> {
        let mut samples = match self {
            Device::Bridge(lines) => lines.since(from).collect(),
            Device::Text(lines) => lines.since(from, Some(Time::ZERO)).samples,
        };
        samples.sort_by(|a, b| a.time.total_cmp(&b.time));
        samples
    }

    pub(in crate::inspection) fn heights(&self, from: usize) -> Vec<Height> {
        match self {
            Device::Bridge(lines) => lines
                .since(from)
                .map(|sample| Height {
                    time: sample.time,
                    reading: sample.reading,
                    marks: sample.marks,
                })
                .collect(),
            Device::Text(lines) => {
                let rows = lines.since(from, Some(Time::ZERO));
                let from_samples = rows.samples.iter().map(|sample| Height {
                    time: sample.time,
                    reading: sample.reading,
                    marks: sample.marks,
                });
                rows.heights.iter().copied().chain(from_samples).collect()
            }
        }
    }

    pub(in crate::inspection) fn positions(&self, from: usize) -> Vec<Position> {
        match self {
            Device::Bridge(lines) => lines.positions_since(from).collect(),
            Device::Text(lines) => lines.since(from, Some(Time::ZERO)).positions,
        }
    }

    /// What was seen on the wire that a person should know: what, what it does to the result.
    pub(in crate::inspection) fn warnings(&self) -> Vec<String> {
        let tally = self.tally();
        let mut warnings = Vec::new();
        let mut warn = |count: u64, text: String| {
            if count > 0 {
                warnings.push(text);
            }
        };
        let (refused, lost) = (tally.refused, tally.lost);
        warn(
            refused,
            format!("{refused} lines were damaged and are left out; they are in the raw log"),
        );
        warn(
            lost,
            format!("{lost} lines were sent and never came; the places next to them are marked"),
        );
        warn(
            tally.repeated,
            format!("{} lines came twice; each is used once", tally.repeated),
        );
        warn(
            tally.late,
            format!("{} lines came behind later ones", tally.late),
        );
        warn(
            tally.frames_lost,
            format!(
                "the bridge dropped {} frames of the indicator; check its cable",
                tally.frames_lost
            ),
        );
        warn(
            tally.illegal_steps,
            format!(
                "the encoder made {} steps that cannot be; angles after them are not used until the \
                 index mark agrees",
                tally.illegal_steps
            ),
        );
        warn(
            tally.jumps,
            format!(
                "the count jumped {} times further than a tool is turned; angles after that are not used \
                 until the index mark agrees",
                tally.jumps
            ),
        );
        warn(
            tally.others,
            format!(
                "another bridge answered than before, or one with another indicator, {} times; angles after \
                 that are not used until the index mark agrees",
                tally.others
            ),
        );
        warn(
            tally.counts_lost,
            format!(
                "the index mark showed {} counts to be lost; angles before that are not used, and \
                 later ones are put right",
                tally.counts_lost
            ),
        );
        warn(
            tally.restarts,
            format!(
                "the controller started anew {} times; angles after it are not used until the index \
                 mark has passed",
                tally.restarts
            ),
        );
        warn(
            tally.replugs,
            format!("the device went away and came back {} times", tally.replugs),
        );
        warn(
            tally.inch_mixed,
            format!(
                "the indicator showed another unit, inches or mm, than the gauge card has its count in, in {} \
                 readings; they are not used",
                tally.inch_mixed
            ),
        );
        warn(
            u64::from(tally.torn),
            "the last line is torn: the capture ended in the middle of it".to_owned(),
        );
        warnings
    }
}
