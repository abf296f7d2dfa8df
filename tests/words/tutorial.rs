//! The tutorial, followed to the letter: each command is run, and what the page shows is said.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::fs;
use std::path::Path;

const TUTORIAL: &str = include_str!("../../src/manual/tutorial.md");

/// Text with its numbers blotted out and its blanks drawn together: the last digits differ from
/// one demo to the next, and lines wrap where they like.
fn blotted(text: &str) -> String {
    let number = regex::Regex::new(r"-?\d+(\.\d+)?").unwrap();
    let text = number.replace_all(text, "#");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The blocks of a section in their order, each with its language.
fn blocks(section: &str) -> Vec<(&str, &str)> {
    let pieces = section.split("```").skip(1).step_by(2);
    pieces
        .map(|piece| piece.split_once('\n').unwrap())
        .collect()
}

/// Runs `heelclear …` in this folder; gives its status and all that it said.
fn run(line: &str, place: &Path) -> (i32, String) {
    let words: Vec<&str> = line.split_whitespace().collect();
    assert_eq!(words[0], "heelclear");
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    let output = command
        .args(&words[1..])
        .current_dir(place)
        .output()
        .unwrap();
    let said = [output.stdout, output.stderr].concat();
    (
        output.status.code().unwrap(),
        String::from_utf8(said).unwrap(),
    )
}

/// Changes a card as a person with an editor would.
fn edit(card: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(card).unwrap();
    assert!(text.contains(from), "{from} is not in\n{text}");
    fs::write(card, text.replace(from, to)).unwrap();
}

#[test]
fn each_step_says_what_the_page_shows() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("heelclear-demo");
    let (tool, inspection) = (folder.join("tool.toml"), folder.join("inspection.toml"));
    let [sharp, usual] = [
        "heel_clearance_mm = { min = 1.0 }",
        "heel_clearance_mm = { min = 0.02 }",
    ];
    let sections: Vec<&str> = TUTORIAL.split("\n## ").skip(1).collect();
    let statuses = [0, 0, 1, 2, 3];
    assert_eq!(sections.len(), statuses.len());
    for (section, expected) in sections.into_iter().zip(statuses) {
        match section.split_once('.').unwrap().0 {
            "3" => {
                assert!(section.contains(sharp));
                edit(&tool, usual, sharp);
            }
            "4" => edit(&tool, "flutes = ", "flute = "),
            "5" => {
                edit(&tool, "flute = ", "flutes = ");
                edit(&tool, sharp, usual);
                let card = fs::read_to_string(&inspection).unwrap();
                let tables = card.split("[[trace]]");
                let kept: Vec<&str> = tables
                    .filter(|table| !table.contains("\"reference\""))
                    .collect();
                let gone = card.lines().count() - kept.join("[[trace]]").lines().count();
                assert_eq!(gone, 1 + 4 + 1, "the table, its four lines and a blank one");
                fs::write(&inspection, kept.join("[[trace]]")).unwrap();
            }
            _ => {}
        }
        let mut said = String::new();
        let mut ended = Vec::new();
        for (language, text) in blocks(section) {
            match language {
                "console" => {
                    let (status, words) = run(text, place.path());
                    ended.push(status);
                    said = words;
                }
                "text" => {
                    let heard = blotted(&said);
                    for line in text.lines().map(blotted) {
                        assert!(heard.contains(&line), "`{line}` is not in\n{said}");
                    }
                }
                _ => {}
            }
        }
        assert_eq!(ended[0], expected, "{section}");
        // What is looked up afterwards is found.
        assert!(ended[1..].iter().all(|status| *status == 0), "{section}");
    }
}
