//! A capture from the first answer to its end: traces that were listed beforehand, or one at a time as
//! somebody leads, in any order, each as often as wanted. A list is nothing but orders known before.

use super::event::{Event, Notice, Order};
use super::files::Files;
use super::one::{Ended, Led};
use super::session::{Flow, Session, stopped_early};
use super::{CaptureSettings, Captured, Wanted};
use crate::card::GaugeCard;
use crate::error::Result;
use crate::gauge::Instrument;
use crate::gauge::frame::Command;
use crate::gauge::serial_reader::{Delivery, What};
use crate::inspection::logs::index_of;
use std::future::Future;
use std::ops::ControlFlow;
use tokio::sync::mpsc::UnboundedReceiver;

/// Takes what `settings` list, or without a list what `orders` ask for.
pub(super) async fn run(
    settings: &CaptureSettings,
    indicator: Box<dyn Instrument>,
    encoder: Option<Box<dyn Instrument>>,
    tell: &mut dyn FnMut(Notice<'_>),
    stop: impl Future<Output = ()>,
    orders: Option<UnboundedReceiver<Order>>,
) -> Result<Captured> {
    let hand = settings.tool()?.map(|tool| tool.hand);
    let gauge = GaugeCard::parse(&settings.gauge_card, "gauge.toml")?;
    let led = orders.is_some();
    let stop = std::pin::pin!(stop);
    let mut session = Session::open(&gauge, hand, indicator, encoder, stop, orders)?;
    if session.connect(tell).await? == Flow::Stop {
        return Err(stopped_early());
    }
    let resumed = led && settings.folder.join("inspection.toml").exists();
    let files = if resumed {
        Files::resume(&settings.folder, &gauge)?
    } else {
        Files::begin(settings)?
    };
    let mut capture = Capture {
        settings,
        led,
        session,
        files,
        captured: Captured {
            traces: Vec::new(),
            // The card says so from the start.
            interrupted: true,
            fault: None,
        },
    };
    if led {
        capture.wait_for_orders(tell);
    }
    let mut list = listed(settings, led).into_iter();
    loop {
        let event = match list.next() {
            Some(order) => Event::Order(order),
            None => capture.session.next().await,
        };
        // Behind the last trace of a list there is nothing but its end.
        let last = !led && list.len() == 1;
        if capture.on(event, last, tell).await?.is_break() {
            return Ok(capture.captured);
        }
    }
}

/// What a list asks for, to its end.
fn listed(settings: &CaptureSettings, led: bool) -> Vec<Order> {
    if led {
        return Vec::new();
    }
    let take = |wanted: Wanted| Order::Take {
        wanted,
        instead_of: Vec::new(),
        anew: false,
    };
    let traces = settings.wanted().into_iter().map(take);
    traces.chain(std::iter::once(Order::Finish)).collect()
}

/// A capture whose instruments answer.
struct Capture<'a, S> {
    settings: &'a CaptureSettings,
    led: bool,
    session: Session<'a, S>,
    files: Files,
    captured: Captured,
}

impl<S: Future<Output = ()>> Capture<'_, S> {
    fn wait_for_orders(&mut self, tell: &mut dyn FnMut(Notice<'_>)) {
        // Nobody knows what the encoder did while the port was closed.
        self.session.zero_lost = !self.files.traces().is_empty();
        if self.session.zero_lost {
            tell(self.zero_lost());
        }
        self.session.command(Command::Stop);
        tell(Notice::Waiting);
    }

    /// Does what an event between two traces asks for.
    async fn on(
        &mut self,
        event: Event,
        last: bool,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Result<ControlFlow<()>> {
        let known = self.session.losses;
        let mut waits = false;
        match event {
            Event::Stop => return Ok(ControlFlow::Break(())),
            Event::Order(Order::Take {
                wanted,
                instead_of,
                anew,
            }) => {
                let led = Led {
                    instead_of: &instead_of,
                    anew,
                };
                if self.take(&wanted, last, led, tell).await?.is_break() {
                    return Ok(ControlFlow::Break(()));
                }
                waits = true;
            }
            Event::Order(Order::Complete) => {
                self.finish()?;
                tell(Notice::Completed);
            }
            Event::Order(Order::Finish) => {
                self.finish()?;
                return Ok(ControlFlow::Break(()));
            }
            // Nothing is under way that they could be about.
            Event::Order(Order::Set { .. } | Order::Enough | Order::GiveUp) => {}
            Event::Delivery(delivery) => self.between(delivery, tell)?,
            Event::Tick => {}
        }
        if self.led && self.session.losses > known && !self.files.traces().is_empty() {
            tell(self.zero_lost());
        }
        if self.led && waits {
            tell(Notice::Waiting);
        }
        Ok(ControlFlow::Continue(()))
    }

    /// Takes one trace; breaks where it ended the capture.
    async fn take(
        &mut self,
        wanted: &Wanted,
        last: bool,
        led: Led<'_>,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Result<ControlFlow<()>> {
        self.files.reopen()?;
        if self.files.traces().is_empty() {
            self.session.zero_lost = false;
        }
        self.captured.interrupted = true;
        let led = Some(led).filter(|_| self.led);
        let trace = self
            .session
            .trace(self.settings, &mut self.files, wanted, last, led, tell);
        let (ended, made) = match trace.await {
            Ok(taken) => taken,
            // What was taken before is whole; without any there is nothing to tell but the fault.
            Err(fault) if !self.led && self.captured.traces.is_empty() => return Err(fault),
            Err(fault) => (Ended::Fault(fault), None),
        };
        if let Some(made) = made {
            tell(match ended {
                Ended::Untied => Notice::Untied(&made),
                Ended::Enough => Notice::Made(&made),
                _ if self.led => Notice::Cut(&made),
                _ => Notice::Made(&made),
            });
            self.captured.traces.push(made);
        }
        match ended {
            Ended::Enough | Ended::Untied => {}
            Ended::GivenUp => tell(Notice::GivenUp),
            Ended::Stopped => return Ok(ControlFlow::Break(())),
            Ended::Fault(fault) => {
                self.captured.fault = Some(fault);
                return Ok(ControlFlow::Break(()));
            }
        }
        Ok(ControlFlow::Continue(()))
    }

    /// Listens on where no trace is under way.
    fn between(&mut self, delivery: Delivery, tell: &mut dyn FnMut(Notice<'_>)) -> Result<()> {
        let back = matches!(delivery.what, What::Back(_));
        self.session.take(delivery, tell)?;
        if back {
            // It was told to send, which nobody wants between two traces.
            self.session.command(Command::Stop);
        }
        self.session.look_for_lost_zero();
        Ok(())
    }

    /// Everything wanted is taken, and the card says so.
    fn finish(&mut self) -> Result<()> {
        self.files.finish()?;
        self.captured.interrupted = false;
        Ok(())
    }

    fn zero_lost(&self) -> Notice<'static> {
        let index = index_of(self.files.folder(), self.files.traces(), self.session.gauge);
        Notice::ZeroLost {
            ties: !index.is_unknown(),
        }
    }
}
