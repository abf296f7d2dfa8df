//! A set-up from the best match of each direction.

use super::aim::Aim;
use super::{Asked, cams, faces, passes};
use crate::card::{Correction, Cuts, Fixture, GrinderCard, Name, Setting, Slide, Surface, Wheel};
use crate::error::Result;
use crate::inspection::folder::Folder;
use crate::inspection::verify::{Before, Moved, Seen};
use crate::judge::diameter_tolerance;
use crate::quantity::{Angle, Length, told};
use crate::record::{
    Bounds, CutSetup, GroundLand, PredictedFigure, SETUP_SCHEMA, Setup, SpotFacts, StandsFacts,
    Verdict, WheelFacts,
};
use crate::setting::BEFORE;
use crate::setting::matching::{
    Cut, Doubts, DrawnLand, End, Face, Goal, Match, NoMatch, Predicted, Spot,
};

/// The set-up for a worn tool as it was measured.
pub(super) fn worked_out(
    folder: &Folder,
    grinder: &GrinderCard,
    asked: &Asked,
    before: &Before,
) -> Result<Setup> {
    let mut setup = begun(folder, grinder, asked, before);
    let mut why = faces::unfit(folder, before);
    why.extend(faces::on_their_faces(before));
    if !why.is_empty() {
        return Ok(refused(setup, why));
    }
    let still = before
        .engaged
        .iter()
        .filter_map(|it| it.stands_still.clone());
    setup.assumptions.extend(still);
    let wheel = cams::wheel(grinder, asked)?;
    setup.wheel = Some(wheel_facts(wheel));
    fill(&mut setup, folder, grinder, asked, before, wheel)?;
    let strange: Vec<String> = setup.cuts.iter().flat_map(strange).collect();
    if !strange.is_empty() {
        setup.cuts.clear();
        setup.predicted.clear();
        return Ok(refused(setup, strange));
    }
    setup.lacks.extend(moved_meanwhile(before));
    setup.lacks.extend(too_little(&setup, before));
    let mut stood = setup.cuts.iter().flat_map(|cut| &cut.stands);
    if !stood.any(|it| it.steady) {
        setup.assumptions.insert(0, AS_IT_RAN.to_owned());
    }
    Ok(setup)
}

/// What a trace of a land in the engaged fixture would show.
const AS_IT_RAN: &str =
    "the tool runs in the fixture as it ran where it was measured; a residual trace would show it";

/// How the fixture stood in each trace of a feature that it moved.
fn stands(
    folder: &Folder,
    before: &Before,
    candidate: &cams::Candidate,
    cut: &CutSetup,
) -> Vec<StandsFacts> {
    let along = before
        .engaged
        .iter()
        .filter(|each| each.stands.direction == cut.along() && each.contradictions.is_empty());
    let each = along.filter_map(|each| {
        let Moved::Lands { feature, z, read } = &each.moved else {
            return None;
        };
        let of = (feature.as_str(), *z);
        let aim = Aim::at(folder, before, candidate, cut, of).ok()?;
        let standing = aim.over(read)?;
        Some(StandsFacts {
            feature: feature.clone(),
            file: each.file.clone(),
            stated_mm: each.stands.throw.mm(),
            throw_mm: standing.throw.value.mm(),
            throw_uncertainty_mm: standing.throw.standard_uncertainty.mm(),
            cam_angle_deg: standing.cam_angle.map(|it| it.value.in_turn().deg()),
            cam_uncertainty_deg: standing.cam_angle.map(|it| it.standard_uncertainty.deg()),
            misfit_mm: standing.misfit.mm(),
            steady: standing.steady,
            strange: standing.strange,
            right: standing.is_right(),
        })
    });
    each.collect()
}

/// Why a trace of a feature in the fixture is not of this tool as it was measured.
fn strange(cut: &CutSetup) -> Vec<String> {
    let strange = cut.stands.iter().filter(|it| it.strange);
    let said = strange.map(|it| {
        format!(
            "{}: what the fixture adds to `{}` is no motion of cam `{}` (rest {}): another tool or cam, the tool was turned in its chuck, the fixture was locked, or the indicator did not follow; take the feature's trace again with the fixture locked, and then this one",
            it.file,
            it.feature,
            cut.cam,
            told::mm(Length::from_mm(it.misfit_mm), 3),
        )
    });
    said.collect()
}

/// The traces of lands in the fixture that tell nothing of how it stands.
fn too_little(setup: &Setup, before: &Before) -> Vec<String> {
    let told = |file: &String| {
        let mut stands = setup.cuts.iter().flat_map(|cut| &cut.stands);
        stands.any(|it| it.file == *file)
    };
    let each = before.engaged.iter().filter(|each| {
        let lands = matches!(each.moved, Moved::Lands { .. });
        lands && each.contradictions.is_empty() && !told(&each.file)
    });
    each.map(|each| {
        format!(
            "how the fixture stands: {} shows too little of lands that are set up in the {} direction",
            each.file,
            each.stands.direction.as_str()
        )
    })
    .collect()
}

/// The traces of lands in the fixture that were taken while its throw was being set.
fn moved_meanwhile(before: &Before) -> Vec<String> {
    let each = before.engaged.iter().filter_map(|each| {
        let said = each.contradictions.first()?;
        matches!(each.moved, Moved::Lands { .. }).then(|| {
            format!(
                "how the fixture stands: {} was taken while it was being set ({said})",
                each.file
            )
        })
    });
    each.collect()
}

/// A set-up that says what it is for and nothing yet of what to set.
fn begun(folder: &Folder, grinder: &GrinderCard, asked: &Asked, before: &Before) -> Setup {
    let goal = match asked.goal {
        Goal::AsItWas { .. } => "as-it-was",
        Goal::AsTheCardWants => "as-the-card-wants",
    };
    Setup {
        schema: SETUP_SCHEMA.to_owned(),
        tool: folder.tool.id.clone(),
        tool_name: folder.tool.name.clone(),
        hand: folder.tool.hand.as_str().to_owned(),
        flutes: folder.tool.flutes,
        grinder: grinder.name.clone(),
        taken: folder.inspection.taken.to_string(),
        worked_out_from: before.record.judged_from.clone().unwrap_or_default(),
        goal: goal.to_owned(),
        verdict: None,
        why: Vec::new(),
        wheel: None,
        cuts: Vec::new(),
        predicted: Vec::new(),
        assumptions: vec![
            "the faces of the teeth are radial: an edge stands at the same angle after the skim"
                .to_owned(),
        ],
        lacks: Vec::new(),
        swivels: Vec::new(),
        lines: Vec::new(),
    }
}

/// The set-up with the reasons why it sets nothing.
fn refused(mut setup: Setup, why: Vec<String>) -> Setup {
    setup.verdict = Some(Verdict::Undecided);
    setup.why = in_words(&why);
    setup
}

/// Sentences of the stages before with their lengths in mm.
pub(super) fn in_words(sentences: &[String]) -> Vec<String> {
    sentences.iter().map(|each| told::read(each).0).collect()
}

fn wheel_facts(wheel: &Wheel) -> WheelFacts {
    WheelFacts {
        name: wheel.name.clone(),
        cuts: wheel.cuts.as_str().to_owned(),
        diameter_mm: wheel.diameter.mm(),
    }
}

/// Matches each direction that the tool has lands in.
fn fill(
    setup: &mut Setup,
    folder: &Folder,
    grinder: &GrinderCard,
    asked: &Asked,
    before: &Before,
    wheel: &Wheel,
) -> Result<()> {
    for direction in [Surface::Radial, Surface::Axial] {
        let seen = faces::along(before, direction);
        if seen.is_empty() {
            continue;
        }
        for (at, each) in seen.iter().enumerate() {
            if !faces::is_first(&seen, at) {
                setup.assumptions.push(several_sections(each));
                continue;
            }
            if faces::asks_for_margin(&each.feature) {
                setup.lacks.push(format!(
                    "`{}`: its card asks for a margin behind the edge, which is left by not grinding up to it; the skim cleans the whole land",
                    each.feature.name
                ));
            }
        }
        let candidates = cams::candidates(folder, grinder, asked, before, direction)?;
        let of = (folder, grinder, asked, before);
        one_direction(setup, of, (direction, &seen), &candidates, wheel);
    }
    if wheel.cuts != Cuts::Rim && !faces::along(before, Surface::Axial).is_empty() {
        setup.assumptions.push(
            "side or corner of the wheel is tilted until one line of it touches an end face"
                .to_owned(),
        );
    }
    let absurd = setup.cuts.iter().find_map(|cut| too_deep(folder, cut));
    setup.why.extend(absurd);
    if setup.why.is_empty() {
        setup.verdict = verdict(&setup.predicted);
    } else {
        setup.verdict = Some(Verdict::Fail);
        setup.cuts.clear();
        setup.predicted.clear();
    }
    Ok(())
}

/// Why a skim is none: nobody takes so much off to clean a tool up.
fn too_deep(folder: &Folder, cut: &CutSetup) -> Option<String> {
    /// Of the diameter, on each side (common practice, no source).
    const MOST: f64 = 0.05;
    let features = folder.tool.features.iter();
    let of_cut = features.filter(|feature| cut.features.contains(&feature.name));
    let least = of_cut.map(|feature| feature.diameter).reduce(Length::min)?;
    (cut.skim_sure_mm > MOST * least.mm()).then(|| {
        format!(
            "{:.3} mm would have to come off in the {} direction, more than a twentieth of the diameter: no skim does that; look at the graduation of the slide, at what was traced, and whether this cam is for this tool",
            cut.skim_sure_mm, cut.direction
        )
    })
}

/// That one in-feed is to clean a feature all along.
fn several_sections(seen: &Seen) -> String {
    let z = seen
        .z
        .map_or(String::new(), |z| format!(" {} mm from the front", z.mm()));
    format!(
        "`{}` is cleaned up{z} by the same in-feed: the wheel runs as its table is swung now, and figures are told of its first section",
        seen.feature.name
    )
}

/// The best of all cams for one direction, or why none will do.
fn one_direction(
    setup: &mut Setup,
    (folder, grinder, asked, before): (&Folder, &GrinderCard, &Asked, &Before),
    (direction, seen): (Surface, &[&Seen]),
    candidates: &[cams::Candidate],
    wheel: &Wheel,
) {
    let highest = seen.iter().map(|it| it.feature.diameter / 2.0);
    let highest = highest.reduce(Length::max).unwrap_or(Length::ZERO);
    let faces: Vec<Face> = seen
        .iter()
        .enumerate()
        .map(|(at, it)| faces::face(it, wheel, highest, faces::is_first(seen, at)))
        .collect();
    let slide = grinder
        .slides
        .iter()
        .find(|slide| slide.direction == direction);
    setup.lacks.extend(no_slide(slide, direction));
    let step = slide.map(|slide| slide.graduation);
    let (best, none) = best_of(
        folder,
        grinder,
        asked,
        (direction, seen),
        candidates,
        &faces,
        step,
    );
    match (best, none) {
        (Some((candidate, found)), _) => {
            setup
                .lacks
                .extend(traced_far_off(candidate, &found, direction));
            let (cut, predicted) = told(&faces, candidate, &found, direction, step);
            let known = |of| correction(grinder, of, &cut.fixture, direction);
            let unknown = scales(candidate, known);
            setup.assumptions.extend(kept(candidate));
            setup.lacks.extend(untried(&unknown, &cut.fixture));
            let cut = CutSetup {
                wear_mm: wear(grinder, &cut.fixture, direction).mm(),
                corrected: used(grinder, &cut.fixture, direction),
                unknown,
                ..cut
            };
            let stands = stands(folder, before, candidate, &cut);
            setup.cuts.push(CutSetup { stands, ..cut });
            setup.predicted.extend(predicted);
        }
        (None, Some((candidate, why))) => {
            setup
                .why
                .push(no_match(&faces, candidate, &why, candidates.len()));
        }
        (None, None) => {}
    }
}

type Best<'c, 'g> = (
    Option<(&'c cams::Candidate<'g>, Match)>,
    Option<(&'c cams::Candidate<'g>, NoMatch)>,
);

/// The cam whose skim is least, and why the first of those will not do that do not.
fn best_of<'c, 'g>(
    folder: &Folder,
    grinder: &GrinderCard,
    asked: &Asked,
    (direction, seen): (Surface, &[&Seen]),
    candidates: &'c [cams::Candidate<'g>],
    faces: &[Face],
    step: Option<Length>,
) -> Best<'c, 'g> {
    let mut best: Option<(&cams::Candidate, Match)> = None;
    let mut none: Option<(&cams::Candidate, NoMatch)> = None;
    for candidate in candidates {
        let corrected = |setting| correction(grinder, setting, &candidate.fixture.name, direction);
        let [throw_gain, cam_lead, feed] = used(grinder, &candidate.fixture.name, direction);
        let cut = Cut {
            faces: faces.to_vec(),
            motion: &candidate.motion,
            fixture: candidate.fixture,
            throw_gain,
            cam_lead: Angle::from_deg(cam_lead),
            feed,
            wear: wear(grinder, &candidate.fixture.name, direction),
            step: step.unwrap_or(Length::ZERO),
            doubts: doubts(folder, seen, candidate, corrected),
            confidence: folder.tool.confidence,
        };
        match cut.find(asked.goal) {
            Ok(found) if best.as_ref().is_none_or(|(_, it)| found.skim < it.skim) => {
                best = Some((candidate, found));
            }
            Ok(_) => {}
            Err(why) => none = none.or(Some((candidate, why))),
        }
    }
    (best, none)
}

/// Whether a cam that was traced moves the tool to the wheel where its lands rise. Without lands, or a
/// wheel, nobody can tell.
pub(super) fn runs_the_other_way(
    folder: &Folder,
    grinder: &GrinderCard,
    before: &Before,
    direction: Surface,
    candidate: &cams::Candidate,
) -> bool {
    let asked = Asked::default();
    let seen = faces::along(before, direction);
    let highest = seen.iter().map(|it| it.feature.diameter / 2.0);
    let (Some(highest), Ok(wheel)) = (highest.reduce(Length::max), cams::wheel(grinder, &asked))
    else {
        return false;
    };
    let faces = seen.iter().enumerate();
    let faces = faces.map(|(at, it)| faces::face(it, wheel, highest, faces::is_first(&seen, at)));
    let faces: Vec<Face> = faces.collect();
    let one = std::slice::from_ref(candidate);
    let of = (direction, seen.as_slice());
    let (_, none) = best_of(folder, grinder, &asked, of, one, &faces, None);
    none.is_some_and(|(_, why)| why.other_hand)
}

/// What a motion that was traced at another time takes for granted.
fn kept(candidate: &cams::Candidate) -> Option<String> {
    candidate.kept.then(|| {
        format!(
            "cam `{}` moves the tool as it did when its motion was traced, from the same zero of the encoder; its cam angle is taken to be good to {:.0}°",
            candidate.cam, BEFORE[1]
        )
    })
}

/// What a skim in whole steps would need.
fn no_slide(slide: Option<&Slide>, direction: Surface) -> Option<String> {
    let lacks = format!(
        "the {} skim in whole steps: add the `[[slide]]` that feeds in, with its graduation",
        direction.as_str()
    );
    slide.is_none().then_some(lacks)
}

/// What a motion would tell more surely if it were traced at a throw that is more like what is set.
fn traced_far_off(candidate: &cams::Candidate, found: &Match, way: Surface) -> Option<String> {
    /// A scale errs by a length: at so small a share of the throw it errs twice as much in proportion.
    const SMALL: f64 = 0.5;
    let traced = candidate.motion.throw;
    let far_off = candidate.motion.traced && traced < found.throw * SMALL;
    far_off.then(|| {
        format!(
            "a surer {} skim: the motion was traced at a throw of {:.3} mm, where the error of the scale weighs more; trace it again at about {:.2} mm",
            way.as_str(),
            traced.mm(),
            found.throw.mm()
        )
    })
}

/// That the scales of a fixture are only thought to be true.
fn untried(unknown: &[f64; 2], fixture: &str) -> Option<String> {
    (unknown[0] >= BEFORE[0]).then(|| {
        format!(
            "how true the scales of `{fixture}` are: taken to be good to {:.0} % of the throw and {:.0}° of the cam angle until its motion is traced, or `setting learn` keeps what a finished grind tells",
            100.0 * BEFORE[0],
            BEFORE[1]
        )
    })
}

/// The corrections of the card that go into a set-up: gain of the throw, degrees that the cam stands
/// ahead, stock over feed.
fn used(grinder: &GrinderCard, fixture: &str, direction: Surface) -> [f64; 3] {
    let value = |of, none| correction(grinder, of, fixture, direction).map_or(none, |it| it.value);
    [
        value(Setting::ThrowGain, 1.0),
        value(Setting::CamAngle, 0.0),
        value(Setting::Feed, 1.0),
    ]
}

/// What the wheel is taken to lose of its radius in a grind.
fn wear(grinder: &GrinderCard, fixture: &str, direction: Surface) -> Length {
    let learnt = correction(grinder, Setting::WheelWear, fixture, direction);
    Length::from_mm(learnt.map_or(0.0, |it| it.value))
}

/// What finished grinds taught of a setting.
pub(super) fn correction<'g>(
    grinder: &'g GrinderCard,
    of: Setting,
    fixture: &str,
    direction: Surface,
) -> Option<&'g Correction> {
    grinder.corrections.iter().find(|it| {
        it.of == of
            && it.fixture.as_deref().is_none_or(|name| name == fixture)
            && it.direction.is_none_or(|way| way == direction)
    })
}

/// Mean rounding of a worn edge, which is rounder than a ground one of 0.008 mm is (common practice, no
/// source).
pub(super) const ROUNDING: Length = Length::from_mm(0.012);

fn doubts<'g>(
    folder: &Folder,
    seen: &[&Seen],
    candidate: &cams::Candidate,
    corrected: impl Fn(Setting) -> Option<&'g Correction>,
) -> Doubts {
    let motion = &candidate.motion;
    // Of a rectangular distribution, by its half-width.
    let even = |half: f64| half / 3f64.sqrt();
    let axis = seen.iter().filter_map(|it| it.axis).reduce(Length::max);
    let edges = seen.iter().flat_map(|it| &it.judgement.teeth);
    let edges = edges.filter_map(|it| Some(it.tooth.as_ref()?.edge.angle.standard_uncertainty));
    let edge = edges.reduce(Angle::max).unwrap_or(Angle::ZERO).rad();
    // The indicator that read the motion may be off by its limit over all of its swing.
    let read = match motion.traced {
        true => even(folder.gauge.indicator.max_error / motion.swing()),
        false => 0.0,
    };
    let [gain, cam] = scales(candidate, &corrected);
    let widest = seen
        .iter()
        .map(|it| it.feature.diameter)
        .reduce(Length::max);
    Doubts {
        indicator: faces::indicator(folder, seen),
        axis: axis.unwrap_or(Length::ZERO),
        gain: gain.hypot(read),
        cam_angle: Angle::from_rad(edge.hypot(cam.to_radians())),
        diameter: card_diameter(widest.unwrap_or(Length::ZERO)),
        edge: Angle::from_rad(edge),
        rounding: ROUNDING,
    }
}

/// Standard uncertainties of the scales themselves: of the throw in parts of it, and of the cam angle in
/// degrees. A motion that was traced in the fixture was read by the same scales. One that a card gives
/// as figures stands on scales of which nothing is known before finished grinds teach it; so does the
/// cam angle of one that was traced at another time.
fn scales<'g>(
    candidate: &cams::Candidate,
    corrected: impl Fn(Setting) -> Option<&'g Correction>,
) -> [f64; 2] {
    let before = match (candidate.motion.traced, candidate.kept) {
        (true, false) => [0.0, 0.0],
        (true, true) => [0.0, BEFORE[1]],
        (false, _) => [BEFORE[0], BEFORE[1]],
    };
    let known = |setting, before| corrected(setting).map_or(before, |it| it.standard_uncertainty);
    [
        known(Setting::ThrowGain, before[0]),
        known(Setting::CamAngle, before[1]),
    ]
}

/// A diameter on a card is that of the tool as measured to this (common practice, no source): it is
/// read by a micrometre before the grind, where the figure that is left is to be trusted.
const CARD_DIAMETER: Length = Length::from_mm(0.02);

/// Standard uncertainty of a diameter on a card: what the readings do not tell of it is what the card says.
pub(super) fn card_diameter(diameter: Length) -> Length {
    diameter_tolerance(diameter).min(CARD_DIAMETER) / 3f64.sqrt()
}

fn told(
    faces: &[Face],
    candidate: &cams::Candidate,
    found: &Match,
    direction: Surface,
    step: Option<Length>,
) -> (CutSetup, Vec<PredictedFigure>) {
    let name = |face: usize| {
        faces
            .get(face)
            .map_or("", |face| face.feature.name.as_str())
    };
    let spot = |spot: &Spot| SpotFacts {
        feature: name(spot.face).to_owned(),
        flute: spot.land as u32 + 1,
        behind_deg: spot.behind.deg(),
    };
    let told_of = faces.iter().filter(|face| face.predicts);
    let pieces = passes::passes(found.sure.enough, step);
    let cut = CutSetup {
        direction: direction.as_str().to_owned(),
        features: told_of.map(|face| face.feature.name.clone()).collect(),
        fixture: candidate.fixture.name.clone(),
        cam: candidate.cam.clone(),
        motion_traced: candidate.motion.traced,
        throw_mm: found.throw.mm(),
        throw_graduation_mm: candidate.fixture.graduation.mm(),
        throw_gain: found.gain,
        cam_angle_deg: found.cam_angle.deg(),
        corrected: [1.0, 0.0, 1.0],
        wear_mm: 0.0,
        strays: strays(candidate.fixture),
        unknown: [0.0; 2],
        cam_free_deg: found.free.map(|(from, to)| [from.deg(), to.deg()]),
        mismatch_mm: found.mismatch.mm(),
        skim_mm: found.skim.mm(),
        skim_uncertainty_mm: found.sure.standard_uncertainty.mm(),
        skim_sure_mm: found.sure.enough.mm(),
        step_mm: step.map(Length::mm),
        passes_mm: pieces.iter().map(|pass| pass.mm()).collect(),
        first_touch: spot(&found.first_touch),
        last_clean: spot(&found.last_clean),
        stands: Vec::new(),
        lands: found
            .drawn
            .iter()
            .filter(|land| faces.get(land.face).is_some_and(|face| face.predicts))
            .map(|land| drawn(name(land.face), land))
            .collect(),
    };
    let predicted = found.predicted.iter();
    let before = |face: usize| Some(faces.get(face)?.feature.diameter.mm());
    let predicted = predicted.map(|figure| PredictedFigure {
        before: figure.name.is_none().then(|| before(figure.face)).flatten(),
        ..predicted_figure(name(figure.face), figure)
    });
    (cut, predicted.collect())
}

/// Within half a graduation and half the play, evenly: as standard uncertainties.
fn strays(fixture: &Fixture) -> [f64; 2] {
    let even = |half: f64| half / 3f64.sqrt();
    let play = fixture.play.map_or(0.0, Length::mm);
    let throw = even(fixture.graduation.mm() / 2.0).hypot(even(play / 2.0));
    let cam = fixture.cam_graduation.map_or(0.0, Angle::deg);
    [throw, even(cam / 2.0)]
}

fn drawn(feature: &str, land: &DrawnLand) -> GroundLand {
    let stock = land
        .places
        .first()
        .map_or(0.0, |(_, old, new)| (*old - *new).mm());
    let places = land.places.iter();
    GroundLand {
        feature: feature.to_owned(),
        flute: land.land as u32 + 1,
        stock_at_edge_mm: stock,
        places: places
            .map(|(behind, old, new)| [behind.deg(), old.mm(), new.mm()])
            .collect(),
    }
}

fn predicted_figure(feature: &str, figure: &Predicted) -> PredictedFigure {
    PredictedFigure {
        feature: feature.to_owned(),
        flute: figure.land.map(|land| land as u32 + 1),
        name: figure.name.map_or("diameter", Name::as_str).to_owned(),
        value: figure.value,
        unit: figure.name.map_or("mm", Name::unit).to_owned(),
        standard_uncertainty: figure.standard_uncertainty,
        interval: figure.interval,
        limit: figure.limit.map(|limit| Bounds {
            min: limit.min,
            max: limit.max,
        }),
        verdict: figure.outcome.map(Verdict::from),
        by: figure.by,
        before: None,
    }
}

/// As that of an inspection: the worst of all figures.
fn verdict(predicted: &[PredictedFigure]) -> Option<Verdict> {
    let has = |verdict| predicted.iter().any(|it| it.verdict == Some(verdict));
    [Verdict::Fail, Verdict::Undecided, Verdict::Pass]
        .into_iter()
        .find(|verdict| has(*verdict))
}

/// Why no setting of any cam keeps the limits, in words.
fn no_match(faces: &[Face], candidate: &cams::Candidate, why: &NoMatch, tried: usize) -> String {
    let fixture = &candidate.fixture.name;
    if why.other_hand {
        return format!(
            "cam `{}` in `{fixture}` runs the other way: it moves the tool to the wheel where its lands rise. It is one of the other hand, or the fixture turns the tool the other way (`turns` on the grinder's card)",
            candidate.cam
        );
    }
    let broken: Vec<String> = why
        .broken
        .iter()
        .map(|(face, name, value)| {
            let feature = faces.get(*face).map(|face| face.feature);
            let limit = feature.and_then(|feature| feature.limits.get(*name));
            let ends = limit.map_or((None, None), |limit| (limit.min, limit.max));
            let asked = match ends {
                (Some(min), Some(max)) => format!("{min} to {max}"),
                (Some(min), None) => format!("{min} or more"),
                (None, Some(max)) => format!("{max} or less"),
                (None, None) => "what it was".to_owned(),
            };
            format!(
                "{} of `{}` would be {value:.3} {}, wanted {asked}",
                name.as_str(),
                feature.map_or("", |feature| feature.name.as_str()),
                name.unit()
            )
        })
        .collect();
    let end = match why.at_end {
        Some(End::Greatest) => ", with the throw open to its end",
        Some(End::Least) => ", with the throw closed to its end",
        None => "",
    };
    let others = match tried {
        1 => "; no other cam is on the grinder's card",
        _ => "; no other cam of the grinder's card does either",
    };
    format!(
        "no setting of cam `{}` in `{fixture}` keeps every limit: at best{end} (throw {:.3} mm, cam angle {:.1}°) {}{others}",
        candidate.cam,
        why.throw.mm(),
        why.cam_angle.deg(),
        broken.join("; ")
    )
}
