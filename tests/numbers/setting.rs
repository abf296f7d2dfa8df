//! What is set on the grinder, against handbooks, training manuals and computed tables: every row of
//! the tables in `tests/reference` that can be computed, with the source beside it there.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::card::SwivelZero;
use heelclear::fit::relief::{flat_drop, flat_equivalent_relief};
use heelclear::quantity::{Angle, AngularSpeed, Length, deg_min, typed};
use heelclear::setting::{
    FaceStock, Marking, Pulleys, cam_rise, grind_face, motor_pulley, relief_offset,
    sine_bar_height, spindle_pulley, surface_speed, swivel_setting, table_swing, taper_over,
    turned_by_height,
};
use std::path::Path;

/// A row of a table: what it is, what it is worked out from, and what comes out.
struct Row {
    id: String,
    /// The numbers in the sentence of its inputs, in their order.
    inputs: Vec<f64>,
    /// The figures.
    values: Vec<f64>,
    /// How far each may be off; the last counts for those that follow.
    tolerances: Vec<f64>,
}

/// The rows that have figures. Those without are rules in words, and named by whoever asks.
fn rows(file: &str, rules: &[&str]) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference");
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path.join(file))
        .unwrap();
    let header = reader.headers().unwrap().clone();
    let mut found = Vec::new();
    for record in reader.records() {
        let record = record.unwrap();
        let cell = |name: &str| &record[header.iter().position(|it| it == name).unwrap()];
        let status = cell("status");
        assert!(["published", "computed"].contains(&status), "{status}");
        if rules.contains(&cell("id")) {
            continue;
        }
        found.push(Row {
            id: cell("id").to_owned(),
            inputs: numbers(cell("inputs")),
            values: numbers(cell("value")),
            tolerances: numbers(cell("tolerance")),
        });
    }
    assert!(!found.is_empty(), "{file}");
    found
}

/// The numbers of a sentence; `3/8` is one.
fn numbers(text: &str) -> Vec<f64> {
    let number = regex::Regex::new(r"\d+(?:\.\d+)?(?:/\d+)?").unwrap();
    let value = |found: regex::Match| match found.as_str().split_once('/') {
        Some((above, below)) => above.parse::<f64>().unwrap() / below.parse::<f64>().unwrap(),
        None => found.as_str().parse().unwrap(),
    };
    number.find_iter(text).map(value).collect()
}

impl Row {
    /// Holds what was found to the figures, within their tolerance and the rounding of the last digit.
    #[track_caller]
    fn is(&self, found: &[f64]) {
        assert_eq!(found.len(), self.values.len(), "{}", self.id);
        for (at, (found, printed)) in found.iter().zip(&self.values).enumerate() {
            let last = self.tolerances.last().copied().unwrap_or(0.0);
            let tolerance = self.tolerances.get(at).copied().unwrap_or(last);
            let off = (found - printed).abs();
            assert!(
                off <= tolerance * 1.01 + 1e-9,
                "{}: {found}, printed {printed}",
                self.id
            );
        }
    }

    #[track_caller]
    fn inputs<const N: usize>(&self) -> [f64; N] {
        let inputs = self.inputs.as_slice();
        inputs.try_into().unwrap_or_else(|_| panic!("{}", self.id))
    }
}

fn deg(deg: f64) -> Angle {
    Angle::from_deg(deg)
}

fn mm(mm: f64) -> Length {
    Length::from_mm(mm)
}

fn inches(inches: f64) -> Length {
    Length::from_in(inches)
}

fn rpm(rpm: f64) -> AngularSpeed {
    AngularSpeed::from_rpm(rpm)
}

#[test]
fn offsets_are_those_of_the_table() {
    // off-fact-2 says what too little clearance does.
    for row in rows("setting_offset.csv", &["off-fact-2"]) {
        if row.id == "off-fact-1" {
            // NAVEDTRA 14251: a rest about 1 in below the centre of a 7 in wheel, for drill points; the
            // angle that it makes is our arithmetic: 16.602°.
            let angle = turned_by_height(inches(7.0), inches(1.0)).unwrap();
            assert!((angle.deg() - 16.602).abs() < 5e-4);
            assert!((relief_offset(inches(7.0), angle).inches() - 1.0).abs() < 1e-12);
            continue;
        }
        let [diameter, relief] = row.inputs();
        row.is(&[relief_offset(mm(diameter), deg(relief)).mm()]);
        let back = turned_by_height(mm(diameter), relief_offset(mm(diameter), deg(relief)));
        assert!((back.unwrap().deg() - relief).abs() < 1e-9);
        // The rule of the trade: right within a third of a percent up to 7°.
        let rule = 0.0087 * diameter * relief;
        assert!((rule / row.values[0] - 1.0).abs() < 0.0034, "{}", row.id);
    }
}

#[test]
fn heights_turn_the_edge_as_computed() {
    for row in rows("height_error.csv", &[]) {
        let [diameter, height] = row.inputs();
        row.is(&[turned_by_height(mm(diameter), mm(height)).unwrap().deg()]);
    }
}

#[test]
fn wheels_and_pulleys_turn_as_published() {
    for row in rows("wheel_speed.csv", &["ws-5"]) {
        let size = |length: Option<Length>| length.unwrap().inches();
        match row.id.as_str() {
            // 5000 to 6000 ft/min are 25.4 and 30.5 m/s by our arithmetic: 6 in of wheel turn 3183
            // and 3820 times a minute.
            "ws-1" => {
                for (ft_per_min, m_per_s, turns) in
                    [(5000.0, 25.4, 3183.1), (6000.0, 30.48, 3819.7)]
                {
                    let speed = surface_speed(inches(6.0), rpm(turns));
                    assert!((speed.ft_per_min() - ft_per_min).abs() < 0.1, "{speed:?}");
                    assert!((speed.m_per_s() - m_per_s).abs() < 1e-3, "{speed:?}");
                }
                assert_eq!(row.values, [5000.0, 6000.0]);
            }
            // A counter-shaft's pulley of 9 in turned 400 times by a main shaft of 150.
            "pul-1" => {
                let [main, driven, wanted] = row.inputs();
                row.is(&[size(motor_pulley(rpm(main), rpm(wanted), inches(driven)))]);
            }
            "pul-3" => {
                let [motor, pulley, wanted] = row.inputs();
                row.is(&[size(spindle_pulley(
                    rpm(motor),
                    rpm(wanted),
                    inches(pulley),
                ))]);
            }
            "pul-5" => {
                let [shaft, spindle, pulley] = row.inputs();
                row.is(&[size(motor_pulley(rpm(shaft), rpm(spindle), inches(pulley)))]);
                let pair = Pulleys {
                    motor: inches(row.values[0]),
                    spindle: inches(pulley),
                };
                let turns = pair.spindle_turns(rpm(shaft)).unwrap();
                assert!((turns.rpm() - spindle).abs() < 1e-9);
            }
            other => panic!("{other} is not checked"),
        }
    }
}

/// `ws-5`, ANSI B7.1-2000, 7.1.1 in our own words: turns may rise as a wheel wears, and its surface
/// gets no faster than that of the full-size wheel.
#[test]
fn a_worn_wheel_may_turn_faster_and_run_no_faster() {
    let marking = Marking {
        full_diameter: Some(inches(7.0)),
        turning: Some(rpm(3600.0)),
        ..Marking::default()
    };
    let full = surface_speed(inches(7.0), rpm(3600.0));
    let mut before = 0.0;
    for diameter in [7.0, 6.0, 5.0, 4.0] {
        let allowed = marking.allows(inches(diameter)).unwrap();
        let surface = surface_speed(inches(diameter), allowed.turning);
        assert!((surface / full - 1.0).abs() < 1e-12);
        assert!(allowed.turning.rpm() > before);
        assert!(allowed.holds(allowed.turning) && !allowed.holds(allowed.turning * 1.001));
        before = allowed.turning.rpm();
    }
}

#[test]
fn tapers_and_angles_are_those_of_the_handbooks() {
    for row in rows("taper_angle.csv", &["sine-2"]) {
        match row.id.as_str() {
            id if id.starts_with("tpf-") => {
                let [included] = row.inputs();
                let over = |length| taper_over(deg(included / 2.0), inches(length)).inches();
                row.is(&[over(1.0), over(12.0)][..row.values.len()]);
            }
            // 3/4 in a foot, and two disks that touch it.
            "disk-1" => {
                let side = typed::taper("3/4in/ft").unwrap();
                assert_eq!(deg_min(side), "1° 47.4′");
                let sine = sine_bar_height(side, mm(1.0)).mm();
                assert!((sine - 0.03123).abs() < 1e-5, "{sine}");
                let [_, small, large] = row.inputs();
                let apart = (large - small) / 2.0 / sine;
                assert!((apart - 4.002).abs() < 1e-3, "{apart}");
            }
            // Half the taper over the whole length is what a centre is set over.
            "set-1" => {
                let [taper, over, length] = row.inputs();
                let side = deg((taper / over / 2.0).atan().to_degrees());
                let set = table_swing(Angle::ZERO, side, inches(length)).over_length;
                row.is(&[set.inches()]);
            }
            "set-3" => {
                let [length, large, small] = row.inputs();
                let side = deg(((large - small) / length / 2.0).atan().to_degrees());
                let set = table_swing(Angle::ZERO, side, inches(length)).over_length;
                row.is(&[taper_over(side, inches(12.0)).inches(), set.inches()]);
            }
            "sw-1" => {
                let [to_axis] = row.inputs();
                row.is(&[swivel_setting(deg(to_axis), SwivelZero::Across).deg()]);
            }
            "sw-3" => {
                let [included] = row.inputs();
                row.is(&[swivel_setting(deg(included / 2.0), SwivelZero::Along).deg()]);
            }
            other => panic!("{other} is not checked"),
        }
    }
    // sine-2, US Army subcourse OD1642: height = L sin a.
    let height = sine_bar_height(deg(30.0), inches(5.0)).inches();
    assert!((height - 2.5).abs() < 1e-12);
}

#[test]
fn a_grind_on_the_face_costs_what_is_computed() {
    // rel-1 is about the gears of a relieving attachment, rel-2 says that the profile stays.
    for row in rows("relieving.csv", &["rel-1", "rel-2"]) {
        let [diameter, teeth, relief, off] = row.inputs();
        let (diameter, relief) = (mm(diameter), deg(relief));
        let pitch = cam_rise(diameter, teeth as u32, relief, Angle::ZERO).unwrap();
        let ground = grind_face(diameter, relief, FaceStock::AtEdge(mm(off))).unwrap();
        row.is(&[
            pitch.per_pitch.mm(),
            ground.comes_down.mm(),
            (diameter - ground.diameter).mm(),
        ]);
        assert!((ground.comes_down.mm() - off * relief.rad().tan()).abs() < 1e-12);
    }
}

#[test]
fn drops_over_a_land_are_those_computed() {
    // The others are recommendations, which nothing here works out.
    for row in rows("relief_angles.csv", &["ra-1", "ra-2", "ra-5"]) {
        let [diameter, land, relief] = row.inputs();
        let radius = inches(diameter) / 2.0;
        let arc = Angle::from_rad(inches(land) / radius);
        let drop = flat_drop(deg(relief), arc, radius);
        row.is(&[drop.inches()]);
        let back = flat_equivalent_relief(drop, arc, radius).unwrap();
        assert!((back.deg() - relief).abs() < 1e-9);
    }
}
