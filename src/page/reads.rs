//! Reading one of many files: one that never comes back holds up neither the others nor the next look.

use super::disk::late;
use crate::error::{Code, Error, Result};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// So many files that do not answer are waited for; then no others are begun.
const MOST: usize = 32;

/// Files that are being waited for although their time is over.
#[derive(Clone, Debug)]
pub(super) struct Reads {
    within: Duration,
    stuck: Arc<Mutex<BTreeMap<PathBuf, Instant>>>,
}

impl Reads {
    pub(super) fn new(within: Duration) -> Self {
        Self {
            within,
            stuck: Arc::default(),
        }
    }

    /// Reads something, on a thread that is left behind where it does not come back in time.
    pub(super) fn of<T: Send + 'static>(
        &self,
        path: &Path,
        read: impl FnOnce(&Path) -> T + Send + 'static,
    ) -> Result<T> {
        {
            let stuck = self.stuck();
            if let Some(since) = stuck.get(path) {
                return Err(late_file(path, since.elapsed()));
            }
            if let Some((first, _)) = stuck.iter().next().filter(|_| stuck.len() >= MOST) {
                let message = format!(
                    "too many files are waited for already, among them {}",
                    first.display()
                );
                return Err(Error::new(Code::Disk, message).in_path(path));
            }
        }
        let (tell, told) = sync_channel(1);
        let (this, place) = (self.clone(), path.to_owned());
        let work = move || {
            // Whoever waited may have gone.
            let _ = tell.send(read(&place));
            this.stuck().remove(&place);
        };
        let began = Instant::now();
        let thread = thread::Builder::new().name("read".to_owned());
        thread
            .spawn(work)
            .map_err(|fault| Error::internal("no thread to read on", fault))?;
        match told.recv_timeout(self.within) {
            Ok(read) => return Ok(read),
            Err(RecvTimeoutError::Disconnected) => {
                let message = "reading it ended early";
                return Err(Error::new(Code::Internal, message).in_path(path));
            }
            Err(RecvTimeoutError::Timeout) => {}
        }
        let mut stuck = self.stuck();
        // It may have come between looking at the clock and here.
        if let Ok(read) = told.try_recv() {
            return Ok(read);
        }
        stuck.insert(path.to_owned(), began);
        Err(late_file(path, began.elapsed()))
    }

    fn stuck(&self) -> MutexGuard<'_, BTreeMap<PathBuf, Instant>> {
        self.stuck.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn late_file(path: &Path, since: Duration) -> Error {
    late("this file", since).in_path(path)
}

/// Does the same with each, on threads of its own: those that compute for the whole program are not to
/// wait for a disk.
pub(super) fn each<I: Sync, T: Send>(items: &[I], work: impl Fn(&I) -> T + Sync) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let threads = thread::available_parallelism().map_or(2, usize::from);
    let some = || {
        let mut done = Vec::new();
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(item) = items.get(at) else {
                return done;
            };
            done.push((at, work(item)));
        }
    };
    let mut done: Vec<(usize, T)> = thread::scope(|scope| {
        let others = (1..threads.clamp(2, 8)).filter(|at| *at < items.len());
        let others: Vec<_> = others.map(|_| scope.spawn(some)).collect();
        let mut done = some();
        for other in others {
            match other.join() {
                Ok(theirs) => done.extend(theirs),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        done
    });
    done.sort_unstable_by_key(|(at, _)| *at);
    done.into_iter().map(|(_, one)| one).collect()
}

/// Does what computes on several threads while it reads a disk on threads of its own.
pub(super) fn apart<T: Send>(work: impl FnOnce() -> T + Send) -> Result<T> {
    let threads = rayon::ThreadPoolBuilder::new()
        .build()
        .map_err(|fault| Error::internal("no threads to compute on", fault))?;
    Ok(threads.install(work))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::sync::mpsc;

    #[test]
    fn a_file_that_never_comes_is_left_behind_until_it_does() {
        let reads = Reads::new(Duration::from_millis(50));
        let (let_go, held) = mpsc::channel::<()>();
        let path = Path::new("gauges/pipe.toml");
        let hung = reads.of(path, move |_| {
            let _ = held.recv();
        });
        let late = hung.unwrap_err();
        assert!(late.to_string().contains("gauges/pipe.toml"), "{late}");
        // It is not begun anew while it hangs, and others are.
        let begun = Arc::new(AtomicUsize::new(0));
        let again = Arc::clone(&begun);
        let twice = reads.of(path, move |_| again.fetch_add(1, Ordering::Relaxed));
        assert!(twice.is_err());
        assert_eq!(begun.load(Ordering::Relaxed), 0);
        assert_eq!(reads.of(Path::new("other"), |_| 7), Ok(7));
        drop(let_go);
        while !reads.stuck().is_empty() {
            thread::yield_now();
        }
        assert_eq!(reads.of(path, |_| 8), Ok(8));
    }

    #[test]
    fn only_so_many_are_waited_for() {
        let reads = Reads::new(Duration::from_millis(1));
        let (let_go, held) = mpsc::channel::<()>();
        let held = Arc::new(Mutex::new(held));
        for at in 0..MOST {
            let held = Arc::clone(&held);
            let hung = reads.of(Path::new(&format!("card-{at}")), move |_| {
                let _ = held.lock().map(|held| held.recv());
            });
            assert!(hung.is_err());
        }
        let more = reads.of(Path::new("one more"), |_| ()).unwrap_err();
        assert!(more.message().contains("too many"), "{more}");
        drop(let_go);
    }

    #[test]
    fn each_comes_back_in_its_place() {
        let items: Vec<usize> = (0..100).collect();
        let doubled = each(&items, |it| it * 2);
        assert_eq!(doubled, (0..200).step_by(2).collect::<Vec<_>>());
        assert!(each(&[] as &[u8], |it| *it).is_empty());
    }
}
