//! The instruments of a capture: opened, asked until they answer, and waited for an event at a time.

use super::event::{Event, Notice, Order};
use super::slot::Slot;
use crate::card::{GaugeCard, Hand, Link};
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::gauge::frame::Command;
use crate::gauge::serial_reader::Delivery;
use crate::gauge::text::request_bytes;
use crate::inspection::logs::Duty;
use crate::quantity::Time;
use std::future::Future;
use std::pin::Pin;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;
use tokio::time::{Interval, MissedTickBehavior, interval, timeout};

/// Deliveries that may wait while this computer is busy: seconds of a fast stream.
const WAITING: usize = 4096;
/// Opening a port may reset the controller: so long it may take to say hello.
const START_UP: Duration = Duration::from_secs(3);
/// Between two askings, and how often (bridge protocol 1).
const ANSWER: Duration = Duration::from_millis(300);
const TRIES: u32 = 3;
/// A bridge that has been told to stop, and silent for so long, has sent its last line: adapters of
/// the slow kind deliver each 16 ms.
const SILENT: Duration = Duration::from_millis(50);
/// How often the person is told how it stands.
const BEAT: Duration = Duration::from_millis(100);

pub(super) fn stopped_early() -> Error {
    Error::new(Code::Interrupted, "stopped before anything was captured")
}

#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Flow {
    GoOn,
    Stop,
}

/// The instruments of a bench, connected, with what they tell.
pub(super) struct Session<'a, S> {
    pub gauge: &'a GaugeCard,
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
    /// Whether traces to come are counted from another zero than those that were kept.
    pub zero_lost: bool,
    /// How often that was found.
    pub losses: u64,
    /// Starts of the controller in the log under way that were found already.
    pub noted: u64,
    /// Whether the indicator was set anew since the last trace that is on the card.
    pub rezeroed: bool,
    /// Traces that were taken.
    pub begun: usize,
}

impl<'a, S: Future<Output = ()>> Session<'a, S> {
    pub(super) fn open(
        gauge: &'a GaugeCard,
        hand: Option<Hand>,
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
            slots.push(Slot::open(
                number,
                instrument,
                duty,
                gauge,
                hand,
                sender.clone(),
            )?);
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
            zero_lost: false,
            losses: 0,
            noted: 0,
            rezeroed: false,
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

    /// Looks whether a controller has started anew. One that is slow to start may say so in the
    /// first trace, which harms nothing.
    pub(super) fn look_for_lost_zero(&mut self) {
        if self.begun == 0 {
            return;
        }
        let starts = |slot: &Slot| slot.restarts + if self.begun > 1 { slot.starts } else { 0 };
        let lost: u64 = self.slots.iter().map(starts).sum();
        if lost > self.noted {
            self.zero_lost = true;
            self.losses += 1;
        }
        self.noted = lost;
    }

    /// Refuses an indicator in another unit than the card's.
    ///
    /// # Errors
    /// `protocol` where most readings came in the other unit.
    pub(super) fn right_unit(&self, device: usize) -> Result<()> {
        let slot = self.slots.get(device);
        slot.map_or(Ok(()), |slot| slot.device.right_unit())
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
    pub(super) fn forget_the_last(&mut self, tell: &mut dyn FnMut(Notice<'_>)) -> Result<()> {
        while let Ok(delivery) = self.deliveries.try_recv() {
            self.take(delivery, tell)?;
        }
        Ok(())
    }

    /// Hears bridges that were told to stop until they are silent, so that a log does not end in the
    /// middle of a line.
    pub(super) async fn hear_out(&mut self, tell: &mut dyn FnMut(Notice<'_>)) -> Result<()> {
        let until = tokio::time::Instant::now() + ANSWER;
        let bridge = self.slots.iter().any(|slot| slot.device.is_bridge());
        let mut heard = bridge;
        while heard && tokio::time::Instant::now() < until {
            let wait = timeout(SILENT, self.deliveries.recv()).await;
            heard = match wait {
                Ok(Some(delivery)) => {
                    self.take(delivery, tell)?;
                    true
                }
                Ok(None) => false,
                Err(_) => self.slots.iter().any(|slot| slot.device.tally().torn),
            };
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
