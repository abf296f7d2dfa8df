//! Every byte that came over the wire, on disk before anything interprets it.
//!
//! `raw/NAME.log` holds the bytes alone. `raw/NAME.times.csv` beside it says when they came, by the
//! host's clock: `offset,time_s,event`, where `event` is empty, `gone`, `back` or `start`. A torn
//! last line in either is what a power cut leaves, and is no fault.

use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// At most so long are bytes in the system's hands alone.
const SYNC_EVERY: Duration = Duration::from_millis(800);

/// The log of one device in one trace.
#[derive(Debug)]
pub struct RawLog {
    bytes: File,
    times: File,
    offset: u64,
    start: Instant,
    synced: Instant,
    dirty: bool,
}

/// What the host knows of a stretch of the log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arrival {
    /// Bytes of the log before it.
    pub offset: u64,
    /// Seconds since the log was begun.
    pub time_s: f64,
    /// What happened.
    pub event: ArrivalEvent,
}

/// What an arrival is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ArrivalEvent {
    /// Bytes came.
    Bytes,
    /// The device went away.
    Gone,
    /// It came back.
    Back,
    /// The tool began to turn: what came before belongs to no trace yet.
    Start,
}

/// Where the times of a raw log are.
pub fn times_path(log: &Path) -> PathBuf {
    log.with_extension("times.csv")
}

impl RawLog {
    /// Begins a log; one that is there already is not touched, and is an error.
    pub fn create(path: &Path) -> io::Result<Self> {
        let new = |path: &Path| OpenOptions::new().append(true).create_new(true).open(path);
        let bytes = new(path)?;
        let mut times = new(&times_path(path))?;
        times.write_all(b"offset,time_s,event\n")?;
        let now = Instant::now();
        Ok(Self {
            bytes,
            times,
            offset: 0,
            start: now,
            synced: now,
            dirty: true,
        })
    }

    /// Appends bytes that came at this instant.
    pub fn append(&mut self, bytes: &[u8], at: Instant) -> io::Result<()> {
        self.bytes.write_all(bytes)?;
        self.note(at, "")?;
        self.offset += bytes.len() as u64;
        self.sync_when_due()
    }

    /// Notes that the device went away or came back.
    pub fn event(&mut self, event: ArrivalEvent, at: Instant) -> io::Result<()> {
        match event {
            ArrivalEvent::Bytes => Ok(()),
            ArrivalEvent::Gone => self.note(at, "gone"),
            ArrivalEvent::Back => self.note(at, "back"),
            ArrivalEvent::Start => self.note(at, "start"),
        }
    }

    fn note(&mut self, at: Instant, event: &str) -> io::Result<()> {
        self.dirty = true;
        let time = at.saturating_duration_since(self.start).as_secs_f64();
        // One write a line, so that at most the last line can be torn.
        let line = format!("{},{time:.6},{event}\n", self.offset);
        self.times.write_all(line.as_bytes())
    }

    /// Has the disk keep what was appended, when it is time to; also to be called in silence.
    pub fn sync_when_due(&mut self) -> io::Result<()> {
        if self.dirty && self.synced.elapsed() >= SYNC_EVERY {
            self.sync()?;
        }
        Ok(())
    }

    /// Has the disk keep what was appended.
    pub fn sync(&mut self) -> io::Result<()> {
        self.bytes.sync_data()?;
        self.times.sync_data()?;
        self.synced = Instant::now();
        self.dirty = false;
        Ok(())
    }
}

/// Reads the arrivals of a log; a line that cannot be read ends the list.
pub fn arrivals(bytes: &[u8]) -> Vec<Arrival> {
    let arrival = |line: &[u8]| {
        let mut fields = std::str::from_utf8(line).ok()?.split(',');
        Some(Arrival {
            offset: fields.next()?.parse().ok()?,
            time_s: fields
                .next()?
                .parse()
                .ok()
                .filter(|s: &f64| s.is_finite())?,
            event: match fields.next()? {
                "" => ArrivalEvent::Bytes,
                "gone" => ArrivalEvent::Gone,
                "back" => ArrivalEvent::Back,
                "start" => ArrivalEvent::Start,
                _ => return None,
            },
        })
    };
    // The last line is only whole when it was ended.
    let (whole, _) = bytes.split_at(memchr::memrchr(b'\n', bytes).unwrap_or(0));
    let lines = whole.split(|byte| *byte == b'\n');
    lines.skip(1).map_while(arrival).collect()
}
