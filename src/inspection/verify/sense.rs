//! Whether the turning sense that the cards state can be trusted: what was proven, what walls tell.
//!
//! Read backwards, edge and heel change places: a land that drags looks clear, and a flat is a flat
//! either way. So nothing is judged on a sense that was neither proven at the bench nor shows in the
//! trace, nor on one that the trace speaks against.

use crate::card::{Name, Sense};
use crate::inspection::Folder;
use crate::judge::{Doubt, DoubtKind};
use crate::record::{Beyond, JudgedFeature};
use crate::shape::{Facing, Walls};

/// What to write in place of an older statement.
pub(super) fn hint(folder: &Folder, warnings: &mut Vec<String>) {
    let (encoder, hand) = (&folder.gauge.encoder, folder.tool.hand);
    if let Some(relative) = encoder.sense.relative() {
        let (grows, hand) = (encoder.sense.grows(hand), hand.as_str());
        warnings.push(format!(
            "{}: `positive = \"{relative}\"` depends on the hand of the tool, and turns edge and heel round when the card serves one of the other hand; for this {hand}-hand tool it means `grows = \"{grows}\"`, seen from the driven end: write that instead",
            folder.inspection.gauge
        ));
    }
}

/// Takes verdicts away where the sense is in doubt, and says what is taken for granted.
pub(super) fn settle(folder: &Folder, features: &mut [JudgedFeature], beyond: &mut [Beyond]) {
    let encoder = &folder.gauge.encoder;
    let proven = encoder.sense_proven;
    // One encoder and one tool: what the walls of any trace show holds for all of them.
    let all: Vec<Walls> = features
        .iter()
        .filter_map(|each| each.judgement.as_ref()?.walls)
        .collect();
    let of = |facing| all.iter().find(|walls| walls.facing == facing);
    let doubt = match (of(Facing::Reversed), of(Facing::AsStated)) {
        (Some(walls), _) => Some(reversed(walls, proven.is_some())),
        (None, None) if proven.is_none() => Some(unproven()),
        _ => None,
    };
    let assumption = proven.is_none().then(|| {
        let grows = encoder.sense.grows(folder.tool.hand);
        let stated = match encoder.sense {
            Sense::Grows(_) => "as the gauge card states",
            Sense::Relative(_) => "as the gauge card states for a tool of this hand",
        };
        let agree = match of(Facing::AsStated) {
            Some(_) if doubt.is_none() => ", and the walls of the gaps agree",
            _ => "",
        };
        format!(
            "the encoder's angle is taken to grow {grows}, seen from the driven end, {stated}: that was never proven on this bench{agree}"
        )
    });
    for each in features.iter_mut() {
        let Some(judgement) = &mut each.judgement else {
            continue;
        };
        each.assumptions.extend(assumption.clone());
        if let Some(doubt) = &doubt {
            judgement.doubt(doubt.clone());
        }
    }
    for each in beyond.iter_mut() {
        // A face's angle over table travel is the same whichever way the tool turns.
        let turned = each.figures.iter_mut().map(|(_, figure)| figure);
        for figure in turned.filter(|figure| figure.name != Name::FaceAngle) {
            if let Some(doubt) = &doubt {
                doubt.apply(std::slice::from_mut(figure));
            }
        }
    }
}

fn reversed(walls: &Walls, proven: bool) -> Doubt {
    let cure = if proven {
        "check `hand` on the tool card, and prove the encoder's sense again with `heelclear ready --prove-sense`"
    } else {
        "prove it once, on the bench's page or with `heelclear ready --prove-sense`, and check `hand` on the tool card"
    };
    Doubt::about(
        DoubtKind::SenseReversed,
        format!(
            "the other turning sense fits better, in which edge and heel change places: the wall before each edge leans by {:.0}°, that behind each heel by {:.0}°, and it is the steep one that cuts",
            walls.before_edge.deg(),
            walls.behind_heel.deg()
        ),
        cure,
    )
}

fn unproven() -> Doubt {
    Doubt::about(
        DoubtKind::SenseUnproven,
        "the trace fits both turning senses alike, and nobody has proven which way the encoder's angle grows: read the other way, edge and heel change places",
        "prove it once, on the bench's page or with `heelclear ready --prove-sense`",
    )
}
