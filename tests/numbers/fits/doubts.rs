//! What cannot be fitted is refused, what should not be believed is doubted.

use super::lands::*;
use heelclear::card::Surface;
use heelclear::fit::{Curve, Doubt, Family, FitSettings, Land, choose, fit};
use heelclear::quantity::{Angle, Length};
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;

#[test]
fn a_few_exact_points_are_enough_or_refused() {
    let sharp = |(truth, _): &(Curve, Angle)| truth.margin().is_none();
    for (truth, end) in examples(Surface::Radial).into_iter().filter(sharp) {
        for count in 0..=8 {
            let land = Sampled::of(&truth, end, count, um(1.0));
            let fewest = match truth.family() {
                Family::Arc => 5,
                Family::Facets => 8,
                Family::Cam => 12,
                _ => 4,
            };
            match fit_as(&truth, &land.land()) {
                Ok(found) => {
                    assert!(count >= fewest);
                    same_figures(&found, &truth, 1e-6);
                    let u = found.relief_angle().standard_uncertainty;
                    assert!(u.is_finite() && u > Angle::ZERO);
                    let few = |doubt: &Doubt| matches!(doubt, Doubt::FewPoints { .. });
                    let parameters = match fewest {
                        8 => 4,
                        5 => 3,
                        _ => 2,
                    };
                    assert_eq!(found.trust.doubts.iter().any(few), count < parameters + 3);
                }
                Err(error) => {
                    assert!(count < fewest, "{error}");
                    assert!(error.message().contains("places"), "{error}");
                }
            }
        }
    }
}

#[test]
fn a_land_without_points_cannot_be_chosen_for() {
    let truth = Curve::flat(Surface::Radial, RADIUS, deg(7.0));
    let land = Sampled::of(&truth, deg(10.0), 0, um(1.0));
    assert!(choose(&land.land(), &FitSettings::default()).is_err());
}

#[test]
fn what_is_no_land_is_refused() {
    let truth = Curve::flat(Surface::Radial, RADIUS, deg(7.0));
    let sound = || Sampled::of(&truth, deg(10.0), 30, um(1.0));
    #[track_caller]
    fn check(land: &Land) {
        let error = fit(land, Family::Flat, &FitSettings::default()).unwrap_err();
        assert_eq!(error.code().as_str(), "curve");
    }
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let mut land = sound();
        land.points[7].drop = um(value);
        check(&land.land());
        let mut land = sound();
        land.points[7].standard_uncertainty = um(value);
        check(&land.land());
        let mut land = sound();
        land.points[7].arc = deg(value);
        check(&land.land());
        let mut land = sound();
        land.edge = Some(um(value));
        check(&land.land());
        let land = sound();
        check(&Land {
            radius: um(value),
            ..land.land()
        });
        check(&Land {
            end: deg(value),
            ..land.land()
        });
    }
    let mut land = sound();
    land.points[7].standard_uncertainty = um(-1.0);
    check(&land.land());
    let mut land = sound();
    land.points.swap(3, 4);
    check(&land.land());
    let land = sound();
    check(&Land {
        radius: Length::ZERO,
        ..land.land()
    });
    check(&Land {
        end: deg(5.0),
        ..land.land()
    });
    check(&Land {
        end: deg(400.0),
        ..land.land()
    });
}

#[test]
fn a_flat_does_not_reach_round_a_tool() {
    let truth = Curve::spiral(Surface::Radial, RADIUS, deg(3.0));
    let land = Sampled::of(&truth, deg(300.0), 300, um(1.0));
    let error = fit(&land.land(), Family::Flat, &FitSettings::default()).unwrap_err();
    assert!(error.message().contains("300.0 deg"), "{error}");
    let choice = choose(&land.land(), &FitSettings::default()).unwrap();
    assert_eq!(choice.best.family(), Family::Spiral);
    let flat = choice
        .others
        .iter()
        .find(|other| other.family == Family::Flat)
        .unwrap();
    assert!(flat.score.is_none() && flat.fit.is_none() && !flat.is_rival());
}

/// The doubts of a fit of `family` to a land of `truth`, changed by `change`.
#[track_caller]
fn check_doubt(
    truth: &Curve,
    end: Angle,
    family: Family,
    change: impl Fn(&mut Sampled),
    expected: fn(&Doubt) -> bool,
) {
    let mut land = Sampled::of(truth, end, 200, um(1.0));
    change(&mut land);
    let mut random = Pcg64Mcg::seed_from_u64(21);
    let errors = noise(land.points.len(), um(0.5), 0.0, &mut random);
    let land = land.with(&errors);
    let found = fit(&land.land(), family, &FitSettings::default()).unwrap();
    let doubts = &found.trust.doubts;
    assert!(doubts.iter().any(expected), "{doubts:?}");
    assert!(!found.trust.is_full());
    for doubt in doubts {
        assert!(!doubt.to_string().contains("NaN"));
    }
}

#[test]
fn doubts_say_what_is_wrong() {
    let spiral = Curve::spiral(Surface::Radial, RADIUS, deg(6.0));
    let flat = Curve::flat(Surface::Radial, RADIUS, deg(6.0));
    check_doubt(
        &spiral,
        deg(40.0),
        Family::Flat,
        |_| (),
        |doubt| matches!(doubt, Doubt::Systematic(rms) if *rms > um(10.0)),
    );
    check_doubt(
        &flat,
        deg(10.0),
        Family::Flat,
        |land| land.points.truncate(90),
        |doubt| matches!(doubt, Doubt::LittleSeen(share) if (0.4..0.5).contains(share)),
    );
    check_doubt(
        &flat,
        deg(10.0),
        Family::Flat,
        |land| {
            land.points
                .iter_mut()
                .step_by(4)
                .for_each(|point| point.drop -= um(40.0))
        },
        |doubt| matches!(doubt, Doubt::ManyOutlying(share) if (0.2..0.3).contains(share)),
    );
    check_doubt(
        &flat,
        deg(10.0),
        Family::Flat,
        |land| {
            land.points
                .iter_mut()
                .for_each(|point| point.drop += um(15.0))
        },
        |doubt| matches!(doubt, Doubt::EdgeApart(below) if *below > um(10.0)),
    );
    // A fall that has not ended where the land does.
    check_doubt(
        &spiral,
        deg(40.0),
        Family::Cam,
        |_| (),
        |doubt| matches!(doubt, Doubt::AtBound("fall")),
    );
}
