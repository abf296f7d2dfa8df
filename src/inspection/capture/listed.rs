//! A capture of traces that are listed beforehand: each begins when the tool turns.

use super::event::Notice;
use super::files::Files;
use super::one::Ended;
use super::session::{Flow, Session, stopped_early};
use super::{CaptureSettings, Captured};
use crate::card::{GaugeCard, Hand};
use crate::error::Result;
use crate::gauge::Instrument;
use std::future::Future;

pub(super) async fn run(
    settings: &CaptureSettings,
    gauge: &GaugeCard,
    hand: Hand,
    indicator: Box<dyn Instrument>,
    encoder: Option<Box<dyn Instrument>>,
    tell: &mut dyn FnMut(Notice<'_>),
    stop: impl Future<Output = ()>,
) -> Result<Captured> {
    let stop = std::pin::pin!(stop);
    let mut session = Session::open(gauge, Some(hand), indicator, encoder, stop, None)?;
    if session.connect(tell).await? == Flow::Stop {
        return Err(stopped_early());
    }
    let mut files = Files::begin(settings)?;
    let mut captured = Captured {
        traces: Vec::new(),
        interrupted: false,
        fault: None,
    };
    for (number, wanted) in settings.traces.iter().enumerate() {
        let last = number + 1 == settings.traces.len();
        let taken = session.trace(settings, &mut files, wanted, last, None, tell);
        let (ended, made) = match taken.await {
            Ok(taken) => taken,
            // What was taken before is whole; without any there is nothing to tell but the fault.
            Err(fault) if captured.traces.is_empty() => return Err(fault),
            Err(fault) => (Ended::Fault(fault), None),
        };
        if let Some(made) = made {
            tell(Notice::Made(&made));
            captured.traces.push(made);
        }
        match ended {
            Ended::Enough | Ended::GivenUp | Ended::Untied => continue,
            Ended::Stopped => {}
            Ended::Fault(fault) => captured.fault = Some(fault),
        }
        captured.interrupted = true;
        // The card has said so from the start.
        return Ok(captured);
    }
    files.finish()?;
    Ok(captured)
}
