//! How far a tool leans between its reference and the feature: told by two references, bounded by the
//! gauge card, or not known; and what that and an eccentricity do to a face.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Characteristic, Record, Verdict};
use heelclear::simulator::{Relief, Scenario, Surface, built_in};

fn judged(scenario: &Scenario) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(scenario, dir.path()).unwrap();
    verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

fn named<'a>(record: &'a Record, name: &str) -> Vec<&'a Characteristic> {
    let all = record.characteristics.iter();
    all.filter(|figure| figure.name == name).collect()
}

/// A figure may be off its truth by this many of its standard uncertainties.
const FURTHEST: f64 = 4.0;

#[track_caller]
fn holds(figure: &Characteristic, truth: f64) {
    let (value, u) = (figure.value.unwrap(), figure.standard_uncertainty.unwrap());
    assert!(
        (value - truth).abs() <= FURTHEST * u,
        "{}: {value} ± {u}, true is {truth}",
        figure.name
    );
}

/// The ordinary counterbore with four even edges, true at its holder and askew in it.
fn askew(tilt_deg: f64) -> Scenario {
    let mut scenario = built_in("counterbore-pass").unwrap();
    scenario.tool.flutes = 4;
    scenario.feature[0].tooth.clear();
    scenario.gauge.lean_mm = None;
    scenario.clamping.tilt_deg = tilt_deg;
    // True at the shank.
    scenario.clamping.eccentricity_mm = tilt_deg.to_radians().tan() * scenario.reference[0].z_mm;
    scenario
}

fn with_second_reference(mut scenario: Scenario) -> Scenario {
    let mut second = scenario.reference[0].clone();
    second.z_mm = 15.0;
    scenario.reference.push(second);
    scenario
}

mod told {
    use super::*;

    #[test]
    fn a_shank_true_at_the_holder_proves_no_true_tip() {
        // 30 µm over 100 mm: edges that stand even seem to be uneven by up to 23 µm.
        let record = judged(&askew(0.0172));
        let spread = named(&record, "edge-spread")[0];
        holds(spread, 0.0);
        assert_ne!(spread.verdict, Some(Verdict::Pass));
        assert_ne!(spread.verdict, Some(Verdict::Fail), "{}", spread.why);
        let doubt = &record.doubts[0];
        assert_eq!(doubt.kind, "lean-unknown");
        assert!(doubt.fail_stands && doubt.touches.contains(&"edge-spread".to_owned()));
        assert!(doubt.seen.contains("38.0 mm from here"), "{}", doubt.seen);
        assert!(doubt.seen.contains("edge-spread by "), "{}", doubt.seen);
        assert!(doubt.cure.contains("study lean"), "{}", doubt.cure);
        assert_eq!(record.verdict, Some(Verdict::Undecided));
    }

    #[test]
    fn two_references_tell_it() {
        let record = judged(&with_second_reference(askew(0.0172)));
        assert_eq!(record.doubts, []);
        assert_eq!(record.verdict, Some(Verdict::Pass));
        holds(named(&record, "edge-spread")[0], 0.0);
    }

    #[test]
    fn the_gauge_card_bounds_it() {
        let mut scenario = askew(0.0172);
        scenario.gauge.lean_mm = Some(0.032);
        let record = judged(&scenario);
        assert_eq!(record.doubts, []);
        holds(named(&record, "edge-spread")[0], 0.0);
        let spread = named(&record, "edge-spread")[0];
        assert_eq!(spread.verdict, Some(Verdict::Undecided), "{}", spread.why);
        assert!(spread.why.contains("lean of the tool"), "{}", spread.why);
        // Proven to be small it is nothing to speak of.
        let mut scenario = askew(0.001);
        scenario.gauge.lean_mm = Some(0.005);
        let record = judged(&scenario);
        assert_eq!(record.verdict, Some(Verdict::Pass));
        let granted = record.about.assumptions.join("\n");
        assert!(granted.contains("does not show a bent tool"), "{granted}");
    }

    #[test]
    fn a_tool_measured_beside_its_reference_need_not_prove_it() {
        let mut scenario = askew(0.0172);
        scenario.reference[0].z_mm = 2.2;
        scenario.clamping.eccentricity_mm = 0.008;
        let record = judged(&scenario);
        assert_eq!(record.doubts, []);
        assert_eq!(record.verdict, Some(Verdict::Pass));
    }

    #[test]
    fn a_heel_that_drags_whichever_way_the_tool_leans_fails_without_a_bound() {
        let mut scenario = built_in("counterbore-heel-drag").unwrap();
        scenario.gauge.lean_mm = None;
        scenario.feature[0].land.arc_deg = 24.0;
        assert_eq!(judged(&scenario).verdict, Some(Verdict::Fail));
    }

    #[test]
    fn a_taper_hangs_on_the_lean_itself() {
        let mut scenario = askew(0.0);
        scenario.feature[0].z_mm = vec![2.0, 14.0];
        scenario.feature[0].back_taper_deg = 0.5;
        let limit = toml::toml! { min = 0.25 max = 0.75 };
        let limits = &mut scenario.feature[0].limits;
        limits.insert("back_taper_deg".to_owned(), limit.into());
        let record = judged(&scenario);
        let taper = named(&record, "back-taper")[0];
        assert_eq!(taper.verdict, Some(Verdict::Undecided), "{}", taper.why);
        let mut touched = record.doubts.iter().map(|doubt| &doubt.touches);
        assert!(touched.any(|names| names.contains(&"back-taper".to_owned())));
    }
}

mod faces {
    use super::*;

    /// A drill's point, touched along the axis, off centre; its rim stands back.
    fn point(flutes: u32, face_deg: f64, arc_deg: f64) -> Scenario {
        let mut scenario = built_in("end-face-feed").unwrap();
        scenario.tool.flutes = flutes;
        let feature = &mut scenario.feature[0];
        feature.face_deg = face_deg;
        feature.land.arc_deg = arc_deg;
        feature.land.relief = Relief::Spiral { relief_deg: 7.0 };
        scenario.reference = built_in("counterbore-pass").unwrap().reference;
        scenario.gauge.runout_mm = None;
        scenario.clamping.eccentricity_mm = 0.02;
        scenario.clamping.at_deg = 130.0;
        scenario
    }

    #[track_caller]
    fn check(scenario: &Scenario) -> Record {
        let record = judged(scenario);
        let truth = scenario.truth(0).unwrap();
        for (figure, tooth) in named(&record, "heel-clearance").iter().zip(&truth.teeth) {
            holds(figure, tooth.heel_clearance.unwrap().mm());
        }
        for (figure, tooth) in named(&record, "drop").iter().zip(&truth.teeth) {
            holds(figure, tooth.drop.unwrap().mm());
        }
        if scenario.tool.flutes > 1 {
            holds(named(&record, "edge-spread")[0], truth.edge_spread.mm());
            holds(
                named(&record, "flute-spacing")[0],
                truth.flute_spacing.deg(),
            );
        }
        record
    }

    #[test]
    fn an_eccentricity_moves_a_face_along_its_arc_and_in_height() {
        for face_deg in [90.0, 59.0, 91.5, 120.0] {
            check(&point(2, face_deg, 60.0));
            check(&point(3, face_deg, 50.0));
            check(&point(1, face_deg, 200.0));
        }
    }

    #[test]
    fn an_eccentric_square_face_has_even_edges_evenly_spaced() {
        let record = check(&point(2, 90.0, 60.0));
        let spacing = named(&record, "flute-spacing")[0];
        // Left in, 20 µm on a circle of 8 mm would show as 0.2°.
        assert!(spacing.value.unwrap() < 0.03, "{}", spacing.why);
        assert!(spacing.standard_uncertainty.unwrap() < 0.025);
        assert_eq!(record.verdict, Some(Verdict::Pass));
    }

    #[test]
    fn the_angle_of_a_face_that_no_card_states_counts() {
        let mut scenario = point(2, 59.0, 60.0);
        scenario.feature[0].state_face = false;
        let record = judged(&scenario);
        let spread = named(&record, "edge-spread")[0];
        holds(spread, 0.0);
        let mut lines = spread.budget.iter();
        assert!(lines.any(|line| line.quantity == "angle of the face"));
        assert_ne!(spread.verdict, Some(Verdict::Pass));
        assert_ne!(spread.verdict, Some(Verdict::Fail));
    }

    #[test]
    fn two_references_take_the_swash_out() {
        let mut scenario = with_second_reference(point(2, 90.0, 60.0));
        scenario.clamping.tilt_deg = 0.05;
        scenario.clamping.tilt_at_deg = Some(40.0);
        let record = check(&scenario);
        assert_eq!(record.verdict, Some(Verdict::Pass));
    }

    #[test]
    fn a_bound_on_the_runout_is_none_of_a_swash() {
        let mut scenario = built_in("end-face-feed").unwrap();
        assert_eq!(scenario.feature[0].surface, Surface::Axial);
        scenario.gauge.lean_mm = None;
        scenario.clamping.tilt_deg = 0.1;
        let record = judged(&scenario);
        assert_eq!(record.verdict, Some(Verdict::Undecided));
        assert_eq!(record.doubts[0].kind, "lean-unknown");
        scenario.clamping.tilt_deg = 0.01;
        scenario.gauge.swash_mm = Some(0.002);
        let record = check(&scenario);
        assert_eq!(record.doubts, []);
        assert_eq!(record.verdict, Some(Verdict::Pass));
    }
}
