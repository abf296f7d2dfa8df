//! The capture loop: one event at a time, from connecting to the last trace.

use super::event::{Event, Notice, Order};
use super::files::Files;
use super::live::Duty;
use super::slot::Slot;
use super::taking::Taking;
use super::{CaptureSettings, Captured, Made, Wanted, rebuild};
use crate::card::{GaugeCard, Link, Role, TraceEntry};
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::gauge::frame::Command;
use crate::gauge::raw_log::ArrivalEvent;
use crate::gauge::serial_reader::Delivery;
use crate::gauge::text::request_bytes;
use crate::quantity::Time;
use std::future::Future;
use std::pin::Pin;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;
use tokio::time::{Interval, MissedTickBehavior, interval};

/// Deliveries that may wait while this computer is busy: seconds of a fast stream.
const WAITING: usize = 4096;
/// Opening a port may reset the controller: so long it may take to say hello.
const START_UP: Duration = Duration::from_secs(3);
/// Between two askings, and how often (bridge protocol 1).
const ANSWER: Duration = Duration::from_millis(300);
const TRIES: u32 = 3;
/// How often the person is told how it stands.
const BEAT: Duration = Duration::from_millis(100);

pub(super) async fn run(
    settings: &CaptureSettings,
    gauge: &GaugeCard,
    indicator: Box<dyn Instrument>,
    encoder: Option<Box<dyn Instrument>>,
    tell: &mut dyn FnMut(Notice<'_>),
    stop: impl Future<Output = ()>,
) -> Result<Captured> {
    let stop = std::pin::pin!(stop);
    let mut session = Session::open(gauge, indicator, encoder, stop, None)?;
    if session.connect(tell).await? == Flow::Stop {
        return Err(stopped_early());
    }
    let mut files = Files::begin(settings)?;
    let mut captured = Captured {
        traces: Vec::new(),
        interrupted: false,
        fault: None,
    };
    for (number, wanted) in settings.traces.iter().enumerate() {
        let last = number + 1 == settings.traces.len();
        let taken = session.trace(settings, &mut files, wanted, last, None, tell);
        let (ended, made) = match taken.await {
            Ok(taken) => taken,
            // What was taken before is whole; without any there is nothing to tell but the fault.
            Err(fault) if captured.traces.is_empty() => return Err(fault),
            Err(fault) => (Ended::Fault(fault), None),
        };
        if let Some(made) = made {
            tell(Notice::Made(&made));
            captured.traces.push(made);
        }
        match ended {
            Ended::Enough | Ended::GivenUp => continue,
            Ended::Stopped => {}
            Ended::Fault(fault) => captured.fault = Some(fault),
        }
        captured.interrupted = true;
        // The card has said so from the start.
        return Ok(captured);
    }
    files.finish()?;
    Ok(captured)
}

pub(super) fn stopped_early() -> Error {
    Error::new(Code::Interrupted, "stopped before anything was captured")
}

#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Flow {
    GoOn,
    Stop,
}

/// Why a trace is over.
pub(super) enum Ended {
    Enough,
    /// The person does not want it.
    GivenUp,
    Stopped,
    Fault(Error),
}

impl Ended {
    /// A fault, of two the first: the second mostly follows from it.
    fn or_fault(self, fault: Error) -> Self {
        match self {
            Ended::Fault(first) => Ended::Fault(first),
            Ended::Enough | Ended::GivenUp | Ended::Stopped => Ended::Fault(fault),
        }
    }
}

/// The instruments of a bench, connected, with what they tell.
pub(super) struct Session<'a, S> {
    gauge: &'a GaugeCard,
    link: Link,
    pub slots: Vec<Slot>,
    /// What the person asks, where somebody leads.
    orders: Option<mpsc::UnboundedReceiver<Order>>,
    deliveries: mpsc::Receiver<Delivery>,
    tick: Interval,
    stop: Pin<&'a mut S>,
    stopped: bool,
    asked: Instant,
    /// How long the first line may take.
    pub patience: Duration,
    /// The controller started anew since the first trace began.
    pub angle_lost: bool,
    /// Traces that were taken.
    begun: usize,
}

impl<'a, S: Future<Output = ()>> Session<'a, S> {
    pub(super) fn open(
        gauge: &'a GaugeCard,
        indicator: Box<dyn Instrument>,
        encoder: Option<Box<dyn Instrument>>,
        stop: Pin<&'a mut S>,
        orders: Option<mpsc::UnboundedReceiver<Order>>,
    ) -> Result<Self> {
        let (sender, deliveries) = mpsc::channel(WAITING);
        let duties = match encoder {
            Some(_) => [Duty::Reading, Duty::Angle],
            None => [Duty::Both, Duty::Angle],
        };
        let mut slots = Vec::new();
        let instruments = std::iter::once(indicator).chain(encoder);
        for (number, (instrument, duty)) in instruments.zip(duties).enumerate() {
            slots.push(Slot::open(number, instrument, duty, gauge, sender.clone())?);
        }
        let mut tick = interval(BEAT);
        tick.set_missed_tick_behavior(MissedTickBehavior::Skip);
        Ok(Self {
            gauge,
            link: gauge.link.clone().unwrap_or_default(),
            slots,
            orders,
            deliveries,
            tick,
            stop,
            stopped: false,
            asked: Instant::now(),
            patience: START_UP,
            angle_lost: false,
            begun: 0,
        })
    }

    /// The next event. What came over the wire goes before the clock, so that a busy computer
    /// does not take for silence what it has not yet looked at.
    pub(super) async fn next(&mut self) -> Event {
        if self.stopped {
            return Event::Stop;
        }
        let ordered = async {
            match &mut self.orders {
                Some(orders) => orders.recv().await,
                None => std::future::pending().await,
            }
        };
        tokio::select! {
            biased;
            () = &mut self.stop => {
                self.stopped = true;
                Event::Stop
            }
            order = ordered => match order {
                Some(order) => Event::Order(order),
                // Nobody leads any more.
                None => {
                    self.stopped = true;
                    Event::Stop
                }
            },
            Some(delivery) = self.deliveries.recv() => Event::Delivery(delivery),
            _ = self.tick.tick() => Event::Tick,
        }
    }

    /// Until every device has said something that can be understood.
    pub(super) async fn connect(&mut self, tell: &mut dyn FnMut(Notice<'_>)) -> Result<Flow> {
        let opened = Instant::now();
        let mut tries = 0;
        self.ask_for_readings();
        loop {
            let answered = self.slots.iter().all(|slot| slot.device.tally().good > 0);
            if answered {
                break;
            }
            match self.next().await {
                Event::Stop => return Ok(Flow::Stop),
                // Nothing can be taken before the instruments answer.
                Event::Order(_) => {}
                Event::Delivery(delivery) => {
                    self.take(delivery, tell)?;
                }
                Event::Tick => {
                    let waited = opened.elapsed();
                    // The first asking may come too early for a controller that was reset.
                    let due = self.patience / 3 + ANSWER * tries;
                    if tries < TRIES && waited >= due {
                        tries += 1;
                        self.command_silent(Command::Identify);
                    }
                    if waited >= self.patience + ANSWER {
                        return Err(self.no_answer());
                    }
                    self.ask_when_due();
                }
            }
        }
        for slot in &self.slots {
            if let Some(other) = slot.device.tally().other_protocol {
                let message = format!("read bridge protocol {other}, expected 1");
                return Err(Error::new(Code::Protocol, message)
                    .in_file(&slot.name)
                    .help(
                        "use the heelclear that came with this firmware, or flash the bridge again",
                    ));
            }
            tell(Notice::Connected {
                port: &slot.name,
                speaks: if slot.device.is_bridge() {
                    "a bridge answers"
                } else {
                    "lines that fit the pattern come"
                },
            });
        }
        Ok(Flow::GoOn)
    }

    fn no_answer(&self) -> Error {
        let mute = self.slots.iter().find(|slot| slot.device.tally().good == 0);
        let (name, heard, bridge) = mute.map_or(("", false, true), |slot| {
            (
                slot.name.as_str(),
                slot.heard_anything,
                slot.device.is_bridge(),
            )
        });
        if !heard {
            return Error::new(
                Code::Silence,
                "the port opened, but nothing came through it",
            )
            .in_file(name)
            .help("check the cable, the power and that this is the right port");
        }
        let (expected, help) = if bridge {
            (
                "lines of the bridge",
                "check `baud` in `[link]`, and whether the instrument needs `protocol = \"text\"`",
            )
        } else {
            (
                "lines that fit the pattern",
                "check `baud` and the pattern in `[link]`",
            )
        };
        Error::new(
            Code::Protocol,
            format!("read something else, expected {expected}"),
        )
        .in_file(name)
        .help(help)
    }

    /// Takes one trace, from setting the stylus to its file. No file where the tool never turned.
    /// Where somebody leads, `led` says which traces of the card this one replaces.
    pub(super) async fn trace(
        &mut self,
        settings: &CaptureSettings,
        files: &mut Files,
        wanted: &Wanted,
        last: bool,
        led: Option<&[String]>,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Result<(Ended, Option<Made>)> {
        self.forget_the_last(tell)?;
        self.look_for_lost_zero();
        if self.angle_lost && led.is_none() {
            // Runout is taken off by the angle: a reference of another zero would be worse than none.
            let message =
                "the controller started anew, so this trace's angles do not go with those before";
            return Ok((
                Ended::Fault(Error::new(Code::Protocol, message).help(
                    "start again with the reference trace, in a new folder; what was read is kept",
                )),
                None,
            ));
        }
        // A trace that takes the place of others is put on the card once it is whole.
        let instead = led.filter(|files| self.angle_lost || !files.is_empty());
        let (entry, logs) = files.begin_trace(wanted, self.slots.len() > 1)?;
        for (slot, log) in self.slots.iter_mut().zip(logs) {
            slot.begin(self.gauge, log)?;
        }
        let name = name_of(&entry);
        tell(Notice::Ready {
            trace: &name,
            z: wanted.z,
        });
        self.command(Command::Start);
        let mut taking = Taking::new(settings, name, last, led.is_none(), self.begun > 0);
        let mut ended = loop {
            match self.next().await {
                Event::Stop => break Ended::Stopped,
                Event::Order(Order::Set) => {
                    taking.arm();
                    tell(Notice::Set {
                        trace: &taking.progress.trace,
                    });
                }
                Event::Order(Order::Enough) if taking.turning_since.is_some() => {
                    break Ended::Enough;
                }
                Event::Order(Order::GiveUp) => break Ended::GivenUp,
                // One trace at a time: what else is asked comes too early.
                Event::Order(_) => {}
                Event::Delivery(delivery) => {
                    let (device, at) = (delivery.device, delivery.at);
                    if let Err(fault) = self.take(delivery, tell) {
                        break Ended::Fault(fault);
                    }
                    let begins = taking.look(&self.slots, device, at);
                    if begins {
                        tell(Notice::Turning {
                            trace: &taking.progress.trace,
                            entry: &entry,
                        });
                        for slot in &self.slots {
                            slot.reader.note(ArrivalEvent::Start);
                        }
                        let kept = match instead {
                            Some(_) => Ok(()),
                            None => files.keep(&entry),
                        };
                        if let Err(fault) = kept {
                            break Ended::Fault(fault);
                        }
                    }
                    if led.is_some() && !taking.seen.is_empty() {
                        tell(Notice::Seen(&taking.seen));
                    }
                    if taking.is_over() {
                        break Ended::Enough;
                    }
                }
                Event::Tick => {
                    tell(Notice::Progress(&taking.progress));
                    self.ask_when_due();
                    if taking.is_over() {
                        break Ended::Enough;
                    }
                    let mut slots = self.slots.iter_mut();
                    if let Err(fault) = slots.try_for_each(|slot| slot.check_silence(tell)) {
                        break Ended::Fault(fault);
                    }
                }
            }
        };
        self.command(Command::Stop);
        self.begun += 1;
        for slot in &self.slots {
            if let Err(fault) = slot.end() {
                ended = ended.or_fault(fault);
            }
            let reads = slot.reader.dropped();
            if reads > 0 {
                tell(Notice::Late { reads });
            }
        }
        if taking.turning_since.is_none() {
            self.look_for_lost_zero();
            return Ok((ended, None));
        }
        if let Ended::GivenUp = ended {
            self.look_for_lost_zero();
            files.leave_out(&entry)?;
            return Ok((ended, None));
        }
        let made = match rebuild::make(files.folder(), &entry, self.gauge) {
            Ok(made) => made,
            // The raw log has it all the same, and `verify` makes it from there.
            Err(fault) => {
                self.look_for_lost_zero();
                return Ok((ended.or_fault(fault), None));
            }
        };
        if let (Some(others), Ended::Enough) = (instead, &ended) {
            // Angles before a lost zero do not go with these: none of those traces stays.
            let others = (!self.angle_lost).then_some(others);
            self.angle_lost = false;
            if let Err(fault) = files.replace(others, &entry) {
                ended = ended.or_fault(fault);
            }
        }
        self.look_for_lost_zero();
        Ok((ended, Some(made)))
    }

    /// A controller that is slow to start may say so in the first trace, which harms nothing.
    pub(super) fn look_for_lost_zero(&mut self) {
        let lost = |slot: &Slot| slot.restarts > 0 || (self.begun > 1 && slot.starts > 0);
        self.angle_lost |= self.begun > 0 && self.slots.iter().any(lost);
    }

    pub(super) fn take(
        &mut self,
        delivery: Delivery,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Result<()> {
        match self.slots.get_mut(delivery.device) {
            Some(slot) => slot.take(delivery, tell),
            None => Ok(()),
        }
    }

    /// Takes in what still waits from before, so that it is not taken for the next trace's.
    fn forget_the_last(&mut self, tell: &mut dyn FnMut(Notice<'_>)) -> Result<()> {
        while let Ok(delivery) = self.deliveries.try_recv() {
            self.take(delivery, tell)?;
        }
        Ok(())
    }

    pub(super) fn command(&self, command: Command) {
        for slot in &self.slots {
            slot.command(command);
        }
    }

    fn command_silent(&self, command: Command) {
        for slot in self
            .slots
            .iter()
            .filter(|slot| slot.device.tally().good == 0)
        {
            slot.command(command);
        }
    }

    /// Asks a text instrument that only speaks when it is asked.
    fn ask_for_readings(&mut self) {
        self.asked = Instant::now();
        if let (Some(request), Some(slot)) = (&self.link.request, self.slots.first())
            && !slot.device.is_bridge()
        {
            slot.reader.write(&request_bytes(request));
        }
    }

    pub(super) fn ask_when_due(&mut self) {
        let every = self.link.request_every.unwrap_or(Time::from_ms(100.0));
        if self.asked.elapsed().as_secs_f64() >= every.s() {
            self.ask_for_readings();
        }
    }
}

fn name_of(entry: &TraceEntry) -> String {
    match &entry.role {
        Role::Reference => "reference".to_owned(),
        Role::Feature(name) => name.clone(),
    }
}
