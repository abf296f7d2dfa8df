//! What was put in comes out, and the family that made the data is chosen.

use super::lands::*;
use heelclear::card::{CurveChoice, Surface};
use heelclear::fit::{CamFigures, Curve, Family, Fit, FitSettings, Law, choose, fit};
use heelclear::quantity::{Angle, Length};
use proptest::prelude::*;
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

#[test]
fn exact_data_give_back_their_curve() {
    for surface in [Surface::Radial, Surface::Axial] {
        for (truth, end) in examples(surface) {
            for edge in [Some(um(1.0)), None] {
                let mut land = Sampled::of(&truth, end, 200, um(1.0));
                land.edge = edge;
                let found = fit_as(&truth, &land.land()).unwrap();
                same_figures(&found, &truth, 1e-5);
                assert!(found.rms < Length::from_mm(1e-9));
                assert!(found.edge_offset.value.abs() < Length::from_mm(1e-8));
                assert!(found.stop.arrived(), "{:?}", found.stop);
                assert_eq!(found.trust.doubts, []);
            }
        }
    }
}

/// Whether the family is the true one, or one that cannot be told from it.
fn as_good_as(found: &Fit, truth: &Curve, end: Angle, within: Length) -> bool {
    let there = (0..=20).map(|i| end * (f64::from(i) / 20.0));
    found.family() == truth.family()
        || there
            .map(|arc| (found.curve.drop(arc) - truth.drop(arc)).abs())
            .all(|difference| difference < within)
}

#[test]
fn the_family_that_made_the_data_is_chosen() {
    let mut random = Pcg64Mcg::seed_from_u64(11);
    for surface in [Surface::Radial, Surface::Axial] {
        for (truth, end) in examples(surface) {
            for sigma in [0.0, 0.3, 1.0] {
                let land = Sampled::of(&truth, end, 250, um(1.0));
                let land = land.with(&noise(250, um(sigma), 0.0, &mut random));
                let choice = choose(&land.land(), &FitSettings::default()).unwrap();
                let allowed = um(0.3 + sigma / 2.0);
                assert!(
                    as_good_as(&choice.best, &truth, end, allowed),
                    "{:?} taken for {:?}: {:?}",
                    truth,
                    choice.best.curve,
                    choice
                        .others
                        .iter()
                        .map(|other| (other.family, other.margined, other.score))
                        .collect::<Vec<_>>()
                );
                assert_eq!(choice.best.trust.doubts, []);
            }
        }
    }
}

#[test]
fn a_straight_arc_is_called_a_flat() {
    let truth = Curve::arc(Surface::Radial, RADIUS, deg(4.0), 0.0);
    let land = Sampled::of(&truth, deg(8.0), 100, um(1.0));
    let choice = choose(&land.land(), &FitSettings::default()).unwrap();
    assert_eq!(choice.best.family(), Family::Flat);
    let arc = choice
        .others
        .iter()
        .find(|other| other.family == Family::Arc)
        .unwrap();
    assert!(arc.is_rival());
    assert!(choice.relief_averaged().deviation() < 1e-6);
}

#[test]
fn a_card_that_names_a_family_gets_it() {
    let truth = Curve::spiral(Surface::Axial, RADIUS, deg(5.0));
    let land = Sampled::of(&truth, deg(40.0), 80, um(1.0));
    for (curve, family) in [
        (CurveChoice::Flat, Family::Flat),
        (CurveChoice::Arc, Family::Arc),
        (CurveChoice::Spiral, Family::Spiral),
        // Unrolled, the two are one curve.
        (CurveChoice::LogSpiral, Family::Spiral),
        (CurveChoice::Facets, Family::Facets),
        (CurveChoice::Cam, Family::Cam),
        (CurveChoice::Free, Family::Free),
    ] {
        let settings = FitSettings {
            curve,
            ..FitSettings::default()
        };
        let choice = choose(&land.land(), &settings).unwrap();
        assert_eq!(choice.best.family(), family);
        assert!(choice.others.iter().all(|other| other.family == family));
    }
}

#[test]
fn a_cam_without_a_return_is_fitted_without_one() {
    let figures = CamFigures {
        law: Law::Harmonic,
        depth: um(300.0),
        fall: deg(20.0),
        lead: deg(5.0),
        heel: None,
        end: deg(60.0),
    };
    let truth = Curve::cam(Surface::Radial, RADIUS, figures);
    let mut random = Pcg64Mcg::seed_from_u64(42);
    let land =
        Sampled::of(&truth, deg(60.0), 200, um(1.0)).with(&noise(200, um(0.5), 0.0, &mut random));
    let choice = choose(&land.land(), &FitSettings::default()).unwrap();
    assert_eq!(choice.best.family(), Family::Cam);
    let names: Vec<&str> = choice
        .best
        .curve
        .parameters()
        .iter()
        .map(|(name, _)| *name)
        .collect();
    assert_eq!(
        names,
        ["relief_angle_deg", "depth_mm", "fall_deg", "lead_deg"]
    );
    same_figures(&choice.best, &truth, 0.05);
    assert_eq!(choice.best.trust.doubts, []);
}

#[test]
fn families_print_and_parse() {
    for family in Family::ALL {
        assert_eq!(family.to_string().parse::<Family>().unwrap(), family);
    }
    let error = "flatt".parse::<Family>().unwrap_err();
    assert!(error.message().contains("`flatt`") && error.message().contains("log-spiral"));
}

#[test]
fn a_rival_that_cannot_be_told_apart_is_named() {
    // Over so short a land a spiral and its log-spiral differ by less than the noise.
    let truth = Curve::spiral(Surface::Radial, RADIUS, deg(5.0));
    let mut random = Pcg64Mcg::seed_from_u64(51);
    let land =
        Sampled::of(&truth, deg(8.0), 120, um(1.0)).with(&noise(120, um(1.0), 0.0, &mut random));
    let choice = choose(&land.land(), &FitSettings::default()).unwrap();
    let rivals: Vec<Family> = choice.rivals().map(Fit::family).collect();
    assert!(
        rivals.contains(&Family::Spiral) || rivals.contains(&Family::LogSpiral),
        "{rivals:?}"
    );
    assert!(choice.drop_averaged(deg(4.0), None).deviation() > 0.0);
    assert!(choice.relief_averaged().deviation() > 0.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_exact_curve_is_found_again(
        relief in -5.0..25.0_f64,
        bend in -0.2..1.6_f64,
        end in 6.0..30.0_f64,
        count in 12..90_usize,
        axial: bool,
        which in 0..4_usize,
    ) {
        let surface = if axial { Surface::Axial } else { Surface::Radial };
        let truth = match which {
            0 => Curve::flat(surface, RADIUS, deg(relief)),
            1 => Curve::spiral(surface, RADIUS, deg(relief)),
            2 => Curve::log_spiral(surface, RADIUS, deg(relief)),
            _ => Curve::arc(surface, RADIUS, deg(relief), bend),
        };
        prop_assume!(truth.drop(deg(end)).is_finite());
        let land = Sampled::of(&truth, deg(end), count, um(1.0));
        let found = fit_as(&truth, &land.land()).unwrap();
        same_figures(&found, &truth, 1e-5);
        prop_assert!(found.trust.is_full(), "{:?}", found.trust);
    }

    #[test]
    fn any_cam_is_found_again(
        depth in 60.0..900.0_f64,
        fall in 0.2..0.45_f64,
        dwell in 0.1..0.3_f64,
        lead in 0.05..0.4_f64,
        heel in -0.1..0.8_f64,
        end in 30.0..300.0_f64,
        law in 0..3_usize,
    ) {
        let end = deg(end);
        let figures = CamFigures {
            law: Law::ALL[law],
            depth: um(depth),
            fall: end * fall,
            lead: end * (fall * lead / (1.0 - lead)),
            heel: Some((end * (fall + dwell), um(depth * heel))),
            end,
        };
        let truth = Curve::cam(Surface::Radial, RADIUS, figures);
        let land = Sampled::of(&truth, end, 150, um(1.0));
        let found = fit(&land.land(), Family::Cam, &FitSettings::default()).unwrap();
        prop_assert_eq!(found.curve.law(), truth.law());
        same_figures(&found, &truth, 1e-5);
    }
}
