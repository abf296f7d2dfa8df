//! The simulated bridge where a program can open it: as a real pseudo-terminal, or in this process.

use super::bridge::{Lead, SimulatedBridge};
use super::scenario::Scenario;
use crate::error::Result;
use crate::gauge::{Instrument, Port};
use std::io;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A clock that runs as much faster than ours as it is told.
#[derive(Clone, Copy, Debug)]
struct Clock {
    start: Instant,
    faster: f64,
}

impl Clock {
    fn new(faster: f64) -> Self {
        Self {
            start: Instant::now(),
            faster,
        }
    }

    fn now_us(&self) -> u64 {
        (self.start.elapsed().as_secs_f64() * self.faster * 1e6) as u64
    }
}

/// A simulated bridge in this process, for systems without pseudo-terminals and for quick tests.
#[derive(Clone)]
pub struct InProcess {
    bridge: Arc<Mutex<SimulatedBridge>>,
    clock: Clock,
}

impl InProcess {
    /// A bridge that runs so many times faster than real time.
    pub fn new(scenario: Scenario, faster: f64) -> Self {
        Self {
            bridge: Arc::new(Mutex::new(SimulatedBridge::new(scenario))),
            clock: Clock::new(faster),
        }
    }

    /// What leads its hand.
    pub fn lead(&self) -> Arc<Lead> {
        let bridge = self.bridge.lock().unwrap_or_else(PoisonError::into_inner);
        bridge.lead()
    }
}

impl Instrument for InProcess {
    fn name(&self) -> String {
        "simulated".to_owned()
    }

    fn open(&mut self) -> Result<Box<dyn Port>> {
        Ok(Box::new(self.clone()))
    }

    fn find_again(&mut self) -> Option<Box<dyn Port>> {
        let mut bridge = self.bridge.lock().unwrap_or_else(PoisonError::into_inner);
        bridge.run_to(self.clock.now_us());
        let back = !bridge.is_unplugged();
        back.then(|| Box::new(self.clone()) as Box<dyn Port>)
    }
}

impl Port for InProcess {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        // Two looks: what is there, or what comes within a short wait.
        for wait in [Duration::ZERO, Duration::from_millis(2)] {
            std::thread::sleep(wait);
            let mut bridge = self.bridge.lock().unwrap_or_else(PoisonError::into_inner);
            bridge.run_to(self.clock.now_us());
            if bridge.is_unplugged() {
                return Err(io::Error::new(io::ErrorKind::BrokenPipe, "device removed"));
            }
            let count = bridge.send(buffer);
            if count > 0 {
                return Ok(count);
            }
        }
        Err(io::ErrorKind::TimedOut.into())
    }

    fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut bridge = self.bridge.lock().unwrap_or_else(PoisonError::into_inner);
        bridge.run_to(self.clock.now_us());
        bridge.receive(bytes);
        Ok(())
    }
}

#[cfg(unix)]
pub use terminal::{Served, ServedInstrument};

#[cfg(unix)]
mod terminal {
    use super::{Clock, Lead, Scenario, SimulatedBridge};
    use crate::error::Result;
    use crate::gauge::serial::SerialInstrument;
    use crate::gauge::{Instrument, Port};
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::fs::{Mode, OFlags};
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
    use std::fs::File;
    use std::io::{self, Read, Write};
    use std::os::fd::OwnedFd;
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::sync::{Arc, Mutex, PoisonError};
    use std::thread::JoinHandle;
    use std::time::{Duration, Instant};

    /// A pseudo-terminal with a simulated bridge behind it. Dropping it waits, a second at most,
    /// until what was sent is read: what is unread when the master closes is thrown away.
    pub struct Served {
        path: Arc<Mutex<String>>,
        lead: Arc<Lead>,
        stop: Arc<AtomicBool>,
        thread: Option<JoinHandle<()>>,
    }

    impl Served {
        /// Opens the terminal and starts to serve, so many times faster than real time.
        pub fn start(scenario: Scenario, faster: f64) -> io::Result<Self> {
            let terminal = Terminal::open()?;
            let path = Arc::new(Mutex::new(terminal.path.clone()));
            let stop = Arc::new(AtomicBool::new(false));
            let bridge = SimulatedBridge::new(scenario);
            let lead = bridge.lead();
            let serving = Serving {
                terminal: Some(terminal),
                path: Arc::clone(&path),
                bridge,
                clock: Clock::new(faster),
                pending: Vec::new(),
            };
            let stopped = Arc::clone(&stop);
            let thread = std::thread::Builder::new().name("simulated-bridge".to_owned());
            let thread = thread.spawn(move || serving.run(&stopped))?;
            Ok(Self {
                path,
                lead,
                stop,
                thread: Some(thread),
            })
        }

        /// What leads its hand.
        pub fn lead(&self) -> Arc<Lead> {
            Arc::clone(&self.lead)
        }

        /// The path to open, as that of any serial port. After its plug was pulled and put back it
        /// may be another, as with a real one.
        pub fn path(&self) -> String {
            now(&self.path)
        }

        /// What a capture opens, and finds again under its new path.
        pub fn instrument(&self, baud: u32) -> ServedInstrument {
            ServedInstrument {
                path: Arc::clone(&self.path),
                baud,
            }
        }
    }

    /// A served bridge as a capture opens it: through the serial port's own code.
    pub struct ServedInstrument {
        path: Arc<Mutex<String>>,
        baud: u32,
    }

    impl Instrument for ServedInstrument {
        fn name(&self) -> String {
            now(&self.path)
        }

        fn open(&mut self) -> Result<Box<dyn Port>> {
            SerialInstrument::new(now(&self.path), self.baud).open()
        }

        fn find_again(&mut self) -> Option<Box<dyn Port>> {
            SerialInstrument::new(now(&self.path), self.baud).find_again()
        }
    }

    fn now(path: &Mutex<String>) -> String {
        let path = path.lock().unwrap_or_else(PoisonError::into_inner);
        path.clone()
    }

    /// Both ends of a pseudo-terminal.
    struct Terminal {
        master: File,
        keep: OwnedFd,
        path: String,
    }

    impl Terminal {
        fn open() -> io::Result<Self> {
            let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
            grantpt(&master)?;
            unlockpt(&master)?;
            let path = ptsname(&master, Vec::new())?;
            let path = path.to_string_lossy().into_owned();
            // While this end is open the terminal outlives any reader, and no line is changed or
            // echoed before one has set it up.
            let keep = rustix::fs::open(
                path.as_str(),
                OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC,
                Mode::empty(),
            )?;
            let mut raw = tcgetattr(&keep)?;
            raw.make_raw();
            tcsetattr(&keep, OptionalActions::Now, &raw)?;
            rustix::io::ioctl_fionbio(&master, true)?;
            Ok(Self {
                master: File::from(master),
                keep,
                path,
            })
        }
    }

    impl Drop for Served {
        fn drop(&mut self) {
            self.stop.store(true, Ordering::Relaxed);
            if let Some(thread) = self.thread.take() {
                // A thread that ended by a panic has nothing left to tell.
                let _ = thread.join();
            }
        }
    }

    struct Serving {
        /// None while its plug is pulled.
        terminal: Option<Terminal>,
        path: Arc<Mutex<String>>,
        bridge: SimulatedBridge,
        clock: Clock,
        /// Taken from the bridge, not yet taken by the terminal.
        pending: Vec<u8>,
    }

    impl Serving {
        fn run(mut self, stop: &AtomicBool) {
            let mut buffer = [0; 4096];
            while !stop.load(Ordering::Relaxed) {
                self.bridge.run_to(self.clock.now_us());
                if self.bridge.is_unplugged() {
                    self.pending.clear();
                }
                if self.pending.is_empty() {
                    let count = self.bridge.send(&mut buffer);
                    self.pending.extend_from_slice(&buffer[..count]);
                }
                self.follow_plug();
                self.write();
                self.wait();
                let Some(terminal) = &mut self.terminal else {
                    continue;
                };
                match terminal.master.read(&mut buffer) {
                    Ok(count) => self.bridge.receive(&buffer[..count]),
                    Err(fault) if fault.kind() == io::ErrorKind::WouldBlock => {}
                    Err(fault) if fault.kind() == io::ErrorKind::Interrupted => {}
                    Err(_) => break,
                }
            }
            self.drain();
        }

        /// A pulled plug closes the terminal: who reads it sees the device go away.
        fn follow_plug(&mut self) {
            let pulled = self.bridge.lead().is_unplugged();
            if pulled {
                self.terminal = None;
            } else if self.terminal.is_none()
                && let Ok(terminal) = Terminal::open()
            {
                let mut path = self.path.lock().unwrap_or_else(PoisonError::into_inner);
                path.clone_from(&terminal.path);
                drop(path);
                self.terminal = Some(terminal);
            }
        }

        fn write(&mut self) {
            if let Some(terminal) = &mut self.terminal
                && let Ok(count) = terminal.master.write(&self.pending)
            {
                self.pending.drain(..count);
            }
        }

        /// Until a command comes, there is room again, or the next line is due.
        fn wait(&mut self) {
            let due = self.bridge.next_due_us();
            let now = self.clock.now_us();
            let wait_us = due.map_or(20_000.0, |due| {
                due.saturating_sub(now) as f64 / self.clock.faster
            });
            // A few lines at a time cost less than each on its own.
            let wait = Duration::from_micros(wait_us.clamp(1_000.0, 20_000.0) as u64);
            let Some(terminal) = &self.terminal else {
                std::thread::sleep(wait);
                return;
            };
            let mut flags = PollFlags::IN;
            if !self.pending.is_empty() || !self.bridge.is_drained() {
                flags |= PollFlags::OUT;
            }
            let timeout = Timespec {
                tv_sec: 0,
                tv_nsec: wait.as_nanos() as _,
            };
            // An interrupted wait is a short one.
            let _ = poll(&mut [PollFd::new(&terminal.master, flags)], Some(&timeout));
        }

        fn drain(&mut self) {
            let give_up = Instant::now() + Duration::from_secs(1);
            let mut buffer = [0; 4096];
            while Instant::now() < give_up {
                let Some(terminal) = &self.terminal else {
                    break;
                };
                let unread = rustix::io::ioctl_fionread(&terminal.keep).unwrap_or(0);
                if self.pending.is_empty() {
                    let count = self.bridge.send(&mut buffer);
                    self.pending.extend_from_slice(&buffer[..count]);
                }
                if self.pending.is_empty() && unread == 0 {
                    break;
                }
                self.write();
                std::thread::sleep(Duration::from_millis(2));
            }
        }
    }
}
