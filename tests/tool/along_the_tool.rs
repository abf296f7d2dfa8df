//! Figures that take more than one turning trace: back taper, faces, several features in one
//! inspection, tools of either hand and with flutes spaced unevenly on purpose.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Characteristic, Record, Verdict};
use heelclear::simulator::{Grows, Scenario, built_in};
use std::path::Path;

/// A figure may be off its truth by this many of its standard uncertainties.
const FURTHEST: f64 = 4.0;

fn judged_after(scenario: &Scenario, change: impl Fn(&Path)) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(scenario, dir.path()).unwrap();
    change(dir.path());
    verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

fn judged(scenario: &Scenario) -> Record {
    judged_after(scenario, |_| {})
}

fn named<'a>(record: &'a Record, name: &str) -> Vec<&'a Characteristic> {
    let all = record.characteristics.iter();
    all.filter(|c| c.name == name).collect()
}

fn edit(dir: &Path, file: &str, from: &str, to: &str) {
    let path = dir.join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    let changed = text.replace(from, to);
    assert_ne!(text, changed, "{file} holds no `{from}`");
    std::fs::write(path, changed).unwrap();
}

mod back_taper {
    use super::*;

    /// The ordinary counterbore with a back taper, traced at these distances.
    fn tapered(taper_deg: f64, z_mm: &[f64], seed: u64) -> Scenario {
        let mut scenario = built_in("counterbore-pass").unwrap();
        scenario.seed = seed;
        scenario.feature[0].z_mm = z_mm.to_vec();
        scenario.feature[0].back_taper_deg = taper_deg;
        let limit = toml::toml! { min = 0.25 max = 0.75 };
        let limits = &mut scenario.feature[0].limits;
        limits.insert("back_taper_deg".to_owned(), limit.into());
        scenario
    }

    #[track_caller]
    fn check(scenario: &Scenario, taper_deg: f64, expected: Verdict) {
        let record = judged(scenario);
        let figures = named(&record, "back-taper");
        assert_eq!(figures.len(), 2, "one a flute");
        for (at, figure) in figures.iter().enumerate() {
            let (value, u) = (figure.value.unwrap(), figure.standard_uncertainty.unwrap());
            assert!(
                (value - taper_deg).abs() <= FURTHEST * u,
                "seed {}: {value} ± {u}, true is {taper_deg}",
                scenario.seed
            );
            assert!(u < 0.05, "{u} is too wide to be of use");
            assert_eq!(figure.verdict, Some(expected), "{}", figure.why);
            assert_eq!(figure.flute, Some(at as u32 + 1));
            assert!(
                figure
                    .budget
                    .iter()
                    .any(|line| line.quantity == "distance z")
            );
        }
    }

    #[test]
    fn two_distances_give_it_for_every_flute() {
        for seed in 1..4 {
            check(&tapered(0.5, &[2.0, 14.0], seed), 0.5, Verdict::Pass);
        }
    }

    #[test]
    fn a_feature_without_enough_of_it_fails() {
        check(&tapered(0.05, &[2.0, 14.0], 1), 0.05, Verdict::Fail);
    }

    #[test]
    fn a_straight_line_goes_through_more_than_two_distances_in_any_order() {
        check(&tapered(0.5, &[14.0, 2.0, 8.0], 1), 0.5, Verdict::Pass);
    }

    #[test]
    fn a_leaning_tool_is_no_taper_when_two_references_tell_the_lean() {
        for seed in 1..4 {
            let mut scenario = tapered(0.5, &[2.0, 14.0], seed);
            let mut second = scenario.reference[0].clone();
            second.z_mm += 40.0;
            scenario.reference.push(second);
            scenario.clamping.tilt_deg = 0.06;
            check(&scenario, 0.5, Verdict::Pass);
        }
    }

    #[test]
    fn a_lean_that_nothing_tells_makes_it_uncertain() {
        let one = judged(&tapered(0.5, &[2.0, 14.0], 1));
        let budget = &named(&one, "back-taper")[0].budget;
        let lean = budget
            .iter()
            .find(|l| l.quantity.starts_with("lean of the tool"));
        assert!(lean.unwrap().contribution > 0.0);
    }

    #[track_caller]
    fn check_open(record: &Record, words: &str) {
        let figures = named(record, "back-taper");
        assert_eq!(figures.len(), 1);
        assert_eq!(figures[0].value, None);
        assert_eq!(figures[0].verdict, Some(Verdict::Undecided));
        assert!(figures[0].why.contains(words), "{}", figures[0].why);
    }

    #[test]
    fn one_distance_leaves_its_limit_undecided() {
        check_open(&judged(&tapered(0.5, &[2.0], 1)), "only one");
    }

    #[test]
    fn heights_are_not_compared_across_an_indicator_set_anew() {
        let record = judged_after(&tapered(0.5, &[2.0, 14.0], 1), |dir| {
            edit(
                dir,
                "inspection.toml",
                "z_mm = 14.0\n",
                "z_mm = 14.0\nrezeroed = true\n",
            );
        });
        check_open(&record, "rezeroed");
    }

    #[test]
    fn without_knowledge_of_the_runout_it_is_undecided() {
        let mut scenario = tapered(0.5, &[2.0, 14.0], 1);
        scenario.reference.clear();
        let record = judged(&scenario);
        for figure in named(&record, "back-taper") {
            assert_eq!(figure.standard_uncertainty, None);
            assert_eq!(figure.verdict, Some(Verdict::Undecided));
        }
    }

    #[test]
    fn it_is_not_asked_for_where_neither_card_nor_traces_do() {
        let record = judged(&built_in("counterbore-pass").unwrap());
        assert!(named(&record, "back-taper").is_empty());
    }
}

mod face_angle {
    use super::*;

    /// A face as the table slides under the probe.
    struct Face {
        angle_deg: f64,
        /// Moved forth and back.
        both_ways: bool,
        /// Every so many readings one is off by 0.2 mm.
        spike_every: usize,
        /// Height of a bow in the middle.
        bow_mm: f64,
        /// Share of the trace that runs beside the face, on a cylinder.
        beside: f64,
    }

    const FACE: Face = Face {
        angle_deg: 45.0,
        both_ways: true,
        spike_every: 37,
        bow_mm: 0.0,
        beside: 0.0,
    };

    const LENGTH_MM: f64 = 2.0;
    const PLAY_MM: f64 = 0.001;

    impl Face {
        /// Height over travel, with the indicator's steps and play.
        fn csv(&self, seed: u64) -> String {
            let mut random = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1;
            let mut chance = move || {
                random ^= random << 13;
                random ^= random >> 7;
                random ^= random << 17;
                (random >> 11) as f64 / (1u64 << 53) as f64 - 0.5
            };
            let mut text = "time_s,travel_mm,reading_mm\n".to_owned();
            let count = 400;
            for at in 0..count {
                let through = at as f64 / count as f64;
                let there = if self.both_ways {
                    1.0 - (2.0 * through - 1.0).abs()
                } else {
                    through
                };
                // The table rests before it moves.
                let travel = ((there * 1.1 - 0.05).clamp(0.0, 1.0)) * LENGTH_MM;
                let on_face = travel.min(LENGTH_MM * (1.0 - self.beside));
                let middle = travel / LENGTH_MM;
                let bow = 4.0 * self.bow_mm * middle * (1.0 - middle);
                let play = if self.both_ways && through > 0.5 {
                    PLAY_MM
                } else {
                    0.0
                };
                let noise = 0.0008 * (chance() + chance());
                let mut height = on_face * self.angle_deg.to_radians().tan() + bow + play + noise;
                if at % self.spike_every == 5 {
                    height += 0.2;
                }
                let reading = (height * 1000.0).round() / 1000.0 - 0.4;
                text += &format!("{:.3},{travel:.4},{reading:.4}\n", at as f64 * 0.02);
            }
            text
        }
    }

    fn judged_face(face: &Face, seed: u64, limit: &str, surface: &str) -> Record {
        let name = if surface == "axial" {
            "end-face-feed"
        } else {
            "counterbore-pass"
        };
        let scenario = built_in(name).unwrap();
        let feature = scenario.feature[0].name.clone();
        judged_after(&scenario, |dir| {
            std::fs::write(dir.join("traces/face.csv"), face.csv(seed)).unwrap();
            let card = dir.join("inspection.toml");
            let mut text = std::fs::read_to_string(&card).unwrap();
            text += &format!(
                "\n[[trace]]\nfile = \"traces/face.csv\"\nrole = \"feature\"\nfeature = \"{feature}\"\n"
            );
            std::fs::write(card, text).unwrap();
            edit(
                dir,
                "tool.toml",
                "[feature.limits]\n",
                &format!("[feature.limits]\nface_angle_deg = {limit}\n"),
            );
        })
    }

    #[track_caller]
    fn check(face: &Face, surface: &str, true_deg: f64) {
        for seed in 1..6 {
            let record = judged_face(face, seed, "{ min = 0.0 }", surface);
            let figures = named(&record, "face-angle");
            assert_eq!(figures.len(), 1);
            let figure = figures[0];
            let (value, u) = (figure.value.unwrap(), figure.standard_uncertainty.unwrap());
            assert!(
                (value - true_deg).abs() <= FURTHEST * u,
                "seed {seed}: {value} ± {u}, true is {true_deg}"
            );
            assert!(u < 0.2, "{u} is too wide to be of use");
        }
    }

    #[test]
    fn a_chamfer_of_45_degrees_reads_so_forth_and_back() {
        check(&FACE, "radial", 45.0);
        check(
            &Face {
                both_ways: false,
                ..FACE
            },
            "radial",
            45.0,
        );
    }

    /// The table's scale and the probe's stand are off by what the figure takes for granted.
    #[test]
    fn the_truth_lies_where_the_uncertainty_says() {
        for (scale_error, lean_deg) in [(0.0, 0.0), (0.002, 0.25), (-0.002, -0.25)] {
            for (angle_deg, seed) in [(45.06, 1), (30.0, 2), (60.0, 3), (8.3, 4)] {
                let mut scenario = built_in("chamfer-face").unwrap();
                scenario.seed = seed;
                let face = &mut scenario.face[0];
                (face.scale_error, face.lean_deg) = (scale_error, lean_deg);
                face.angle_deg = angle_deg;
                let record = judged(&scenario);
                let figure = named(&record, "face-angle")[0];
                let (value, u) = (figure.value.unwrap(), figure.standard_uncertainty.unwrap());
                assert!(
                    (value - angle_deg).abs() <= FURTHEST * u,
                    "seed {seed}: {value} ± {u}, true is {angle_deg}"
                );
            }
        }
    }

    #[test]
    fn it_is_the_same_whichever_way_the_scale_counts() {
        check(
            &Face {
                angle_deg: -45.0,
                ..FACE
            },
            "radial",
            45.0,
        );
    }

    #[test]
    fn on_an_axial_surface_the_travel_is_across_the_axis() {
        check(
            &Face {
                angle_deg: 2.0,
                ..FACE
            },
            "axial",
            88.0,
        );
    }

    /// Half of the angle of the 7:24 taper, 16° 35' 39.4" (ISO 297; from memory): its slope is
    /// 7/48.
    #[test]
    fn a_7_to_24_taper_has_its_standard_angle() {
        let slope: f64 = 7.0 / 48.0;
        let standard = (16.0 + 35.0 / 60.0 + 39.4 / 3600.0) / 2.0;
        assert!((slope.atan().to_degrees() - standard).abs() < 1e-5);
        let face = Face {
            angle_deg: slope.atan().to_degrees(),
            ..FACE
        };
        check(&face, "radial", standard);
    }

    #[track_caller]
    fn check_verdict(face: &Face, limit: &str, expected: Verdict) {
        let record = judged_face(face, 1, limit, "radial");
        let figure = named(&record, "face-angle")[0];
        assert_eq!(figure.verdict, Some(expected), "{}", figure.why);
    }

    #[test]
    fn its_limits_are_judged() {
        check_verdict(&FACE, "{ min = 44.5, max = 45.5 }", Verdict::Pass);
        check_verdict(&FACE, "{ min = 46.0, max = 47.0 }", Verdict::Fail);
        check_verdict(&FACE, "{ min = 44.99, max = 45.5 }", Verdict::Undecided);
    }

    #[test]
    fn a_bowed_face_has_no_angle_as_certain_as_a_straight_one() {
        let u = |face: &Face| {
            let record = judged_face(face, 1, "{ min = 0.0 }", "radial");
            let figure = named(&record, "face-angle")[0];
            let line = figure.budget.iter();
            let mut line = line.filter(|l| l.quantity.starts_with("scatter"));
            line.next().unwrap().contribution
        };
        assert!(
            u(&Face {
                bow_mm: 0.02,
                ..FACE
            }) > 5.0 * u(&FACE)
        );
    }

    #[test]
    fn a_trace_of_more_than_the_face_is_undecided() {
        let face = Face {
            beside: 0.4,
            ..FACE
        };
        check_verdict(&face, "{ min = 44.5, max = 45.5 }", Verdict::Undecided);
    }

    #[test]
    fn a_little_beside_the_face_is_left_out() {
        check(
            &Face {
                beside: 0.15,
                ..FACE
            },
            "radial",
            45.0,
        );
    }

    #[test]
    fn a_limit_without_a_trace_is_undecided() {
        let record = judged_after(&built_in("counterbore-pass").unwrap(), |dir| {
            edit(
                dir,
                "tool.toml",
                "[feature.limits]\n",
                "[feature.limits]\nface_angle_deg = { min = 44.5 }\n",
            );
        });
        let figure = named(&record, "face-angle")[0];
        assert_eq!(figure.verdict, Some(Verdict::Undecided));
        assert!(figure.why.contains("travel_mm"), "{}", figure.why);
    }
}

mod several_features {
    use super::*;

    /// A step counterbore: pilot and seat along a radius, the end face along the axis.
    const STEP: &str = r#"
about = "A step counterbore: pilot, seat and end face in one inspection."
seed = 5
[tool]
id = "VB-12"
name = "step counterbore"
hand = "right"
flutes = 2
[[reference]]
diameter_mm = 16.0
z_mm = 60.0
turns = 1.3
[[feature]]
name = "seat"
diameter_mm = 20.0
check_distance_mm = 0.5
z_mm = [14.0]
land = { arc_deg = 55.0, relief = { family = "spiral", relief_deg = 8.0 } }
[feature.limits]
heel_clearance_mm = { min = 0.02 }
relief_angle_deg = { min = 6.0, max = 10.0 }
[[feature]]
name = "pilot"
diameter_mm = 12.0
check_distance_mm = 0.4
z_mm = [3.0]
land = { arc_deg = 50.0, relief = { family = "spiral", relief_deg = 10.0 } }
[feature.limits]
heel_clearance_mm = { min = 0.02 }
relief_angle_deg = { min = 8.0, max = 12.0 }
[[feature]]
name = "end"
surface = "axial"
diameter_mm = 16.0
check_distance_mm = 0.5
feed_mm_per_rev = 0.1
z_mm = [12.0]
land = { arc_deg = 50.0, relief = { family = "spiral", relief_deg = 9.0 } }
[feature.limits]
heel_clearance_mm = { min = 0.02 }
relief_angle_deg = { min = 7.0, max = 11.0 }
[gauge]
lean_mm = 0.005
[clamping]
eccentricity_mm = 0.006
at_deg = 250.0
first_edge_deg = 40.0
[hand]
turns = 2.2
speed_deg_per_s = 18.0
"#;

    fn step() -> Scenario {
        Scenario::from_toml(STEP, "step.toml").unwrap()
    }

    fn verdict_of(record: &Record, feature: &str) -> Option<Verdict> {
        let own = record.characteristics.iter();
        let own = own.filter(|c| c.feature.as_deref() == Some(feature));
        own.filter_map(|c| c.verdict)
            .max_by_key(|verdict| *verdict == Verdict::Fail)
    }

    #[test]
    fn each_is_judged_by_its_own_limits_and_its_own_truth() {
        let scenario = step();
        let record = judged(&scenario);
        assert_eq!(record.verdict, Some(Verdict::Pass));
        for (at, feature) in scenario.feature.iter().enumerate() {
            let truth = scenario.truth(at).unwrap();
            let own: Vec<_> = named(&record, "relief-angle")
                .into_iter()
                .filter(|c| c.feature.as_ref() == Some(&feature.name))
                .collect();
            assert_eq!(own.len(), 2, "{}", feature.name);
            for c in own {
                let (value, u) = (c.value.unwrap(), c.standard_uncertainty.unwrap());
                let expected = truth.teeth[0].relief_angle.deg();
                assert!(
                    (value - expected).abs() <= FURTHEST * u,
                    "{}: {value} ± {u}, true is {expected}",
                    feature.name
                );
            }
        }
    }

    #[test]
    fn one_that_fails_fails_the_tool_and_leaves_the_others_alone() {
        let mut scenario = step();
        let relief = toml::toml! { min = 12.0 max = 14.0 };
        let limits = &mut scenario.feature[1].limits;
        limits.insert("relief_angle_deg".to_owned(), relief.into());
        let record = judged(&scenario);
        assert_eq!(record.verdict, Some(Verdict::Fail));
        assert_eq!(verdict_of(&record, "pilot"), Some(Verdict::Fail));
        assert_eq!(verdict_of(&record, "seat"), Some(Verdict::Pass));
        assert_eq!(verdict_of(&record, "end"), Some(Verdict::Pass));
    }
}

mod hand {
    use super::*;

    /// A left-hand tool that turns the way it cuts gives the readings of its right-hand twin, and must
    /// give the same figures to the last digit: on a bench whose encoder grows the other way, and on
    /// the same bench, where it counts the mirror image.
    #[test]
    fn a_left_hand_tool_gives_the_same_figures() {
        for name in ["counterbore-pass", "end-face-feed", "chamfer-uneven-edges"] {
            let right = built_in(name).unwrap();
            let mut left = right.clone();
            left.tool.hand = "left".to_owned();
            left.gauge.grows = Grows::CounterClockwise;
            let (said, elsewhere) = (judged(&right), judged(&left));
            let beside = judged_after(&right, |dir| {
                edit(dir, "tool.toml", "hand = \"right\"", "hand = \"left\"");
                mirror(dir);
            });
            for left in [elsewhere, beside] {
                assert_eq!(
                    (said.about.hand.as_str(), left.about.hand.as_str()),
                    ("right", "left")
                );
                assert_eq!(said.characteristics, left.characteristics, "{name}");
                assert_eq!(said.flutes, left.flutes, "{name}");
                let drawn = |record: &Record| heelclear::report::svg(record).unwrap();
                assert_ne!(
                    drawn(&said),
                    drawn(&left),
                    "{name}: the section is mirrored"
                );
            }
        }
    }

    /// Turns every trace of a folder round: what was counted up is counted down.
    fn mirror(dir: &Path) {
        for file in std::fs::read_dir(dir.join("traces")).unwrap() {
            let path = file.unwrap().path();
            let text = std::fs::read_to_string(&path).unwrap();
            let mut lines = text.lines();
            let heading = lines.next().unwrap();
            assert!(heading.starts_with("time_s,angle_deg,"), "{heading}");
            let turned = lines.map(|line| {
                let (time, rest) = line.split_once(',').unwrap();
                match rest.strip_prefix('-') {
                    Some(down) => format!("{time},{down}\n"),
                    None => format!("{time},-{rest}\n"),
                }
            });
            let turned: String = turned.collect();
            std::fs::write(path, format!("{heading}\n{turned}")).unwrap();
        }
    }
}

mod uneven_spacing {
    use super::*;

    /// A four-flute cutter whose flutes stand 88° and 92° apart in turn, so that it does not
    /// chatter.
    fn uneven(first: f64) -> Scenario {
        let mut scenario = built_in("twelve-flute-cutter").unwrap();
        scenario.tool.flutes = 4;
        let feature = &mut scenario.feature[0];
        feature.tooth = [0.0, first, 0.0, -2.0]
            .map(|angle_deg| heelclear::simulator::Tooth {
                angle_deg,
                ..Default::default()
            })
            .to_vec();
        let limit = toml::toml! { max = 0.5 };
        feature
            .limits
            .insert("flute_spacing_deg".to_owned(), limit.into());
        scenario
    }

    fn with_card(scenario: &Scenario, spacing: &str) -> Record {
        judged_after(scenario, |dir| {
            let to = format!("flutes = 4\nspacing_deg = {spacing}\n");
            edit(dir, "tool.toml", "flutes = 4\n", &to);
        })
    }

    #[test]
    fn the_card_lists_it_and_the_deviation_is_from_that() {
        for card in ["[88, 92, 88, 92]", "[92.0, 88.0, 92.0, 88.0]"] {
            let record = with_card(&uneven(-2.0), card);
            let figure = named(&record, "flute-spacing")[0];
            assert!(figure.value.unwrap() < 0.2, "{card}: {:?}", figure.value);
            assert_eq!(figure.verdict, Some(Verdict::Pass), "{}", figure.why);
            let says = |line: &String| line.contains("spacing_deg");
            assert!(record.about.assumptions.iter().any(says), "{card}");
        }
    }

    #[test]
    fn a_flute_ground_out_of_its_place_fails() {
        let record = with_card(&uneven(-3.5), "[88, 92, 88, 92]");
        let figure = named(&record, "flute-spacing")[0];
        assert!(
            (figure.value.unwrap() - 1.5).abs() < 0.2,
            "{:?}",
            figure.value
        );
        assert_eq!(figure.verdict, Some(Verdict::Fail), "{}", figure.why);
    }

    #[test]
    fn without_the_list_the_same_tool_deviates_from_equal_spacing() {
        let record = judged(&uneven(-2.0));
        let figure = named(&record, "flute-spacing")[0];
        assert!((figure.value.unwrap() - 2.0).abs() < 0.2);
        assert_eq!(figure.verdict, Some(Verdict::Fail));
    }
}

mod remedies {
    use super::*;

    #[track_caller]
    fn check(scenario: &Scenario, name: &str, words: &[&str]) {
        let record = judged(scenario);
        let figures = named(&record, name);
        let failing = figures.iter().find(|c| c.verdict == Some(Verdict::Fail));
        let remedy = failing.and_then(|c| c.remedy.clone());
        let remedy = remedy.unwrap_or_else(|| panic!("no {name} fails and says what mends it"));
        for word in words {
            assert!(remedy.contains(word), "`{word}` is not in: {remedy}");
        }
    }

    #[test]
    fn uneven_edges_name_the_high_flutes_and_the_diameter_left() {
        let scenario = built_in("chamfer-uneven-edges").unwrap();
        let words = [
            "off flute ",
            "to make all even with flute ",
            "a diameter of 15.9",
        ];
        check(&scenario, "edge-spread", &words);
    }

    #[test]
    fn a_flat_that_drags_its_heel_says_how_wide_it_may_be_and_what_relief_it_needs() {
        let scenario = built_in("counterbore-heel-drag").unwrap();
        let words = [
            "lower the land on flute ",
            "behind the edge",
            "mm wide",
            "or grind the whole land with",
        ];
        check(&scenario, "heel-clearance", &words);
    }

    #[test]
    fn a_cam_that_comes_back_asks_for_more_fall() {
        let scenario = built_in("reamer-cam-rise").unwrap();
        check(
            &scenario,
            "heel-clearance",
            &["lower the land on flute ", "behind the edge"],
        );
    }

    #[test]
    fn too_little_relief_moves_the_tooth_rest_or_the_wheel_head() {
        let mut scenario = built_in("counterbore-pass").unwrap();
        let relief = toml::toml! { min = 20.0 max = 22.0 };
        let limits = &mut scenario.feature[0].limits;
        limits.insert("relief_angle_deg".to_owned(), relief.into());
        check(&scenario, "relief-angle", &["more relief on flute ", "mm"]);
    }

    #[test]
    fn too_little_back_taper_swings_the_table() {
        let mut scenario = built_in("counterbore-pass").unwrap();
        scenario.feature[0].z_mm = vec![2.0, 14.0];
        let taper = toml::toml! { min = 0.25 max = 0.75 };
        let limits = &mut scenario.feature[0].limits;
        limits.insert("back_taper_deg".to_owned(), taper.into());
        check(
            &scenario,
            "back-taper",
            &[
                "swing the table by 0.5",
                "over 100 mm",
                "smaller towards the shank",
            ],
        );
    }

    #[test]
    fn a_flute_out_of_its_place_is_named() {
        let mut scenario = built_in("chamfer-uneven-edges").unwrap();
        scenario.feature[0].tooth[1].angle_deg = -2.0;
        check(
            &scenario,
            "flute-spacing",
            &["the step is from flute ", "too wide", "indexing"],
        );
    }
}
