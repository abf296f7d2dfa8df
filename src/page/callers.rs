//! Who is connected, and who goes when there are too many: those that never showed the token first, so
//! that no crowd of them keeps a page of the bench away.

use std::collections::{HashMap, VecDeque};
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::task::AbortHandle;

/// All connections.
#[derive(Clone)]
pub(super) struct Callers(Arc<Mutex<List>>);

struct List {
    next: u64,
    /// Requests of those that are known, counted.
    asked: u64,
    most_strangers: usize,
    most_known: usize,
    /// Those that have not shown the token, the oldest first.
    strangers: VecDeque<Call>,
    /// How many of the strangers each network has.
    of: HashMap<IpAddr, usize>,
    known: Vec<Call>,
}

struct Call {
    number: u64,
    network: IpAddr,
    end: AbortHandle,
    /// When it asked for something last, by the count of all such requests.
    asked: u64,
    /// Whether it is a page's stream, which asks once and goes on.
    streams: bool,
}

/// One connection, for what it asks.
#[derive(Clone)]
pub(super) struct Caller {
    number: u64,
    pub from: IpAddr,
    callers: Callers,
}

/// Takes a connection off the list when it ends.
pub(super) struct Leaving(Caller);

impl Drop for Leaving {
    fn drop(&mut self) {
        self.0.callers.leave(self.0.number);
    }
}

impl Callers {
    pub(super) fn new(most_strangers: usize, most_known: usize) -> Self {
        Self(Arc::new(Mutex::new(List {
            next: 0,
            asked: 0,
            most_strangers: most_strangers.max(1),
            most_known: most_known.max(1),
            strangers: VecDeque::new(),
            of: HashMap::new(),
            known: Vec::new(),
        })))
    }

    fn list(&self) -> MutexGuard<'_, List> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A connection from somewhere, which is not on the list yet.
    pub(super) fn caller(&self, from: IpAddr) -> (Caller, Leaving) {
        let mut list = self.list();
        list.next += 1;
        let caller = Caller {
            number: list.next,
            from,
            callers: self.clone(),
        };
        (caller.clone(), Leaving(caller))
    }

    /// Puts it on the list; `end` ends its task. Where there are too many strangers, one of them goes.
    pub(super) fn enter(&self, caller: &Caller, end: AbortHandle) {
        let mut list = self.list();
        let network = network(caller.from);
        *list.of.entry(network).or_default() += 1;
        list.strangers.push_back(Call {
            number: caller.number,
            network,
            end,
            asked: 0,
            streams: false,
        });
        while list.strangers.len() > list.most_strangers {
            list.drop_stranger();
        }
    }

    /// Drops one that never showed the token, since somebody else needs its place. Whether there was one.
    pub(super) fn make_room(&self) -> bool {
        self.list().drop_stranger()
    }

    fn leave(&self, number: u64) {
        let mut list = self.list();
        list.take_stranger(|call| call.number == number);
        list.known.retain(|call| call.number != number);
    }
}

impl List {
    /// Takes the oldest such stranger off the list.
    fn take_stranger(&mut self, is_it: impl Fn(&Call) -> bool) -> Option<Call> {
        let at = self.strangers.iter().position(is_it)?;
        let call = self.strangers.remove(at)?;
        if let Some(count) = self.of.get_mut(&call.network) {
            *count -= 1;
            if *count == 0 {
                self.of.remove(&call.network);
            }
        }
        Some(call)
    }

    /// The oldest of the network that has the most goes: a crowd crowds out its own.
    fn drop_stranger(&mut self) -> bool {
        let most = self.of.values().max().copied();
        let of = self.of.clone();
        let gone = self.take_stranger(|call| of.get(&call.network).copied() == most);
        gone.map(|call| call.end.abort()).is_some()
    }

    /// The one that has not asked for the longest time goes, a stream after all others, and never the one
    /// that asks now.
    fn drop_known(&mut self) {
        let asks = self.asked;
        let others = self.known.iter().enumerate();
        let others = others.filter(|(_, call)| call.asked != asks);
        let last = others.min_by_key(|(_, call)| (call.streams, call.asked));
        if let Some((at, _)) = last {
            self.known.swap_remove(at).end.abort();
        }
    }
}

impl Caller {
    /// It showed the token, and asks for something.
    pub(super) fn asks(&self) {
        let mut list = self.callers.list();
        list.asked += 1;
        let asked = list.asked;
        let mine = |call: &Call| call.number == self.number;
        if let Some(call) = list.known.iter_mut().find(|call| mine(call)) {
            call.asked = asked;
            return;
        }
        let Some(call) = list.take_stranger(mine) else {
            return;
        };
        list.known.push(Call { asked, ..call });
        if list.known.len() > list.most_known {
            list.drop_known();
        }
    }

    /// It asked for a stream.
    pub(super) fn streams(&self) {
        self.mark(|call| call.streams = true);
    }

    /// Its stream is not fed any more: whether it takes that in or not, it is the first to go.
    pub(super) fn stands_aside(&self) {
        self.mark(|call| (call.streams, call.asked) = (false, 0));
    }

    fn mark(&self, mark: impl Fn(&mut Call)) {
        let mut list = self.callers.list();
        let mine = list
            .known
            .iter_mut()
            .find(|call| call.number == self.number);
        mine.into_iter().for_each(mark);
    }
}

/// Addresses that one computer can take at will count as one: the lower half of IPv6 (RFC 4291, 2.5.1),
/// and all that lead back to this computer.
fn network(from: IpAddr) -> IpAddr {
    match from {
        IpAddr::V4(ip) if ip.is_loopback() => IpAddr::V4(std::net::Ipv4Addr::LOCALHOST),
        IpAddr::V4(_) => from,
        IpAddr::V6(ip) => match ip.to_ipv4_mapped() {
            Some(mapped) => network(IpAddr::V4(mapped)),
            None => IpAddr::V6((u128::from(ip) >> 64 << 64).into()),
        },
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use tokio::task::JoinHandle;

    fn call(callers: &Callers, from: &str) -> (Caller, JoinHandle<()>) {
        let (caller, leaving) = callers.caller(from.parse().unwrap());
        let task = tokio::spawn(async move {
            let _leaving = leaving;
            std::future::pending::<()>().await;
        });
        callers.enter(&caller, task.abort_handle());
        (caller, task)
    }

    async fn is_gone(task: &JoinHandle<()>) -> bool {
        // A task that was told to end does so when it is its turn.
        tokio::task::yield_now().await;
        task.is_finished()
    }

    #[tokio::test]
    async fn the_oldest_stranger_goes_and_never_one_that_is_known() {
        let callers = Callers::new(3, 3);
        let (page, known) = call(&callers, "127.0.0.1");
        page.asks();
        let mut crowd = Vec::new();
        for _ in 0..50 {
            crowd.push(call(&callers, "127.0.0.1").1);
        }
        assert!(!is_gone(&known).await);
        for (at, task) in crowd.iter().enumerate() {
            assert_eq!(is_gone(task).await, at < 47, "{at}");
        }
        let list = callers.list();
        assert_eq!((list.strangers.len(), list.known.len()), (3, 1));
    }

    #[tokio::test]
    async fn a_crowd_crowds_out_its_own() {
        let callers = Callers::new(4, 4);
        let (_, tablet) = call(&callers, "192.168.1.30");
        let mut crowd = Vec::new();
        for last in 1..60 {
            crowd.push(call(&callers, &format!("127.0.0.{last}")).1);
            crowd.push(call(&callers, &format!("fe80::{last}")).1);
        }
        assert!(!is_gone(&tablet).await);
        assert!(is_gone(&crowd[0]).await && is_gone(&crowd[1]).await);
    }

    #[tokio::test]
    async fn of_those_that_are_known_the_idle_go_before_a_stream() {
        let callers = Callers::new(2, 2);
        let (stream, streaming) = call(&callers, "127.0.0.1");
        stream.asks();
        stream.streams();
        let (other, idle) = call(&callers, "127.0.0.1");
        other.asks();
        let (third, asking) = call(&callers, "127.0.0.1");
        third.asks();
        assert!(is_gone(&idle).await && !is_gone(&streaming).await && !is_gone(&asking).await);
        // Nor does one that comes to many streams go itself: one that is not fed any more does.
        third.streams();
        stream.stands_aside();
        let (fourth, new) = call(&callers, "127.0.0.1");
        fourth.asks();
        assert!(is_gone(&streaming).await && !is_gone(&asking).await && !is_gone(&new).await);
    }

    #[tokio::test]
    async fn who_left_takes_no_place() {
        let callers = Callers::new(2, 2);
        let (_, task) = call(&callers, "127.0.0.1");
        task.abort();
        assert!(is_gone(&task).await);
        assert!(callers.list().strangers.is_empty());
        assert!(!callers.make_room());
    }
}
