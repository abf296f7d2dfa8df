//! The terminal while the view has it: put back as it was, whatever happens.

use crate::error::{Code, Error, Result};
use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::cursor::Show;
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode, size,
};
use std::io::{IsTerminal, Stderr, stderr, stdin, stdout};
use std::panic;
use std::sync::Once;

/// A smaller window is better served by lines that scroll.
const LEAST: (u16, u16) = (60, 12);

/// Whether a person sits at a terminal that a full screen can be drawn on.
pub(in super::super) fn fits() -> bool {
    let dumb = match std::env::var_os("TERM") {
        Some(name) => name == "dumb",
        // Elsewhere terminals have no such name.
        None => cfg!(unix),
    };
    let all = stdin().is_terminal() && stdout().is_terminal() && stderr().is_terminal();
    all && !dumb && size().is_ok_and(|(width, height)| width >= LEAST.0 && height >= LEAST.1)
}

/// The terminal, in its own screen and without a line discipline. Dropping it puts it back.
pub(super) struct Screen {
    pub terminal: ratatui::Terminal<CrosstermBackend<Stderr>>,
}

impl Screen {
    /// Takes the terminal.
    ///
    /// # Errors
    /// `disk` where it cannot be set up.
    pub(super) fn take() -> Result<Self> {
        put_back_on_panic();
        let taken = enable_raw_mode()
            .and_then(|()| execute!(stderr(), EnterAlternateScreen))
            .and_then(|()| ratatui::Terminal::new(CrosstermBackend::new(stderr())));
        match taken {
            Ok(terminal) => Ok(Self { terminal }),
            Err(fault) => {
                put_back();
                let message = format!("the terminal cannot be drawn on: {fault}");
                Err(Error::new(Code::Disk, message).help("`--plain` does without"))
            }
        }
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        put_back();
    }
}

/// What cannot be put back cannot be told either.
fn put_back() {
    let _ = execute!(stderr(), LeaveAlternateScreen, Show);
    let _ = disable_raw_mode();
}

/// A panic's message would be lost with the screen that it is written on.
fn put_back_on_panic() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            put_back();
            before(info);
        }));
    });
}
