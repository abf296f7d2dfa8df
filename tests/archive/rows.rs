//! Inspections as rows, judged by a filter: the same as in a folder, whatever came before.

use crate::bench::{Bench, PROGRAM, Said};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use heelclear::record::archive::pack;
use serde_json::{Value, json};
use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

/// The row of an inspection folder whose traces have one file each.
fn row(folder: &Path, id: &Value, packed: bool) -> Value {
    let text = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
    let card: toml::Table = text("inspection.toml").parse().unwrap();
    let traces = card["trace"].as_array().unwrap().iter().map(|trace| {
        let file = trace["file"].as_str().unwrap();
        let bytes = fs::read(folder.join(file)).unwrap();
        let bytes = if packed { pack(file, &bytes) } else { bytes };
        json!({ "file": file, "blob": STANDARD.encode(bytes) })
    });
    json!({
        "id": id,
        "inspection_card": text("inspection.toml"),
        "tool_card": text("tool.toml"),
        "gauge_card": text("gauge.toml"),
        "traces": traces.collect::<Vec<_>>(),
    })
}

fn judge(lines: &str, more: &[&str]) -> Said {
    let mut child = Command::new(PROGRAM)
        .args(["judge", "--stdin"])
        .args(more)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let lines = lines.to_owned();
    let writing = std::thread::spawn(move || input.write_all(lines.as_bytes()));
    let said = Said::of(child.wait_with_output().unwrap());
    writing.join().unwrap().unwrap();
    said
}

#[test]
fn a_row_is_judged_as_its_folder_is_and_gives_the_same_bytes_again() {
    let bench = Bench::new();
    let mut lines = String::new();
    let mut verdicts = Vec::new();
    for seed in 1..=3_u64 {
        let folder = bench.judged(&format!("i{seed}"), seed);
        let verdict = fs::read_to_string(folder.join("verdict.json")).unwrap();
        verdicts.push(serde_json::from_str::<Value>(&verdict).unwrap());
        lines += &format!("{}\n", row(&folder, &json!(seed), seed == 2));
    }
    let one = judge(&lines, &[]).ended(0);
    let answers = one.json();
    for ((answer, verdict), seed) in answers.iter().zip(&verdicts).zip(1..) {
        assert_eq!(answer["schema"], "heelclear.judged/1");
        assert_eq!(answer["id"], json!(seed));
        for key in ["verdict", "judged_from", "characteristics"] {
            assert_eq!(answer[key], verdict[key], "{key}");
        }
        assert_eq!(answer["program"], verdict["about"]["program"]);
        assert!(answer["error"].is_null());
    }
    // In other company, packed or not, by more threads, in another order.
    let turned: Vec<&str> = lines.lines().rev().collect();
    let other = judge(&(turned.join("\n") + "\n"), &["--threads", "2"]).ended(0);
    let mut back: Vec<&str> = other.stdout.lines().collect();
    back.reverse();
    assert_eq!(back, one.stdout.lines().collect::<Vec<_>>());
}

#[test]
fn a_bad_row_is_answered_and_stops_none() {
    let bench = Bench::new();
    let good = row(&bench.inspection("a", 1), &json!("good"), true);
    let bad = |change: &dyn Fn(&mut Value)| {
        let mut row = good.clone();
        change(&mut row);
        row["id"] = json!("bad");
        row.to_string()
    };
    let lines = [
        "no JSON at all".to_owned(),
        "{\"id\": 7}".to_owned(),
        bad(&|row| row["tool_card"] = json!("schema = 1")),
        bad(&|row| row["traces"][0]["blob"] = json!("%%%")),
        bad(&|row| row["traces"][0]["blob"] = json!(STANDARD.encode(b"hclr\x01\x02 and no more"))),
        bad(&|row| row["traces"][0]["file"] = json!("../../escaped.csv")),
        bad(&|row| row["traces"] = json!([])),
        bad(&|row| row["trials"] = json!(1_000_000_000_000_u64)),
        bad(&|row| row["traces"][0]["file"] = json!("./tool.toml")),
        bad(&|row| {
            let first = row["traces"][0].clone();
            row["traces"].as_array_mut().unwrap().push(first);
        }),
        bad(&|row| row["traces"][1]["blob"] = json!("")),
        String::new(),
        good.to_string(),
    ];
    let said = judge(&(lines.join("\n") + "\n"), &["--threads", "3"]).ended(0);
    let answers = said.json();
    assert_eq!(answers.len(), 12);
    let (last, refused) = answers.split_last().unwrap();
    assert_eq!(
        (&last["id"], &last["verdict"]),
        (&json!("good"), &json!("pass"))
    );
    for answer in refused {
        assert!(answer["error"]["message"].is_string(), "{answer}");
        assert!(answer["verdict"].is_null());
        assert_eq!(answer["characteristics"], json!([]));
    }
    assert_eq!(refused[1]["id"], 7);
    assert!(refused[2..].iter().all(|answer| answer["id"] == "bad"));
    // No place of the moment stands in an answer.
    let again = judge(&(lines.join("\n") + "\n"), &[]).ended(0);
    assert_eq!(again.stdout, said.stdout);
    let great = good
        .to_string()
        .replace("\"good\"", "123456789012345678901");
    let great = judge(&(great + "\n"), &[]).ended(0).json();
    assert!(great[0]["id"].is_null() && !great[0]["error"].is_null());
    said.says("11 of 12 rows could not be judged");
}
