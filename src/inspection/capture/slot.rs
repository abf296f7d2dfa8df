//! One device of a capture: what it told, whether it is there, whether it fell silent.

use super::event::Notice;
use crate::card::{GaugeCard, Hand};
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::gauge::frame::Command;
use crate::gauge::raw_log::RawLog;
use crate::gauge::serial_reader::{Delivery, Reader, What};
use crate::inspection::logs::{Device, Duty};
use crate::quantity::Time;
use std::io;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

/// Silence that is told, and silence that ends the capture.
pub(super) const SILENCE_TOLD: Duration = Duration::from_secs(2);
const SILENCE_ENDS: Duration = Duration::from_secs(20);
/// How long a device that went away is waited for.
const PLUG_WAIT: Duration = Duration::from_secs(60);

/// A device and what is known of it.
pub(super) struct Slot {
    pub name: String,
    pub duty: Duty,
    /// Of the tool; nothing where none is traced.
    hand: Option<Hand>,
    pub reader: Reader,
    pub device: Device,
    heard: Instant,
    pub heard_anything: bool,
    /// When a line last could be read, or the trace began.
    understood: Instant,
    gone: Option<Instant>,
    silence_told: bool,
    garble_told: bool,
    /// What was told of it already.
    pub starts: u64,
    pub restarts: u64,
    log_start: Instant,
}

impl Slot {
    /// Opens the instrument and starts to read it.
    pub(super) fn open(
        number: usize,
        mut instrument: Box<dyn Instrument>,
        duty: Duty,
        gauge: &GaugeCard,
        hand: Option<Hand>,
        deliveries: mpsc::Sender<Delivery>,
    ) -> Result<Self> {
        let name = instrument.name();
        let device = Device::new(gauge, duty, hand)?;
        let port = instrument.open()?;
        let reader = Reader::start(number, instrument, port, deliveries)
            .map_err(|fault| Error::internal("no thread", fault))?;
        let now = Instant::now();
        Ok(Self {
            name,
            duty,
            hand,
            reader,
            device,
            heard: now,
            heard_anything: false,
            understood: now,
            gone: None,
            silence_told: false,
            garble_told: false,
            starts: 0,
            restarts: 0,
            log_start: now,
        })
    }

    /// Begins a trace: what comes now goes into this log.
    ///
    /// # Errors
    /// When the log cannot be written, or the card does not describe a device.
    pub(super) fn begin(&mut self, gauge: &GaugeCard, log: RawLog) -> Result<()> {
        self.device = Device::new(gauge, self.duty, self.hand)?;
        (self.starts, self.restarts) = (0, 0);
        let logged = self.reader.log_into(Some(log));
        logged.map_err(|fault| log_failed(&fault))?;
        self.log_start = Instant::now();
        self.heard = self.log_start;
        self.understood = self.log_start;
        Ok(())
    }

    /// Ends a trace: what comes now is not kept.
    ///
    /// # Errors
    /// When what came before is not all on disk.
    pub(super) fn end(&self) -> Result<()> {
        let kept = self.reader.log_into(None);
        kept.map_err(|fault| log_failed(&fault))
    }

    /// Sends a command, where it is a bridge.
    pub(super) fn command(&self, command: Command) {
        if self.device.is_bridge()
            && let Ok(line) = command.encode()
        {
            self.reader.write(line.as_bytes());
        }
    }

    /// Takes in what its thread tells.
    ///
    /// # Errors
    /// When the capture cannot go on: the log cannot be written.
    pub(super) fn take(
        &mut self,
        delivery: Delivery,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Result<()> {
        match delivery.what {
            What::Bytes(bytes) => {
                self.heard = delivery.at;
                self.heard_anything = true;
                self.silence_told = false;
                let at = delivery.at.saturating_duration_since(self.log_start);
                let good = self.device.tally().good;
                self.device.feed(&bytes, Time::from_s(at.as_secs_f64()));
                if self.device.tally().good > good {
                    self.understood = delivery.at;
                    self.garble_told = false;
                }
                self.look_for_starts(tell);
            }
            What::Gone => {
                self.gone = Some(delivery.at);
                tell(Notice::Gone { port: &self.name });
            }
            What::Back(name) => {
                self.gone = None;
                self.heard = delivery.at;
                self.understood = delivery.at;
                self.name = name;
                self.device.replugged();
                self.command(Command::Start);
                tell(Notice::Back { port: &self.name });
            }
            What::LogFailed(fault) => {
                return Err(log_failed(&fault));
            }
        }
        Ok(())
    }

    fn look_for_starts(&mut self, tell: &mut dyn FnMut(Notice<'_>)) {
        let tally = self.device.tally();
        if tally.starts > self.starts {
            // A controller that has just started waits to be told to send.
            self.starts = tally.starts;
            self.command(Command::Start);
        }
        if tally.restarts > self.restarts {
            self.restarts = tally.restarts;
            tell(Notice::Restarted { port: &self.name });
        }
    }

    /// Tells a short silence, and a while in which nothing could be read.
    ///
    /// # Errors
    /// When it has been silent or away for too long.
    pub(super) fn check_silence(&mut self, tell: &mut dyn FnMut(Notice<'_>)) -> Result<()> {
        if let Some(gone) = self.gone {
            if gone.elapsed() < PLUG_WAIT {
                return Ok(());
            }
            let message = "the device went away and did not come back";
            return Err(Error::new(Code::Unplugged, message)
                .in_file(&self.name)
                .help("plug it in and start again; what was read is kept, marked interrupted"));
        }
        let silent = self.heard.elapsed();
        if silent >= SILENCE_ENDS {
            let message = format!("nothing came for {} s", silent.as_secs());
            return Err(Error::new(Code::Silence, message).in_file(&self.name).help(
                "check the cable and the indicator's power; what was read is kept, marked interrupted",
            ));
        }
        if silent >= SILENCE_TOLD && !self.silence_told {
            self.silence_told = true;
            // Perhaps it only waits to be told again.
            self.command(Command::Start);
            tell(Notice::Silent {
                port: &self.name,
                since: Time::from_s(silent.as_secs_f64()),
            });
        }
        // No reason to end: an indicator out of its travel may say so for as long as it takes to
        // set the stylus.
        let garbled = self.heard.saturating_duration_since(self.understood);
        if garbled >= SILENCE_TOLD && !self.garble_told {
            self.garble_told = true;
            tell(Notice::Garbled {
                port: &self.name,
                since: Time::from_s(garbled.as_secs_f64()),
            });
        }
        Ok(())
    }
}

fn log_failed(fault: &io::Error) -> Error {
    let message = format!("the raw log cannot be written: {fault}");
    Error::new(Code::Disk, message)
        .help("check that the disk has room and is still there; what was read before is kept")
}
