//! What README.md shows is what the program says.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::inspection::{Folder, verify};
use heelclear::simulator::built_in;
use std::collections::BTreeSet;
use std::path::Path;

const README: &str = include_str!("../../README.md");
const SAMPLES: &str = include_str!("../../sample-data/README.md");

/// A line with its numbers blotted out and its columns drawn together: digits may move a little
/// from one version to the next, words and verdicts may not.
fn blotted(line: &str) -> String {
    let number = regex::Regex::new(r"-?\d+(\.\d+)?").unwrap();
    let line = number.replace_all(line, "#");
    line.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_verdict_shown_is_the_verdict_said() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("seat");
    // As the sample was made, and as who reads this makes it.
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    let command = command.args(["simulate", "counterbore-heel-drag", "--out"]);
    command.arg(&folder).assert().success();
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    let output = command.arg("verify").arg(&folder).output().unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    let lines: BTreeSet<String> = said.lines().map(blotted).collect();
    let (_, block) = README.split_once("```text\n").unwrap();
    let (shown, _) = block.split_once("```").unwrap();
    for line in shown.lines() {
        assert!(lines.contains(&blotted(line)), "`{line}` is not in\n{said}");
    }
}

#[test]
fn it_starts_with_the_job_and_then_with_two_commands() {
    let mut parts = README.split("\n\n");
    assert_eq!(parts.next(), Some("# heelclear"));
    assert!(parts.next().unwrap().starts_with("A person who regrinds"));
    let commands = parts.next().unwrap();
    assert_eq!(
        commands,
        "```console\ncargo run --release -- demo\ncargo test --release\n```"
    );
}

/// A row of sample-data/README.md: folder, what it shows, verdict, seed, command.
fn samples() -> Vec<[String; 5]> {
    let rows = SAMPLES.lines().filter(|line| line.starts_with("| `"));
    rows.map(|row| {
        let cells = row.trim_matches('|').split('|').map(|cell| {
            let cell = cell.trim();
            let code = cell
                .strip_prefix('`')
                .and_then(|cell| cell.strip_suffix('`'));
            code.unwrap_or(cell).to_owned()
        });
        cells.collect::<Vec<_>>().try_into().unwrap()
    })
    .collect()
}

#[test]
fn each_sample_has_a_row_with_its_recipe_seed_and_command() {
    let folders = std::fs::read_dir("sample-data").unwrap();
    let folders = folders
        .map(Result::unwrap)
        .filter(|entry| entry.path().is_dir());
    let folders: BTreeSet<String> = folders
        .map(|entry| entry.file_name().into_string().unwrap())
        .collect();
    let named: BTreeSet<String> = samples().into_iter().map(|[folder, ..]| folder).collect();
    assert_eq!(named, folders);
    for [folder, shows, _, seed, command] in samples() {
        let recipe = built_in(&folder).unwrap();
        assert_eq!(recipe.about, shows);
        assert_eq!(recipe.seed.to_string(), seed, "{folder}");
        let expected =
            format!("heelclear simulate {folder} --seed {seed} --out sample-data/{folder}");
        assert_eq!(command, expected);
    }
    assert!(SAMPLES.contains("CC0"));
}

#[test]
fn each_sample_gets_the_verdict_in_its_row() {
    for [folder, _, verdict, ..] in samples() {
        let opened = Folder::open(&Path::new("sample-data").join(&folder)).unwrap();
        let record = verify(&opened).unwrap();
        assert_eq!(record.verdict.unwrap().as_str(), verdict, "{folder}");
    }
}

/// The command lines under a heading, without their comments.
fn commands_under(heading: &str) -> Vec<Vec<String>> {
    let (_, section) = README.split_once(heading).unwrap();
    let (_, block) = section.split_once("```console\n").unwrap();
    let (block, _) = block.split_once("```").unwrap();
    let words = |line: &str| {
        let line = line.split('#').next().unwrap();
        line.split_whitespace().skip(1).map(str::to_owned).collect()
    };
    block.lines().map(words).collect()
}

#[cfg(unix)]
#[test]
fn the_lines_about_records_do_what_they_say() {
    let folder = tempfile::tempdir().unwrap();
    let lines = commands_under("## Keep records");
    assert_eq!(lines.len(), 6);
    let run = |line: &[String]| {
        let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
        let output = command.args(line).current_dir(folder.path()).output();
        let output = output.unwrap();
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        (
            output.status.code(),
            text + &String::from_utf8_lossy(&output.stderr),
        )
    };
    for line in &lines {
        let (status, said) = run(line);
        assert_eq!(status, Some(0), "{line:?}\n{said}");
    }
    for drawn in ["compare.svg", "trend.svg"] {
        assert!(folder.path().join(drawn).is_file(), "{drawn}");
    }
    // A byte in the middle of a kept trace, broken by hand; the first such bytes of the file may
    // lie in a part of it that nothing uses any more.
    let file = folder.path().join("heelclear-demo/archive.db");
    let db = rusqlite::Connection::open(&file).unwrap();
    let query = "select packed from content join file using (digest)
        where number = 2 and path = 'traces/seat.csv'";
    let packed: Vec<u8> = db.query_row(query, [], |row| row.get(0)).unwrap();
    db.query_row("pragma wal_checkpoint(truncate)", [], |_| Ok(()))
        .unwrap();
    drop(db);
    let mut bytes = std::fs::read(&file).unwrap();
    let inside = &packed[packed.len() / 2..][..24];
    let at = bytes.windows(24).position(|window| window == inside);
    bytes[at.unwrap()] ^= 0x55;
    std::fs::write(&file, bytes).unwrap();
    let (status, said) = run(&lines[5]);
    assert_eq!(status, Some(2), "{said}");
    assert!(said.contains("/2: file `traces/seat.csv`"), "{said}");
}
