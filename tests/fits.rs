//! Fits of lands: what was put in comes out, and no surer than it can be.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic)]

use heelclear::card::Surface;
use heelclear::fit::{
    CamFigures, Curve, Family, Fit, FitSettings, Land, LandPoint, Law, choose, fit,
};
use heelclear::quantity::{Angle, Length};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;

const RADIUS: Length = Length::from_mm(10.0);

fn um(um: f64) -> Length {
    Length::from_um(um)
}

fn deg(deg: f64) -> Angle {
    Angle::from_deg(deg)
}

fn cam(surface: Surface, law: Law, lead_deg: f64, end: Angle) -> Curve {
    let figures = CamFigures {
        law,
        depth: um(400.0),
        fall: end * 0.3,
        lead: deg(lead_deg),
        heel: Some((end * 0.6, um(150.0))),
        end,
    };
    Curve::cam(surface, RADIUS, figures)
}

/// Curves of every family with the arc of a land that suits each.
fn examples(surface: Surface) -> Vec<(Curve, Angle)> {
    let mut list = vec![
        (Curve::flat(surface, RADIUS, deg(7.0)), deg(12.0)),
        (Curve::flat(surface, RADIUS, deg(-2.0)), deg(8.0)),
        (Curve::arc(surface, RADIUS, deg(6.0), 0.6), deg(60.0)),
        (Curve::arc(surface, RADIUS, deg(9.0), -0.3), deg(14.0)),
        (Curve::arc(surface, RADIUS, deg(4.0), 0.0), deg(8.0)),
        (Curve::spiral(surface, RADIUS, deg(5.0)), deg(50.0)),
        (Curve::spiral(surface, RADIUS, deg(3.0)), deg(310.0)),
        (Curve::log_spiral(surface, RADIUS, deg(8.0)), deg(100.0)),
    ];
    for law in Law::ALL {
        list.push((cam(surface, law, 3.0, deg(60.0)), deg(60.0)));
        list.push((cam(surface, law, 8.0, deg(300.0)), deg(300.0)));
    }
    list
}

/// Noise with a lag-one correlation, in micrometres; white where that is 0.
fn noise(count: usize, sigma: Length, correlation: f64, random: &mut Pcg64Mcg) -> Vec<Length> {
    let mut normal = || {
        let (u, v): (f64, f64) = (1.0 - random.random::<f64>(), random.random());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    };
    let mut before = normal();
    (0..count)
        .map(|_| {
            let this = before;
            before = correlation * before + (1.0 - correlation * correlation).sqrt() * normal();
            sigma * this
        })
        .collect()
}

struct Sampled {
    points: Vec<LandPoint>,
    surface: Surface,
    edge: Option<Length>,
    end: Angle,
}

impl Sampled {
    fn of(curve: &Curve, end: Angle, count: usize, stated: Length) -> Self {
        let points = (1..=count)
            .map(|i| end * (i as f64 / count as f64))
            .map(|arc| LandPoint {
                arc,
                drop: curve.drop(arc),
                standard_uncertainty: stated,
            })
            .collect();
        Self {
            points,
            surface: curve.surface(),
            edge: Some(stated),
            end,
        }
    }

    fn with(mut self, noise: &[Length]) -> Self {
        for (point, noise) in self.points.iter_mut().zip(noise) {
            point.drop += *noise;
        }
        self
    }

    fn land(&self) -> Land<'_> {
        Land {
            points: &self.points,
            radius: RADIUS,
            surface: self.surface,
            edge: self.edge,
            end: self.end,
        }
    }
}

#[track_caller]
fn same_figures(fit: &Fit, truth: &Curve, relative: f64) {
    for ((name, value), (other, expected)) in fit.curve.parameters().iter().zip(truth.parameters())
    {
        assert_eq!(*name, other);
        let size = expected.abs().max(0.01);
        assert!(
            (value - expected).abs() < relative * size,
            "{name} of {:?}: {value} is not {expected}",
            truth.family()
        );
    }
}

#[test]
fn exact_data_give_back_their_curve() {
    for surface in [Surface::Radial, Surface::Axial] {
        for (truth, end) in examples(surface) {
            for edge in [Some(um(1.0)), None] {
                let mut land = Sampled::of(&truth, end, 200, um(1.0));
                land.edge = edge;
                let found = fit(&land.land(), truth.family(), &FitSettings::default()).unwrap();
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
                    choice.best.family(),
                    choice.others
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
    assert!(choice.relief_spread() < deg(1e-6));
}
