//! Whether the instruments answer, how fast, and how quiet they are, from what was heard of them.

use super::{Check, Instruments, ReadySettings, State, What, index, sense};
use crate::card::{
    Encoder, GaugeCard, Identity, Indicator, Link, Rotation, Sense, Setup, Studies, Stylus,
    StylusShape,
};
use crate::error::{Code, Error, Result};
use crate::inspection::capture::{Heard, HeardDevice, Hearing, Listening, Step, listen};
use crate::judge::Outcome;
use crate::quantity::{Angle, Length, Time};
use crate::study::{self, Finding};
use std::future::Future;

/// What needs a port.
pub(super) const CHECKS: [What; 7] = [
    What::Bridge,
    What::Indicator,
    What::Encoder,
    What::Noise,
    What::Drift,
    What::Index,
    What::Sense,
];

/// Speeds of the line that bridge protocol 1 knows; the first when the card states none.
const SPEEDS: [u32; 4] = [115_200, 250_000, 500_000, 1_000_000];
/// So long a controller that already runs may take to answer.
const ALREADY_RUNS: Time = Time::from_s(0.6);
/// A rate below this share of what the card states is not what the bench was set up for.
const SHARE_LEAST: f64 = 0.9;
/// A bridge's quartz or resonator is far better; worse is another tick than it says.
const CLOCK_OFF: f64 = 0.03;
/// The spacing that a capture wants when nobody says otherwise, for the fastest hand.
const SPACING_DEG: f64 = 0.5;
/// A tool that stands still trembles by a count or two.
const STILL: Angle = Angle::from_rad(0.005);

/// The card, or what a bench without one most likely has: enough to see whether anything answers.
pub(super) fn card_or_usual(card: Option<&GaugeCard>) -> GaugeCard {
    card.cloned().unwrap_or(GaugeCard {
        indicator: Indicator {
            resolution: Length::from_um(1.0),
            travel: None,
            count: None,
            max_error: Length::ZERO,
            hysteresis: Length::ZERO,
            lever_angle: Angle::ZERO,
        },
        stylus: Stylus {
            shape: StylusShape::Point,
            radius: Length::ZERO,
        },
        encoder: Encoder {
            counts_per_turn: 4000,
            sense: Sense::Grows(Rotation::Clockwise),
            sense_proven: None,
        },
        setup: Setup {
            probe_offset: Length::ZERO,
            probe_offset_tolerance: Length::ZERO,
            runout: None,
            lean: None,
            swash: None,
            delay: None,
        },
        link: None,
        identity: Identity::default(),
        studies: Studies::default(),
    })
}

fn link(card: &GaugeCard) -> Link {
    card.link.clone().unwrap_or_default()
}

/// Speed of the indicator's line.
pub(super) fn baud(card: &GaugeCard) -> u32 {
    link(card).baud.unwrap_or(SPEEDS[0])
}

/// Speed of the line of a second instrument that gives the angle.
pub(super) fn angle_baud(card: &GaugeCard) -> u32 {
    link(card).angle_baud.unwrap_or(SPEEDS[0])
}

/// The speed of the line at which a bridge answers, where it does not at the card's.
pub(super) fn answers_at<F: Future<Output = ()>>(
    card: &GaugeCard,
    instruments: &Instruments<'_>,
    hear: &mut dyn FnMut(Hearing<'_>),
    stop: &impl Fn() -> F,
    heard_nothing: bool,
) -> Result<Option<u32>> {
    let quick = Listening {
        rest: Time::ZERO,
        turn: false,
        clockwise: false,
        // A controller that starts anew with each opening had said something, if not in words.
        patience: heard_nothing.then_some(ALREADY_RUNS),
        turn_wait: None,
    };
    for speed in SPEEDS.into_iter().filter(|speed| *speed != baud(card)) {
        hear(Hearing::Trying(speed));
        let heard = listen(
            card,
            (instruments.indicator)(speed),
            None,
            quick,
            hear,
            stop(),
        )?;
        if heard.fault.is_none() {
            return Ok(Some(speed));
        }
    }
    Ok(None)
}

/// Whether the card has the instruments behind a bridge.
pub(super) fn speaks_bridge(card: &GaugeCard) -> bool {
    link(card).protocol.as_deref() != Some("text")
}

/// Every line that the instruments can fill, those of the port itself left out.
pub(super) fn checks(
    settings: &ReadySettings,
    heard: &Heard,
    other_speed: Option<u32>,
) -> Vec<Check> {
    let card = settings.gauge.as_ref();
    let Some(answer) = answered(heard) else {
        let refused = match &heard.fault {
            Some((_, error)) => Check::fault(What::Bridge, &mended(error, other_speed)),
            None => Check::left(What::Bridge, "nothing was listened to"),
        };
        let left = CHECKS.into_iter().skip(1);
        let left = left.map(|what| Check::left(what, "nothing that answers"));
        return std::iter::once(refused).chain(left).collect();
    };
    let mut checks = vec![answer];
    let devices = &heard.devices;
    let reading = devices.iter().find(|device| device.gives_readings);
    let angle = devices.iter().rev().find(|device| device.gives_angles);
    checks.extend(reading.map(|device| indicator(device, card)));
    checks.extend(angle.map(|device| encoder(device, card)));
    checks.extend(at_rest(reading, angle, card));
    checks.push(match (&heard.turned, &heard.fault) {
        (Some(turned), _) => index::check(turned, card.map(|card| card.encoder.counts_per_turn)),
        (None, Some((_, error))) => Check::fault(What::Index, error),
        (None, None) if !settings.listening.turn => Check::left(
            What::Index,
            "not asked for: `--turn` has you turn the tool once or twice by hand",
        ),
        (None, None) => Check::left(What::Index, "an encoder that sends text has no index"),
    });
    let encoder = card.map(|card| card.encoder);
    checks.push(match (heard.clockwise, &heard.fault) {
        (None, Some((_, error))) if settings.listening.clockwise => {
            Check::fault(What::Sense, error)
        }
        (seen, _) => sense::check(seen, encoder.as_ref()),
    });
    checks
}

/// Whether each device answers as it should; nothing where listening ended before that.
fn answered(heard: &Heard) -> Option<Check> {
    if let Some((Step::Open | Step::Answer | Step::Rest, _)) = heard.fault {
        return None;
    }
    let mut said = Vec::new();
    let mut lines = 0;
    for device in &heard.devices {
        lines += device.tally.good + device.tally.refused;
        match one_answers(device) {
            Ok(words) => said.push(words),
            Err((found, advice)) => {
                let found = format!("{}: {found}", device.port);
                let check = Check::mend(What::Bridge, found, advice);
                return Some(check.with("lines", lines as f64));
            }
        }
    }
    let found = format!("{}; {lines} lines, all whole", said.join("; "));
    Some(Check::fine(What::Bridge, found).with("lines", lines as f64))
}

/// What the device says of itself, or what is wrong with it and what to do.
fn one_answers(device: &HeardDevice) -> std::result::Result<String, (String, &'static str)> {
    let tally = &device.tally;
    if tally.restarts + tally.starts > 0 {
        return Err((
            "the controller started anew while it was listened to".to_owned(),
            "check its power and the plug: it loses the angle each time",
        ));
    }
    let repeated = tally.repeated + tally.late;
    if tally.refused + tally.lost + repeated > 0 {
        let lines = tally.good + tally.refused;
        let (damaged, lost) = (tally.refused, tally.lost);
        let mut found = format!("{damaged} of {lines} lines damaged, {lost} lost");
        if repeated > 0 {
            found += &format!(", {repeated} twice or out of order");
        }
        return Err((
            found,
            "check the cable and its shield, keep it off motors, or lower the baud",
        ));
    }
    if !device.is_bridge {
        return Ok("lines that fit the pattern come".to_owned());
    }
    let Some(introduction) = &device.introduction else {
        return Err((
            "samples come, but nothing answers when asked who it is".to_owned(),
            "check the wire from this computer to the bridge",
        ));
    };
    if let Some(off) = clock_off(device) {
        return Err((
            format!(
                "the bridge's clock runs {:.0} % {}",
                off.abs() * 100.0,
                way(off)
            ),
            "flash the firmware made for this controller's clock: times and speeds are wrong",
        ));
    }
    let mut words = "a bridge".to_owned();
    if let Some(id) = &introduction.id {
        words += &format!(" `{id}`");
    }
    if let Some(protocol) = introduction.protocol {
        words += &format!(", protocol {protocol}");
    }
    if let Some(firmware) = &introduction.firmware {
        words += &format!(", firmware {firmware}");
    }
    if let Some(indicator) = &introduction.indicator {
        words += &format!(" for the indicator `{indicator}`");
    }
    Ok(words)
}

/// By which share a bridge's clock runs fast, where that is more than can be.
fn clock_off(device: &HeardDevice) -> Option<f64> {
    let its = device.by_its_clock.filter(|_| device.listened.s() >= 1.0)?;
    let samples = device.angles.len().max(2) as f64;
    // Either end may fall between two samples, a USB adapter keeps bytes back for 16 ms, and a busy
    // computer looks later than it should. A wrong tick is off by far more.
    let slack = (2.0 * its.s() / samples + 0.15) / device.listened.s();
    let off = its.s() / device.listened.s() - 1.0;
    (off.abs() > CLOCK_OFF + slack).then_some(off)
}

const fn way(off: f64) -> &'static str {
    if off > 0.0 { "fast" } else { "slow" }
}

fn mended(error: &Error, other_speed: Option<u32>) -> Error {
    let Some(speed) = other_speed else {
        return error.clone();
    };
    let place = error.place().file.clone().unwrap_or_default();
    let message = format!("{}; at {speed} baud a bridge answers", error.message());
    Error::new(error.code(), message)
        .in_file(place)
        .help(format!(
            "write `baud = {speed}` under `[link]` of the gauge card"
        ))
}

fn indicator(device: &HeardDevice, card: Option<&GaugeCard>) -> Check {
    let what = What::Indicator;
    let tally = &device.tally;
    let Some(rate) = per_second(device.readings.iter().map(|row| row.0)) else {
        let (found, advice) = match device.without_frame {
            true => (
                "the bridge gets no frame from the indicator",
                "switch the indicator and its data output on, and check its data cable",
            ),
            false => (
                "no readings came",
                "check that the indicator is on and sends, and its cable",
            ),
        };
        return Check {
            code: Some(Code::Silence),
            ..Check::mend(what, found, advice)
        };
    };
    if tally.inch_mixed > 0 {
        return Check::mend(
            what,
            "the indicator shows another unit, inches or mm, than the gauge card has its count in",
            "switch the indicator to the unit of its card, or name the card of an indicator in this unit",
        );
    }
    if tally.frames_lost > 0 {
        let found = format!(
            "the bridge dropped {} frames of the indicator",
            tally.frames_lost
        );
        return Check::mend(what, found, "check the indicator's data cable and its plug");
    }
    let stated = card.and_then(readings_stated);
    rated(what, "readings", rate, stated, |words| {
        let turn_s = 360.0 / SPACING_DEG / rate;
        format!("{words}: for one every {SPACING_DEG}°, {turn_s:.0} s a turn or slower")
    })
    .with("readings_per_s", rate)
}

/// Readings a second that the card says or asks for.
fn readings_stated(card: &GaugeCard) -> Option<f64> {
    let link = card.link.as_ref()?;
    let asked = link.request.as_ref().and(link.request_every);
    let asked = asked.map(|every| 1.0 / every.s());
    link.readings_per_s.map(f64::from).or(asked)
}

fn encoder(device: &HeardDevice, card: Option<&GaugeCard>) -> Check {
    let what = What::Encoder;
    let tally = &device.tally;
    let Some(rate) = per_second(device.angles.iter().map(|row| row.0)) else {
        return Check {
            code: Some(Code::Silence),
            ..Check::mend(
                what,
                "no positions came",
                "check that the encoder is plugged in and has power",
            )
        };
    };
    if tally.illegal_steps + tally.counts_lost + tally.jumps > 0 {
        let found = format!(
            "{} steps that cannot be, {} jumps, {} counts lost",
            tally.illegal_steps, tally.jumps, tally.counts_lost
        );
        return Check::mend(
            what,
            found,
            "check the encoder's cable, its shield and its supply: angles go wrong",
        );
    }
    let stated = card.and_then(|card| card.link.as_ref()?.positions_per_s);
    let stated = stated.map(f64::from);
    let counts = card.map(|card| card.encoder.counts_per_turn);
    rated(what, "positions", rate, stated, |words| match counts {
        Some(counts) => format!("{words}; {counts} counts a turn by the card"),
        None => words,
    })
    .with("positions_per_s", rate)
}

/// A rate held to what the card states, where it does.
fn rated(
    what: What,
    of: &str,
    rate: f64,
    stated: Option<f64>,
    more: impl FnOnce(String) -> String,
) -> Check {
    match stated {
        Some(stated) if rate < stated * SHARE_LEAST => Check::mend(
            what,
            format!("{rate:.1} {of} a second, the card says {stated:.0}"),
            "check what was set on the instrument and the bridge, or mend the card",
        ),
        Some(stated) => Check::fine(
            what,
            more(format!("{rate:.1} {of} a second, card {stated:.0}")),
        ),
        None => Check::fine(what, more(format!("{rate:.1} {of} a second"))),
    }
}

/// Rows a second, over the time from the first to the last; nothing before there are two.
fn per_second(times: impl Iterator<Item = Time>) -> Option<f64> {
    let times: Vec<f64> = times.map(Time::s).collect();
    let lasted = times.last()? - times.first()?;
    (lasted > 0.0).then(|| (times.len() - 1) as f64 / lasted)
}

/// Noise and drift, where the tool stood still and the card says what may be expected.
fn at_rest(
    reading: Option<&HeardDevice>,
    angle: Option<&HeardDevice>,
    card: Option<&GaugeCard>,
) -> Vec<Check> {
    let both = [What::Noise, What::Drift];
    let left = |why: &str| both.map(|what| Check::left(what, why)).to_vec();
    let Some(readings) = reading
        .map(|device| &device.readings)
        .filter(|it| !it.is_empty())
    else {
        return left("no readings came");
    };
    let Some(card) = card else {
        return left("`--gauge` names the card that says what may be expected");
    };
    let turned = angle.map_or(Angle::ZERO, reach);
    if turned.rad() > STILL.rad() {
        let found = format!("the tool was turned by {:.1}° meanwhile", turned.deg());
        let advice = "start again, and leave tool and table alone until it is through";
        let check = |what| Check {
            state: State::Unsettled,
            ..Check::mend(what, found.clone(), advice)
        };
        return both.map(check).to_vec();
    }
    match study::rest(readings, card) {
        Ok(study) => (both.into_iter().zip(&study.findings))
            .map(|(what, finding)| judged(what, finding))
            .collect(),
        Err(error) => {
            let check = |what| Check {
                state: State::Unsettled,
                ..Check::mend(what, error.message(), "listen longer with `--seconds`")
            };
            both.map(check).to_vec()
        }
    }
}

fn reach(device: &HeardDevice) -> Angle {
    let angles = device.angles.iter().map(|row| row.1);
    let low = angles.clone().reduce(Angle::min);
    let high = angles.reduce(Angle::max);
    high.zip(low).map_or(Angle::ZERO, |(high, low)| high - low)
}

fn judged(what: What, finding: &Finding) -> Check {
    let um = |mm: f64| mm * 1000.0;
    let mut found = format!("{:.2} µm", um(finding.value));
    if let Some([low, high]) = finding.interval {
        found += &format!(" ({:.2} to {:.2})", um(low), um(high));
    }
    if let Some(most) = finding.allowed {
        found += &format!(", at most {:.2} µm by the card", um(most));
    }
    let check = match finding.outcome {
        Some(Outcome::Pass) | None => Check::fine(what, found),
        Some(Outcome::Fail) => Check::mend(what, found, finding.advice),
        Some(Outcome::Undecided) => Check {
            state: State::Unsettled,
            ..Check::mend(
                what,
                found,
                format!(
                    "listen longer with `--seconds`; if it stays so, {}",
                    finding.advice
                ),
            )
        },
    };
    let check = check.with("value_mm", finding.value);
    match (finding.interval, finding.allowed) {
        (Some([low, high]), Some(most)) => check
            .with("low_mm", low)
            .with("high_mm", high)
            .with("allowed_mm", most),
        _ => check,
    }
}
