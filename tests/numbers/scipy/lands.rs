//! Curves of a land, and the smooth that its clearance is read from.

use super::{ask, close};
use heelclear::card::{Name, Role, Surface};
use heelclear::fit::{CamFigures, Curve, Fit, FitSettings, Land, LandPoint, Law, fit};
use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, Taken};
use heelclear::judge::{Axis, Bench, Effort, judge};
use heelclear::quantity::{Angle, Length};
use heelclear::shape::Lobes;
use heelclear::simulator::built_in;
use heelclear::trace::{MergeSettings, merge};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde::Deserialize;
use serde_json::json;

const RADIUS: Length = Length::from_mm(10.0);
const CHECK: Angle = Angle::from_rad(0.05);

fn deg(deg: f64) -> Angle {
    Angle::from_deg(deg)
}

/// Curves with the name that the reference has for their family, and where their lands end.
fn curves() -> Vec<(&'static str, Curve, Angle)> {
    let radial = Surface::Radial;
    let cam = CamFigures {
        law: Law::Cycloidal,
        depth: Length::from_mm(0.4),
        fall: deg(18.0),
        lead: deg(2.0),
        heel: Some((deg(36.0), Length::from_mm(0.15))),
        end: deg(60.0),
    };
    vec![
        ("flat", Curve::flat(radial, RADIUS, deg(7.0)), deg(12.0)),
        ("arc", Curve::arc(radial, RADIUS, deg(6.0), 0.6), deg(60.0)),
        ("spiral", Curve::spiral(radial, RADIUS, deg(5.0)), deg(50.0)),
        (
            "log-spiral",
            Curve::log_spiral(radial, RADIUS, deg(8.0)),
            deg(90.0),
        ),
        ("cam", Curve::cam(radial, RADIUS, cam), deg(60.0)),
    ]
}

/// A land of `count` places with normal noise of a micrometre; every `outlying`th stands 20 µm high.
fn places(curve: &Curve, end: Angle, count: usize, outlying: Option<usize>) -> Vec<LandPoint> {
    let mut random = Pcg64Mcg::seed_from_u64(count as u64);
    let mut noise = move || (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0;
    (1..=count)
        .map(|i| {
            let arc = end * (i as f64 / count as f64);
            let chip = outlying.is_some_and(|each| i % each == 0);
            let off = noise() - if chip { 20.0 } else { 0.0 };
            LandPoint {
                arc,
                drop: curve.drop(arc) + Length::from_um(off),
                standard_uncertainty: Length::from_um(1.0),
            }
        })
        .collect()
}

/// Fits both ways; how much ours may differ follows from our fit.
#[track_caller]
fn check(
    (family, curve, end): &(&str, Curve, Angle),
    points: &[LandPoint],
    robust: bool,
    within: impl Fn(&Fit) -> [f64; 3],
) -> bool {
    #[derive(Deserialize)]
    struct Answer {
        offset_mm: f64,
        relief_deg: f64,
        drop_mm: f64,
    }
    let rows: Vec<[f64; 2]> = points.iter().map(|p| [p.arc.rad(), p.drop.mm()]).collect();
    let case = json!({
        "family": family,
        "radius_mm": RADIUS.mm(),
        "points": rows,
        "check": CHECK.rad(),
        "robust": robust,
    });
    let Some(theirs) = ask::<Answer>("land", &case) else {
        return false;
    };
    let land = Land {
        points,
        radius: RADIUS,
        surface: Surface::Radial,
        // Free, so that nothing but the places decides.
        edge: None,
        end: *end,
    };
    let ours = fit(&land, curve.family(), &FitSettings::default()).unwrap();
    let [offset, relief, drop] = within(&ours);
    let found = ours.edge_offset.value.mm();
    close(
        &format!("{family}, offset"),
        found,
        theirs.offset_mm,
        offset,
    );
    let found = ours.relief_angle().value.deg();
    close(
        &format!("{family}, relief"),
        found,
        theirs.relief_deg,
        relief,
    );
    let found = ours.drop(CHECK).value.mm();
    close(&format!("{family}, drop"), found, theirs.drop_mm, drop);
    true
}

#[test]
fn so_few_places_that_all_count_alike_give_the_curve_of_least_squares() {
    for each in curves().iter().filter(|each| each.0 != "cam") {
        let points = places(&each.1, each.2, 9, None);
        if !check(each, &points, false, |_| [1e-8, 1e-5, 1e-8]) {
            return;
        }
    }
}

#[test]
fn chips_are_weighed_as_the_biweight_weighs_them() {
    for each in &curves() {
        let points = places(&each.1, each.2, 240, Some(40));
        // Weights end where they change by less than would move a curve by a hundredth of this.
        let share = |fit: &Fit| {
            [
                fit.edge_offset.standard_uncertainty.mm(),
                fit.relief_angle().standard_uncertainty.deg(),
                fit.drop(CHECK).standard_uncertainty.mm(),
            ]
            .map(|u| u * 0.05)
        };
        if !check(each, &points, true, share) {
            return;
        }
    }
}

#[test]
fn the_clearance_is_the_least_of_local_quadratics() {
    for name in [
        "counterbore-pass",
        "six-flute-reamer",
        "counterbore-heel-drag",
    ] {
        let scenario = built_in(name).unwrap();
        let dir = tempfile::tempdir().unwrap();
        write_folder(&scenario, dir.path()).unwrap();
        let folder = Folder::open(dir.path()).unwrap();
        let feature = &folder.tool.features[0];
        let role = Role::Feature(feature.name.clone());
        let mut traces = folder.inspection.traces.iter();
        let entry = traces.find(|entry| entry.role == role).unwrap();
        let Taken::Turning(trace) = folder.trace(entry, &mut Vec::new()).unwrap() else {
            unreachable!("a trace over the turning tool");
        };
        let merged = merge(&trace, &MergeSettings::of(&folder.gauge)).unwrap();
        let bench = Bench {
            gauge: folder.gauge.clone(),
            axis: Axis::Stated(Length::from_mm(0.002)),
            lobes: Lobes::default(),
        };
        let judged = judge(&merged, &folder.tool, feature, &bench, Effort::default()).unwrap();
        let radius = feature.diameter / 2.0;
        for (index, each) in judged.teeth.iter().enumerate() {
            let tooth = each.tooth.as_ref().unwrap();
            // Else the edge's height would be the curve's, and move the clearance with it.
            assert!(tooth.edge.height_uncertainty.is_some());
            let land = tooth.land.iter();
            let land: Vec<_> = land.map(|p| [p.arc.rad(), p.drop.mm()]).collect();
            let case = json!({
                "radius_mm": radius.mm(),
                "land": land,
                "end": tooth.end.rad(),
                "judged_to": each.judged_to.unwrap().rad(),
                // Behind the edge along the edge's own circle.
                "check": feature.check_distance / tooth.edge.height,
                "heel": tooth.heel.map(|heel| [heel.arc.rad(), heel.drop.mm()]),
            });
            let Some(theirs) = ask::<f64>("clearance", &case) else {
                return;
            };
            let mut figures = judged.figures.iter();
            let figure = figures
                .find(|f| f.name == Name::HeelClearance && f.tooth == Some(index))
                .unwrap();
            let what = format!("{name}, flute {}", index + 1);
            close(&what, figure.value.unwrap(), theirs, 1e-9);
        }
    }
}
