//! `capture` on a real terminal: the whole walk by keys, stops, signals, faults, other sizes.
#![cfg(target_os = "linux")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr
)]

use heelclear::card::InspectionCard;
use heelclear::simulator::{Served, built_in};
use rustix::termios::{Winsize, tcgetattr, tcsetwinsize};
use std::fs::File;
use std::io::{Read, Write};
use std::os::fd::OwnedFd;
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_heelclear");

/// What stands on a screen, and who is told when that changes.
struct Screen {
    parser: Mutex<vt100::Parser>,
    drawn: Condvar,
}

impl Screen {
    /// Waits until what stands there is as it should be; fails with what stands there.
    #[track_caller]
    fn until(&self, what: &str, holds: impl Fn(&vt100::Screen) -> bool) {
        let not_yet = |parser: &mut vt100::Parser| !holds(parser.screen());
        let waited = Duration::from_secs(40);
        let seen = self
            .drawn
            .wait_timeout_while(self.lock(), waited, not_yet)
            .unwrap();
        assert!(
            !seen.1.timed_out(),
            "{what} never came:\n{}",
            seen.0.screen().contents()
        );
    }

    fn lock(&self) -> MutexGuard<'_, vt100::Parser> {
        self.parser.lock().unwrap()
    }
}

/// The program on a terminal of its own, and what stands on its screen.
struct Seat {
    child: Child,
    master: File,
    near: OwnedFd,
    screen: Arc<Screen>,
    before: String,
    /// Has the reader let go of the terminal.
    closing: Arc<AtomicBool>,
}

impl Seat {
    fn run(place: &Path, size: (u16, u16), envs: &[(&str, &str)], arguments: &[&str]) -> Self {
        let crate::pty::Pty { master, near, .. } = crate::pty::Pty::open();
        resize(&near, size);
        let before = format!("{:?}", tcgetattr(&near).unwrap());
        let stdio = || Stdio::from(near.try_clone().unwrap());
        let mut command = Command::new("setsid");
        command
            .args(["--ctty", PROGRAM, "capture"])
            .args(arguments)
            .current_dir(place)
            .env("TERM", "xterm-256color")
            .env_remove("NO_COLOR")
            .envs(envs.iter().copied())
            .stdin(stdio())
            .stdout(stdio())
            .stderr(stdio());
        let child = command.spawn().unwrap();
        let screen = Arc::new(Screen {
            parser: Mutex::new(vt100::Parser::new(size.1, size.0, 200)),
            drawn: Condvar::new(),
        });
        let (mut reader, seen) = (master.try_clone().unwrap(), Arc::clone(&screen));
        let closing = Arc::new(AtomicBool::new(false));
        let closed = Arc::clone(&closing);
        std::thread::spawn(move || {
            let mut buffer = [0; 65_536];
            while let Ok(count) = reader.read(&mut buffer) {
                seen.lock().process(&buffer[..count]);
                seen.drawn.notify_all();
                if closed.load(Ordering::Relaxed) {
                    break;
                }
            }
        });
        Self {
            child,
            master,
            near,
            screen,
            before,
            closing,
        }
    }

    fn text(&self) -> String {
        self.screen.lock().screen().contents()
    }

    fn is_full_screen(&self) -> bool {
        self.screen.lock().screen().alternate_screen()
    }

    /// Waits until these words stand on the screen.
    #[track_caller]
    fn sees(&self, words: &str) {
        self.screen.until(&format!("`{words}`"), |screen| {
            screen.contents().contains(words)
        });
    }

    fn press(&mut self, keys: &str) {
        self.master.write_all(keys.as_bytes()).unwrap();
    }

    fn resize(&self, size: (u16, u16)) {
        let mut parser = self.screen.lock();
        parser.screen_mut().set_size(size.1, size.0);
        resize(&self.near, size);
    }

    /// Waits for the end; the terminal is as it was before.
    #[track_caller]
    fn ended(&mut self) -> ExitStatus {
        let give_up = Instant::now() + Duration::from_secs(40);
        let status = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status;
            }
            assert!(Instant::now() < give_up, "it never ended:\n{}", self.text());
            std::thread::sleep(Duration::from_millis(20));
        };
        // What it wrote last may still be on its way.
        self.screen.until("the screen of before", |screen| {
            !screen.alternate_screen() && !screen.hide_cursor()
        });
        assert_eq!(format!("{:?}", tcgetattr(&self.near).unwrap()), self.before);
        status
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn resize(terminal: &OwnedFd, (width, height): (u16, u16)) {
    let size = Winsize {
        ws_row: height,
        ws_col: width,
        ws_xpixel: 0,
        ws_ypixel: 0,
    };
    tcsetwinsize(terminal, size).unwrap();
}

/// A simulated counterbore on a window of the usual size, with the stylus to be set.
fn counterbore(place: &Path, more: &[&str]) -> Seat {
    let simulated = ["made", "--simulate", "counterbore-pass"];
    let seat = Seat::run(place, (80, 24), &[], &[&simulated, more].concat());
    seat.sees("SET THE STYLUS");
    seat
}

/// The same, with the stylus set and the tool turning.
fn turning(place: &Path) -> Seat {
    let mut seat = counterbore(place, &[]);
    seat.press(" ");
    seat.sees("KEEP TURNING");
    seat
}

fn card(folder: &Path) -> InspectionCard {
    let text = std::fs::read_to_string(folder.join("inspection.toml")).unwrap();
    InspectionCard::parse(&text, "inspection.toml").unwrap()
}

#[test]
fn the_whole_walk_goes_by_the_keys_on_the_last_line() {
    let place = tempfile::tempdir().unwrap();
    let mut seat = counterbore(place.path(), &["--faster", "6"]);
    seat.sees("SET THE STYLUS on the round");
    assert!(seat.is_full_screen());
    seat.sees("Ground edges cut");
    seat.press(" ");
    seat.sees("TURNING");
    seat.sees("% of the turn");
    // The reference is through; the seat is next, and waits for the stylus whatever the hand does.
    seat.sees("SET THE STYLUS on `seat`");
    seat.press(" ");
    seat.sees("SO FAR");
    seat.sees("flute 2");
    seat.sees("ALL IS TAKEN");
    // Once more: the last one did not please.
    seat.press("r");
    seat.sees("SET THE STYLUS on `seat`");
    seat.press(" ");
    seat.sees("ALL IS TAKEN");
    seat.press("\r");
    let status = seat.ended();
    assert_eq!(status.code(), Some(0), "{}", seat.text());
    assert!(
        seat.text().contains("heelclear verify made"),
        "{}",
        seat.text()
    );
    let card = card(&place.path().join("made"));
    assert!(!card.interrupted);
    assert_eq!(card.traces.len(), 2);
    assert!(place.path().join("made/raw/seat-2.log").exists());
}

#[test]
fn a_stop_in_mid_turn_keeps_what_was_read_and_says_so() {
    let place = tempfile::tempdir().unwrap();
    let mut seat = turning(place.path());
    // One is no stop yet.
    seat.press("q");
    seat.sees("Stop here?");
    seat.press("\x03");
    let status = seat.ended();
    assert_eq!(status.code(), Some(0), "{}", seat.text());
    assert!(
        seat.text().contains("marked interrupted"),
        "{}",
        seat.text()
    );
    assert!(card(&place.path().join("made")).interrupted);
    assert!(place.path().join("made/traces/reference.csv").exists());
}

#[test]
fn a_signal_ends_it_with_the_terminal_put_back() {
    let place = tempfile::tempdir().unwrap();
    let mut seat = turning(place.path());
    let number = seat.child.id().to_string();
    let sent = Command::new("kill")
        .args(["-TERM", &number])
        .status()
        .unwrap();
    assert!(sent.success());
    seat.ended();
    assert!(card(&place.path().join("made")).interrupted);
}

#[test]
fn a_terminal_that_is_closed_ends_the_capture_and_keeps_it() {
    let place = tempfile::tempdir().unwrap();
    let mut seat = turning(place.path());
    // The window is closed: every master of the terminal goes.
    seat.closing.store(true, Ordering::Relaxed);
    seat.master = File::open("/dev/null").unwrap();
    let give_up = Instant::now() + Duration::from_secs(20);
    while seat.child.try_wait().unwrap().is_none() {
        assert!(Instant::now() < give_up, "it never ended");
        std::thread::sleep(Duration::from_millis(20));
    }
    assert!(card(&place.path().join("made")).interrupted);
    assert!(place.path().join("made/traces/reference.csv").exists());
}

#[test]
fn a_window_of_another_size_is_drawn_anew() {
    let place = tempfile::tempdir().unwrap();
    let mut seat = counterbore(place.path(), &[]);
    seat.resize((120, 40));
    seat.sees("Lock the spindle's drive: turn by hand only.");
    seat.resize((60, 10));
    seat.sees("Space  the stylus is set");
    seat.resize((80, 24));
    seat.sees("Ground edges cut");
    seat.press("\x03");
    seat.ended();
}

#[test]
fn a_bridge_that_falls_silent_is_told_in_large_letters() {
    let place = tempfile::tempdir().unwrap();
    let mut scenario = built_in("counterbore-pass").unwrap();
    scenario.faults.silence_after_s = Some(9.0);
    std::fs::write(place.path().join("tool.toml"), scenario.tool_card()).unwrap();
    std::fs::write(place.path().join("gauge.toml"), scenario.gauge_card(None)).unwrap();
    let bridge = Served::start(scenario, 3.0).unwrap();
    let mut arguments = vec!["made", "--tool", "tool.toml", "--gauge", "gauge.toml"];
    let path = bridge.path();
    arguments.extend(["--port", &path, "--trace", "seat:2"]);
    let mut seat = Seat::run(place.path(), (80, 24), &[], &arguments);
    seat.sees("SET THE STYLUS");
    seat.press(" ");
    seat.sees("NOTHING COMES FOR");
    seat.press("\x03");
    seat.ended();
    assert!(card(&place.path().join("made")).interrupted);
}

#[test]
fn where_a_full_screen_is_not_wanted_lines_are_printed_and_nothing_is_asked() {
    #[track_caller]
    fn check(size: (u16, u16), envs: &[(&str, &str)], more: &[&str]) {
        let place = tempfile::tempdir().unwrap();
        let faster = ["made", "--simulate", "counterbore-pass", "--faster", "100"];
        let mut seat = Seat::run(place.path(), size, envs, &[&faster, more].concat());
        let give_up = Instant::now() + Duration::from_secs(40);
        while seat.child.try_wait().unwrap().is_none() {
            assert!(!seat.is_full_screen(), "{}", seat.text());
            assert!(Instant::now() < give_up, "{}", seat.text());
            std::thread::sleep(Duration::from_millis(10));
        }
        assert_eq!(seat.ended().code(), Some(0), "{}", seat.text());
        assert!(!card(&place.path().join("made")).interrupted);
    }
    check((80, 24), &[], &["--plain"]);
    check((80, 24), &[("TERM", "dumb")], &[]);
    check((50, 10), &[], &[]);
}

#[test]
fn who_wants_no_colour_has_the_full_screen_in_bold() {
    let place = tempfile::tempdir().unwrap();
    let arguments = ["made", "--simulate", "counterbore-pass", "--faster", "20"];
    let mut seat = Seat::run(place.path(), (80, 24), &[("NO_COLOR", "1")], &arguments);
    let bold = |seat: &Seat| {
        let parser = seat.screen.lock();
        let screen = parser.screen();
        let cells = (0..24).flat_map(|row| (0..80).filter_map(move |at| screen.cell(row, at)));
        let mut bold = 0;
        for cell in cells {
            assert_eq!(cell.fgcolor(), vt100::Color::Default);
            assert_eq!(cell.bgcolor(), vt100::Color::Default);
            bold += usize::from(cell.bold() || cell.inverse());
        }
        bold
    };
    seat.sees("SET THE STYLUS");
    assert!(seat.is_full_screen() && bold(&seat) > 10);
    seat.press("q");
    seat.press("q");
    seat.ended();
    bold(&seat);
}

#[test]
fn the_hand_on_a_throw_is_led_by_a_dial() {
    let place = tempfile::tempdir().unwrap();
    let simulated = ["made", "--simulate", "worn-in-fixture", "--faster", "6"];
    let mut seat = Seat::run(place.path(), (100, 30), &[], &simulated);
    for step in [
        "the round",
        "`bore`",
        "a round in the fixture",
        "`bore` in the fixture",
    ] {
        seat.sees(&format!("SET THE STYLUS on {step}"));
        seat.press(" ");
    }
    seat.sees("OPEN THE THROW 0.2");
    seat.sees("HOLD BACK THE CAM");
    seat.sees("wanted 1.0");
    seat.sees("is still enough");
    // The hand says when it is enough; turning on for ever would end nothing.
    seat.press("e");
    seat.sees("ALL IS TAKEN");
    seat.press("\r");
    assert_eq!(seat.ended().code(), Some(0), "{}", seat.text());
    assert_eq!(card(&place.path().join("made")).traces.len(), 4);
}
