//! The provisional verdict on a trace that grows, worked out on a thread of its own now and then.

use super::super::{Folder, verify_growing};
use crate::card::TraceEntry;
use crate::error::Result;
use crate::judge::Effort;
use crate::record::Record;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Not more often than this; nobody reads faster.
const AT_LEAST: Duration = Duration::from_millis(700);
/// Judging may take this share of the time, so that a slow computer keeps up with the wire.
const SHARE: u32 = 3;

/// What a trace comes to as far as it goes.
#[derive(Clone, Debug)]
pub struct SoFar {
    /// Readings that it had when this was begun.
    pub readings: u64,
    /// To first order, and of this trace's feature alone; or why nothing can be said yet.
    pub record: Result<Record>,
    /// Grows with each result.
    pub number: u64,
}

/// Judges a growing trace whenever it is asked to and has time.
#[derive(Clone, Debug, Default)]
pub struct Provisional {
    shared: Arc<Mutex<Shared>>,
}

#[derive(Debug, Default)]
struct Shared {
    busy: bool,
    not_before: Option<Instant>,
    latest: Option<Arc<SoFar>>,
    number: u64,
}

impl Provisional {
    /// Begins to judge what the trace has now, unless that is under way or was just done. Returns
    /// at once.
    /// Where the encoder began to count anew, `tied` has it wait for the index mark.
    pub fn refresh(&self, dir: &Path, growing: &TraceEntry, readings: u64, tied: bool) {
        {
            let mut shared = self.lock();
            let early = shared.not_before.is_some_and(|at| Instant::now() < at);
            if shared.busy || early {
                return;
            }
            shared.busy = true;
        }
        let (dir, growing) = (dir.to_owned(), growing.clone());
        let this = self.clone();
        let work = move || {
            let began = Instant::now();
            let effort = Effort {
                trials: Some(0),
                ..Effort::default()
            };
            let record = Folder::open(&dir).and_then(|folder| {
                let growing = match tied {
                    true => folder.tied(&growing)?,
                    false => growing,
                };
                verify_growing(&folder, &growing, effort)
            });
            let took = began.elapsed();
            let mut shared = this.lock();
            shared.number += 1;
            let number = shared.number;
            shared.latest = Some(Arc::new(SoFar {
                readings,
                record,
                number,
            }));
            shared.busy = false;
            shared.not_before = Some(Instant::now() + (took * (SHARE - 1)).max(AT_LEAST));
        };
        let thread = std::thread::Builder::new().name("judge-so-far".to_owned());
        if thread.spawn(work).is_err() {
            // A computer without a thread to spare goes without.
            self.lock().busy = false;
        }
    }

    /// The latest result, where there is one.
    pub fn latest(&self) -> Option<Arc<SoFar>> {
        self.lock().latest.clone()
    }

    /// Forgets the latest result: another trace begins.
    pub fn forget(&self) {
        let mut shared = self.lock();
        shared.latest = None;
        shared.not_before = None;
    }

    fn lock(&self) -> MutexGuard<'_, Shared> {
        // What a thread left behind when it failed is still whole.
        self.shared.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
