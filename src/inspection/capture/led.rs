//! A capture that somebody leads: one trace at a time, in any order, each as often as wanted.

use super::event::{Event, Notice, Order};
use super::files::Files;
use super::one::{Ended, Led};
use super::session::{Flow, Session, stopped_early};
use super::{CaptureSettings, Captured};
use crate::card::{GaugeCard, Hand};
use crate::error::Result;
use crate::gauge::Instrument;
use crate::gauge::frame::Command;
use crate::gauge::serial_reader::What;
use crate::inspection::logs::index_of;
use tokio::sync::mpsc;

pub(super) async fn run(
    settings: &CaptureSettings,
    gauge: &GaugeCard,
    hand: Hand,
    indicator: Box<dyn Instrument>,
    encoder: Option<Box<dyn Instrument>>,
    tell: &mut dyn FnMut(Notice<'_>),
    orders: mpsc::UnboundedReceiver<Order>,
) -> Result<Captured> {
    // Who leads ends it by an order, or by going away.
    let stop = std::pin::pin!(std::future::pending());
    let mut session = Session::open(gauge, Some(hand), indicator, encoder, stop, Some(orders))?;
    if session.connect(tell).await? == Flow::Stop {
        return Err(stopped_early());
    }
    let resumed = settings.folder.join("inspection.toml").exists();
    let mut files = if resumed {
        Files::resume(&settings.folder, gauge)?
    } else {
        Files::begin(settings)?
    };
    // Nobody knows what the encoder did while the port was closed.
    session.zero_lost = !files.traces().is_empty();
    if session.zero_lost {
        tell(zero_lost(&files, gauge));
    }
    let mut captured = Captured {
        traces: Vec::new(),
        interrupted: true,
        fault: None,
    };
    session.command(Command::Stop);
    tell(Notice::Waiting);
    loop {
        let known = session.losses;
        let mut waits = false;
        match session.next().await {
            Event::Stop => return Ok(captured),
            Event::Order(Order::Take {
                wanted,
                instead_of,
                anew,
            }) => {
                waits = true;
                files.reopen()?;
                if files.traces().is_empty() {
                    session.zero_lost = false;
                }
                captured.interrupted = true;
                let led = Some(Led {
                    instead_of: &instead_of,
                    anew,
                });
                // Not the last: something must end it, where the person asked for nothing.
                let taken = session.trace(settings, &mut files, &wanted, false, led, tell);
                let (ended, made) = match taken.await {
                    Ok(taken) => taken,
                    Err(fault) => (Ended::Fault(fault), None),
                };
                if let Some(made) = made {
                    tell(match ended {
                        Ended::Enough => Notice::Made(&made),
                        Ended::Untied => Notice::Untied(&made),
                        _ => Notice::Cut(&made),
                    });
                    captured.traces.push(made);
                }
                match ended {
                    Ended::Enough | Ended::Untied => {}
                    Ended::GivenUp => tell(Notice::GivenUp),
                    Ended::Stopped => return Ok(captured),
                    Ended::Fault(fault) => {
                        captured.fault = Some(fault);
                        return Ok(captured);
                    }
                }
            }
            Event::Order(Order::Complete) => {
                files.finish()?;
                captured.interrupted = false;
                tell(Notice::Completed);
            }
            Event::Order(Order::Finish) => {
                files.finish()?;
                captured.interrupted = false;
                return Ok(captured);
            }
            // Nothing is under way that they could be about.
            Event::Order(Order::Set { .. } | Order::Enough | Order::GiveUp) => {}
            Event::Delivery(delivery) => {
                let back = matches!(delivery.what, What::Back(_));
                session.take(delivery, tell)?;
                if back {
                    // It was told to send, which nobody wants between two traces.
                    session.command(Command::Stop);
                }
                session.look_for_lost_zero();
            }
            Event::Tick => {}
        }
        if session.losses > known && !files.traces().is_empty() {
            tell(zero_lost(&files, gauge));
        }
        if waits {
            tell(Notice::Waiting);
        }
    }
}

fn zero_lost(files: &Files, gauge: &GaugeCard) -> Notice<'static> {
    Notice::ZeroLost {
        ties: !index_of(files.folder(), files.traces(), gauge).is_unknown(),
    }
}
