//! A proof of the turning sense under way.

use crate::card::Rotation;
use crate::inspection::instruments::Choice;
use crate::inspection::seen_to_grow;
use crate::quantity::Angle;
use std::thread::JoinHandle;
use tokio::sync::oneshot;

/// How far a proof is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Stage {
    /// The port is being opened.
    Opening,
    /// The spindle is to be turned; the angle has grown by so much.
    Turning(Angle),
    /// It went far enough to tell.
    Seen(Angle),
}

/// A proof under way.
pub(super) struct Proving {
    pub stage: Stage,
    pub choice: Choice,
    pub stop: oneshot::Sender<()>,
    pub thread: JoinHandle<()>,
}

impl Proving {
    /// Closes the port. Not under the session's lock, which its thread may wait for.
    pub(super) fn end(self) {
        let _ = self.stop.send(());
        // A thread that ended by a panic has nothing left to tell.
        let _ = self.thread.join();
    }

    /// The turning direction in which the angle was seen to grow.
    pub(super) fn seen(&self) -> Option<Rotation> {
        match self.stage {
            Stage::Seen(by) => seen_to_grow(by),
            Stage::Opening | Stage::Turning(_) => None,
        }
    }
}
