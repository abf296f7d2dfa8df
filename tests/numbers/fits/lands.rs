//! Lands to fit: curves of every family, sampled, with errors white or correlated.

use heelclear::card::Surface;
use heelclear::error::Error;
use heelclear::fit::{
    CamFigures, Curve, Fit, FitSettings, Land, LandPoint, Law, fit, fit_behind_margin,
};
use heelclear::quantity::{Angle, Length};
use rand::Rng;
use rand_pcg::Pcg64Mcg;

pub const RADIUS: Length = Length::from_mm(10.0);

pub fn um(um: f64) -> Length {
    Length::from_um(um)
}

pub fn deg(deg: f64) -> Angle {
    Angle::from_deg(deg)
}

pub fn cam(surface: Surface, law: Law, lead_deg: f64, end: Angle) -> Curve {
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
pub fn examples(surface: Surface) -> Vec<(Curve, Angle)> {
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
    list.push((facets(surface, 7.0, 6.0, 18.0), deg(24.0)));
    list.push((facets(surface, 4.0, 2.0, 10.0), deg(12.0)));
    let spiral = Curve::spiral(surface, RADIUS, deg(9.0));
    list.push((spiral.behind_margin(deg(2.5)), deg(28.0)));
    let flat = Curve::flat(surface, RADIUS, deg(7.0));
    list.push((flat.behind_margin(deg(0.6)), deg(12.0)));
    let arc = Curve::arc(surface, RADIUS, deg(6.0), 0.6);
    list.push((arc.behind_margin(deg(3.0)), deg(50.0)));
    list
}

pub fn facets(surface: Surface, primary: f64, width: f64, secondary: f64) -> Curve {
    Curve::facets(surface, RADIUS, deg(primary), deg(width), deg(secondary))
}

/// Fits the curve's own family, behind a margin where it has one.
pub fn fit_as(truth: &Curve, land: &Land) -> Result<Fit, Error> {
    let settings = FitSettings::default();
    match truth.margin() {
        Some(_) => fit_behind_margin(land, truth.family(), &settings),
        None => fit(land, truth.family(), &settings),
    }
}

/// Noise with a lag-one correlation, in micrometres; white where that is 0.
pub fn noise(count: usize, sigma: Length, correlation: f64, random: &mut Pcg64Mcg) -> Vec<Length> {
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

pub struct Sampled {
    pub points: Vec<LandPoint>,
    pub surface: Surface,
    pub edge: Option<Length>,
    pub end: Angle,
}

impl Sampled {
    pub fn of(curve: &Curve, end: Angle, count: usize, stated: Length) -> Self {
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

    pub fn with(mut self, noise: &[Length]) -> Self {
        for (point, noise) in self.points.iter_mut().zip(noise) {
            point.drop += *noise;
        }
        self
    }

    pub fn land(&self) -> Land<'_> {
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
pub fn same_figures(fit: &Fit, truth: &Curve, relative: f64) {
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
