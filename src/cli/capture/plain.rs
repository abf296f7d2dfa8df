//! The plain view of a capture: a line that is drawn again, or lines now and then.

use super::super::Out;
use crate::inspection::capture::Notice;
use indicatif::{ProgressBar, ProgressStyle};
use std::time::{Duration, Instant};

/// A person watching a plain stream gets a line so often.
const PLAIN_EVERY: Duration = Duration::from_secs(1);

/// How it stands, in one line that is drawn again on a terminal, or now and then elsewhere.
pub(in super::super) struct StatusLine {
    bar: Option<ProgressBar>,
    last: Option<Instant>,
}

impl StatusLine {
    pub(in super::super) fn new(watched: bool) -> Self {
        let bar = watched.then(|| {
            let bar = ProgressBar::new(100);
            // A template that cannot be read would be our own mistake; the plain bar does as well.
            if let Ok(style) = ProgressStyle::with_template("{bar:24} {msg}") {
                bar.set_style(style);
            }
            bar
        });
        Self { bar, last: None }
    }

    pub(in super::super) fn show(&mut self, notice: &Notice<'_>, out: &mut Out) {
        match (notice, &self.bar) {
            (Notice::Progress(progress), Some(bar)) => {
                bar.set_position((progress.covered * 100.0) as u64);
                bar.set_message(progress.to_string());
            }
            (Notice::Progress(progress), None) => {
                if self.last.is_none_or(|last| last.elapsed() >= PLAIN_EVERY) {
                    self.last = Some(Instant::now());
                    out.note(&progress.to_string());
                }
            }
            (other, Some(bar)) => bar.suspend(|| out.note(&other.to_string())),
            (other, None) => out.note(&other.to_string()),
        }
    }

    pub(in super::super) fn clear(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
