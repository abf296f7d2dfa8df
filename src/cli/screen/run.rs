//! The view at work: the capture on a thread of its own, the screen and the keys on this one.

use super::draw::draw;
use super::keys::act;
use super::leading::Leading;
use super::terminal::Screen;
use crate::card::ToolCard;
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::inspection::capture::{CaptureSettings, Captured, Notice, capture_led};
use crate::inspection::live::{Live, Phase, Plan, Told};
use crate::report::Units;
use crate::simulator::Lead;
use ratatui::crossterm::event::{self, Event};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::mpsc::unbounded_channel;

/// Between two pictures: fast enough for the eye, slow enough for an old computer.
const BEAT: Duration = Duration::from_millis(40);

/// What is watched.
pub(in super::super) struct Watched {
    /// The folder, the cards and the traces.
    pub settings: CaptureSettings,
    /// The bridge, or the indicator.
    pub indicator: Box<dyn Instrument>,
    /// A second instrument that gives the angle.
    pub encoder: Option<Box<dyn Instrument>>,
    /// Where the hand is simulated.
    pub simulated: Option<Arc<Lead>>,
    /// The tool's id and name.
    pub tool: String,
    /// The unit that lengths are shown in.
    pub units: Units,
}

/// Captures with the screen taken, and gives what was told meanwhile, for the lines after it.
///
/// # Errors
/// As a led capture, and `disk` where the terminal cannot be drawn on.
pub(in super::super) fn watch(watched: Watched) -> Result<(Captured, Vec<Told>, String)> {
    let Watched {
        settings,
        indicator,
        encoder,
        simulated,
        tool,
        units,
    } = watched;
    let passes = settings.end.covered;
    let open = settings.end.after.is_none() && settings.end.still.is_none();
    // As the capture takes it where nothing else ends a trace.
    let passes = passes.unwrap_or(if open { 2 } else { 1 });
    let plan = Plan::of(settings.traces.iter().cloned(), settings.spacing, passes);
    let live = match &settings.tool_card {
        Some(card) => Live::new(plan).of_tool(&ToolCard::parse(card, "tool.toml")?),
        None => Live::new(plan),
    };
    let live = Arc::new(Mutex::new(live));
    let folder = settings.folder.display().to_string();
    let (orders, ordered) = unbounded_channel();
    let mut leading = Leading::new(orders, simulated.clone(), settings.folder.clone());
    let stop = stopped_by_signal();
    // Taken first: what goes wrong with it is told before a port is opened.
    let mut screen = Screen::take()?;
    lock(&live).connecting();
    let fed = Arc::clone(&live);
    let thread = std::thread::Builder::new().name("capture".to_owned());
    let capture = thread.spawn(move || {
        let mut tell = |notice: Notice<'_>| {
            lock(&fed).take(&notice);
            if let (Notice::Set { .. }, Some(hand)) = (&notice, &simulated) {
                hand.turn();
            }
        };
        let ended = capture_led(&settings, indicator, encoder, &mut tell, ordered);
        lock(&fed).over(&ended);
        ended
    });
    let capture = capture.map_err(|fault| Error::internal("no thread", fault))?;
    while !capture.is_finished() {
        {
            let mut live = lock(&live);
            leading.go_on(&mut live);
            let so_far = leading.so_far();
            let shown = leading.shown(&live, so_far.as_deref(), &tool, &folder, units);
            if screen.terminal.draw(|frame| draw(frame, &shown)).is_err() {
                // The terminal went away; what was read stays.
                leading.stop();
            }
        }
        if stop.load(Ordering::Relaxed) {
            leading.stop();
        }
        match pressed() {
            Ok(Some(Event::Key(key))) => {
                let mut live = lock(&live);
                let done = live.phase == Phase::Between && live.next().is_none();
                let asked = live.phase == Phase::Between && live.asks_after_break();
                if let Some(act) = act(key, live.phase, done, asked) {
                    leading.act(act, &mut live);
                }
            }
            // A window of another size is drawn anew with the next picture.
            Ok(_) => {}
            Err(_) => {
                leading.stop();
                std::thread::sleep(BEAT);
            }
        }
    }
    drop(screen);
    let ended = capture.join().map_err(|_| {
        Error::new(Code::Internal, "the capture broke off")
            .in_file(folder)
            .help("what was read is in the folder's raw logs; `heelclear verify` uses it")
    })?;
    let live = lock(&live);
    let told = live.told.iter().cloned().collect();
    Ok((ended?, told, live.kept()))
}

fn pressed() -> std::io::Result<Option<Event>> {
    match event::poll(wait_for_key()?)? {
        true => event::read().map(Some),
        false => Ok(None),
    }
}

/// Waits a beat, or until something was pressed; then the events that are there can be asked for.
/// Where the terminal hung up they must not be: the reader of events would try for ever.
#[cfg(unix)]
fn wait_for_key() -> std::io::Result<Duration> {
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    let stdin = std::io::stdin();
    let mut watched = [PollFd::new(&stdin, PollFlags::IN)];
    let beat = Timespec {
        tv_sec: 0,
        tv_nsec: BEAT.as_nanos() as _,
    };
    match poll(&mut watched, Some(&beat)) {
        // A signal came: the next beat looks again.
        Err(rustix::io::Errno::INTR) => return Ok(Duration::ZERO),
        polled => polled?,
    };
    let over = PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL;
    match watched[0].revents().intersects(over) {
        true => Err(std::io::ErrorKind::UnexpectedEof.into()),
        false => Ok(Duration::ZERO),
    }
}

#[cfg(not(unix))]
fn wait_for_key() -> std::io::Result<Duration> {
    Ok(BEAT)
}

fn lock(live: &Mutex<Live>) -> MutexGuard<'_, Live> {
    // What a thread left behind when it failed can still be shown.
    live.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Set when the program is told to end: the capture is stopped and the terminal put back.
#[cfg(unix)]
fn stopped_by_signal() -> Arc<AtomicBool> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [SIGHUP, SIGINT, SIGTERM] {
        // Without it the signal still ends the program, and the folder can be used.
        let _ = signal_hook::flag::register(signal, Arc::clone(&stop));
    }
    stop
}

/// Ctrl-C comes as a key there.
#[cfg(not(unix))]
fn stopped_by_signal() -> Arc<AtomicBool> {
    Arc::new(AtomicBool::new(false))
}
