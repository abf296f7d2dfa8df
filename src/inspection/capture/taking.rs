//! A trace under way: when it begins, how far it is, when it is over.

use super::coverage::{Coverage, NEARLY};
use super::event::Progress;
use super::slot::{SILENCE_TOLD, Slot};
use super::{CaptureSettings, End};
use crate::inspection::logs::Duty;
use crate::quantity::{Angle, Time};
use crate::sample::{Mark, Seen};
use std::time::Instant;

/// Turning starts a trace when it is more than the encoder's and the hand's trembling.
const STARTS: Angle = Angle::from_rad(0.02);

/// So long the tool has to stand, by the device's clock, before the next trace may begin: a hand
/// that still turns after the last one has not set the stylus anew.
const RESTS: Time = Time::from_s(0.25);

/// A trace under way.
pub(super) struct Taking {
    pub progress: Progress,
    coverage: Coverage,
    end: End,
    /// Lines looked at, for either device.
    looked: [usize; 2],
    standing_at: Option<Angle>,
    /// Whether the tool has stood since the trace before; a first one need not wait for that.
    rested: bool,
    still_since: Option<Time>,
    pub turning_since: Option<Instant>,
    /// By the arrival of what was heard, so that a busy computer does not look like a still tool.
    heard: Instant,
    moved: Instant,
    /// Whether the stylus is set, so that turning begins the trace.
    armed: bool,
    /// What came with the last look, an angle with each where one is known.
    pub seen: Vec<Seen>,
}

impl Taking {
    /// A trace that nobody leads is armed from the start: turning begins it. Behind another one it
    /// begins only once the tool has stood still. What is ended `by_hand` has no other end.
    pub(super) fn new(
        settings: &CaptureSettings,
        trace: String,
        last: bool,
        armed: bool,
        behind_another: bool,
        by_hand: bool,
    ) -> Self {
        // Whoever sets a fixture says when it is right.
        let mut end = if by_hand || settings.rest.is_some() {
            End::default()
        } else {
            settings.end
        };
        let open = end.covered.is_none() && end.after.is_none() && end.still.is_none();
        if open && !last && !by_hand {
            // Something must end it before the next can begin.
            end.covered = Some(2);
        }
        Self {
            progress: Progress {
                trace,
                passes: end.covered.unwrap_or(1),
                rest: settings.rest,
                ..Progress::default()
            },
            coverage: Coverage::new(settings.spacing),
            end,
            looked: [0; 2],
            standing_at: None,
            rested: !(armed && behind_another),
            still_since: None,
            turning_since: None,
            heard: Instant::now(),
            moved: Instant::now(),
            armed,
            seen: Vec::new(),
        }
    }

    /// The stylus is set: from where the tool stands now, turning begins the trace.
    pub(super) fn arm(&mut self) {
        self.armed = true;
        self.standing_at = None;
    }

    /// Looks at what a device has said anew; whether the tool has just begun to turn.
    pub(super) fn look(&mut self, slots: &[Slot], number: usize, at: Instant) -> bool {
        // A silence says nothing about whether the tool stood still.
        if at.saturating_duration_since(self.heard) > SILENCE_TOLD / 8 {
            self.moved = at;
        }
        self.heard = at;
        let (Some(slot), Some(looked)) = (slots.get(number), self.looked.get_mut(number)) else {
            return false;
        };
        let turning = self.turning_since.is_some();
        let alone = slot.duty == Duty::Reading;
        self.seen.clear();
        let (seen, progress, coverage) = (&mut self.seen, &mut self.progress, &mut self.coverage);
        slot.device.news(*looked, |mut new| {
            // An indicator alone is read at the angle that its companion told last.
            if alone {
                new.angle = progress.angle;
            }
            progress.angle = new.angle.or(progress.angle);
            progress.reading = new.reading.or(progress.reading);
            if turning && new.reading.is_some() {
                progress.readings += 1;
                // What will not be used covers nothing, or a trace would end with holes in it.
                let doubted = new.marks.has(Mark::AngleInDoubt) || new.marks.has(Mark::Unusable);
                if let Some(angle) = new.angle.filter(|_| !doubted) {
                    coverage.take(angle);
                }
            }
            seen.push(new);
        });
        *looked = slot.device.rows();
        let tallies = || slots.iter().map(|slot| slot.device.tally());
        self.progress.bad_lines = tallies().map(|tally| tally.refused).sum();
        self.progress.lost_lines = tallies().map(|tally| tally.lost).sum();
        self.progress.covered = self.coverage.share(self.progress.passes);
        self.progress.too_fast = self.coverage.too_fast();
        self.progress.missing = match self.progress.covered >= NEARLY {
            true => self.coverage.missing(self.progress.passes),
            false => Vec::new(),
        };
        self.follow_motion()
    }

    fn follow_motion(&mut self) -> bool {
        if self.progress.rest.is_some() {
            // Nobody waits for it to turn: it begins with the first reading.
            self.standing_at = self.standing_at.or(self.progress.angle);
            return self.progress.reading.is_some() && self.begin();
        }
        let Some(angle) = self.progress.angle else {
            return false;
        };
        if !self.armed {
            return false;
        }
        self.look_for_rest();
        let standing = *self.standing_at.get_or_insert(angle);
        if (angle - standing).abs().rad() < STARTS.rad() {
            return false;
        }
        self.standing_at = Some(angle);
        self.moved = self.heard;
        self.rested && self.begin()
    }

    /// Begins where it has not begun; whether it does so now.
    fn begin(&mut self) -> bool {
        let begins = self.turning_since.is_none();
        self.turning_since.get_or_insert(self.heard);
        begins
    }

    /// By how far the tool was turned that was to be left alone.
    pub(super) fn disturbed(&self) -> Option<Angle> {
        let moved = (self.progress.angle? - self.standing_at?).abs();
        (self.progress.rest.is_some() && moved.rad() >= STARTS.rad()).then_some(moved)
    }

    /// Looks line by line whether the tool has stood long enough since the trace before.
    fn look_for_rest(&mut self) {
        for line in &self.seen {
            let Some(angle) = line.angle.filter(|_| !self.rested) else {
                continue;
            };
            let standing = *self.standing_at.get_or_insert(angle);
            let since = *self.still_since.get_or_insert(line.time);
            if (angle - standing).abs().rad() >= STARTS.rad() {
                self.standing_at = Some(angle);
                self.still_since = Some(line.time);
            } else if line.time - since >= RESTS {
                self.rested = true;
            }
        }
    }

    /// Whether one of its ends has come.
    pub(super) fn is_over(&mut self) -> bool {
        let Some(since) = self.turning_since else {
            return false;
        };
        self.progress.turning_for = Time::from_s(since.elapsed().as_secs_f64());
        let covered = self.end.covered;
        let after = self.progress.rest.or(self.end.after);
        let still = self.end.still;
        let stood_still = self.heard.saturating_duration_since(self.moved);
        self.progress.stands_for = Time::from_s(stood_still.as_secs_f64());
        covered.is_some_and(|passes| self.coverage.is_enough(passes))
            || after.is_some_and(|time| self.progress.turning_for >= time)
            || still.is_some_and(|time| stood_still.as_secs_f64() >= time.s())
    }
}
