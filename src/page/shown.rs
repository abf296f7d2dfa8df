//! How things stand, as JSON for a page: the whole now and then, the moving part many times a second.

use super::job::{Job, Judging};
use super::problem::for_page;
use super::proving::{Proving, Stage};
use super::session::State;
use super::{dialled, judged};
use crate::card::{GaugeCard, Limits, Rotation, ToolCard};
use crate::inspection::capture::ToGo;
use crate::inspection::instruments::Choice;
use crate::inspection::live::{Broken, Direction, Live, Pace, Phase, StepState, Told, Way, Weight};
use crate::quantity::Length;
use crate::report::Units;
use serde_json::{Map, Value, json};
use std::time::{SystemTime, UNIX_EPOCH};

/// So much of what was told is shown.
const TOLD: usize = 40;

/// Everything but the moving part.
pub(super) fn whole(state: &State, units: Units) -> Value {
    match &state.job {
        None => json!({ "inspection": null }),
        Some(job) => json!({ "inspection": inspection(job, units) }),
    }
}

fn inspection(job: &Job, units: Units) -> Value {
    let live = &job.live;
    let name = job.folder.file_name();
    let (judging, verdict, problem) = match &job.judging {
        Judging::NotYet => ("not-yet", None, None),
        Judging::UnderWay => ("under-way", None, None),
        Judging::Done(record) => ("done", Some(judged::told(record, units)), None),
        Judging::Failed(error) => ("failed", None, Some(for_page(error))),
    };
    let told = live.told.iter().rev().take(TOLD).map(told);
    json!({
        "folder": name.map(|name| name.to_string_lossy()),
        "path": job.whole_path,
        "tool": tool(&job.tool),
        "gauge": gauge(&job.gauge),
        "operator": job.operator,
        "customer": job.customer,
        "temperature_c": job.temperature_c,
        "noted": job.noted.told(),
        "stage": job.stage.as_str(),
        "pretended": job.pretended,
        "simulated": job.is_simulated(),
        "choice": job.choice.as_ref().map(choice),
        "unplugged": job.simulation.as_ref().map(|simulation| simulation.is_unplugged()),
        "cautioned": job.cautioned,
        "sense": sense(job),
        "phase": phase(live.phase),
        "current": live.current,
        "next": live.next(),
        "steps": steps(live),
        "resolution_mm": job.gauge.indicator.resolution.mm(),
        "spacing_deg": live.plan.spacing.deg(),
        "passes": live.plan.passes,
        "gone": live.gone,
        "broken": match live.broken {
            None => None,
            Some(Broken::Asks { ties: true }) => Some("asks"),
            Some(Broken::Asks { ties: false }) => Some("cannot-be-tied"),
            Some(Broken::Tied) => Some("tied"),
            Some(Broken::Anew) => Some("anew"),
        },
        "zero_in_question": live.zero_in_question,
        "told": told.collect::<Vec<_>>(),
        "judging": judging,
        "verdict": verdict,
        "problem": problem,
        "kept": job.kept,
    })
}

/// Whether the encoder's turning sense is proven, and how far proving it is.
fn sense(job: &Job) -> Value {
    let encoder = &job.gauge.encoder;
    let stated = encoder.sense.grows(job.tool.hand);
    let stage = job.proving.as_ref().map(|proving| proving.stage);
    let seen = job.proving.as_ref().and_then(Proving::seen);
    let (stage, gone) = match stage {
        None => (None, None),
        Some(Stage::Opening) => (Some("opening"), None),
        Some(Stage::Turning(by)) => (Some("turning"), Some(by)),
        Some(Stage::Seen(by)) => (Some("seen"), Some(by)),
    };
    json!({
        "proven": encoder.sense_proven.is_some(),
        "wanted": job.proof_wanted,
        "asked": job.asks_for_proof(),
        "stated": stated.as_str(),
        "stage": stage,
        "gone_deg": gone.map(|gone| gone.deg()),
        "seen": seen.map(Rotation::as_str),
        "card": job.gauge_file,
    })
}

fn choice(choice: &Choice) -> Value {
    match choice {
        Choice::Ports { indicator, encoder } => {
            json!({ "port": indicator, "encoder_port": encoder })
        }
        Choice::Simulated { faster, .. } => json!({ "faster": faster }),
    }
}

/// What touches the tool, and where its line passes.
fn gauge(gauge: &GaugeCard) -> Value {
    json!({
        "shape": gauge.stylus.shape.as_str(),
        "radius_mm": gauge.stylus.radius.mm(),
        "probe_offset_mm": gauge.setup.probe_offset.mm(),
    })
}

/// What a page draws of a tool, and judges it by.
pub(super) fn tool(tool: &ToolCard) -> Value {
    let features = tool.features.iter().map(|feature| {
        json!({
            "name": feature.name,
            "surface": feature.surface.as_str(),
            "diameter_mm": feature.diameter.mm(),
            "check_distance_mm": feature.check_distance.mm(),
            "land_deg": feature.land.map(|land| land.deg()),
            "limits": limits(&feature.limits),
        })
    });
    json!({
        "id": tool.id,
        "name": tool.name,
        "flutes": tool.flutes,
        "hand": tool.hand.as_str(),
        // Heel first, seen from the driven end.
        "heel_turns": tool.hand.cuts().reversed().as_str(),
        "features": features.collect::<Vec<_>>(),
    })
}

fn limits(limits: &Limits) -> Value {
    let each = limits.iter().map(|(name, limit)| {
        let ends = json!({ "min": limit.min, "max": limit.max, "unit": name.unit() });
        (name.as_str().to_owned(), ends)
    });
    Value::Object(each.collect::<Map<_, _>>())
}

fn steps(live: &Live) -> Vec<Value> {
    let steps = live.plan.steps.iter().map(|step| {
        let (state, traced) = match &step.state {
            StepState::Open => ("open", None),
            StepState::Taken(traced) => ("taken", Some(traced)),
            StepState::Short(traced) => ("short", Some(traced)),
        };
        json!({
            "name": step.name(),
            "role": step.wanted.role.as_str(),
            "feature": step.wanted.role.feature(),
            "throw_mm": step.wanted.role.engaged().map(|engaged| engaged.throw.mm()),
            "z_mm": step.wanted.z.map(Length::mm),
            "diameter_mm": step.wanted.diameter.map(Length::mm),
            "rezeroed": step.wanted.rezeroed,
            "state": state,
            "file": traced.map(|traced| &traced.file),
            "readings": traced.and_then(|traced| traced.readings),
            "warnings": traced.map(|traced| &traced.warnings),
        })
    });
    steps.collect()
}

fn told(told: &Told) -> Value {
    json!({
        "number": told.number,
        "at": told.at.to_string(),
        "fault": told.weight == Weight::Fault,
        "text": told.text,
    })
}

const fn phase(phase: Phase) -> &'static str {
    match phase {
        Phase::Closed => "closed",
        Phase::Connecting => "connecting",
        Phase::Between => "between",
        Phase::Setting => "setting",
        Phase::Armed => "armed",
        Phase::Turning => "turning",
    }
}

/// The moving part: readings as they come, and the places of the turn that changed since a version
/// that the page has seen; all of them where it has seen another round.
pub(super) fn moving(live: &Live, seen: (u64, u64)) -> Value {
    let round = &live.round;
    let motion = &live.motion;
    let from = if seen.0 == live.round_number {
        seen.1
    } else {
        0
    };
    let passes: Vec<u32> = round.passes().collect();
    let cells = round.changed_since(from).map(|(place, cell)| {
        let (least, most) = cell.readings.unwrap_or_default();
        let um = |length: Length| (length.um() * 100.0).round() / 100.0;
        let passes = passes.get(place).copied().unwrap_or(0);
        json!([place, um(least), um(most), passes])
    });
    let age = live
        .newest
        .map(|newest| newest.elapsed().as_secs_f64() * 1000.0);
    json!({
        "phase": phase(live.phase),
        "reading_mm": live.reading.map(Length::mm),
        "angle_deg": live.angle.map(|angle| angle.deg()),
        "turned_deg": motion.turned().deg(),
        "speed_deg_s": motion.speed().deg_per_s(),
        "most_deg_s": motion.most().map(|most| most.deg_per_s()),
        "rate_hz": motion.rate_hz(),
        // The same for the eye: slow enough to be followed, with the range that is wanted.
        "steady_deg_s": motion.steady().deg_per_s(),
        "wanted_deg_s": motion.wanted().map(|(least, most)| [least.deg_per_s(), most.deg_per_s()]),
        "way": match live.way() {
            Way::Still => "still",
            Way::Right => "right",
            Way::Wrong => "wrong",
        },
        "heel_first": live.heel_first(),
        "stands": live.stands(),
        "to_go": live.to_go().as_ref().map(to_go),
        "direction": match motion.direction() {
            Direction::Still => "still",
            Direction::Cutting => "cutting",
            Direction::Backing => "backing",
        },
        "pace": match motion.pace() {
            Pace::Unknown => "unknown",
            Pace::Slower => "slower",
            Pace::Right => "right",
            Pace::Faster => "faster",
        },
        "covered": round.covered(live.plan.passes),
        "covered_once": round.covered(1),
        "readings": live.progress.readings,
        "missing": live.missing_in_trace(),
        "dial": dialled::dial(&live.dial),
        "places": round.cells().len(),
        "cells": cells.collect::<Vec<_>>(),
        "whole": from == 0,
        // When the newest line was taken in, by this computer's clock.
        "newest_ms": age.map(|age| now_ms() - age),
    })
}

/// The little that is missing at the end, and where.
fn to_go(to_go: &ToGo) -> Value {
    let arcs = to_go.arcs.iter();
    json!({
        "missing_deg": to_go.missing.deg(),
        "next_deg": to_go.next.deg(),
        "all_deg": to_go.all.deg(),
        "arcs": arcs.map(|arc| [arc.from.deg(), arc.width.deg()]).collect::<Vec<_>>(),
    })
}

fn now_ms() -> f64 {
    let now = SystemTime::now().duration_since(UNIX_EPOCH);
    now.map_or(0.0, |now| now.as_secs_f64() * 1000.0)
}
