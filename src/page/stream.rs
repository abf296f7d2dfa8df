//! The stream of events to a page: always the newest state, never a queue of old ones.

use super::callers::Caller;
use super::session::Session;
use super::{judged, problem, shown};
use crate::report::Units;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::Stream;
use serde_json::Value;
use std::collections::VecDeque;
use std::convert::Infallible;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::time::{Interval, MissedTickBehavior, interval};

/// Twice a frame of a screen that draws sixty a second.
const BEAT: Duration = Duration::from_millis(33);
/// A bench that has nothing to say says at least that it is there.
const SAYS: Duration = Duration::from_secs(2);
/// A reader that has not taken what there was for so long may be gone.
const STALLS: Duration = Duration::from_secs(3);
/// A browser opens six connections to one place and no more: two are left for what is asked.
const STREAMS_A_READER: usize = 4;
/// For all readers together.
const STREAMS: usize = 64;

/// The streams that are open, the oldest first. Where there would be too many, the oldest is told to
/// stand aside.
#[derive(Clone, Default)]
pub(super) struct Streams(Arc<Mutex<Open>>);

#[derive(Default)]
struct Open {
    next: u64,
    list: VecDeque<Fed>,
}

/// A stream that is open.
struct Fed {
    number: u64,
    reader: Caller,
    /// When its reader had taken all that there was.
    took: Instant,
}

impl Fed {
    fn stalls(&self) -> bool {
        self.took.elapsed() > STALLS
    }
}

impl Streams {
    fn enter(&self, reader: Caller) -> u64 {
        let mut open = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        open.next += 1;
        let number = open.next;
        let from = reader.from;
        reader.streams();
        open.list.push_back(Fed {
            number,
            reader,
            took: Instant::now(),
        });
        let of_reader = open.list.iter().filter(|fed| fed.reader.from == from);
        if of_reader.count() > STREAMS_A_READER {
            open.drop_one(|fed| fed.reader.from == from);
        }
        if open.list.len() > STREAMS {
            open.drop_one(|_| true);
        }
        number
    }

    fn stays(&self, number: u64) -> bool {
        let mut open = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let mine = open.list.iter_mut().find(|fed| fed.number == number);
        mine.map(|fed| fed.took = Instant::now()).is_some()
    }

    fn leave(&self, number: u64) {
        let mut open = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        open.list.retain(|fed| fed.number != number);
    }
}

impl Open {
    /// The oldest of these goes, and before it one whose reader takes nothing.
    fn drop_one(&mut self, of: impl Fn(&Fed) -> bool) {
        let stalls = self.list.iter().position(|fed| of(fed) && fed.stalls());
        let at = stalls.or_else(|| self.list.iter().position(of));
        if let Some(fed) = at.and_then(|at| self.list.remove(at)) {
            fed.reader.stands_aside();
        }
    }
}

/// One page's stream.
struct Listener {
    session: Session,
    streams: Streams,
    number: u64,
    units: Units,
    beat: Interval,
    waiting: VecDeque<Event>,
    revision: Option<(u64, u64)>,
    /// The round and the version of it that were sent last.
    sent: (u64, u64),
    so_far: u64,
    /// When something was told last.
    told: Instant,
    aside: bool,
}

impl Drop for Listener {
    fn drop(&mut self) {
        self.streams.leave(self.number);
    }
}

/// Opens a stream for a page.
pub(super) fn open(
    session: Session,
    streams: Streams,
    reader: Caller,
    units: Units,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let mut beat = interval(BEAT);
    // What a slow page missed is not sent after it.
    beat.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let listener = Listener {
        number: streams.enter(reader),
        session,
        streams,
        units,
        beat,
        waiting: VecDeque::new(),
        revision: None,
        sent: (0, 0),
        so_far: 0,
        told: Instant::now(),
        aside: false,
    };
    let events = futures_util::stream::unfold(listener, |mut listener| async move {
        let event = listener.next().await?;
        Some((Ok(event), listener))
    });
    Sse::new(events).keep_alive(KeepAlive::new().interval(Duration::from_secs(5)))
}

impl Listener {
    async fn next(&mut self) -> Option<Event> {
        loop {
            if let Some(event) = self.waiting.pop_front() {
                return Some(event);
            }
            if self.aside {
                return None;
            }
            self.beat.tick().await;
            if !self.streams.stays(self.number) {
                self.aside = true;
                self.push("aside", &Value::Null);
                continue;
            }
            self.look();
        }
    }

    fn look(&mut self) {
        self.look_at_inspection();
        let so_far = self.session.so_far();
        let number = so_far.as_ref().map_or(0, |so_far| so_far.number);
        if number != self.so_far {
            self.so_far = number;
            let told = so_far.map_or(Value::Null, |so_far| match &so_far.record {
                Ok(record) => judged::so_far(record, self.units),
                Err(error) => serde_json::json!({ "problem": problem::for_page(error) }),
            });
            self.push("so-far", &told);
        }
        if self.told.elapsed() >= SAYS {
            // A page cannot tell otherwise whether its bench stands or only has nothing to say.
            self.push("alive", &Value::Null);
        }
    }

    fn look_at_inspection(&mut self) {
        // Nobody holds it for longer than a moment; where somebody does, all others are served.
        let Some(state) = self.session.state_at_once() else {
            return;
        };
        let revision = state.revision();
        let changed = self.revision != Some(revision);
        let whole = changed.then(|| shown::whole(&state, self.units));
        let moving = state.job.as_ref().and_then(|job| {
            let live = &job.live;
            let now = (live.round_number, live.round.version());
            // While readings come, they are sent even where no place of the turn changed.
            let fresh = live
                .newest
                .is_some_and(|newest| newest.elapsed() < Duration::from_millis(300));
            let news = changed || now != self.sent || fresh;
            news.then(|| (now, shown::moving(live, self.sent)))
        });
        drop(state);
        self.revision = Some(revision);
        if let Some(whole) = whole {
            self.push("bench", &whole);
        }
        if let Some((now, moving)) = moving {
            self.sent = now;
            self.push("moving", &moving);
        }
    }

    fn push(&mut self, name: &str, data: &Value) {
        self.told = Instant::now();
        self.waiting
            .push_back(Event::default().event(name).data(data.to_string()));
    }
}
