//! What a key does, by where the capture is.

use crate::inspection::live::Phase;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

/// What a key does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// The stylus is set: the trace begins when the tool turns.
    Set {
        /// Whether the indicator was set to another zero since the trace before.
        rezeroed: bool,
    },
    /// Whether the tool is still clamped as it was before a break.
    Clamped(bool),
    /// The trace under way has enough.
    Enough,
    /// The trace under way, or the last one, is taken again.
    Again,
    /// This step is taken, counted from 0.
    Take(usize),
    /// Everything is taken: end.
    Finish,
    /// Stop, if it is asked twice.
    Stop,
    /// Stop at once.
    StopNow,
}

/// What this key does; nothing where it has no meaning. `done` is whether every trace is taken, and
/// `asked` whether it is asked if the tool is still clamped as it was.
pub fn act(key: KeyEvent, phase: Phase, done: bool, asked: bool) -> Option<Act> {
    if key.kind == KeyEventKind::Release {
        return None;
    }
    let control = key.modifiers.contains(KeyModifiers::CONTROL);
    match key.code {
        KeyCode::Char('c') if control => Some(Act::StopNow),
        _ if control => None,
        KeyCode::Char('q') | KeyCode::Esc => Some(Act::Stop),
        KeyCode::Char('y') if asked => Some(Act::Clamped(true)),
        KeyCode::Char('n') if asked => Some(Act::Clamped(false)),
        // Nothing else is chosen before that is known.
        _ if asked => None,
        KeyCode::Char('z') if phase == Phase::Setting => Some(Act::Set { rezeroed: true }),
        KeyCode::Char(' ') | KeyCode::Enter => match phase {
            Phase::Setting => Some(Act::Set { rezeroed: false }),
            Phase::Between if done => Some(Act::Finish),
            _ => None,
        },
        KeyCode::Char('e') => (phase == Phase::Turning).then_some(Act::Enough),
        KeyCode::Char('r') => match phase {
            Phase::Armed | Phase::Turning => Some(Act::Again),
            Phase::Between if done => Some(Act::Again),
            _ => None,
        },
        // While it turns, a digit that was hit by mistake would cost the trace.
        KeyCode::Char(digit @ '1'..='9') => {
            let step = digit as usize - '1' as usize;
            let free = matches!(phase, Phase::Setting | Phase::Armed) || done;
            free.then_some(Act::Take(step))
        }
        _ => None,
    }
}
