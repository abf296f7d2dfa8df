//! What stood above an edge in one turn and not in others, and is let off as a speck.

use super::above::{Above, same_turn, than};
use super::doubt::{Doubt, DoubtKind, Leaves};
use crate::card::Name;
use crate::quantity::{Angle, Length, told};
use crate::trace::Merged;

/// Neighbouring readings of one turn that stood above an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Speck {
    /// The turn that they were taken in, counted from 1.
    turn: u32,
    readings: usize,
    /// How much higher the highest of them stood than it may.
    higher: Length,
    by_limit: bool,
    /// Where it stood.
    behind: Angle,
    angle: Angle,
    last: usize,
}

/// A reading by itself is a spike; what several in a row met was there (common practice, no
/// source).
const WAS_THERE: usize = 2;

/// The specks of a tooth from its readings above the edge, in order of time: those of one turn that
/// lie no further apart than `near` are one.
pub(super) fn specks(merged: &Merged, above: &[Above], near: Angle) -> Vec<Speck> {
    let mut specks: Vec<Speck> = Vec::new();
    for each in above {
        let at = each.standing.single;
        let of_last = |speck: &&mut Speck| {
            let (one, other) = (&merged.singles[speck.last], &merged.singles[at]);
            same_turn(one, other) && (one.angle - other.angle).abs() <= near
        };
        if let Some(speck) = specks.last_mut().filter(|speck| of_last(speck)) {
            speck.readings += 1;
            speck.last = at;
            if each.higher > speck.higher {
                speck.higher = each.higher;
                speck.by_limit = each.by_limit;
                speck.behind = each.behind;
                speck.angle = each.standing.angle;
            }
        } else {
            specks.push(Speck {
                turn: turn(merged, at),
                readings: 1,
                higher: each.higher,
                by_limit: each.by_limit,
                behind: each.behind,
                angle: each.standing.angle,
                last: at,
            });
        }
    }
    specks
}

/// In which turn of the tool a reading was taken, whichever way it was turned.
fn turn(merged: &Merged, single: usize) -> u32 {
    let read = &merged.singles[single];
    let pass = read.pass as usize;
    let before: Angle = merged.passes.iter().take(pass).map(|pass| pass.arc).sum();
    let of_pass = merged.singles.iter().find(|other| other.pass == read.pass);
    let within = of_pass.map_or(Angle::ZERO, |first| (read.angle - first.angle).abs());
    ((before + within) / Angle::TURN).floor() as u32 + 1
}

/// Two specks behind one edge in different turns, of which neither is a spike: what stands there may
/// be one thing that gives way under the tip.
pub(super) fn of_two_turns(specks: &[Speck]) -> Option<(&Speck, &Speck)> {
    let mut were_there = specks.iter().filter(|speck| speck.readings >= WAS_THERE);
    let one = were_there.next()?;
    let other = were_there.find(|speck| speck.turn != one.turn)?;
    Some((one, other))
}

pub(super) fn doubt(tooth: usize, one: &Speck, other: &Speck) -> Doubt {
    let met = |speck: &Speck| {
        format!(
            "{} higher {}, {:.1}° behind it, in turn {}",
            told::um(speck.higher, 1),
            than(speck.by_limit),
            speck.behind.deg(),
            speck.turn
        )
    };
    Doubt {
        tooth: Some(tooth),
        touches: vec![Name::HeelClearance],
        leaves: Leaves::NoPass,
        ..Doubt::about(
            DoubtKind::StandsAboveEdge,
            format!(
                "readings stand up behind the edge in two turns, at another place in each: {} and {}; that may be one burr that bends, or chips that move",
                met(one),
                met(other)
            ),
            "clean the land, look there for a burr, and turn once more slowly over it",
        )
    }
}

/// A line about the highest speck of a tooth, and how many others there were.
pub(super) fn note(feature: &str, tooth: usize, specks: &[Speck]) -> Option<String> {
    let highest = specks.iter().max_by(|a, b| a.higher.total_cmp(&b.higher))?;
    let others = match specks.len() - 1 {
        0 => String::new(),
        1 => ", and so is one other".to_owned(),
        more => format!(", and so are {more} others"),
    };
    Some(format!(
        "feature `{feature}`, flute {}: {} of turn {} up to {} higher {}, {:.1}° behind the edge and at {:.1}° of the encoder, {} let off as a speck or a spike, since other turns do not show anything there{others}",
        tooth + 1,
        match highest.readings {
            1 => "a reading".to_owned(),
            more => format!("{more} readings"),
        },
        highest.turn,
        told::um(highest.higher, 1),
        than(highest.by_limit),
        highest.behind.deg(),
        highest.angle.deg(),
        if highest.readings == 1 { "is" } else { "are" },
    ))
}
