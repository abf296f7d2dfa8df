//! Shows that long work moves, on a terminal alone.

use crate::judge::Watch;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::thread;
use std::time::Duration;

/// Work shorter than this needs no moving picture.
const PATIENCE: Duration = Duration::from_millis(400);

/// A bar of trials.
const TRIALS: &str = "{spinner} {msg} [{bar:24}] {human_pos} of {human_len} trials, {elapsed}";

/// Time between two pictures.
const BEAT: Duration = Duration::from_millis(100);

/// Does the work, and shows what it is once it takes longer than a moment and a person watches.
pub(super) fn patiently<T>(what: &str, work: impl FnOnce() -> T) -> T {
    patiently_watching(what, &Watch::default(), work)
}

/// The same, with a bar while the work makes trials.
pub(super) fn patiently_watching<T>(what: &str, watch: &Watch, work: impl FnOnce() -> T) -> T {
    if !std::io::stderr().is_terminal() {
        return work();
    }
    let (working, over) = mpsc::channel();
    thread::scope(|scope| {
        scope.spawn(move || show(what, watch, &over));
        let result = work();
        // The watcher sees the channel close, and clears its line before the result is printed.
        drop(working);
        result
    })
}

fn show(what: &str, watch: &Watch, over: &Receiver<()>) {
    if over.recv_timeout(PATIENCE) != Err(RecvTimeoutError::Timeout) {
        return;
    }
    let bar = ProgressBar::new_spinner();
    // A template that cannot be read would be our own mistake, and the plain one does as well.
    if let Ok(style) = ProgressStyle::with_template("{spinner} {msg}, {elapsed}") {
        bar.set_style(style);
    }
    bar.set_message(what.to_owned());
    while over.recv_timeout(BEAT) == Err(RecvTimeoutError::Timeout) {
        let (made, most) = watch.seen();
        if most > 0 && bar.length() != Some(most as u64) {
            bar.set_length(most as u64);
            if let Ok(style) = ProgressStyle::with_template(TRIALS) {
                bar.set_style(style);
            }
        }
        bar.set_position(made as u64);
        bar.tick();
    }
    bar.finish_and_clear();
}
