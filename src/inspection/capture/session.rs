//! The capture loop: one event at a time, from connecting to the last trace.

use super::coverage::Coverage;
use super::event::{Event, Notice, Progress};
use super::files::Files;
use super::live::{Device, Duty};
use super::{CaptureSettings, Captured, Made, Wanted, rebuild};
use crate::card::{GaugeCard, Link, Role, TraceEntry};
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::gauge::frame::Command;
use crate::gauge::raw_log::ArrivalEvent;
use crate::gauge::serial_reader::{Delivery, Reader, What};
use crate::gauge::text::request_bytes;
use crate::quantity::{Angle, Time};
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
/// Silence that is told, and silence that ends the capture.
const SILENCE_TOLD: Duration = Duration::from_secs(2);
const SILENCE_ENDS: Duration = Duration::from_secs(20);
/// How long a device that went away is waited for.
const PLUG_WAIT: Duration = Duration::from_secs(60);
/// Turning starts a trace when it is more than the encoder's and the hand's trembling.
const STARTS: Angle = Angle::from_rad(0.02);
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
    let mut session = Session::open(gauge, indicator, encoder, stop)?;
    if session.connect(tell).await? == Flow::Stop {
        return Err(Error::new(
            Code::Interrupted,
            "stopped before anything was captured",
        ));
    }
    let mut files = Files::begin(settings)?;
    let mut captured = Captured {
        traces: Vec::new(),
        interrupted: false,
        fault: None,
    };
    for (number, wanted) in settings.traces.iter().enumerate() {
        let last = number + 1 == settings.traces.len();
        let (ended, made) = session
            .trace(settings, &mut files, wanted, last, tell)
            .await?;
        if let Some(made) = made {
            tell(Notice::Made(&made));
            captured.traces.push(made);
        }
        match ended {
            Ended::Enough => {}
            Ended::Stopped => captured.interrupted = true,
            Ended::Fault(fault) => {
                captured.interrupted = true;
                captured.fault = Some(fault);
            }
        }
        if captured.interrupted {
            break;
        }
    }
    files.end(captured.interrupted)?;
    Ok(captured)
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Flow {
    GoOn,
    Stop,
}

/// Why a trace is over.
enum Ended {
    Enough,
    Stopped,
    Fault(Error),
}

struct Session<'a, S> {
    gauge: &'a GaugeCard,
    link: Link,
    slots: Vec<Slot>,
    deliveries: mpsc::Receiver<Delivery>,
    tick: Interval,
    stop: Pin<&'a mut S>,
    stopped: bool,
    asked: Instant,
}

/// A device and what is known of it.
struct Slot {
    name: String,
    duty: Duty,
    reader: Reader,
    device: Device,
    heard: Instant,
    heard_anything: bool,
    gone: Option<Instant>,
    silence_told: bool,
    /// What was told of it already.
    starts: u64,
    restarts: u64,
    log_start: Instant,
}

impl<'a, S: Future<Output = ()>> Session<'a, S> {
    fn open(
        gauge: &'a GaugeCard,
        indicator: Box<dyn Instrument>,
        encoder: Option<Box<dyn Instrument>>,
        stop: Pin<&'a mut S>,
    ) -> Result<Self> {
        let (sender, deliveries) = mpsc::channel(WAITING);
        let duties = match encoder {
            Some(_) => [Duty::Reading, Duty::Angle],
            None => [Duty::Both, Duty::Angle],
        };
        let mut slots = Vec::new();
        let instruments = std::iter::once(indicator).chain(encoder);
        for (number, (mut instrument, duty)) in instruments.zip(duties).enumerate() {
            let name = instrument.name();
            let device = Device::new(gauge, duty, true)?;
            let port = instrument.open()?;
            let reader = Reader::start(number, instrument, port, sender.clone())
                .map_err(|fault| Error::new(Code::Internal, format!("no thread: {fault}")))?;
            let now = Instant::now();
            slots.push(Slot {
                name,
                duty,
                reader,
                device,
                heard: now,
                heard_anything: false,
                gone: None,
                silence_told: false,
                starts: 0,
                restarts: 0,
                log_start: now,
            });
        }
        let mut tick = interval(BEAT);
        tick.set_missed_tick_behavior(MissedTickBehavior::Skip);
        Ok(Self {
            gauge,
            link: gauge.link.clone().unwrap_or_default(),
            slots,
            deliveries,
            tick,
            stop,
            stopped: false,
            asked: Instant::now(),
        })
    }

    /// The next event. What came over the wire goes before the clock, so that a busy computer
    /// does not take for silence what it has not yet looked at.
    async fn next(&mut self) -> Event {
        if self.stopped {
            return Event::Stop;
        }
        tokio::select! {
            biased;
            () = &mut self.stop => {
                self.stopped = true;
                Event::Stop
            }
            Some(delivery) = self.deliveries.recv() => Event::Delivery(delivery),
            _ = self.tick.tick() => Event::Tick,
        }
    }

    /// Until every device has said something that can be understood.
    async fn connect(&mut self, tell: &mut dyn FnMut(Notice<'_>)) -> Result<Flow> {
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
                Event::Delivery(delivery) => {
                    if let Ended::Fault(fault) = self.deliver(delivery, tell) {
                        return Err(fault);
                    }
                }
                Event::Tick => {
                    let waited = opened.elapsed();
                    // The first asking may come too early for a controller that was reset.
                    let due = START_UP / 3 + ANSWER * tries;
                    if tries < TRIES && waited >= due {
                        tries += 1;
                        self.command_silent(Command::Identify);
                    }
                    if waited >= START_UP + ANSWER {
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
    async fn trace(
        &mut self,
        settings: &CaptureSettings,
        files: &mut Files,
        wanted: &Wanted,
        last: bool,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Result<(Ended, Option<Made>)> {
        let (entry, logs) = files.begin_trace(wanted, self.slots.len() > 1)?;
        for (slot, log) in self.slots.iter_mut().zip(logs) {
            slot.device = Device::new(self.gauge, slot.duty, true)?;
            (slot.starts, slot.restarts) = (0, 0);
            slot.reader.log_into(Some(log));
            slot.log_start = Instant::now();
            slot.heard = slot.log_start;
        }
        let name = name_of(&entry);
        tell(Notice::Ready {
            trace: &name,
            z: wanted.z,
        });
        self.command(Command::Start);
        let mut taking = Taking::new(settings, name, last);
        let ended = loop {
            match self.next().await {
                Event::Stop => break Ended::Stopped,
                Event::Delivery(delivery) => {
                    let (device, at) = (delivery.device, delivery.at);
                    if let Ended::Fault(fault) = self.deliver(delivery, tell) {
                        break Ended::Fault(fault);
                    }
                    if taking.look(&self.slots, device, at) {
                        tell(Notice::Turning {
                            trace: &taking.progress.trace,
                        });
                        for slot in &self.slots {
                            slot.reader.note(ArrivalEvent::Start);
                        }
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
                    if let Some(fault) = self.check_silence(tell) {
                        break Ended::Fault(fault);
                    }
                }
            }
        };
        self.command(Command::Stop);
        for slot in &self.slots {
            slot.reader.log_into(None);
            let reads = slot.reader.dropped();
            if reads > 0 {
                tell(Notice::Late { reads });
            }
        }
        if taking.turning_since.is_none() {
            files.drop_last()?;
            return Ok((ended, None));
        }
        let made = rebuild::make(files.folder(), &entry, self.gauge)?;
        Ok((ended, Some(made)))
    }

    /// Takes in what a device tells; says `Fault` where the capture cannot go on.
    fn deliver(&mut self, delivery: Delivery, tell: &mut dyn FnMut(Notice<'_>)) -> Ended {
        let Some(slot) = self.slots.get_mut(delivery.device) else {
            return Ended::Enough;
        };
        match delivery.what {
            What::Bytes(bytes) => {
                slot.heard = delivery.at;
                slot.heard_anything = true;
                slot.silence_told = false;
                let at = delivery.at.saturating_duration_since(slot.log_start);
                slot.device.feed(&bytes, Time::from_s(at.as_secs_f64()));
                let tally = slot.device.tally();
                if tally.starts > slot.starts {
                    // A controller that has just started waits to be told to send.
                    slot.starts = tally.starts;
                    slot.command(Command::Start);
                }
                if tally.restarts > slot.restarts {
                    slot.restarts = tally.restarts;
                    tell(Notice::Restarted { port: &slot.name });
                }
            }
            What::Gone(_) => {
                slot.gone = Some(delivery.at);
                tell(Notice::Gone { port: &slot.name });
            }
            What::Back(name) => {
                slot.gone = None;
                slot.heard = delivery.at;
                slot.name = name;
                slot.device.replugged();
                slot.command(Command::Start);
                tell(Notice::Back { port: &slot.name });
            }
            What::LogFailed(fault) => {
                let message = format!("the raw log cannot be written: {fault}");
                return Ended::Fault(
                    Error::new(Code::Disk, message)
                        .help("make room on the disk; what was read before is kept"),
                );
            }
        }
        Ended::Enough
    }

    fn check_silence(&mut self, tell: &mut dyn FnMut(Notice<'_>)) -> Option<Error> {
        for slot in &mut self.slots {
            if let Some(gone) = slot.gone {
                if gone.elapsed() >= PLUG_WAIT {
                    let message = "the device went away and did not come back";
                    return Some(Error::new(Code::Unplugged, message).in_file(&slot.name).help(
                        "plug it in and start again; what was read is kept, marked interrupted",
                    ));
                }
                continue;
            }
            let silent = slot.heard.elapsed();
            if silent >= SILENCE_ENDS {
                let message = format!("nothing came for {} s", silent.as_secs());
                return Some(Error::new(Code::Silence, message).in_file(&slot.name).help(
                    "check the cable and the indicator's power; what was read is kept, marked interrupted",
                ));
            }
            if silent >= SILENCE_TOLD && !slot.silence_told {
                slot.silence_told = true;
                // Perhaps it only waits to be told again.
                slot.command(Command::Start);
                tell(Notice::Silent {
                    port: &slot.name,
                    since: Time::from_s(silent.as_secs_f64()),
                });
            }
        }
        None
    }

    fn command(&self, command: Command) {
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

    fn ask_when_due(&mut self) {
        let every = self.link.request_every.unwrap_or(Time::from_ms(100.0));
        if self.asked.elapsed().as_secs_f64() >= every.s() {
            self.ask_for_readings();
        }
    }
}

impl Slot {
    fn command(&self, command: Command) {
        if self.device.is_bridge()
            && let Ok(line) = command.encode()
        {
            self.reader.write(line.as_bytes());
        }
    }
}

/// A trace under way.
struct Taking {
    progress: Progress,
    coverage: Coverage,
    end: super::End,
    /// Lines looked at, for either device.
    looked: [usize; 2],
    standing_at: Option<Angle>,
    turning_since: Option<Instant>,
    /// By the arrival of what was heard, so that a busy computer does not look like a still tool.
    heard: Instant,
    moved: Instant,
}

impl Taking {
    fn new(settings: &CaptureSettings, trace: String, last: bool) -> Self {
        let mut end = settings.end;
        let open = end.covered.is_none() && end.after.is_none() && end.still.is_none();
        if open && !last {
            // Something must end it before the next can begin.
            end.covered = Some(2);
        }
        Self {
            progress: Progress {
                trace,
                passes: end.covered.unwrap_or(1),
                ..Progress::default()
            },
            coverage: Coverage::new(settings.spacing),
            end,
            looked: [0; 2],
            standing_at: None,
            turning_since: None,
            heard: Instant::now(),
            moved: Instant::now(),
        }
    }

    /// Looks at what a device has said anew; whether the tool has just begun to turn.
    fn look(&mut self, slots: &[Slot], number: usize, at: Instant) -> bool {
        // A silence says nothing about whether the tool stood still.
        if at.saturating_duration_since(self.heard) > SILENCE_TOLD / 8 {
            self.moved = at;
        }
        self.heard = at;
        let (Some(slot), Some(looked)) = (slots.get(number), self.looked.get_mut(number)) else {
            return false;
        };
        let turning = self.turning_since.is_some();
        let coverage = &mut self.coverage;
        let mut readings = 0;
        let newest = slot.device.news(*looked, |angle| {
            readings += 1;
            if turning {
                coverage.take(angle);
            }
        });
        let rows = slot.device.rows();
        if slot.duty == Duty::Reading {
            readings = (rows - *looked) as u64;
            if let Some(angle) = self.progress.angle.filter(|_| turning && readings > 0) {
                self.coverage.take(angle);
            }
        }
        *looked = rows;
        self.progress.reading = newest.reading.or(self.progress.reading);
        self.progress.angle = newest.angle.or(self.progress.angle);
        if turning {
            self.progress.readings += readings;
        }
        let tallies = || slots.iter().map(|slot| slot.device.tally());
        self.progress.bad_lines = tallies().map(|tally| tally.refused).sum();
        self.progress.lost_lines = tallies().map(|tally| tally.lost).sum();
        self.progress.covered = self.coverage.share(self.progress.passes);
        self.progress.too_fast = self.coverage.too_fast();
        self.follow_motion()
    }

    fn follow_motion(&mut self) -> bool {
        let Some(angle) = self.progress.angle else {
            return false;
        };
        let standing = *self.standing_at.get_or_insert(angle);
        if (angle - standing).abs().rad() < STARTS.rad() {
            return false;
        }
        self.standing_at = Some(angle);
        self.moved = self.heard;
        let begins = self.turning_since.is_none();
        self.turning_since.get_or_insert(self.moved);
        begins
    }

    fn is_over(&mut self) -> bool {
        let Some(since) = self.turning_since else {
            return false;
        };
        self.progress.turning_for = Time::from_s(since.elapsed().as_secs_f64());
        let covered = self.end.covered;
        let after = self.end.after;
        let still = self.end.still;
        let stood_still = self.heard.saturating_duration_since(self.moved);
        covered.is_some_and(|passes| self.coverage.is_enough(passes))
            || after.is_some_and(|time| self.progress.turning_for >= time)
            || still.is_some_and(|time| stood_still.as_secs_f64() >= time.s())
    }
}

fn name_of(entry: &TraceEntry) -> String {
    match &entry.role {
        Role::Reference => "reference".to_owned(),
        Role::Feature(name) => name.clone(),
    }
}
