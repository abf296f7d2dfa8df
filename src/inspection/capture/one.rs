//! One trace of a capture: from setting the stylus to its file, and whether it goes on the card.

use super::event::{Event, Notice, Order};
use super::files::Files;
use super::session::Session;
use super::taking::Taking;
use super::{CaptureSettings, Wanted};
use crate::card::{Role, TraceEntry};
use crate::error::{Code, Error, Result};
use crate::gauge::frame::Command;
use crate::gauge::raw_log::ArrivalEvent;
use crate::gauge::serial_reader::Delivery;
use crate::inspection::logs::{Made, index_of, make, readings_file, tied};
use crate::quantity::Angle;
use std::future::Future;

/// Why a trace is over.
pub(super) enum Ended {
    Enough,
    /// It is whole, and no index mark ties it to the traces that were kept.
    Untied,
    /// The person does not want it.
    GivenUp,
    Stopped,
    Fault(Error),
}

impl Ended {
    /// A fault, of two the first: the second mostly follows from it.
    fn or_fault(self, fault: Error) -> Self {
        match self {
            Ended::Fault(first) => Ended::Fault(first),
            _ => Ended::Fault(fault),
        }
    }
}

/// What somebody who leads says of a trace beforehand.
#[derive(Clone, Copy)]
pub(super) struct Led<'a> {
    /// Files of the traces that it replaces.
    pub instead_of: &'a [String],
    /// Whether it replaces all of them.
    pub anew: bool,
}

/// A trace while it is taken.
struct UnderWay {
    /// What the card says of it.
    entry: TraceEntry,
    taking: Taking,
    led: bool,
    /// Whether it goes on the card only once it is whole.
    later: bool,
}

impl<S: Future<Output = ()>> Session<'_, S> {
    /// Takes one trace, from setting the stylus to its file. No file where the tool never turned.
    pub(super) async fn trace(
        &mut self,
        settings: &CaptureSettings,
        files: &mut Files,
        wanted: &Wanted,
        last: bool,
        led: Option<Led<'_>>,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Result<(Ended, Option<Made>)> {
        self.forget_the_last(tell)?;
        self.look_for_lost_zero();
        if self.zero_lost && led.is_none() {
            return Ok((Ended::Fault(zero_lost()), None));
        }
        let before = self.losses;
        // A trace that takes the place of others, or has to be tied to them, is put on the card
        // once it is whole.
        let later = led.is_some_and(|led| self.zero_lost || !led.instead_of.is_empty());
        let (entry, logs) = files.begin_trace(wanted, self.slots.len() > 1)?;
        for (slot, log) in self.slots.iter_mut().zip(logs) {
            slot.begin(self.gauge, log)?;
        }
        self.noted = 0;
        let name = match settings.rest {
            Some(_) => "rest".to_owned(),
            None => entry.role.called(),
        };
        if settings.rest.is_none() {
            tell(Notice::Ready {
                trace: &name,
                z: wanted.z,
            });
        }
        self.command(Command::Start);
        // A bridge that measures nothing says so in every trace.
        self.command(Command::Identify);
        let by_hand = led.is_some() && matches!(wanted.role, Role::Residual(..));
        let behind = self.begun > 0;
        let taking = Taking::new(settings, name, last, led.is_none(), behind, by_hand);
        let mut under_way = UnderWay {
            entry,
            taking,
            led: led.is_some(),
            later,
        };
        let mut ended = loop {
            let event = self.next().await;
            if let Some(ended) = self.on(event, &mut under_way, files, tell) {
                break ended;
            }
        };
        let UnderWay { entry, taking, .. } = under_way;
        self.command(Command::Stop);
        if let Err(fault) = self.hear_out(tell).await {
            ended = ended.or_fault(fault);
        }
        self.begun += 1;
        for slot in &self.slots {
            if let Err(fault) = slot.end() {
                ended = ended.or_fault(fault);
            }
            let reads = slot.reader.dropped();
            if reads > 0 {
                tell(Notice::Late { reads });
            }
        }
        self.look_for_lost_zero();
        if self.slots.iter().any(|slot| slot.device.tally().simulated) {
            files.mark_simulated()?;
        }
        if taking.turning_since.is_none() {
            return Ok((ended, None));
        }
        if let Some(by) = taking.disturbed() {
            ended = ended.or_fault(disturbed(by));
        }
        if let Ended::GivenUp = ended {
            files.leave_out(&entry)?;
            return Ok((ended, None));
        }
        Ok(
            match self.finish_trace(files, entry, led, later, before, &mut ended) {
                Ok(made) => (ended, Some(made)),
                // The raw log has it all the same, and `verify` makes it from there.
                Err(fault) => (ended.or_fault(fault), None),
            },
        )
    }

    /// Does what an event in the middle of a trace asks for; tells why the trace is over then.
    fn on(
        &mut self,
        event: Event,
        trace: &mut UnderWay,
        files: &mut Files,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Option<Ended> {
        let done = match event {
            Event::Stop => return Some(Ended::Stopped),
            Event::Order(order) => return self.ordered(&order, trace, tell),
            Event::Delivery(delivery) => self.delivered(delivery, trace, files, tell),
            Event::Tick => self.beat(trace, tell),
        };
        match done {
            Err(fault) => Some(Ended::Fault(fault)),
            Ok(()) => trace.taking.is_over().then_some(Ended::Enough),
        }
    }

    fn ordered(
        &mut self,
        order: &Order,
        trace: &mut UnderWay,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Option<Ended> {
        match order {
            Order::Set { rezeroed } => {
                trace.taking.arm();
                self.rezeroed |= rezeroed | trace.entry.rezeroed;
                trace.entry.rezeroed = self.rezeroed;
                tell(Notice::Set {
                    trace: &trace.taking.progress.trace,
                });
                None
            }
            Order::Enough if trace.taking.turning_since.is_some() => Some(Ended::Enough),
            Order::GiveUp => Some(Ended::GivenUp),
            // One trace at a time: what else is asked comes too early.
            _ => None,
        }
    }

    fn delivered(
        &mut self,
        delivery: Delivery,
        trace: &mut UnderWay,
        files: &mut Files,
        tell: &mut dyn FnMut(Notice<'_>),
    ) -> Result<()> {
        let (device, at) = (delivery.device, delivery.at);
        self.take(delivery, tell)?;
        self.right_unit(device)?;
        let begins = trace.taking.look(&self.slots, device, at);
        if let Some(slot) = self.slots.get_mut(device) {
            slot.device.shed();
        }
        if begins {
            let progress = &trace.taking.progress;
            tell(match progress.rest {
                Some(time) => Notice::AtRest {
                    trace: &progress.trace,
                    time,
                },
                None => Notice::Turning {
                    trace: &progress.trace,
                    entry: &trace.entry,
                },
            });
            for slot in &self.slots {
                slot.reader.note(ArrivalEvent::Start);
            }
            if !trace.later {
                files.keep(&trace.entry)?;
            }
        }
        if trace.led && !trace.taking.seen.is_empty() {
            tell(Notice::Seen(&trace.taking.seen));
        }
        Ok(())
    }

    fn beat(&mut self, trace: &mut UnderWay, tell: &mut dyn FnMut(Notice<'_>)) -> Result<()> {
        tell(Notice::Progress(&trace.taking.progress));
        self.ask_when_due();
        if trace.taking.is_over() {
            return Ok(());
        }
        let mut slots = self.slots.iter_mut();
        slots.try_for_each(|slot| slot.check_silence(tell))
    }

    /// Makes the file of a trace that is over, and puts it on the card where it belongs there.
    fn finish_trace(
        &mut self,
        files: &mut Files,
        entry: TraceEntry,
        led: Option<Led<'_>>,
        later: bool,
        losses_before: u64,
        ended: &mut Ended,
    ) -> Result<Made> {
        let whole = matches!(ended, Ended::Enough);
        let Some(led) = led.filter(|_| whole && (later || self.zero_lost)) else {
            // One that was cut short is on the card already, or stays off it.
            if !later {
                self.rezeroed = false;
            }
            return make(files.folder(), &entry, self.gauge);
        };
        let replaced = |each: &TraceEntry| {
            let file = readings_file(each);
            each.source == entry.source || led.instead_of.iter().any(|one| one == file)
        };
        let alone = files.traces().iter().all(replaced);
        let lost_meanwhile = self.losses > losses_before;
        let mut entry = entry;
        if self.zero_lost && !led.anew && !alone {
            let mut others = files.traces().to_vec();
            others.retain(|each| each.source != entry.source);
            match tied(files.folder(), &others, &entry, self.gauge) {
                Ok(tied) => entry = tied,
                // It began at the zero of the others, and what came after the loss is in doubt.
                Err(_) if !later && self.never_passed_index(files, &entry) => {}
                Err(_) => {
                    *ended = Ended::Untied;
                    files.leave_out(&entry)?;
                    return make(files.folder(), &entry, self.gauge);
                }
            }
        } else {
            // Nothing is kept that is counted from the zero before; but this one may be itself.
            self.zero_lost = lost_meanwhile;
        }
        let made = make(files.folder(), &entry, self.gauge)?;
        let off = (!led.anew).then_some(led.instead_of);
        if let Err(fault) = files.replace(off, &entry) {
            *ended = Ended::Fault(fault);
        }
        self.rezeroed = false;
        Ok(made)
    }

    fn never_passed_index(&self, files: &Files, entry: &TraceEntry) -> bool {
        let entry = std::slice::from_ref(entry);
        index_of(files.folder(), entry, self.gauge).is_unknown()
    }
}

/// Runout is taken off by the angle: a reference of another zero would be worse than none.
fn zero_lost() -> Error {
    let message = "the controller started anew, so this trace's angles do not go with those before";
    Error::new(Code::Protocol, message)
        .help("start again with the reference trace, in a new folder; what was read is kept")
}

fn disturbed(by: Angle) -> Error {
    let message = format!("the tool turned by {:.1}° in a trace at rest", by.deg());
    Error::new(Code::Study, message)
        .help("take it again in a new folder, and leave tool, stylus and table alone meanwhile")
}
