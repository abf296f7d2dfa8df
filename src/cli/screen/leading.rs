//! Leads the capture by what the person does: which step, when, and when it is enough.

use super::keys::Act;
use super::{Asks, Shown};
use crate::card::{Role, TraceEntry};
use crate::inspection::capture::Order;
use crate::inspection::live::{Broken, Live, Phase, Provisional, SoFar};
use crate::quantity::Time;
use crate::report::Units;
use crate::simulator::Lead;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::mpsc::UnboundedSender;

/// So long there is time to take a trace again, once all are taken.
const ENDING: Duration = Duration::from_secs(20);
/// The second asking has to come within this.
const AGAIN: Duration = Duration::from_secs(3);

/// What the view knows besides the live model.
pub(super) struct Leading {
    /// Gone once the capture was told to stop.
    orders: Option<UnboundedSender<Order>>,
    /// Where the hand is simulated.
    simulated: Option<Arc<Lead>>,
    folder: PathBuf,
    chosen: Option<usize>,
    last: Option<usize>,
    /// When the step under way was begun.
    began: Instant,
    ends_at: Option<Instant>,
    stop_asked: Option<Instant>,
    drop_asked: Option<Instant>,
    provisional: Provisional,
    /// What the card says of the feature's trace under way, or of the last one.
    growing: Option<TraceEntry>,
}

impl Leading {
    pub(super) fn new(
        orders: UnboundedSender<Order>,
        simulated: Option<Arc<Lead>>,
        folder: PathBuf,
    ) -> Self {
        Self {
            orders: Some(orders),
            simulated,
            folder,
            chosen: None,
            last: None,
            began: Instant::now(),
            ends_at: None,
            stop_asked: None,
            drop_asked: None,
            provisional: Provisional::default(),
            growing: None,
        }
    }

    /// Stops the capture: what was read is kept, marked interrupted.
    pub(super) fn stop(&mut self) {
        self.orders = None;
    }

    /// Does what a key says.
    pub(super) fn act(&mut self, act: Act, live: &mut Live) {
        if !matches!(act, Act::Stop) {
            self.stop_asked = None;
        }
        let drop_asked = self.drop_asked.take();
        let sure = drop_asked.is_some_and(|asked| asked.elapsed() < AGAIN);
        match act {
            Act::Set { rezeroed } => self.order(Order::Set { rezeroed }),
            Act::Clamped(as_it_was) => {
                live.after_break(as_it_was);
            }
            Act::Enough => self.order(Order::Enough),
            // What was turned for a minute is not lost by one key.
            Act::Again if live.phase == Phase::Turning && !sure => {
                self.drop_asked = Some(Instant::now());
            }
            Act::Again => {
                self.chosen = live.current.or(self.last);
                self.give_up(live);
            }
            Act::Take(step) if step < live.plan.steps.len() => {
                self.chosen = Some(step);
                self.give_up(live);
            }
            Act::Take(_) => {}
            Act::Finish => self.order(Order::Finish),
            Act::Stop => match self.stop_asked {
                Some(asked) if asked.elapsed() < AGAIN => self.stop(),
                _ => self.stop_asked = Some(Instant::now()),
            },
            Act::StopNow => self.stop(),
        }
    }

    fn give_up(&mut self, live: &Live) {
        if live.phase != Phase::Between {
            self.order(Order::GiveUp);
        }
    }

    fn order(&self, order: Order) {
        if let Some(orders) = &self.orders {
            // A capture that is over needs no orders.
            let _ = orders.send(order);
        }
    }

    /// Between two traces: begins the next one, or ends when there is none.
    pub(super) fn go_on(&mut self, live: &mut Live) {
        if let Some(entry) = live
            .growing
            .as_ref()
            .filter(|entry| matches!(entry.role, Role::Feature(_)))
        {
            self.growing = Some(entry.clone());
        }
        self.judge(live);
        if live.phase != Phase::Between {
            self.ends_at = None;
            return;
        }
        if live.asks_after_break() {
            self.ends_at = None;
            return;
        }
        if let Some(step) = self.chosen.take().or_else(|| live.next()) {
            if let Some(order) = live.begin(step) {
                if let Some(simulated) = &self.simulated {
                    simulated.hold_at(step);
                }
                live.aim(&self.folder);
                self.last = Some(step);
                self.began = Instant::now();
                self.growing = None;
                self.provisional.forget();
                self.order(order);
            }
            return;
        }
        let ends_at = *self.ends_at.get_or_insert(Instant::now() + ENDING);
        if Instant::now() >= ends_at {
            self.order(Order::Finish);
        }
    }

    /// Judges the trace as far as it goes, until the last reading of it was.
    fn judge(&self, live: &Live) {
        let Some(growing) = &self.growing else { return };
        let readings = live.progress.readings;
        let judged = self
            .provisional
            .latest()
            .map_or(0, |so_far| so_far.readings);
        let under_way = matches!(live.phase, Phase::Turning | Phase::Between);
        if under_way && readings > judged {
            let tied = live.broken == Some(Broken::Tied);
            self.provisional
                .refresh(&self.folder, growing, readings, tied);
        }
    }

    /// What the trace under way, or the last one, comes to so far.
    pub(super) fn so_far(&self) -> Option<Arc<SoFar>> {
        self.provisional.latest()
    }

    /// Everything that is drawn.
    pub(super) fn shown<'a>(
        &self,
        live: &'a Live,
        so_far: Option<&'a SoFar>,
        tool: &'a str,
        folder: &'a str,
        units: Units,
    ) -> Shown<'a> {
        let now = Instant::now();
        let asks = match (self.stop_asked, self.ends_at) {
            (Some(asked), _) if asked.elapsed() < AGAIN => Asks::StopAgain,
            _ if self.drop_asked.is_some_and(|asked| asked.elapsed() < AGAIN) => Asks::DropAgain,
            (_, Some(at)) => Asks::Ending(at.saturating_duration_since(now).as_secs() + 1),
            _ if live.asks_after_break() && live.phase == Phase::Between => {
                Asks::Clamping(live.broken == Some(Broken::Asks { ties: true }))
            }
            _ => Asks::Nothing,
        };
        let reads = matches!(live.phase, Phase::Setting | Phase::Armed | Phase::Turning);
        // Between two traces nothing is sent, which is no silence.
        let quiet = live
            .newest
            .filter(|_| reads)
            .map(|newest| newest.max(self.began));
        Shown {
            tool,
            folder,
            live,
            so_far,
            asks,
            units,
            quiet: quiet.map(|newest| Time::from_s(newest.elapsed().as_secs_f64())),
        }
    }
}
