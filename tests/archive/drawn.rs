//! What is drawn from records: before and after a grind, a tool through its regrinds, paper.

use super::bench::{Bench, Said};
use heelclear::gauge::simulated::built_in;
use heelclear::inspection::simulated::write_folder;
use std::fs;
use std::process::Command;

/// A bench whose archive has so many regrinds of one tool, each a little smaller.
fn regrinds(name: &str, sizes: &[f64]) -> Bench {
    let bench = Bench::new();
    for (number, size) in (1u64..).zip(sizes) {
        let folder = bench.path(&format!("regrind-{number}"));
        let mut recipe = built_in(name).unwrap();
        recipe.seed = 100 + number;
        recipe.taken = format!("2026-{number:02}-05T08:00:00Z");
        recipe.feature[0].diameter_mm = *size;
        write_folder(&recipe, &folder).unwrap();
        let mut command = Command::new(super::bench::PROGRAM);
        command.arg("verify").arg(&folder);
        command.arg("--archive").arg(bench.db());
        let said = Said::of(command.output().unwrap());
        assert!(said.status != 2, "{}", said.stderr);
    }
    bench
}

#[test]
fn a_grind_is_compared_tooth_by_tooth() {
    let bench = regrinds("counterbore-pass", &[20.0, 19.8]);
    let svg = bench.path("grind.svg");
    let file = svg.to_str().unwrap();
    let json = bench.archive(&["compare", "1", "2", "--json", "--out", file]);
    let answer = json.ended(0).json().remove(0);
    let stock = answer["compared"]["stock"].as_array().unwrap();
    assert_eq!(stock.len(), 2);
    for tooth in stock {
        // The recipe takes 0.2 mm off the diameter, and both lie alike but for noise.
        let lost = tooth["by_cards_mm"].as_f64().unwrap();
        assert!((lost - 0.1).abs() < 0.005, "{tooth}");
        assert!(tooth["beyond_mean_mm"].as_f64().unwrap().abs() < 0.004);
    }
    bench
        .archive(&["compare", "1", "2"])
        .ended(0)
        .says("two clampings share no zero")
        .says("by the cards");
    let drawn = fs::read_to_string(svg).unwrap();
    assert_eq!(drawn.matches("<path class=\"before\"").count(), 3); // each flute, and the legend
}

#[test]
fn the_same_diameter_on_both_cards_leaves_the_common_stock_unknown() {
    let bench = regrinds("counterbore-pass", &[20.0, 20.0]);
    bench
        .archive(&["compare", "1", "2", "--units", "in"])
        .ended(0)
        .says("not known")
        .says("the stock that all teeth lost is not known");
    bench
        .archive(&["trend", "VB-07", "--least-diameter", "19"])
        .ended(0)
        .says("do not fall");
}

#[test]
fn a_trend_tells_how_many_regrinds_are_left() {
    let bench = regrinds("counterbore-pass", &[20.0, 19.91, 19.79, 19.7]);
    let svg = bench.path("trend.svg");
    let file = svg.to_str().unwrap();
    let asked = ["trend", "VB-07", "--least-diameter", "19.2", "--out", file];
    bench
        .archive(&asked)
        .ended(0)
        .says("4 regrinds are left until Ø 19.2 mm")
        .says("95 % prediction interval 3 to 6");
    let drawn = fs::read_to_string(svg).unwrap();
    assert!(drawn.contains("2026-04-05"));
    let answer = bench.archive(&["trend", "VB-07", "--json"]).ended(0).json();
    assert_eq!(answer[0]["regrinds"].as_array().unwrap().len(), 4);
    bench
        .archive(&["trend", "none"])
        .ended(2)
        .says("no judged regrind");
}

#[test]
fn paper_carries_the_digests_of_the_archive() {
    let bench = regrinds("counterbore-pass", &[20.0, 19.8]);
    let svg = bench.path("paper.svg");
    let file = svg.to_str().unwrap();
    bench.archive(&["certificate", "2", "--out", file]).ended(0);
    let page = fs::read_to_string(svg).unwrap();
    let said = bench.archive(&["show", "2", "--json"]).ended(0).json();
    for name in ["content", "previous", "chain"] {
        let digest = said[0]["record"][name].as_str().unwrap();
        assert!(page.contains(digest), "{name}");
    }
    assert!(page.contains("wheel") && page.contains("heel-clearance"));
    let missing = bench.path("nowhere").join("x.svg");
    let missing = missing.to_str().unwrap();
    bench
        .archive(&["certificate", "2", "--out", missing])
        .ended(2)
        .says("could not be written");
}
