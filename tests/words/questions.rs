//! What a grinder or an auditor asks with the first words that come to mind, and what answers.
#![allow(clippy::unwrap_used, clippy::panic)]

use assert_cmd::Command;

/// What `heelclear manual WORDS` prints, its status with it.
fn asked(words: &str) -> (i32, String, String) {
    let mut command = Command::cargo_bin("heelclear").unwrap();
    let output = command
        .arg("manual")
        .args(words.split(' '))
        .output()
        .unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (
        output.status.code().unwrap(),
        text(output.stdout),
        text(output.stderr),
    )
}

/// The answer has these words before other places are named.
#[track_caller]
fn answers(words: &str, says: &str) {
    let (status, stdout, stderr) = asked(words);
    let (answer, _) = stdout
        .split_once("# See also")
        .unwrap_or((stdout.as_str(), ""));
    assert!(
        status == 0 && answer.contains(says),
        "{words}: `{says}` is not in\n{stdout}{stderr}"
    );
}

#[test]
fn a_grinder_is_answered_at_the_first_word() {
    for (word, says) in [
        ("backup", "heelclear archive backup"),
        ("restore", "Put it back"),
        ("guard band", "1.645"),
        ("speed", "degrees a second"),
        ("turn", "heel first"),
        ("heel", "Where the land ends"),
        ("margin", "without relief"),
        ("certificate", "digests"),
        ("clearance", "below the circle"),
        ("wobble", "out of true"),
        ("calibration", "gauge blocks"),
        ("install", "cargo install"),
        ("com port", "COM4"),
        ("drawing", "relief_angle_deg"),
        ("ball size", "smaller"),
        ("helix", "one place of each edge"),
        ("broken", "Symptoms and cures"),
        ("photo", "Add a photograph"),
        ("token", "drawn anew at each start"),
        ("note", "notes.txt"),
        ("excel", "spreadsheet"),
        ("inch", "3/4in"),
        ("tir", "Highest less lowest"),
        ("rub", "rubs in place of cutting"),
        ("zero", "rezeroed"),
        ("help", "--help"),
        ("glossary", "Glossary"),
        ("tooth rest", "tooth rest"),
        ("data folder", "AppData"),
        ("new computer", "Another computer"),
        ("too fast", "degrees a second"),
        ("chamfer", "over travel"),
        ("r&r", "several hands"),
        ("solder", "make-the-bridge"),
        ("firmware", "make-the-bridge"),
    ] {
        let says = says.replace("AppData", "APPDATA");
        answers(word, &says);
    }
}

#[test]
fn questions_in_whole_sentences_are_answered() {
    for (question, says) in [
        ("how do I restore a backup", "Put it back"),
        ("where are my files", "archive.db"),
        ("which ball should I choose", "Start with 1 mm"),
        ("why is it undecided", "guard band"),
        ("what does an auditor do", "archive check --rejudge"),
        ("which way do I turn the tool", "heel first"),
        ("how accurate is it", "standard uncertainty"),
        ("ball radius tolerance", "uncertainty"),
        ("sign of the probe offset", "probe_offset_mm"),
        ("second bench cannot push", "share-records"),
        ("how many regrinds are left", "regrinds"),
        ("can it measure helical flutes", "what-it-cannot-judge"),
        ("take a trace at rest", "capture"),
        ("good tool fails at the heel", "symptoms"),
        ("record was tampered with", "why-records-are-chained"),
        ("search records", "The archive in the browser"),
        ("which tools are due for a regrind", "archive due"),
        ("how do I make the bridge", "make-the-bridge"),
        ("how fast may the encoder turn", "make-the-bridge"),
    ] {
        answers(question, says);
    }
}

#[test]
fn a_place_that_is_found_has_its_page_and_line_and_can_be_read() {
    let (status, stdout, stderr) = asked("stylus radius tolerance diameter");
    assert_eq!(status, 0, "{stderr}");
    let place = regex::Regex::new(r"(?m)^([a-z-]+):(\d+)  ").unwrap();
    let found = place.captures(&stdout).unwrap();
    let (status, section, _) = asked(&format!("{}:{}", &found[1], &found[2]));
    assert_eq!(status, 0);
    let page = heelclear::manual::page(&found[1]).unwrap();
    let line = page
        .text
        .lines()
        .nth(found[2].parse::<usize>().unwrap() - 1);
    assert!(section.contains(line.unwrap()), "{section}");
}

#[test]
fn a_word_that_is_not_there_is_not_taken_for_one_that_is_spelt_a_little_like_it() {
    for word in ["zebra", "quux", "xylophone"] {
        let (status, stdout, stderr) = asked(word);
        assert_eq!((status, stdout.as_str()), (2, ""));
        assert!(!stderr.contains("is it `"), "{stderr}");
    }
    let (status, _, stderr) = asked("certifcate");
    assert_eq!(status, 2);
    assert!(stderr.contains("is it `certificate`?"), "{stderr}");
}
