//! Margins: found where they are, not where they are not, and free curves in their place.

use super::lands::*;
use heelclear::card::{CurveChoice, Surface};
use heelclear::fit::{Choice, Curve, Doubt, Family, FitSettings, choose, fit};
use heelclear::quantity::{Angle, Length};
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

/// What is chosen for a land of the curve with noise of 1 µm, white or not, in 240 places.
fn chosen(truth: &Curve, end: Angle, correlation: f64, random: &mut Pcg64Mcg) -> Choice {
    let errors = noise(241, um(1.0), correlation, random);
    let mut land = Sampled::of(truth, end, 240, um(1.0)).with(&errors);
    land.points
        .iter_mut()
        .for_each(|point| point.drop += errors[240]);
    choose(&land.land(), &FitSettings::default()).unwrap()
}

#[test]
fn a_sharp_land_is_given_no_margin() {
    let mut random = Pcg64Mcg::seed_from_u64(61);
    for surface in [Surface::Radial, Surface::Axial] {
        for (truth, end) in examples(surface) {
            if truth.margin().is_some() {
                continue;
            }
            for round in 0..12 {
                let correlation = [0.0, 0.5, 0.8][round % 3];
                let choice = chosen(&truth, end, correlation, &mut random);
                assert_eq!(choice.best.curve.margin(), None, "{truth:?}");
            }
        }
    }
}

/// A land that a wheel of 150 mm leaves under a parabolic cam of 0.8 mm over 60° which began to rise 11°
/// before the edge: `r = R0 - m - (W / (R + W)) m'^2 / (2 R)` to second order (first principles). It
/// falls by 4° at its edge and by 6° a millimetre behind.
fn ground_under_a_cam(arc: f64) -> f64 {
    const WHEEL_MM: f64 = 75.0;
    let (radius, rise, over) = (RADIUS.mm(), 0.8, 60f64.to_radians());
    let below = |arc: f64| {
        let at = (arc + 11f64.to_radians()) / over;
        let (moved, slope) = match at < 0.5 {
            true => (2.0 * at * at, 4.0 * at),
            false => (1.0 - 2.0 * (1.0 - at).powi(2), 4.0 * (1.0 - at)),
        };
        let slope = rise * slope / over;
        rise * moved + WHEEL_MM / (radius + WHEEL_MM) * slope * slope / (2.0 * radius)
    };
    below(arc) - below(0.0)
}

#[test]
fn a_land_that_falls_less_at_its_edge_than_behind_it_has_no_margin() {
    let mut random = Pcg64Mcg::seed_from_u64(67);
    let end = deg(40.0);
    let any = Curve::flat(Surface::Radial, RADIUS, deg(7.0));
    for _ in 0..12 {
        let errors = noise(91, um(0.5), 0.0, &mut random);
        let mut land = Sampled::of(&any, end, 90, um(0.5));
        for (point, error) in land.points.iter_mut().zip(&errors) {
            let drop = ground_under_a_cam(point.arc.rad());
            point.drop = Length::from_mm(drop) + *error + errors[90];
        }
        let best = choose(&land.land(), &FitSettings::default()).unwrap().best;
        assert_eq!(best.curve.margin(), None, "{:?}", best.curve);
        let slope = ground_under_a_cam(1e-5) / 1e-5 / RADIUS.mm();
        let off = best.relief_angle().value.deg() - slope.atan().to_degrees();
        assert!(off.abs() < 1.5, "{off}");
    }
}

#[test]
fn a_margin_is_found_and_is_as_wide_as_it_should_be() {
    let mut random = Pcg64Mcg::seed_from_u64(62);
    for (truth, end) in examples(Surface::Radial) {
        let Some(width) = truth.margin() else {
            continue;
        };
        for _ in 0..12 {
            let best = chosen(&truth, end, 0.0, &mut random).best;
            let found = best.without_relief(end);
            assert!(best.curve.margin().is_some(), "{truth:?}");
            assert_eq!(best.relief_angle().value, Angle::ZERO);
            assert!(
                (found.value - width).abs() < found.standard_uncertainty * 4.0,
                "{} ± {}, true is {}",
                found.value.deg(),
                found.standard_uncertainty.deg(),
                width.deg()
            );
            assert_eq!(best.trust.doubts, []);
        }
    }
}

#[test]
fn a_margin_that_nothing_but_the_edge_speaks_for_is_a_doubt() {
    let mut random = Pcg64Mcg::seed_from_u64(63);
    let land = Curve::flat(Surface::Radial, RADIUS, deg(7.0)).behind_margin(deg(0.12));
    let best = chosen(&land, deg(12.0), 0.0, &mut random).best;
    assert_eq!(best.curve.margin(), None);
    let apart = |doubt: &Doubt| matches!(doubt, Doubt::EdgeApart(below) if *below > um(1.0));
    let undoubted = best.trust.is_full() && best.edge_offset.value.abs() < um(4.0);
    assert!(
        undoubted || best.trust.doubts.iter().any(apart),
        "{:?}",
        best.trust
    );
}

#[test]
fn a_rising_land_has_no_relief_until_it_falls_below_its_edge() {
    let arc = Curve::arc(Surface::Radial, RADIUS, deg(-2.0), 2.0);
    let bare = arc.without_relief(deg(60.0));
    assert!(bare > deg(1.0) && bare < deg(60.0), "{}", bare.deg());
    assert!(arc.drop(bare).abs() < um(1e-3));
    assert!(arc.drop(bare * 0.5) < Length::ZERO && arc.drop(bare * 1.1) > Length::ZERO);
    let flat = Curve::flat(Surface::Radial, RADIUS, deg(-2.0));
    assert_eq!(flat.without_relief(deg(9.0)), deg(9.0));
    let sharp = Curve::flat(Surface::Radial, RADIUS, deg(7.0));
    assert_eq!(sharp.without_relief(deg(9.0)), Angle::ZERO);
    let margined = sharp.behind_margin(deg(1.5));
    assert_eq!(margined.without_relief(deg(9.0)), deg(1.5));
    assert_eq!(margined.drop(deg(1.5)), Length::ZERO);
    let behind = (margined.drop(deg(4.0)) - sharp.drop(deg(2.5))).abs();
    assert!(behind < um(1e-9));
}

/// Asked of a sharp land, the answer of its fit to a margin is what repeats scatter.
#[test]
fn what_a_margin_could_hide_is_what_repeats_scatter() {
    let mut random = Pcg64Mcg::seed_from_u64(64);
    for truth in [
        Curve::flat(Surface::Radial, RADIUS, deg(7.0)),
        Curve::arc(Surface::Radial, RADIUS, deg(6.0), 0.6),
        facets(Surface::Radial, 7.0, 4.0, 18.0),
    ] {
        let (mut squares, mut stated) = (0.0, 0.0);
        for _ in 0..200 {
            let errors = noise(241, um(1.0), 0.0, &mut random);
            let mut land = Sampled::of(&truth, deg(12.0), 240, um(1.0)).with(&errors);
            land.points
                .iter_mut()
                .for_each(|point| point.drop += errors[240]);
            let land = land.land();
            let found = fit_as(&truth, &land).unwrap();
            let asked = found.margin_response(&land).unwrap().margin().unwrap();
            squares += asked.value.rad().powi(2);
            stated += asked.standard_uncertainty.rad().powi(2);
        }
        let ratio = (stated / squares).sqrt();
        assert!((0.8..1.25).contains(&ratio), "{truth:?}: {ratio}");
    }
}

#[test]
fn a_free_curve_follows_what_no_family_does() {
    let settings = FitSettings::default();
    let mut random = Pcg64Mcg::seed_from_u64(65);
    let spiral = Curve::spiral(Surface::Radial, RADIUS, deg(6.0));
    let end = deg(50.0);
    let wave = |arc: Angle| um(12.0 * (arc.deg() * 0.16).sin() * (1.0 + arc.deg() / 40.0));
    let (mut off, mut stated) = ([0.0; 2], [0.0; 2]);
    const REPEATS: usize = 60;
    for _ in 0..REPEATS {
        let mut land =
            Sampled::of(&spiral, end, 240, um(1.0)).with(&noise(240, um(1.0), 0.0, &mut random));
        for point in &mut land.points {
            point.drop += wave(point.arc);
        }
        let choice = choose(&land.land(), &settings).unwrap();
        assert_eq!(choice.best.family(), Family::Free);
        assert_eq!(choice.best.trust.doubts, []);
        let tried = |family| choice.others.iter().any(|other| other.family == family);
        assert!(tried(Family::Cam) && tried(Family::Flat));
        let slope = spiral.slope(Angle::ZERO).mm() + wave(deg(1e-3)).mm() / deg(1e-3).rad();
        let relief = choice.best.relief_angle();
        let drop = choice.best.drop_below_edge(deg(15.0), Some(Length::ZERO));
        off[0] += (relief.value.rad() - (slope / RADIUS.mm()).atan()).powi(2);
        off[1] += (drop.value - spiral.drop(deg(15.0)) - wave(deg(15.0)))
            .mm()
            .powi(2);
        stated[0] += relief.standard_uncertainty.rad().powi(2);
        stated[1] += drop.standard_uncertainty.mm().powi(2);
    }
    for (stated, off) in stated.iter().zip(off) {
        let ratio = (stated / off).sqrt();
        assert!(
            (0.8..3.0).contains(&ratio),
            "reported is {ratio:.2} of the scatter"
        );
    }
}

#[test]
fn a_free_curve_is_less_sure_than_the_family_that_is_true() {
    let mut random = Pcg64Mcg::seed_from_u64(66);
    for (truth, end) in examples(Surface::Radial) {
        if truth.margin().is_some() {
            continue;
        }
        let land =
            Sampled::of(&truth, end, 240, um(1.0)).with(&noise(240, um(1.0), 0.0, &mut random));
        let own = fit_as(&truth, &land.land()).unwrap().relief_angle();
        let free = fit(&land.land(), Family::Free, &FitSettings::default()).unwrap();
        let free = free.relief_angle();
        assert!(
            free.standard_uncertainty > own.standard_uncertainty * 0.9,
            "{truth:?}: {} and {}",
            free.standard_uncertainty.deg(),
            own.standard_uncertainty.deg()
        );
        let apart = (free.value - truth.relief_angle()).abs();
        assert!(
            apart < free.standard_uncertainty * 4.0,
            "{truth:?}: {} of {}",
            apart.deg(),
            free.standard_uncertainty.deg()
        );
    }
}

#[test]
fn a_free_curve_is_never_chosen_over_a_family_that_explains_the_land() {
    let mut random = Pcg64Mcg::seed_from_u64(67);
    for (truth, end) in examples(Surface::Axial) {
        for correlation in [0.0, 0.8] {
            let choice = chosen(&truth, end, correlation, &mut random);
            assert_ne!(choice.best.family(), Family::Free, "{truth:?}");
            assert!(
                choice
                    .others
                    .iter()
                    .all(|other| other.family != Family::Free)
            );
        }
    }
}

/// The linear answer of a fit beside the changed land fitted anew.
#[test]
fn the_answer_to_a_change_is_that_of_another_fit() {
    let mut random = Pcg64Mcg::seed_from_u64(68);
    let mut all = examples(Surface::Radial);
    // Its lead sticks at its bound; its return has nothing to say.
    all.push((
        cam(
            Surface::Radial,
            heelclear::fit::Law::Harmonic,
            0.0,
            deg(60.0),
        ),
        deg(60.0),
    ));
    for (truth, end) in all {
        let errors = noise(240, um(0.5), 0.0, &mut random);
        let wave = noise(240, um(0.05), 0.95, &mut random);
        let before = Sampled::of(&truth, end, 240, um(1.0)).with(&errors);
        let after = Sampled::of(&truth, end, 240, um(1.0))
            .with(&errors)
            .with(&wave);
        let first = fit_as(&truth, &before.land()).unwrap();
        let response = first.response(&before.land()).unwrap();
        let moved = response.moved(&after.land()).unwrap();
        let again = fit_as(&truth, &after.land()).unwrap();
        let arc = end / 3.0;
        let answered = moved.curve.drop(arc) - first.curve.drop(arc);
        let refitted = again.curve.drop(arc) - first.curve.drop(arc);
        assert!(
            // A whole fit answers to second order too: some nanometres of a wave of a micrometre.
            (answered - refitted).abs() < um(0.006) + refitted.abs() * 0.1,
            "{truth:?}: {} and {}",
            answered.um(),
            refitted.um()
        );
    }
}

#[test]
fn a_card_that_asks_for_a_free_curve_gets_one_even_for_a_flat() {
    let truth = Curve::flat(Surface::Radial, RADIUS, deg(7.0));
    let land = Sampled::of(&truth, deg(12.0), 120, um(1.0));
    let settings = FitSettings {
        curve: CurveChoice::Free,
        ..FitSettings::default()
    };
    let best = choose(&land.land(), &settings).unwrap().best;
    assert_eq!(best.family(), Family::Free);
    let (found, true_drop) = (best.drop(deg(6.0)), truth.drop(deg(6.0)));
    assert!((found.value - true_drop).abs() < um(1.0));
    let land = land.land();
    let response = best.response(&land).unwrap();
    assert_eq!(response.margin(), None);
    let drop = |laid: &heelclear::fit::Laid| laid.curve.drop(deg(6.0)).mm();
    let shared: f64 = response.weights(drop).iter().sum();
    assert!(shared.abs() < 1.1, "{shared}");
}

#[test]
fn small_waves_of_no_family_are_followed_too() {
    let mut random = Pcg64Mcg::seed_from_u64(69);
    let spiral = Curve::spiral(Surface::Radial, RADIUS, deg(9.0));
    let end = deg(50.0);
    let mut land =
        Sampled::of(&spiral, end, 240, um(0.6)).with(&noise(240, um(0.6), 0.0, &mut random));
    for point in &mut land.points {
        point.drop += um(4.0 * (point.arc / end * 20.0).sin());
    }
    let choice = choose(&land.land(), &FitSettings::default()).unwrap();
    let tried: Vec<_> = choice
        .others
        .iter()
        .map(|other| {
            let doubts = other.fit.as_ref().map(|fit| fit.trust.doubts.clone());
            (other.family, other.margined, doubts)
        })
        .collect();
    assert_eq!(
        choice.best.family(),
        Family::Free,
        "{:?} {tried:#?}",
        choice.best.trust
    );
}
