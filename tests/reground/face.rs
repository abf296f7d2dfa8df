//! Tools ground on the face through their records: what came off, what is left, and whether the land behind
//! is the surface that it was.

use super::kinds::{KINDS, Kind};
use super::setting;
use super::whole::{measured, on_the_face};
use heelclear::record::{Compared, Record, Trend};
use heelclear::simulator::{Scenario, ToothTruth};
use rand::SeedableRng;
use rand_pcg::Pcg64;
use rayon::prelude::*;

/// Tools of the quick round.
const QUICK: u64 = 2;

fn kind() -> &'static Kind {
    KINDS.iter().find(|kind| kind.on_face).unwrap()
}

/// A tool measured before and after a grind on its faces, and once more after it has worked and was ground
/// again. The places of its edges on the lands are the recipe's own.
struct Reground {
    seed: u64,
    tools: [Scenario; 3],
    records: [Record; 3],
}

fn reground(seed: u64) -> Option<Reground> {
    let kind = kind();
    let worn = kind.worn(seed);
    let before = measured(&worn);
    let (first, _, _) = on_the_face(kind, seed, worn.clone()).ok()?;
    let again = worked_on(&first, seed);
    let (second, _, _) = on_the_face(kind, seed + 1_000_000, again).ok()?;
    let first = first.diameters_read();
    let second = second.diameters_read();
    let records = [before, measured(&first), measured(&second)];
    Some(Reground {
        seed,
        tools: [worn, first, second],
        records,
    })
}

/// The tool after more work: its edges are worn, and the lands behind them stand where they stood.
fn worked_on(tool: &Scenario, seed: u64) -> Scenario {
    let heel = |tool: &Scenario| {
        let tooth = tool.truth(0).unwrap().teeth[0];
        tooth.edge_height.mm() - tooth.total_relief.mm()
    };
    let mut worn = tool
        .clone()
        .worked(&mut Pcg64::seed_from_u64(seed ^ 0x776f_726b));
    worn.feature[0].diameter_error_mm += 2.0 * (heel(tool) - heel(&worn));
    worn.diameters_read()
}

/// What really came off each land between two of the tools, in the order of the flutes in their records:
/// where a land ends does not move.
fn truly_off(it: &Reground, at: usize) -> Vec<f64> {
    let lands = |at: usize| {
        let teeth = it.tools[at].truth(0).unwrap().teeth;
        let away = |one: f64, other: f64| ((one - other + 540.0).rem_euclid(360.0) - 180.0).abs();
        let flutes = it.records[at].flutes.iter();
        let lands = flutes.map(|flute| {
            let near = |a: &&ToothTruth| away(a.edge.deg(), flute.edge_deg);
            let tooth = teeth.iter().min_by(|a, b| near(a).total_cmp(&near(b)));
            tooth.unwrap().land.deg()
        });
        lands.collect::<Vec<_>>()
    };
    let lands = lands(at).into_iter().zip(lands(at + 1));
    lands.map(|(was, is)| was - is).collect()
}

#[test]
fn what_came_off_a_land_is_told_and_the_land_behind_is_the_same() {
    /// Standard uncertainties that chance does not go beyond.
    const FURTHEST: f64 = 4.0;
    let count = setting("HEELCLEAR_GRINDS").map_or(QUICK, |text| text.parse().unwrap());
    let seeds: Vec<u64> = (1..=count).collect();
    let all: Vec<Reground> = seeds.into_par_iter().filter_map(reground).collect();
    assert!(all.len() as u64 * 5 > count * 4, "{} of {count}", all.len());
    let (mut lands, mut told, mut changed, mut squares) = (0, 0, 0, 0.0);
    let mut wrong = Vec::new();
    for it in &all {
        for (at, pair) in it.records.windows(2).enumerate() {
            let off = truly_off(it, at);
            let compared = Compared::of(&pair[0], &pair[1]);
            assert_eq!(compared.face.len(), 8);
            for (face, off) in compared.face.iter().zip(off) {
                lands += 1;
                changed += usize::from(face.same_surface == Some(false));
                let Some((found, u)) = face.off_deg.zip(face.standard_uncertainty_deg) else {
                    continue;
                };
                told += 1;
                squares += ((found - off) / u).powi(2);
                if (found - off).abs() > FURTHEST * u {
                    wrong.push(format!(
                        "{} {}: {found} ± {u}, true is {off}",
                        it.seed, face.flute
                    ));
                }
            }
        }
    }
    println!(
        "lands {lands}, told {told}, said to have changed {changed}, error / u {:.2}",
        (squares / told as f64).sqrt()
    );
    // By chance one in a thousand lands may be told so, and one of many.
    assert!(changed <= 1 + lands / 200, "{changed} of {lands}");
    assert!(wrong.len() <= lands / 200, "{wrong:#?}");
    assert!(told * 10 > lands * 9, "{told} of {lands}");
}

#[test]
fn a_land_that_was_relieved_anew_is_not_the_same_surface() {
    let it = reground(1).unwrap();
    let mut other = it.tools[1].clone();
    for tooth in &mut other.feature[0].tooth {
        // 0.05 mm more fall in the middle of the land, and as much as before at its ends.
        let [first, last] = [tooth.ground[0], *tooth.ground.last().unwrap()];
        let points = (0..=200).map(|at| {
            let share = f64::from(at) / 200.0;
            let straight = |of: usize| first[of] + (last[of] - first[of]) * share;
            [
                straight(0),
                straight(1) + 0.05 * 4.0 * share * (1.0 - share),
            ]
        });
        tooth.ground = points.collect();
    }
    let compared = Compared::of(&it.records[0], &measured(&other));
    for face in &compared.face {
        assert_eq!(face.same_surface, Some(false), "{face:?}");
        assert!(face.apart_mm.is_none_or(|apart| apart > 0.005), "{face:?}");
    }
}

#[test]
fn the_trend_of_a_tool_that_is_ground_on_the_face_counts_its_land() {
    let it = reground(2).unwrap();
    let named = |at: usize| (at.to_string(), it.records[at].clone());
    let records = [named(1), named(2)];
    let trends = Trend::of(&records, None);
    let face = trends[0].face.as_ref().unwrap();
    let off = truly_off(&it, 1);
    let mean = off.iter().sum::<f64>() / off.len() as f64;
    let used = face.used_deg[1].unwrap();
    assert!((used - mean).abs() < 0.06, "{used}, true is {mean}");
    assert!(
        !face.changed && face.least_land_deg == Some(12.0),
        "{face:?}"
    );
    let each = face.each_deg.unwrap();
    // Land ends before the size does: 2 * 25 tan 10° for each radian.
    let by_land = (face.left_deg / each).floor() as u32;
    let a_degree = 50.0 * 10f64.to_radians().tan() * 1f64.to_radians();
    let now = it.tools[2].feature[0].true_diameter_mm();
    let by_size = ((now - 47.5) / (a_degree * each)).floor() as u32;
    let left = face.left.unwrap();
    assert!(
        left.abs_diff(by_land.min(by_size)) <= 1,
        "{left} {by_land} {by_size}"
    );
    let next = face.next_diameter_mm.unwrap();
    assert!(
        (next - (now - a_degree * each)).abs() < 0.015,
        "{next} {now} {each}"
    );
    let text = heelclear::report::trend_text(&trends, Default::default());
    assert!(
        text.contains("came off") && text.contains("By the curve of the land"),
        "{text}"
    );
    // As the card says: a tool that is ground on its lands has no such outlook.
    let mut plain = records;
    for (_, record) in &mut plain {
        record.features[0].sharpened_on = None;
    }
    assert!(Trend::of(&plain, None)[0].face.is_none());
    assert!(Compared::of(&plain[0].1, &plain[1].1).face.is_empty());
}
