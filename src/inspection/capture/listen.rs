//! Listens to a bench without keeping anything: at rest, then over a turn where that is wanted.

use super::event::{Event, Notice};
use super::session::{Flow, Session};
use super::slot::Slot;
use crate::card::GaugeCard;
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::gauge::frame::Command;
use crate::gauge::serial_reader::What;
use crate::inspection::logs::Duty;
use crate::quantity::{Angle, Length, Time};
use crate::sample::{IndexMark, Introduction, Overheard, Tally};
use std::future::Future;
use std::time::{Duration, Instant};

/// How long a bridge is asked who it is: three tries of 300 ms (bridge protocol 1).
const ASKED: Duration = Duration::from_millis(900);
/// What comes first after `G` may have waited in a buffer.
const SETTLING: Duration = Duration::from_millis(250);
/// So long a turn is waited for.
const TURN_WAIT: Duration = Duration::from_secs(90);
/// After so many turns by the card, whose counts may be wrong by the four edges of a line, no mark
/// comes any more.
const TURNS_MOST: f64 = 9.0;
/// A hand that has stopped for so long, after a turn or more, has done what it was asked.
const DONE: Duration = Duration::from_secs(3);
/// So far one way no hand trembles, and no slip of the finger goes.
const FAR_ENOUGH: Angle = Angle::from_rad(45.0 / 180.0 * std::f64::consts::PI);
/// A hand that trembles over a mark passes it again within so many counts.
const SAME_MARK: i64 = 16;

/// How a bench is listened to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Listening {
    /// How long at rest.
    pub rest: Time,
    /// Whether the person turns the tool afterwards, to see whether the index agrees.
    pub turn: bool,
    /// Whether the person turns the spindle clockwise afterwards, to see which way the angle goes.
    pub clockwise: bool,
    /// How long the first line may take; absent = as long as a controller that was reset takes.
    pub patience: Option<Time>,
    /// How long the person's turn is waited for; absent = as long as somebody takes who stands at the
    /// bench.
    pub turn_wait: Option<Time>,
}

/// What a person is told meanwhile.
#[derive(Debug)]
pub enum Hearing<'a> {
    /// As in a capture.
    Notice(Notice<'a>),
    /// The port is tried at another speed of the line.
    Trying(u32),
    /// It is listened to at rest for so long: nothing is to be touched.
    Rest(Time),
    /// The spindle is to be turned clockwise now, seen from the driven end.
    TurnClockwise,
    /// By how much the angle has grown since, in the encoder's own sense.
    WentClockwise(Angle),
    /// The tool is to be turned now.
    Turn,
    /// How far it was turned, and index marks passed.
    Turned(Angle, usize),
}

/// What was heard, as far as it went.
#[derive(Debug, Default)]
pub struct Heard {
    /// The ports that were opened.
    pub ports: Vec<String>,
    /// Each device, the indicator first.
    pub devices: Vec<HeardDevice>,
    /// How far the tool was turned and the marks passed, where that was asked for.
    pub turned: Option<Turned>,
    /// By how much the angle grew, in the encoder's own sense, while the spindle was turned
    /// clockwise; where that was asked for.
    pub clockwise: Option<Angle>,
    /// What ended it early, and at which step.
    pub fault: Option<(Step, Error)>,
}

/// The steps of listening, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// Opening the ports.
    Open,
    /// Waiting for something that can be understood.
    Answer,
    /// Listening at rest.
    Rest,
    /// Listening over a turn.
    Turn,
}

/// A device at rest.
#[derive(Clone, Debug, Default)]
pub struct HeardDevice {
    /// Its port.
    pub port: String,
    /// Whether it speaks the bridge protocol.
    pub is_bridge: bool,
    /// Whether readings are expected from it.
    pub gives_readings: bool,
    /// Whether angles are.
    pub gives_angles: bool,
    /// What a bridge said when it was asked who it is.
    pub introduction: Option<Introduction>,
    /// What was counted while it was listened to.
    pub tally: Tally,
    /// Readings, by growing time.
    pub readings: Vec<(Time, Length)>,
    /// Angles, by growing time.
    pub angles: Vec<(Time, Angle)>,
    /// By this computer's clock.
    pub listened: Time,
    /// By the bridge's own clock, first sample to last.
    pub by_its_clock: Option<Time>,
    /// Whether a bridge says that no whole frame comes from the indicator.
    pub without_frame: bool,
}

/// A tool turned by hand to see the encoder's index.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Turned {
    /// From the least angle to the greatest.
    pub arc: Angle,
    /// Index marks in the order passed.
    pub marks: Vec<IndexMark>,
}

impl Turned {
    /// Counts between two marks that were passed the same way, of all such pairs the fewest: one
    /// turn, or what the encoder takes for one. Nothing before there are two.
    pub fn between_marks(&self) -> Option<i64> {
        let pairs = self.marks.iter().enumerate().flat_map(|(at, mark)| {
            let earlier = self.marks[..at].iter();
            earlier
                .filter(|other| other.backwards == mark.backwards)
                .map(|other| (mark.count - other.count).abs())
        });
        pairs.filter(|counts| *counts > SAME_MARK).min()
    }
}

/// Listens to one instrument, or to an indicator and an encoder. Nothing is kept on disk.
///
/// # Errors
/// `interrupted` when it was stopped; any other fault is in the answer, with the step it ended.
pub fn listen(
    gauge: &GaugeCard,
    indicator: Box<dyn Instrument>,
    encoder: Option<Box<dyn Instrument>>,
    listening: Listening,
    tell: &mut dyn FnMut(Hearing<'_>),
    stop: impl Future<Output = ()>,
) -> Result<Heard> {
    super::wait_for(async {
        let stop = std::pin::pin!(stop);
        let mut heard = Heard::default();
        match Session::open(gauge, None, indicator, encoder, stop, None) {
            Ok(mut session) => {
                if let Some(patience) = listening.patience {
                    session.patience = Duration::from_secs_f64(patience.s().max(0.0));
                }
                heard.ports = session.slots.iter().map(|slot| slot.name.clone()).collect();
                let mut ear = Ear::new(session, listening);
                if let Err(fault) = ear.listen(&mut heard, tell).await {
                    if fault.code() == Code::Interrupted {
                        return Err(fault);
                    }
                    heard.fault = Some((ear.step, fault));
                }
            }
            Err(fault) => heard.fault = Some((Step::Open, fault)),
        }
        Ok(heard)
    })
}

struct Ear<'a, S> {
    session: Session<'a, S>,
    listening: Listening,
    step: Step,
    overheard: Vec<Overheard>,
}

impl<'a, S: Future<Output = ()>> Ear<'a, S> {
    fn new(session: Session<'a, S>, listening: Listening) -> Self {
        Self {
            overheard: session.slots.iter().map(|_| Overheard::new()).collect(),
            session,
            listening,
            step: Step::Answer,
        }
    }

    async fn listen(&mut self, heard: &mut Heard, tell: &mut dyn FnMut(Hearing<'_>)) -> Result<()> {
        let mut notices = |notice: Notice<'_>| tell(Hearing::Notice(notice));
        if self.session.connect(&mut notices).await? == Flow::Stop {
            return Err(stopped());
        }
        let introductions = self.introductions(tell).await?;
        self.step = Step::Rest;
        heard.devices = self.at_rest(introductions, tell).await?;
        if self.listening.clockwise {
            self.step = Step::Turn;
            heard.clockwise = Some(self.clockwise(tell).await?);
        }
        if self.listening.turn && self.encoder_is_bridge() {
            self.step = Step::Turn;
            heard.turned = Some(self.over_a_turn(tell).await?);
        }
        self.session.command(Command::Stop);
        Ok(())
    }

    /// Asks each bridge who it is: the hello at its start may have come before the port was open.
    async fn introductions(
        &mut self,
        tell: &mut dyn FnMut(Hearing<'_>),
    ) -> Result<Vec<Option<Introduction>>> {
        let every = ASKED / 3;
        for _ in 0..3 {
            let slots = self.session.slots.iter().zip(&self.overheard);
            let mute = slots.filter(|(slot, overheard)| {
                slot.device.is_bridge() && overheard.introduction().is_none()
            });
            if mute.count() == 0 {
                break;
            }
            self.session.command(Command::Identify);
            self.hear_for(every, tell, |ear| {
                let told = |it: &Overheard| it.introduction().is_some();
                ear.overheard.iter().all(told)
            })
            .await?;
        }
        let introduced = self.overheard.iter();
        Ok(introduced.map(|it| it.introduction().cloned()).collect())
    }

    async fn at_rest(
        &mut self,
        introductions: Vec<Option<Introduction>>,
        tell: &mut dyn FnMut(Hearing<'_>),
    ) -> Result<Vec<HeardDevice>> {
        tell(Hearing::Rest(self.listening.rest));
        self.session.command(Command::Start);
        self.hear_for(SETTLING, tell, |_| false).await?;
        let before: Vec<(usize, Tally)> = (self.session.slots.iter())
            .map(|slot| (slot.device.rows(), slot.device.tally()))
            .collect();
        self.overheard.fill(Overheard::new());
        let began = Instant::now();
        let rest = Duration::from_secs_f64(self.listening.rest.s().max(0.0));
        self.hear_for(rest, tell, |_| false).await?;
        let listened = Time::from_s(began.elapsed().as_secs_f64());
        let slots = self.session.slots.iter().zip(&self.overheard);
        let devices = slots.zip(before).zip(introductions);
        Ok(devices
            .map(
                |(((slot, overheard), (row, tally)), introduction)| HeardDevice {
                    introduction,
                    listened,
                    by_its_clock: overheard.lasted(),
                    without_frame: overheard.without_frame(),
                    tally: since(&slot.device.tally(), &tally),
                    ..told_since(slot, row)
                },
            )
            .collect())
    }

    fn turn_wait(&self) -> Duration {
        let stated = self.listening.turn_wait;
        stated.map_or(TURN_WAIT, |wait| Duration::from_secs_f64(wait.s().max(0.0)))
    }

    fn encoder_is_bridge(&self) -> bool {
        let mut slots = self.session.slots.iter();
        slots.any(|slot| slot.duty != Duty::Reading && slot.device.is_bridge())
    }

    /// Watches the angle until it has gone far enough one way and stands still.
    async fn clockwise(&mut self, tell: &mut dyn FnMut(Hearing<'_>)) -> Result<Angle> {
        let mut slots = self.session.slots.iter();
        let encoder = slots
            .position(|slot| slot.duty != Duty::Reading)
            .unwrap_or(0);
        tell(Hearing::TurnClockwise);
        let (began, wait) = (Instant::now(), self.turn_wait());
        let mut looked = self.session.slots[encoder].device.rows();
        let (mut first, mut last) = (None, Angle::ZERO);
        while began.elapsed() < wait {
            self.hear_for(SETTLING, tell, |_| false).await?;
            for (_, angle) in told_since(&self.session.slots[encoder], looked).angles {
                first.get_or_insert(angle);
                last = angle;
            }
            looked = self.session.slots[encoder].device.rows();
            let gone = last - first.unwrap_or(last);
            tell(Hearing::WentClockwise(gone));
            if gone.abs() >= FAR_ENOUGH {
                return Ok(gone);
            }
        }
        Ok(last - first.unwrap_or(last))
    }

    async fn over_a_turn(&mut self, tell: &mut dyn FnMut(Hearing<'_>)) -> Result<Turned> {
        let mut slots = self.session.slots.iter();
        let encoder = slots
            .position(|slot| slot.duty != Duty::Reading)
            .unwrap_or(0);
        tell(Hearing::Turn);
        self.overheard.fill(Overheard::new());
        let (began, wait) = (Instant::now(), self.turn_wait());
        let mut looked = self.session.slots[encoder].device.rows();
        let mut reach: Option<(Angle, Angle)> = None;
        let mut turned = Turned::default();
        let (mut before, mut moved) = (Angle::ZERO, began);
        while began.elapsed() < wait {
            self.hear_for(SETTLING, tell, |_| false).await?;
            for (_, angle) in told_since(&self.session.slots[encoder], looked).angles {
                let (low, high) = reach.unwrap_or((angle, angle));
                reach = Some((low.min(angle), high.max(angle)));
            }
            looked = self.session.slots[encoder].device.rows();
            turned.arc = reach.map_or(Angle::ZERO, |(low, high)| high - low);
            turned.marks = self.overheard[encoder].marks().to_vec();
            tell(Hearing::Turned(turned.arc, turned.marks.len()));
            let arc = turned.arc;
            if (arc - before).rad() > 0.0 {
                moved = Instant::now();
                before = arc;
            }
            let stopped = arc.turns() >= 1.0 && moved.elapsed() >= DONE;
            if turned.between_marks().is_some() || arc.turns() >= TURNS_MOST || stopped {
                break;
            }
        }
        Ok(turned)
    }

    /// Takes in what comes for so long, or until it is enough.
    async fn hear_for(
        &mut self,
        time: Duration,
        tell: &mut dyn FnMut(Hearing<'_>),
        enough: impl Fn(&Self) -> bool,
    ) -> Result<()> {
        let began = Instant::now();
        let mut tell = |notice: Notice<'_>| tell(Hearing::Notice(notice));
        while began.elapsed() < time && !enough(self) {
            match self.session.next().await {
                Event::Stop => return Err(stopped()),
                Event::Delivery(delivery) => {
                    if let (What::Bytes(bytes), Some(overheard)) =
                        (&delivery.what, self.overheard.get_mut(delivery.device))
                    {
                        overheard.feed(bytes);
                    }
                    if let What::Gone = delivery.what {
                        return Err(gone(&self.session.slots, delivery.device));
                    }
                    self.session.take(delivery, &mut tell)?;
                }
                Event::Tick => self.session.ask_when_due(),
                // Nobody leads.
                Event::Order(_) => {}
            }
        }
        Ok(())
    }
}

/// What a device told from this row on.
fn told_since(slot: &Slot, row: usize) -> HeardDevice {
    let device = &slot.device;
    let mut heard = HeardDevice {
        port: slot.name.clone(),
        is_bridge: device.is_bridge(),
        gives_readings: slot.duty != Duty::Angle,
        gives_angles: slot.duty != Duty::Reading,
        ..HeardDevice::default()
    };
    heard.readings = (device.heights(row).iter())
        .map(|height| (height.time, height.reading))
        .collect();
    let samples = device.samples(row).into_iter();
    let alone = device.positions(row).into_iter();
    let alone = alone.map(|position| (position.time, position.angle));
    heard.angles = match device.is_bridge() {
        // There every line has an angle, those with a reading too.
        true => alone.collect(),
        false => alone.chain(samples.map(|it| (it.time, it.angle))).collect(),
    };
    heard.readings.sort_by(|a, b| a.0.total_cmp(&b.0));
    heard.angles.sort_by(|a, b| a.0.total_cmp(&b.0));
    heard
}

fn since(now: &Tally, before: &Tally) -> Tally {
    Tally {
        good: now.good - before.good,
        refused: now.refused - before.refused,
        lost: now.lost.saturating_sub(before.lost),
        repeated: now.repeated - before.repeated,
        late: now.late - before.late,
        starts: now.starts - before.starts,
        restarts: now.restarts - before.restarts,
        replugs: now.replugs - before.replugs,
        counts_lost: now.counts_lost - before.counts_lost,
        illegal_steps: now.illegal_steps - before.illegal_steps,
        jumps: now.jumps - before.jumps,
        others: now.others - before.others,
        frames_lost: now.frames_lost - before.frames_lost,
        inch_mixed: now.inch_mixed - before.inch_mixed,
        readings: now.readings - before.readings,
        torn: now.torn,
        simulated: now.simulated,
        other_protocol: now.other_protocol,
    }
}

fn gone(slots: &[Slot], device: usize) -> Error {
    let name = slots.get(device).map(|slot| slot.name.clone());
    Error::new(
        Code::Unplugged,
        "the device went away while it was listened to",
    )
    .in_file(name.unwrap_or_default())
    .help("check its plug and its cable, then start again")
}

fn stopped() -> Error {
    Error::new(Code::Interrupted, "stopped before everything was looked at")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(marks: &[(i64, bool)], counts: Option<i64>) {
        let marks = marks.iter();
        let turned = Turned {
            marks: marks
                .map(|&(count, backwards)| IndexMark { count, backwards })
                .collect(),
            ..Turned::default()
        };
        assert_eq!(turned.between_marks(), counts);
    }

    #[test]
    fn only_marks_passed_the_same_way_are_compared() {
        check(&[], None);
        check(&[(100, false)], None);
        check(&[(100, false), (4100, false)], Some(4000));
        check(&[(4100, true), (100, true)], Some(4000));
        // Back over the same mark, which is as wide as it is.
        check(&[(100, false), (102, true)], None);
        check(
            &[(100, false), (102, true), (100, false), (4100, false)],
            Some(4000),
        );
    }
}
