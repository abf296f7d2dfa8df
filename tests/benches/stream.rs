//! A 10 kHz line stream through a pseudo-terminal: nothing lost, and how much of a core it costs.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]

#[cfg(not(unix))]
fn main() {
    println!("stream: this system has no pseudo-terminals");
}

#[cfg(unix)]
fn main() {
    unix::main();
}

#[cfg(unix)]
mod unix {
    use heelclear::gauge::Instrument;
    use heelclear::gauge::frame::{Flags, Line, SampleLine, encode};
    use heelclear::gauge::raw_log::RawLog;
    use heelclear::gauge::serial::SerialInstrument;
    use heelclear::gauge::serial_reader::{Reader, What};
    use heelclear::quantity::Length;
    use heelclear::sample::{Bench, FromBridge};
    use rustix::fs::{Mode, OFlags};
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    use std::fs::File;
    use std::io::Write;
    use std::time::{Duration, Instant};
    use tokio::sync::mpsc;

    const RATE_HZ: u32 = 10_000;

    /// Seconds; `--quick` makes it short.
    fn seconds() -> u32 {
        if std::env::args().any(|argument| argument == "--quick") {
            2
        } else {
            10
        }
    }

    /// Time that one thread of this process has had a core, by the kernel's books.
    fn thread_cpu_s(thread: &str) -> f64 {
        for task in std::fs::read_dir("/proc/self/task").unwrap().flatten() {
            let path = task.path();
            let name = std::fs::read_to_string(path.join("comm")).unwrap_or_default();
            if name.trim() == thread {
                let stat = std::fs::read_to_string(path.join("schedstat")).unwrap_or_default();
                let nanoseconds: f64 = stat.split(' ').next().unwrap().parse().unwrap_or(0.0);
                return nanoseconds / 1e9;
            }
        }
        0.0
    }

    pub(crate) fn main() {
        let lines = RATE_HZ * seconds();
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let path = ptsname(&master, Vec::new()).unwrap();
        let path = path.to_str().unwrap().to_owned();
        let keep = OFlags::RDWR | OFlags::NOCTTY;
        let _keep = rustix::fs::open(path.as_str(), keep, Mode::empty()).unwrap();
        let mut instrument = SerialInstrument::new(path, 1_000_000);
        let port = instrument.open().unwrap();
        let (sender, mut deliveries) = mpsc::channel(4096);
        let folder = tempfile::tempdir().unwrap();
        let reader = Reader::start(0, Box::new(instrument), port, sender).unwrap();
        let log = folder.path().join("stream.log");
        reader
            .log_into(Some(RawLog::create(&log).unwrap()))
            .unwrap();

        let sending = std::thread::spawn(move || send(&mut File::from(master), lines));
        let bench = Bench::new(Length::from_um(1.0), 4000, false);
        let listening = std::thread::Builder::new().name("listen".to_owned());
        let listening = listening.spawn(move || {
            let mut samples = FromBridge::new(bench);
            while samples.len() < lines as usize {
                match deliveries.blocking_recv().unwrap().what {
                    What::Bytes(bytes) => samples.feed(&bytes),
                    other => unreachable!("{other:?}"),
                }
            }
            // While the thread still stands in the kernel's books.
            (thread_cpu_s("listen"), samples.tally())
        });
        let start = Instant::now();
        let (listened_s, tally) = listening.unwrap().join().unwrap();
        let took_s = start.elapsed().as_secs_f64();
        let read_s = thread_cpu_s("read-0");
        sending.join().unwrap();
        let dropped = reader.dropped();
        // Ends its thread, which has nobody to tell any more, with the log whole.
        drop(reader);
        let logged = std::fs::read(&log).unwrap();
        assert_eq!((tally.lost, tally.refused, dropped), (0, 0, 0));
        assert_eq!(
            logged.iter().filter(|byte| **byte == b'\n').count(),
            lines as usize
        );
        let share = (read_s + listened_s) / took_s;
        println!(
            "stream: {lines} lines in {took_s:.1} s, none lost; {:.1} % of a core (under 10 wanted): \
             {:.1} reading and logging, {:.1} decoding",
            share * 100.0,
            read_s / took_s * 100.0,
            listened_s / took_s * 100.0
        );
    }

    /// Sends lines evenly, as a bridge at 1 Mbaud could not quite do.
    fn send(master: &mut File, lines: u32) {
        let start = Instant::now();
        let per_batch = RATE_HZ / 200;
        let mut sent = 0;
        let mut bytes = Vec::new();
        while sent < lines {
            bytes.clear();
            for i in sent..sent + per_batch {
                let sample = SampleLine {
                    seq: i as u16,
                    t: i * 100,
                    count: i as i32 / 3,
                    reading: Some((i % 500) as i32 - 250),
                    index_edges: 0,
                    index_count: 0,
                    flags: Flags(0),
                };
                bytes.extend_from_slice(encode(&Line::Sample(sample)).unwrap().as_bytes());
            }
            master.write_all(&bytes).unwrap();
            sent += per_batch;
            let due = start + Duration::from_secs_f64(f64::from(sent) / f64::from(RATE_HZ));
            std::thread::sleep(due.saturating_duration_since(Instant::now()));
        }
    }
}
