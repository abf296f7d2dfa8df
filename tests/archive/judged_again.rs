//! `archive rejudge`: what moved is shown with its cause, and nothing in the archive is touched.

use crate::bench::Bench;
use std::fs;

#[test]
fn what_moved_is_shown_and_the_old_verdict_stays() {
    let bench = Bench::new();
    bench.judged("same", 1);
    let old = bench.judged("old", 2);
    // As an older program might have judged it: another heel clearance, and less sure of it.
    let file = old.join("verdict.json");
    let text = fs::read_to_string(&file).unwrap();
    let mut verdict: serde_json::Value = serde_json::from_str(&text).unwrap();
    verdict["verdict"] = "fail".into();
    verdict["about"]["program"] = "heelclear 0.0.9".into();
    let figures = verdict["characteristics"].as_array_mut().unwrap();
    let figure = figures
        .iter_mut()
        .find(|figure| figure["name"] == "heel-clearance")
        .unwrap();
    figure["value"] = (-0.01).into();
    figure["verdict"] = "fail".into();
    figure["budget"][0]["contribution"] = 0.9.into();
    let all = figures.len();
    for flute in verdict["flutes"].as_array_mut().unwrap() {
        flute["curve"]["family"] = "spiral".into();
    }
    fs::write(&file, verdict.to_string()).unwrap();
    bench.inspection("new", 3);
    bench.archive(&["add", "same"]).ended(0);
    bench.archive(&["add", "old", "--as-judged"]).ended(0);
    bench.archive(&["add", "new"]).ended(0);
    let before = bench.archive(&["list", "--json"]).stdout;

    // All three pass by today's program.
    let said = bench.archive(&["rejudge", "--json"]).ended(0);
    let judged = said.json();
    assert_eq!(judged.len(), 3);
    let of = |number: i64| judged.iter().find(|it| it["number"] == number).unwrap();
    assert_eq!(
        (&of(1)["then"], &of(1)["now"]),
        (&"pass".into(), &"pass".into())
    );
    assert_eq!(of(1)["moved"].as_array().unwrap().len(), 0);
    assert_eq!(
        (&of(2)["then"], &of(2)["now"]),
        (&"fail".into(), &"pass".into())
    );
    let moved = of(2)["moved"].as_array().unwrap();
    assert_eq!(moved.len(), 1, "{moved:?}");
    assert_eq!(
        (&moved[0]["name"], &moved[0]["then"]["value"]),
        (&"heel-clearance".into(), &(-0.01).into())
    );
    assert_eq!(of(2)["stayed"], all - 1);
    let why = moved[0]["why"].to_string();
    for cause in [
        "heelclear 0.0.9 then",
        "`spiral` then, with `flat` now",
        "of uncertainty then",
    ] {
        assert!(why.contains(cause), "{cause}: {why}");
    }
    assert_eq!(
        (&of(3)["then_by"], &of(3)["now"]),
        (&serde_json::Value::Null, &"pass".into())
    );

    let said = bench
        .archive(&["rejudge", "2"])
        .ended(0)
        .says("fail → pass")
        .says("-0.01000");
    said.says("1 judged again").says("1 with another verdict");
    bench
        .archive(&["rejudge", "1"])
        .ended(0)
        .says("pass, as it was");
    assert_eq!(bench.archive(&["list", "--json"]).stdout, before);
    bench.archive(&["show", "2"]).ended(0).says("FAIL");
    bench.archive(&["check"]).ended(0).says("whole: 3 records");
}

#[test]
fn what_cannot_be_judged_is_told_and_stops_nothing() {
    let bench = Bench::new();
    let bad = bench.inspection("bad", 1);
    fs::remove_file(bad.join("traces/seat.csv")).unwrap();
    bench.judged("good", 2);
    bench.archive(&["add", "bad", "good"]).ended(0);
    let said = bench.archive(&["rejudge"]).ended(2);
    let told = said.stderr.clone();
    assert!(
        told.contains("error[missing-file]: traces/seat.csv: "),
        "{told}"
    );
    said.says("1 could not be judged").says("pass, as it was");
}
