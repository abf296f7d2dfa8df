//! What can happen in a capture, and what a person is told of it.

use super::{Missing, Wanted};
use crate::card::TraceEntry;
use crate::gauge::serial_reader::Delivery;
use crate::inspection::logs::Made;
use crate::quantity::{Angle, Length, Time};
use crate::sample::Seen;
use std::fmt;

/// A tool that has stood for so long in the middle of a trace is told to: a hand that reaches round
/// pauses for less.
pub const STANDS: Time = Time::from_s(1.5);

/// All that the capture loop waits for.
#[derive(Debug)]
pub enum Event {
    /// A device's thread tells something.
    Delivery(Delivery),
    /// It is time to look whether something should have happened.
    Tick,
    /// The person has had enough.
    Stop,
    /// The person at a led capture wants something.
    Order(Order),
}

/// What a person asks of a led capture. Dropping the sender of orders ends it as a stop does.
#[derive(Clone, Debug, PartialEq)]
pub enum Order {
    /// Take this trace: readings are shown, and nothing begins before the stylus is [set](Self::Set).
    Take {
        /// What is traced.
        wanted: Wanted,
        /// Files of the traces that this one replaces on the card, once it is whole. They stay on
        /// disk.
        instead_of: Vec<String>,
        /// Whether it replaces every trace there is: the tool was clamped anew.
        anew: bool,
    },
    /// The stylus is set: the trace begins when the tool turns.
    Set {
        /// Whether the indicator was set to another zero since the trace before.
        rezeroed: bool,
    },
    /// The trace under way has enough.
    Enough,
    /// The trace under way is given up: it is left off the card, and its raw log stays on disk.
    GiveUp,
    /// Everything wanted is taken: the card says so. The port stays open, so that a trace can still
    /// be taken again.
    Complete,
    /// The same, and the port is closed.
    Finish,
}

/// What a person is told. Faults are told as they come; none of them loses what was read.
#[derive(Debug)]
pub enum Notice<'a> {
    /// The instruments answer.
    Connected {
        /// The port.
        port: &'a str,
        /// What it says of itself.
        speaks: &'a str,
    },
    /// A trace is next: the stylus is to be set there, and the tool turned.
    Ready {
        /// The trace's name.
        trace: &'a str,
        /// Where it is taken, where stated.
        z: Option<Length>,
    },
    /// The stylus is set, and the trace begins when the tool turns. Told of a led capture alone.
    Set {
        /// The trace's name.
        trace: &'a str,
    },
    /// Nothing may move now, for so long.
    AtRest {
        /// The trace's name.
        trace: &'a str,
        /// How long.
        time: Time,
    },
    /// The tool began to turn.
    Turning {
        /// The trace's name.
        trace: &'a str,
        /// What the inspection card says of the trace, or will say once it replaces another.
        entry: &'a TraceEntry,
    },
    /// What just came, the newest last. Told of a led capture alone.
    Seen(&'a [Seen]),
    /// A trace was cut short by a fault or a stop; what was read is in its file. Told of a led
    /// capture alone.
    Cut(&'a Made),
    /// A trace was given up; its raw log stays.
    GivenUp,
    /// No trace is under way, and one can be taken. Told of a led capture alone, after everything
    /// that there is to tell of the trace before.
    Waiting,
    /// The card says that everything wanted is taken. Told of a led capture alone.
    Completed,
    /// The controller may count from another zero now. Told of a led capture alone.
    ZeroLost {
        /// Whether the index mark was passed in what is kept, so that it can tie traces to come.
        ties: bool,
    },
    /// A trace is whole, and no index mark ties it to those kept: it is not on the card, and its
    /// files stay. Told of a led capture alone.
    Untied(&'a Made),
    /// How it stands.
    Progress(&'a Progress),
    /// A trace is over and its file is written.
    Made(&'a Made),
    /// Nothing has come for this long.
    Silent {
        /// The port.
        port: &'a str,
        /// For how long.
        since: Time,
    },
    /// What has come for this long could not be read.
    Garbled {
        /// The port.
        port: &'a str,
        /// For how long.
        since: Time,
    },
    /// The device went away.
    Gone {
        /// The port.
        port: &'a str,
    },
    /// It is back.
    Back {
        /// The port it is on now.
        port: &'a str,
    },
    /// The controller started anew.
    Restarted {
        /// The port.
        port: &'a str,
    },
    /// The live picture could not keep up; the log has everything.
    Late {
        /// Reads that were not shown.
        reads: u64,
    },
}

/// How a trace stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Progress {
    /// The trace's name.
    pub trace: String,
    /// The newest reading.
    pub reading: Option<Length>,
    /// The newest angle of the tool, growing the way it cuts.
    pub angle: Option<Angle>,
    /// Share of the turn, 0 to 1, that was passed as often as wanted at the spacing wanted.
    pub covered: f64,
    /// How often that is.
    pub passes: u32,
    /// Whether the hand goes faster than the wanted spacing allows.
    pub too_fast: bool,
    /// Readings in the trace.
    pub readings: u64,
    /// Lines that were refused.
    pub bad_lines: u64,
    /// Lines that were sent and never came.
    pub lost_lines: u64,
    /// Since the tool began to turn, or the trace at rest began.
    pub turning_for: Time,
    /// How long nothing is to move, for a trace at rest.
    pub rest: Option<Time>,
    /// How long it has stood since.
    pub stands_for: Time,
    /// The arcs that are missing, once nearly all of the turn is covered.
    pub missing: Vec<Missing>,
}

impl fmt::Display for Progress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: ", self.trace)?;
        match self.reading {
            Some(reading) => write!(f, "{:+.4} mm", reading.mm())?,
            None => write!(f, "no reading yet")?,
        }
        match self.angle {
            Some(angle) => write!(f, " at {:.1}°", angle.in_turn().deg())?,
            None => write!(f, ", no angle yet")?,
        }
        if let Some(rest) = self.rest {
            write!(
                f,
                ", at rest for {:.0} of {:.0} s",
                self.turning_for.s(),
                rest.s()
            )?;
        } else if self.turning_for > Time::ZERO {
            self.fmt_turning(f)?;
        } else {
            write!(f, ", waiting for the tool to turn")?;
        }
        if self.bad_lines + self.lost_lines > 0 {
            write!(
                f,
                ", {} bad and {} lost lines",
                self.bad_lines, self.lost_lines
            )?;
        }
        Ok(())
    }
}

impl Progress {
    fn fmt_turning(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Rounded down: 100 % is said when every place is covered, and not before.
        let percent = (self.covered * 100.0).floor();
        write!(f, ", {percent} % of the turn covered")?;
        if self.passes > 1 {
            write!(f, " {} times", self.passes)?;
        }
        let missing: Angle = self.missing.iter().map(|arc| arc.width).sum();
        if let Some(first) = self.missing.first() {
            let (missing, from) = (missing.deg(), first.from.deg());
            let of = match self.missing.len() {
                1 => "at".to_owned(),
                arcs => format!("in {arcs} arcs, the first at"),
            };
            write!(f, ", {missing:.1}° missing {of} {from:.0}°")?;
        }
        let speed = if self.stands_for >= STANDS {
            "THE TOOL STANDS STILL: turn on"
        } else if self.too_fast {
            "TOO FAST"
        } else {
            "speed fine"
        };
        write!(f, ", {speed}")
    }
}

impl fmt::Display for Notice<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Notice::Connected { port, speaks } => write!(f, "{port}: {speaks}"),
            Notice::Ready { trace, z } => {
                write!(f, "next: {trace}")?;
                if let Some(z) = z {
                    write!(f, " at {} mm from the front", z.mm())?;
                }
                write!(
                    f,
                    "; set the stylus there, then turn the tool slowly by hand, heel first where it has several teeth"
                )
            }
            Notice::Set { trace } => write!(f, "{trace}: the stylus is set; turn the tool"),
            Notice::AtRest { trace, time } => write!(
                f,
                "{trace}: recording for {:.0} s; leave tool, stylus and table alone",
                time.s()
            ),
            Notice::Turning { trace, .. } => write!(f, "{trace}: the tool turns, recording"),
            Notice::Seen(seen) => write!(f, "{} lines", seen.len()),
            Notice::Cut(made) => write!(f, "cut short: {made}"),
            Notice::GivenUp => write!(
                f,
                "given up; what was read stays in the folder, and is not judged"
            ),
            Notice::Waiting => write!(f, "no trace is under way"),
            Notice::Completed => write!(f, "all that was wanted is taken"),
            Notice::ZeroLost { ties: true } => write!(
                f,
                "the encoder may count from another zero now. What was taken is kept; its index \
                 mark ties the traces to come to it, as long as the tool stays clamped as it was"
            ),
            Notice::ZeroLost { ties: false } => write!(
                f,
                "the encoder may count from another zero now, and no index mark was passed in what \
                 is kept, so nothing more goes with it. What was taken can be judged; to take more, \
                 begin again with the reference: it replaces the earlier traces on the card, and \
                 their files stay"
            ),
            Notice::Untied(made) => write!(
                f,
                "{}: {} readings, but no index mark passed as in the kept traces, so it is not used. \
                 Take it again: whole turns, the way that those were turned",
                made.file, made.readings
            ),
            Notice::Progress(progress) => progress.fmt(f),
            Notice::Made(made) => made.fmt(f),
            Notice::Silent { port, since } => write!(
                f,
                "{port}: nothing has come for {:.0} s; check the cable and that the indicator is on",
                since.s()
            ),
            Notice::Garbled { port, since } => write!(
                f,
                "{port}: nothing that came in {:.0} s could be read; it is in the raw log. Check \
                 the cable, and what the indicator shows",
                since.s()
            ),
            Notice::Gone { port } => write!(
                f,
                "{port}: the device went away; what was read is kept. Plug it in again, in any \
                 socket, without turning the tool"
            ),
            Notice::Back { port } => write!(
                f,
                "{port}: the device is back; the first reading after it is not used"
            ),
            Notice::Restarted { port } => write!(
                f,
                "{port}: the controller started anew and its count began at 0; angles after it are \
                 not used until the index mark has passed"
            ),
            Notice::Late { reads } => write!(
                f,
                "this computer is busy: {reads} reads were not shown; all are in the raw log"
            ),
        }
    }
}
