//! Work at a disk, beside the thread that serves: so much at a time, and waited for so long. A disk that
//! never answers holds up nobody who asks for something else.

use crate::error::{Code, Error, Result};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::task::{JoinError, spawn_blocking};
use tokio::time::timeout;

/// So many errands are under way at most; those that come after are refused at once.
const MOST: usize = 64;
/// So many of them for the same thing.
const MOST_OF_ONE: usize = 8;
/// Once the disk has answered, the work may take so many times as long: it judges, or reads much.
const LONGER: u32 = 6;

/// What is under way.
#[derive(Clone)]
pub(super) struct Disk {
    within: Duration,
    list: Arc<Mutex<List>>,
}

#[derive(Default)]
struct List {
    next: u64,
    held: Vec<Held>,
}

struct Held {
    number: u64,
    what: String,
    since: Instant,
    errand: Errand,
}

/// One piece of work, for whoever does it.
#[derive(Clone, Default)]
pub(super) struct Errand {
    answered: Arc<AtomicBool>,
    given_up: Arc<AtomicBool>,
}

impl Errand {
    /// The disk has answered: what is left to do may take its time.
    pub(super) fn answered(&self) {
        self.answered.store(true, Ordering::Relaxed);
    }

    /// Ends the work where nobody waits for it any more: what comes late may not take the place of what
    /// was asked for meanwhile.
    pub(super) fn is_wanted(&self) -> Result<()> {
        match self.given_up.load(Ordering::Relaxed) {
            false => Ok(()),
            true => Err(Error::new(
                Code::Interrupted,
                "nobody waits for it any more",
            )),
        }
    }

    fn may_take(&self, within: Duration) -> Duration {
        match self.answered.load(Ordering::Relaxed) {
            true => within * (1 + LONGER),
            false => within,
        }
    }
}

/// Takes an errand off the list when it ends, however late.
struct Place {
    number: u64,
    list: Arc<Mutex<List>>,
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut list = self.list.lock().unwrap_or_else(PoisonError::into_inner);
        list.held.retain(|held| held.number != self.number);
    }
}

impl Disk {
    pub(super) fn new(within: Duration) -> Self {
        Self {
            within,
            list: Arc::default(),
        }
    }

    /// Does something on a thread of its own. `what` says in words what is waited for, and is the same
    /// for the same thing: while that is late, it is not asked for once more.
    pub(super) async fn ask<T: Send + 'static>(
        &self,
        what: impl Into<String>,
        work: impl FnOnce(&Errand) -> Result<T> + Send + 'static,
    ) -> Result<T> {
        let what = what.into();
        let errand = Errand::default();
        let place = self.enter(&what, &errand)?;
        let here = errand.clone();
        let mut task = spawn_blocking(move || {
            let _place = place;
            work(&here)
        });
        let began = Instant::now();
        loop {
            let left = errand.may_take(self.within).saturating_sub(began.elapsed());
            if let Ok(done) = timeout(left, &mut task).await {
                return done.map_err(ended)?;
            }
            // It may have been answered meanwhile.
            if began.elapsed() >= errand.may_take(self.within) {
                errand.given_up.store(true, Ordering::Relaxed);
                return Err(late(&what, began.elapsed()));
            }
        }
    }

    fn enter(&self, what: &str, errand: &Errand) -> Result<Place> {
        let mut list = self.list();
        let same: Vec<&Held> = list.held.iter().filter(|it| it.what == what).collect();
        if let Some(oldest) = same.first() {
            let since = oldest.since.elapsed();
            if since >= oldest.errand.may_take(self.within) {
                return Err(late(what, since));
            }
            if same.len() >= MOST_OF_ONE {
                return Err(too_many(what));
            }
        }
        if let Some(oldest) = list.held.first().filter(|_| list.held.len() >= MOST) {
            return Err(too_many(&oldest.what));
        }
        list.next += 1;
        let number = list.next;
        list.held.push(Held {
            number,
            what: what.to_owned(),
            since: Instant::now(),
            errand: errand.clone(),
        });
        Ok(Place {
            number,
            list: Arc::clone(&self.list),
        })
    }

    fn list(&self) -> MutexGuard<'_, List> {
        self.list.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What is waited for has not come.
pub(super) fn late(what: &str, since: Duration) -> Error {
    let seconds = since.as_secs_f64().ceil();
    let message = format!("waited {seconds:.0} s for {what}, and it has not come");
    Error::new(Code::Disk, message).help(
        "look after the disk that it lies on, and whether it is an ordinary file: all else goes on meanwhile, and this can be asked for again",
    )
}

fn too_many(what: &str) -> Error {
    let message = format!("too much is waited for already, first of all {what}");
    Error::new(Code::Disk, message).help("look after the disk that it lies on, and ask again later")
}

/// Work that ended by itself.
pub(super) fn ended(fault: JoinError) -> Error {
    Error::internal("the work ended early", fault)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::sync::mpsc;

    fn disk() -> Disk {
        Disk::new(Duration::from_millis(50))
    }

    #[tokio::test]
    async fn what_never_comes_is_told_and_is_not_asked_for_twice() {
        let disk = disk();
        let (let_go, held) = mpsc::channel::<()>();
        let (tell, told) = mpsc::channel();
        let hung = disk.ask("the card", move |errand| {
            let _ = held.recv();
            let _ = tell.send(errand.is_wanted().is_err());
            Ok(())
        });
        let late = hung.await.unwrap_err();
        assert!(late.message().contains("for the card"), "{late}");
        let again = disk.ask("the card", |_| Ok(())).await;
        assert!(again.is_err());
        assert_eq!(disk.ask("another card", |_| Ok(7)).await, Ok(7));
        // Once it has come back, its late result counts no more, and it can be asked for again.
        drop(let_go);
        assert_eq!(told.recv(), Ok(true));
        while !disk.list().held.is_empty() {
            tokio::task::yield_now().await;
        }
        assert_eq!(disk.ask("the card", |_| Ok(8)).await, Ok(8));
    }

    #[tokio::test]
    async fn what_the_disk_has_answered_may_take_longer() {
        let disk = disk();
        let slow = disk.ask("a verdict", |errand| {
            errand.answered();
            std::thread::sleep(Duration::from_millis(100));
            Ok(1)
        });
        assert_eq!(slow.await, Ok(1));
    }

    #[tokio::test]
    async fn so_much_is_waited_for_at_most() {
        let disk = Disk::new(Duration::from_secs(60));
        let (let_go, held) = mpsc::channel::<()>();
        let held = Arc::new(Mutex::new(held));
        let wait = |what: String| {
            let (disk, held) = (disk.clone(), Arc::clone(&held));
            tokio::spawn(async move {
                disk.ask(what, move |_| {
                    let _ = held.lock().unwrap().recv();
                    Ok(())
                })
                .await
            })
        };
        let mut waiting = Vec::new();
        for at in 0..MOST {
            waiting.push(wait(format!("card {}", at / MOST_OF_ONE)));
            tokio::task::yield_now().await;
        }
        let refused = wait("card 0".to_owned()).await.unwrap().unwrap_err();
        assert!(refused.message().contains("card 0"), "{refused}");
        let refused = wait("a new card".to_owned()).await.unwrap().unwrap_err();
        assert!(refused.message().contains("first of all card 0"));
        drop(let_go);
        for one in waiting {
            one.await.unwrap().unwrap();
        }
    }
}
