//! Curves and relations of relief against computed and published geometry.
#![allow(missing_docs, clippy::unwrap_used)]

use heelclear::card::Surface;
use heelclear::fit::Curve;
use heelclear::fit::relief::{
    feed_rise, flat_drop, flat_equivalent_relief, flat_limit, spiral_rise_per_pitch,
};
use heelclear::quantity::{Angle, Length};
use std::path::Path;

/// Rows of a reference table by column name; its source stands in its first lines.
fn table(file: &str) -> Vec<impl Fn(&str) -> String + use<>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(file);
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    let header = reader.headers().unwrap().clone();
    let rows: Vec<_> = reader
        .records()
        .map(Result::unwrap)
        .map(|row| {
            let header = header.clone();
            move |name: &str| row[header.iter().position(|other| other == name).unwrap()].to_owned()
        })
        .collect();
    assert!(!rows.is_empty());
    rows
}

fn number(text: String) -> f64 {
    text.parse().unwrap()
}

#[track_caller]
fn close(value: f64, expected: f64, relative: f64) {
    assert!(
        (value - expected).abs() <= relative * expected.abs(),
        "{value} is not {expected}"
    );
}

#[test]
fn every_family_drops_as_computed() {
    // relief_geometry.csv: computed with 40 digits from first principles, printed to 12.
    for row in table("relief_geometry.csv") {
        let get = |name: &str| number(row(name));
        let radius = Length::from_mm(get("D_mm") / 2.0);
        let relief = Angle::from_deg(get("relief_deg"));
        let arc = Angle::from_deg(get("theta_deg"));
        let curves = [
            ("drop_flat", Curve::flat(Surface::Radial, radius, relief)),
            (
                "drop_ecc_R",
                Curve::arc(Surface::Radial, radius, relief, 1.0),
            ),
            (
                "drop_ecc_0.8R",
                Curve::arc(Surface::Radial, radius, relief, 1.0 / 0.8),
            ),
            (
                "drop_concave_75",
                Curve::arc(
                    Surface::Radial,
                    radius,
                    relief,
                    -(radius / Length::from_mm(75.0)),
                ),
            ),
            (
                "drop_archimedean",
                Curve::spiral(Surface::Radial, radius, relief),
            ),
            (
                "drop_logspiral",
                Curve::log_spiral(Surface::Radial, radius, relief),
            ),
        ];
        for (name, curve) in curves {
            close(curve.drop(arc).mm(), get(name), 2e-11);
            close(curve.relief_angle().deg(), relief.deg(), 1e-12);
        }
        // The angle between surface and motion at the same place: atan of slope over radius there.
        let local = |curve: &Curve| {
            (curve.slope(arc) / (radius - curve.drop(arc)))
                .atan()
                .to_degrees()
        };
        close(local(&curves[0].1), get("local_flat_deg"), 1e-9);
        close(local(&curves[4].1), get("local_archimedean_deg"), 1e-9);
        close(local(&curves[5].1), get("local_log_deg"), 1e-9);
        let clears = curves[0].1.drop(arc) > Length::ZERO;
        assert_eq!(clears, row("flat_clears") == "yes");
    }
}

#[test]
fn a_flat_land_touches_at_twice_its_relief() {
    // flat_land_heel_limit.csv: computed.
    for row in table("flat_land_heel_limit.csv") {
        let get = |name: &str| number(row(name));
        let radius = Length::from_mm(get("D_mm") / 2.0);
        let relief = Angle::from_deg(get("relief_deg"));
        let limit = flat_limit(relief, radius).unwrap();
        close(limit.deepest.deg(), get("theta_deepest_deg"), 1e-12);
        close(limit.greatest_drop.mm(), get("max_drop_mm"), 1e-9);
        close(limit.heel_touches.deg(), get("theta_heel_touch_deg"), 1e-12);
        close(limit.widest.mm(), get("chord_land_limit_mm"), 1e-9);
        let flat = Curve::flat(Surface::Radial, radius, relief);
        close(
            flat.drop(limit.deepest).mm(),
            limit.greatest_drop.mm(),
            1e-9,
        );
        assert!(flat.drop(limit.heel_touches).mm().abs() < 1e-14 * radius.mm());
    }
    assert_eq!(flat_limit(Angle::ZERO, Length::from_mm(5.0)), None);
}

#[test]
fn a_relieving_cam_falls_as_computed() {
    // form_relief_cam.csv: K = (pi D / Z) tan a from first principles, computed.
    for row in table("form_relief_cam.csv") {
        let get = |name: &str| number(row(name));
        let radius = Length::from_mm(get("D_mm") / 2.0);
        let relief = Angle::from_deg(get("alpha_deg"));
        let rise = spiral_rise_per_pitch(relief, radius, get("Z") as u32).unwrap();
        close(rise.mm(), get("K_mm"), 1e-8);
        let spiral = Curve::spiral(Surface::Radial, radius, relief);
        close(
            spiral.drop(Angle::from_deg(1.0)).mm(),
            get("drop_at_1deg_mm"),
            1e-8,
        );
    }
    assert_eq!(
        spiral_rise_per_pitch(Angle::from_deg(5.0), Length::from_mm(5.0), 0),
        None
    );
}

#[test]
fn feed_tilts_the_path_as_computed() {
    // feed_angle.csv: computed; the relation to working clearance from memory of ISO 3002-1.
    for row in table("feed_angle.csv") {
        let get = |name: &str| number(row(name));
        let feed = Length::from_mm(get("feed_mm_per_rev"));
        let round = Length::from_mm(get("radius_mm")) * std::f64::consts::TAU;
        let eta = Angle::from_rad((feed_rise(feed, Angle::TURN) / round).atan());
        close(eta.deg(), get("eta_deg"), 1e-8);
        close(
            get("tool_clearance_deg") - eta.deg(),
            get("working_clearance_deg"),
            1e-5,
        );
        let rise = feed_rise(feed, Angle::from_deg(10.0));
        close(rise.mm(), get("heel_axial_drop_needed_per_10deg_mm"), 1e-8);
    }
}

#[test]
fn handbook_drops_lie_within_their_band() {
    // indicator_drop_peripheral.csv: Machinery's Handbook, indicator drops for checking radial
    // relief on peripheral teeth; the recalled column is FROM MEMORY and serves as a band of
    // 0.0001 in, the exact one is computed.
    for row in table("indicator_drop_peripheral.csv") {
        let get = |name: &str| number(row(name));
        let radius = Length::from_in(get("cutter_diameter_in") / 2.0);
        let relief = Angle::from_deg(get("relief_deg"));
        let arc = Angle::from_rad(get("checking_distance_in") / radius.inches());
        let drop = flat_drop(relief, arc, radius);
        assert!((drop.inches() - get("exact_drop_in")).abs() <= 0.5e-6 * 1.01);
        assert!((drop.inches() - get("recalled_drop_in")).abs() <= 0.0001);
        let back = flat_equivalent_relief(drop, arc, radius).unwrap();
        close(back.deg(), relief.deg(), 1e-9);
        // Read from the printed drop, the angle is right to what its last digit is worth.
        let printed = Length::from_in(get("recalled_drop_in"));
        let read = flat_equivalent_relief(printed, arc, radius).unwrap();
        let worth = (0.0001 / get("checking_distance_in")).to_degrees();
        assert!((read.deg() - relief.deg()).abs() < worth);
    }
}

#[test]
fn no_flat_land_gives_an_impossible_drop() {
    let (radius, arc) = (Length::from_mm(5.0), Angle::from_deg(5.0));
    for (drop, arc) in [
        (Length::from_mm(0.1), Angle::ZERO),
        (Length::from_mm(0.1), Angle::from_deg(180.0)),
        (Length::from_mm(0.1), Angle::from_deg(-1.0)),
        (radius, arc),
        (radius * 2.0, arc),
        (Length::from_mm(f64::NAN), arc),
    ] {
        assert_eq!(flat_equivalent_relief(drop, arc, radius), None);
    }
}

#[test]
fn an_arc_of_no_curvature_is_the_flat() {
    for relief in [-3.0, 2.0, 12.0, 25.0] {
        let (radius, relief) = (Length::from_mm(8.0), Angle::from_deg(relief));
        let flat = Curve::flat(Surface::Radial, radius, relief);
        for bend in [0.0, 1e-9, -1e-9] {
            let arc = Curve::arc(Surface::Radial, radius, relief, bend);
            for phi in [0.01, 1.0, 20.0, 60.0].map(Angle::from_deg) {
                assert!((arc.drop(phi) - flat.drop(phi)).abs() < Length::from_mm(1e-7));
            }
        }
    }
}

#[test]
fn points_of_an_arc_lie_on_its_circle() {
    // Circle through the edge (R, 0) whose tangent there makes the relief angle; checked by
    // distance from the centre, which the code never computes.
    for (bend, relief) in [
        (1.0, 10.0),
        (0.4, 6.0),
        (2.5, 15.0),
        (-0.3, 8.0),
        (-0.5, 5.0),
    ] {
        let radius = 10.0_f64;
        let own = radius / bend;
        let (sin, cos) = f64::to_radians(relief).sin_cos();
        let centre = (radius - own * cos, -own * sin);
        let arc = Curve::arc(
            Surface::Radial,
            Length::from_mm(radius),
            Angle::from_deg(relief),
            bend,
        );
        for phi in [0.0, 3.0, 12.0, 25.0].map(Angle::from_deg) {
            let r = radius - arc.drop(phi).mm();
            let (sin, cos) = phi.rad().sin_cos();
            let distance = (r * cos - centre.0).hypot(r * sin - centre.1);
            close(distance, own.abs(), 1e-12);
        }
    }
}

#[test]
fn axial_curves_stand_on_the_unrolled_circle() {
    let (radius, relief) = (Length::from_mm(12.0), Angle::from_deg(7.0));
    let phi = Angle::from_deg(30.0);
    let x = 12.0 * phi.rad();
    let flat = Curve::flat(Surface::Axial, radius, relief);
    close(
        flat.drop(phi).mm(),
        12.0 * phi.rad().sin() * relief.rad().tan(),
        1e-14,
    );
    let spiral = Curve::spiral(Surface::Axial, radius, relief);
    close(spiral.drop(phi).mm(), x * relief.rad().tan(), 1e-14);
    // Circle of radius p through the origin of the unrolled plane, tangent sloping by the relief.
    let own = 30.0;
    let arc = Curve::arc(Surface::Axial, radius, relief, 12.0 / own);
    let (sin, cos) = relief.rad().sin_cos();
    let distance = (x + own * sin).hypot(arc.drop(phi).mm() - own * cos);
    close(distance, own, 1e-13);
}
