//! What is drawn from records: before and after a grind, a tool through its regrinds, paper.

use super::bench::{Bench, Said};
use heelclear::inspection::simulated::write_folder;
use heelclear::simulator::built_in;
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
        // As if its tool had been measured.
        fs::remove_file(folder.join("simulated.txt")).unwrap();
        judged_and_kept(&bench, &folder);
    }
    bench
}

fn judged_and_kept(bench: &Bench, folder: &std::path::Path) {
    let mut command = Command::new(super::bench::PROGRAM);
    command.arg("verify").arg(folder);
    command.arg("--archive").arg(bench.db());
    let said = Said::of(command.output().unwrap());
    assert!(said.status != 2, "{}", said.stderr);
}

/// A folder of a passing tool that is called like the failing one.
fn passing_as_the_failing(bench: &Bench, simulated: bool) -> std::path::PathBuf {
    let folder = bench.path("passes");
    let mut recipe = built_in("counterbore-pass").unwrap();
    recipe.taken = "2026-06-05T08:00:00Z".to_owned();
    write_folder(&recipe, &folder).unwrap();
    if !simulated {
        fs::remove_file(folder.join("simulated.txt")).unwrap();
    }
    let card = folder.join("tool.toml");
    let text = fs::read_to_string(&card).unwrap();
    fs::write(&card, text.replace("VB-07", "VB-08")).unwrap();
    folder
}

#[test]
fn nothing_but_a_pass_of_the_tool_itself_ends_that_it_is_due() {
    // A simulated pass is no pass of a tool.
    let bench = regrinds("counterbore-heel-drag", &[20.0]);
    judged_and_kept(&bench, &passing_as_the_failing(&bench, true));
    bench.archive(&["due"]).ended(0).says("VB-08");
    bench
        .archive(&["list"])
        .ended(0)
        .says("pass, simulated")
        .says("fail  ");
    // A verdict that was changed in the archive is none.
    let bench = regrinds("counterbore-heel-drag", &[20.0]);
    let db = rusqlite::Connection::open(bench.db()).unwrap();
    db.execute("update record set verdict = 'pass'", [])
        .unwrap();
    drop(db);
    bench
        .archive(&["due"])
        .ended(2)
        .says("VB-08")
        .says("is not as it was made");
    bench.archive(&["list"]).ended(2).says("DAMAGED");
    // Another tool's record is no correction of it.
    let bench = regrinds("counterbore-heel-drag", &[20.0]);
    let folder = bench.path("other");
    let mut recipe = built_in("counterbore-pass").unwrap();
    recipe.seed = 77;
    write_folder(&recipe, &folder).unwrap();
    bench
        .archive(&["add", "other", "--replaces", "1", "--why", "typo"])
        .ended(2)
        .says("is of `VB-08`, and this folder is of `VB-07`");
    bench.archive(&["due"]).ended(0).says("VB-08");
    // Its own pass ends it.
    judged_and_kept(&bench, &passing_as_the_failing(&bench, false));
    bench.archive(&["due"]).ended(0).says("no tool is due");
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
fn that_two_records_are_of_two_tools_is_said_once() {
    let bench = Bench::new();
    for (folder, recipe) in [("a", "counterbore-pass"), ("b", "counterbore-heel-drag")] {
        write_folder(&built_in(recipe).unwrap(), &bench.path(folder)).unwrap();
        let mut command = Command::new(super::bench::PROGRAM);
        command.arg("verify").arg(bench.path(folder));
        let said = Said::of(command.arg("--archive").arg(bench.db()).output().unwrap());
        assert!(said.status != 2, "{}", said.stderr);
    }
    let said = bench.archive(&["compare", "1", "2"]).ended(0);
    let all = said.stdout + &said.stderr;
    assert_eq!(all.matches("of two tools").count(), 1, "{all}");
}

#[test]
fn a_tool_ground_below_its_least_diameter_is_told_so() {
    let bench = regrinds("counterbore-pass", &[19.2, 18.9]);
    bench
        .archive(&["show", "2"])
        .ended(0)
        .says("Ø 18.9 mm (least allowed 19 mm)")
        .says("below the smallest allowed of 19 mm");
    let said = bench.archive(&["show", "1"]).ended(0);
    assert!(!said.stdout.contains("smallest allowed"));
    bench
        .archive(&["trend", "VB-07"])
        .ended(0)
        .says("0 regrinds are left until Ø 19 mm");
}

#[test]
fn a_certificate_has_as_many_pages_as_its_figures_need() {
    let bench = regrinds("twelve-flute-cutter", &[80.0]);
    let out = bench.path("paper.svg");
    let out = out.to_str().unwrap();
    let certificate = ["certificate", "1", "--json", "--out", out];
    let said = bench.archive(&certificate).ended(0).json().remove(0);
    let files = said["pages"].as_array().unwrap().iter();
    let pages: Vec<String> = files
        .map(|file| fs::read_to_string(file.as_str().unwrap()).unwrap())
        .collect();
    assert!(pages.len() > 1, "{} pages", pages.len());
    let shown = bench.archive(&["show", "1", "--json"]).ended(0).json();
    let figures = shown[0]["verdict"]["characteristics"].as_array().unwrap();
    for (name, words) in [
        ("relief-angle", "relief angle"),
        ("total-relief", "total relief"),
        ("flat-equivalent-relief", "flat-equivalent relief"),
    ] {
        let of_name = figures.iter().filter(|it| it["name"] == name).count();
        let cell = format!(">{words}</text>");
        let printed: usize = pages.iter().map(|page| page.matches(&cell).count()).sum();
        assert_eq!(printed, of_name, "{name}");
    }
    for (number, page) in (1..).zip(&pages) {
        assert!(page.contains(&format!("page {number} of {}", pages.len())));
        for digest in ["content", "chain"] {
            let digest = shown[0]["record"][digest].as_str().unwrap();
            assert!(page.contains(digest), "page {number}");
        }
    }
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
    assert!(drawn.contains("2026-04-05") && drawn.contains("+4"));
    assert!(drawn.contains("4 left, 95 %: 3 to 6"));
    assert_eq!(drawn.matches("<path class=\"band\"").count(), 1);
    // The recipe's card allows 19 mm, and stands where nobody asks for another diameter.
    let answer = bench.archive(&["trend", "VB-07", "--json"]).ended(0).json();
    assert_eq!(answer[0]["regrinds"].as_array().unwrap().len(), 4);
    assert_eq!(answer[0]["least_diameter_mm"], 19.0);
    let left = |answer: &serde_json::Value| answer["outlook"]["left"].as_u64().unwrap();
    let asked = ["trend", "VB-07", "--json", "--least-diameter", "19.5"];
    let sooner = bench.archive(&asked).ended(0).json();
    assert_eq!((left(&sooner[0]), left(&answer[0])), (1, 6));
    let asked = ["trend", "VB-07", "--json", "--least-diameter", "3/4in"];
    let inches = bench.archive(&asked).ended(0).json();
    assert_eq!(inches[0]["least_diameter_mm"], 19.05);
    bench
        .archive(&["trend", "VB-07", "--least-diameter", "19,2"])
        .ended(2)
        .says("a point and no comma");
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
    let page =
        fs::read_to_string(svg).unwrap() + &fs::read_to_string(bench.path("paper-2.svg")).unwrap();
    let said = bench.archive(&["show", "2", "--json"]).ended(0).json();
    for name in ["content", "previous", "chain"] {
        let digest = said[0]["record"][name].as_str().unwrap();
        assert!(page.contains(digest), "{name}");
    }
    assert!(page.contains("wheel") && page.contains("heel clearance"));
    let missing = bench.path("nowhere").join("x.svg");
    let missing = missing.to_str().unwrap();
    bench
        .archive(&["certificate", "2", "--out", missing])
        .ended(2)
        .says("could not be written");
}

#[test]
fn a_tool_is_due_by_its_last_record_and_a_damaged_one_hides_nothing() {
    let bench = regrinds("counterbore-heel-drag", &[20.0]);
    let due = bench.archive(&["due", "--json"]).ended(0).json();
    assert_eq!(due.len(), 1);
    assert_eq!(due[0]["why"], "its last record fails, after a grind");
    assert_eq!(due[0]["record"]["tool"], "VB-08");
    bench.archive(&["due"]).ended(0).says("VB-08");
    bench
        .archive(&["due", "VB-09"])
        .ended(0)
        .says("no tool is due");
    let db = rusqlite::Connection::open(bench.db()).unwrap();
    db.execute("update record set operator = 'nobody'", [])
        .unwrap();
    bench
        .archive(&["due"])
        .ended(2)
        .says("is damaged: what is said of it does not belong to its digest")
        .says("is not as it was made");
    // A grind that passes ends it; one that is worn asks for the next.
    let bench = regrinds("counterbore-pass", &[20.0]);
    bench.archive(&["due"]).ended(0).says("no tool is due");
    let bench = regrinds("worn-stepped", &[20.0]);
    bench
        .archive(&["due"])
        .ended(0)
        .says("before a grind, and no record after one follows");
}

#[test]
fn a_trend_is_not_drawn_past_a_record_that_was_changed() {
    // Even where the change would have it left out, as one before a grind.
    for change in ["operator = 'nobody'", "stage = 'before-grind'"] {
        let bench = regrinds("counterbore-pass", &[20.0, 19.8, 19.6]);
        let db = rusqlite::Connection::open(bench.db()).unwrap();
        let text = format!("update record set {change} where number = 2");
        assert_eq!(db.execute(&text, []).unwrap(), 1);
        drop(db);
        bench
            .archive(&["trend", "VB-07"])
            .ended(2)
            .says("error[archive-broken]")
            .says("/2 is damaged");
        bench
            .archive(&["compare", "1", "2"])
            .ended(2)
            .says("/2 is damaged");
        // Whether that one replaces one of these is not known any more.
        let said = bench.archive(&["compare", "1", "3"]).ended(2);
        assert!(said.stdout.contains("stock removed"), "{}", said.stdout);
    }
}

#[test]
fn records_are_found_by_customer_and_by_words_in_any_order() {
    let bench = Bench::new();
    let folder = bench.inspection("a", 1);
    let card = fs::read_to_string(folder.join("inspection.toml")).unwrap();
    let text = format!("customer = \"Nordblock\"\n{card}");
    fs::write(folder.join("inspection.toml"), text).unwrap();
    bench.archive(&["add", "a"]).ended(0);
    #[track_caller]
    fn check(bench: &Bench, line: &[&str], found: usize) {
        let all: Vec<&str> = [&["list", "--json"], line].concat();
        assert_eq!(bench.archive(&all).ended(0).json().len(), found, "{line:?}");
    }
    check(&bench, &["--text", "NORDblock"], 1);
    check(&bench, &["--text", "nordblock VB-07"], 1);
    check(&bench, &["--text", "VB-07 nordblock"], 1);
    check(&bench, &["--text", "VB-07 elsewhere"], 0);
    check(&bench, &["--since", "2026-03", "--until", "2026-03"], 1);
    check(&bench, &["--until", "2026-02"], 0);
}
