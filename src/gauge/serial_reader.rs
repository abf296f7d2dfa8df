//! One thread a device: reads, logs, then hands on; and never waits for who listens.

use super::instrument::{Instrument, Port};
use super::raw_log::{ArrivalEvent, RawLog};
use std::collections::VecDeque;
use std::io::{self, ErrorKind};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, mpsc as std_mpsc};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

/// Bytes of one read; a burst of a USB adapter fits whole.
const READ: usize = 4096;
/// How often a device that went away is looked for.
const LOOK_EVERY: Duration = Duration::from_millis(150);
/// How often a thread that ends tries to tell why.
const TELL_EVERY: Duration = Duration::from_millis(10);

/// What a device's thread tells.
#[derive(Debug)]
pub struct Delivery {
    /// Which device, by the number it was started with.
    pub device: usize,
    /// When, by this computer.
    pub at: Instant,
    /// What.
    pub what: What,
}

/// What happened at a device.
#[derive(Debug)]
pub enum What {
    /// These bytes came in one read, and are in the log.
    Bytes(Vec<u8>),
    /// It went away.
    Gone,
    /// It is back, under this name.
    Back(String),
    /// The log cannot be written: nothing is read any more, since it could not be kept.
    LogFailed(io::Error),
}

/// What a device's thread is asked to do, between reads.
enum Ask {
    Write(Vec<u8>),
    Log(Option<Box<RawLog>>, std_mpsc::Sender<io::Result<()>>),
    Note(ArrivalEvent),
}

/// A device being read. Dropping it ends the thread and closes the port.
#[derive(Debug)]
pub struct Reader {
    asks: std_mpsc::Sender<Ask>,
    stop: Arc<AtomicBool>,
    dropped: Arc<AtomicU64>,
    thread: Option<JoinHandle<()>>,
}

impl Reader {
    /// Starts to read an opened port. Without a log, bytes are handed on but not kept.
    pub fn start(
        device: usize,
        instrument: Box<dyn Instrument>,
        port: Box<dyn Port>,
        deliveries: mpsc::Sender<Delivery>,
    ) -> io::Result<Self> {
        let (asks, asked) = std_mpsc::channel();
        let stop = Arc::new(AtomicBool::new(false));
        let dropped = Arc::new(AtomicU64::new(0));
        let worker = Worker {
            device,
            instrument,
            port: Some(port),
            log: None,
            deliveries,
            asked,
            owed: VecDeque::new(),
            stop: Arc::clone(&stop),
            dropped: Arc::clone(&dropped),
        };
        let name = format!("read-{device}");
        let thread = std::thread::Builder::new().name(name);
        let thread = thread.spawn(move || worker.run())?;
        Ok(Self {
            asks,
            stop,
            dropped,
            thread: Some(thread),
        })
    }

    /// Sends bytes between two reads. What a device that is gone does not hear is lost.
    pub fn write(&self, bytes: &[u8]) {
        let _ = self.asks.send(Ask::Write(bytes.to_vec()));
    }

    /// Keeps bytes in another log from now on, or in none, and returns when that is so.
    ///
    /// # Errors
    /// When the log before is not whole and on disk.
    pub fn log_into(&self, log: Option<RawLog>) -> io::Result<()> {
        let (done, wait) = std_mpsc::channel();
        let ended = || io::Error::other("it is no longer written to");
        self.asks
            .send(Ask::Log(log.map(Box::new), done))
            .map_err(|_| ended())?;
        wait.recv().map_err(|_| ended())?
    }

    /// Notes an event in the log, after what was read so far.
    pub fn note(&self, event: ArrivalEvent) {
        let _ = self.asks.send(Ask::Note(event));
    }

    /// Reads that were logged but not handed on, since nobody took them in time.
    pub fn dropped(&self) -> u64 {
        self.dropped.load(Ordering::Relaxed)
    }
}

impl Drop for Reader {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // A thread that ended by a panic has nothing left to tell.
            let _ = thread.join();
        }
    }
}

struct Worker {
    device: usize,
    instrument: Box<dyn Instrument>,
    port: Option<Box<dyn Port>>,
    log: Option<RawLog>,
    deliveries: mpsc::Sender<Delivery>,
    asked: std_mpsc::Receiver<Ask>,
    /// What happened and could not be told yet. Bytes are not among it: they are in the log.
    owed: VecDeque<Delivery>,
    stop: Arc<AtomicBool>,
    dropped: Arc<AtomicU64>,
}

impl Worker {
    fn run(mut self) {
        let mut buffer = vec![0; READ];
        while !self.stop.load(Ordering::Relaxed) {
            self.tell_owed();
            let went_well = self
                .do_what_is_asked()
                .and_then(|()| match self.port.as_mut() {
                    Some(port) => {
                        let read = port.read(&mut buffer);
                        self.take(read, &buffer)
                    }
                    None => self.look_again(),
                });
            if let Err(fault) = went_well {
                self.tell(Instant::now(), What::LogFailed(fault));
                break;
            }
        }
        if let Some(log) = &mut self.log {
            // The last second of a log that cannot be synced any more was told above.
            let _ = log.sync();
        }
        while !self.tell_owed() && !self.stop.load(Ordering::Relaxed) {
            std::thread::sleep(TELL_EVERY);
        }
    }

    fn do_what_is_asked(&mut self) -> io::Result<()> {
        while let Ok(ask) = self.asked.try_recv() {
            match ask {
                Ask::Write(bytes) => {
                    if let Some(port) = &mut self.port {
                        // A device that cannot be written to shows at the next read.
                        let _ = port.write_all(&bytes);
                    }
                }
                Ask::Log(log, done) => {
                    let whole = self.log.as_mut().map_or(Ok(()), RawLog::sync);
                    self.log = log.map(|log| *log);
                    let _ = done.send(whole);
                }
                Ask::Note(event) => {
                    if let Some(log) = &mut self.log {
                        log.event(event, Instant::now())?;
                    }
                }
            }
        }
        Ok(())
    }

    /// Fails only where the log does.
    fn take(&mut self, read: io::Result<usize>, buffer: &[u8]) -> io::Result<()> {
        let at = Instant::now();
        match read {
            Ok(0) => self.lose(at),
            Ok(count) => {
                let bytes = &buffer[..count];
                if let Some(log) = &mut self.log {
                    log.append(bytes, at)?;
                }
                self.tell(at, What::Bytes(bytes.to_vec()));
                Ok(())
            }
            Err(fault) => match fault.kind() {
                ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted => {
                    match &mut self.log {
                        Some(log) => log.sync_when_due(),
                        None => Ok(()),
                    }
                }
                _ => self.lose(at),
            },
        }
    }

    fn lose(&mut self, at: Instant) -> io::Result<()> {
        // The old device number stays taken while the port is open.
        self.port = None;
        if let Some(log) = &mut self.log {
            log.event(ArrivalEvent::Gone, at)?;
            log.sync()?;
        }
        self.tell(at, What::Gone);
        Ok(())
    }

    fn look_again(&mut self) -> io::Result<()> {
        std::thread::sleep(LOOK_EVERY);
        self.port = self.instrument.find_again();
        if self.port.is_some() {
            let at = Instant::now();
            if let Some(log) = &mut self.log {
                log.event(ArrivalEvent::Back, at)?;
            }
            self.tell(at, What::Back(self.instrument.name()));
        }
        Ok(())
    }

    /// Tells what happened, without ever waiting for who listens.
    fn tell(&mut self, at: Instant, what: What) {
        let delivery = Delivery {
            device: self.device,
            at,
            what,
        };
        let untold = match self.tell_owed() {
            true => self.try_to_tell(delivery),
            false => Some(delivery),
        };
        match untold {
            None => {}
            // Nothing is lost but the live picture: the trace is made from the log.
            Some(Delivery {
                what: What::Bytes(_),
                ..
            }) => {
                self.dropped.fetch_add(1, Ordering::Relaxed);
            }
            Some(event) => self.owed.push_back(event),
        }
    }

    /// Tells what is owed, oldest first, as far as there is room; whether that was all.
    fn tell_owed(&mut self) -> bool {
        while let Some(delivery) = self.owed.pop_front() {
            if let Some(untold) = self.try_to_tell(delivery) {
                self.owed.push_front(untold);
                return false;
            }
        }
        true
    }

    /// Gives back what there is no room for.
    fn try_to_tell(&self, delivery: Delivery) -> Option<Delivery> {
        match self.deliveries.try_send(delivery) {
            Err(mpsc::error::TrySendError::Full(untold)) => return Some(untold),
            // Nobody listens any more.
            Err(mpsc::error::TrySendError::Closed(_)) => self.stop.store(true, Ordering::Relaxed),
            Ok(()) => {}
        }
        None
    }
}
