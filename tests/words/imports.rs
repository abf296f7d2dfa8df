//! Holds the code to the picture of the house in DEVELOPERS.md: who may import whom, and who may
//! touch the world.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Who may import whom, besides itself. The same table stands in DEVELOPERS.md.
const MAY_IMPORT: &[(&str, &str)] = &[
    ("numeric", ""),
    ("quantity", ""),
    ("manual", ""),
    ("error", "quantity"),
    ("card", "quantity error"),
    ("gauge", "quantity error card"),
    ("simulator", "numeric quantity error card gauge"),
    ("sample", "quantity error gauge"),
    ("trace", "numeric quantity error card sample"),
    ("shape", "numeric quantity error card trace"),
    ("fit", "numeric quantity error card shape"),
    ("judge", "numeric quantity error card trace shape fit"),
    ("study", "numeric quantity error card trace shape judge"),
    ("setting", "numeric quantity error card shape fit judge"),
    (
        "record",
        "numeric quantity error card sample trace shape judge setting",
    ),
    ("report", "quantity error record"),
    (
        "inspection",
        "quantity error card gauge simulator sample trace shape fit judge study setting record",
    ),
    ("kept", "quantity error card record report inspection"),
    (
        "page",
        "quantity error card inspection kept record report manual",
    ),
    (
        "cli",
        "numeric quantity manual error card gauge simulator sample trace shape fit judge study setting record report inspection kept page",
    ),
];

/// The only places that touch a disk, a port, a network or a clock: paths below `src`.
const TOUCH_THE_WORLD: &[&str] = &[
    "gauge/serial",
    "gauge/raw_log",
    "simulator/served",
    "record/archive",
    "inspection/",
    "page/",
    "cli/",
];

/// How the world is touched. Printing and exiting are left to `main` and the faces.
const TOUCHES: &[&str] = &[
    "std::fs",
    "fs::File",
    "File::open",
    "std::net",
    "std::process",
    "std::env",
    "serialport::",
    "rustix::",
    "tempfile::",
    "Instant::now",
    "SystemTime",
    "Timestamp::now",
    "Zoned::now",
    "ZonedDateTime::now",
    "thread::sleep",
    "io::stdout",
    "io::stderr",
];

pub struct Source {
    /// Below `src`, with forward slashes.
    pub path: String,
    /// Without comments and without its tests.
    pub code: String,
    pub whole: String,
}

pub fn sources() -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    collect(&root, &mut files);
    files.sort();
    let read = |file: PathBuf| {
        let whole = fs::read_to_string(&file).unwrap();
        let path = file.strip_prefix(&root).unwrap();
        Source {
            path: path.to_str().unwrap().replace('\\', "/"),
            code: code_of(&whole),
            whole,
        }
    };
    files.into_iter().map(read).collect()
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
}

/// The lines that are not comments, up to the tests, which stand last in a file.
fn code_of(whole: &str) -> String {
    let end = whole.find("#[cfg(test)]\nmod ").unwrap_or(whole.len());
    let lines = whole[..end].lines();
    let code = lines.filter(|line| !line.trim_start().starts_with("//"));
    code.collect::<Vec<_>>().join("\n")
}

/// The first names behind every `crate::`, also those in braces.
fn imports(code: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for (at, path) in code.match_indices("crate::") {
        // `$crate::` in a macro and `other_crate::` are something else.
        if code[..at].ends_with(|before: char| before.is_alphanumeric() || "_$".contains(before)) {
            continue;
        }
        let rest = &code[at + path.len()..];
        match rest.strip_prefix('{') {
            Some(inside) => names.extend(in_braces(inside)),
            None => names.extend(first_name(rest)),
        }
    }
    names
}

fn in_braces(inside: &str) -> Vec<String> {
    let mut depth = 0;
    let mut names = Vec::new();
    let mut start = true;
    for (at, c) in inside.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => start = true,
            c if start && depth == 0 && !c.is_whitespace() => {
                names.extend(first_name(&inside[at..]));
                start = false;
            }
            _ => {}
        }
    }
    names
}

fn first_name(path: &str) -> Option<String> {
    let end = path.find(|c: char| !c.is_alphanumeric() && c != '_');
    let name = &path[..end.unwrap_or(path.len())];
    // A macro of the crate has no module before it.
    let is_module = MAY_IMPORT.iter().any(|(module, _)| *module == name);
    (is_module || path[name.len()..].starts_with("::")).then(|| name.to_owned())
}

fn module_of(path: &str) -> &str {
    path.split('/').next().unwrap().trim_end_matches(".rs")
}

#[test]
fn every_module_imports_only_what_the_table_allows() {
    let mut faults = Vec::new();
    for source in sources() {
        let module = module_of(&source.path);
        if ["lib", "main"].contains(&module) {
            continue;
        }
        let Some((_, allowed)) = MAY_IMPORT.iter().find(|(name, _)| *name == module) else {
            faults.push(format!(
                "src/{}: `{module}` is not in the table",
                source.path
            ));
            continue;
        };
        for name in imports(&source.code) {
            if name != module && allowed.split(' ').all(|it| it != name) {
                faults.push(format!("src/{}: `{module}` imports `{name}`", source.path));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn no_module_climbs_to_the_crate_by_super() {
    for source in sources() {
        let parts = source.path.split('/').count();
        // `a/mod.rs` is the module `a`; `a/b.rs` is one below it.
        let depth = if source.path.ends_with("mod.rs") {
            parts - 1
        } else {
            parts
        };
        let climb = "super::".repeat(depth);
        assert!(
            depth == 0 || !source.code.contains(&climb),
            "src/{} reaches the crate by `{climb}`: write `crate::`",
            source.path
        );
    }
}

#[test]
fn only_the_named_files_touch_disk_port_network_or_clock() {
    let mut faults = Vec::new();
    for source in sources() {
        let free = TOUCH_THE_WORLD
            .iter()
            .any(|free| source.path.starts_with(free));
        if free || source.path == "main.rs" {
            continue;
        }
        for touch in TOUCHES {
            if source.code.contains(touch) {
                faults.push(format!("src/{} uses `{touch}`", source.path));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// The files that open others by themselves: what they read is no file that a person names, and no
/// part of a folder. All else goes through `record/archive/regular.rs`, which refuses pipes, devices
/// and what has no end.
const READ_BY_THEMSELVES: &[&str] = &[
    "gauge/serial_access.rs",
    "inspection/whole_file.rs",
    "record/archive/copy.rs",
    "record/archive/regular.rs",
];

#[test]
fn what_a_person_names_is_read_in_one_place() {
    let mut faults = Vec::new();
    for source in sources() {
        let free = READ_BY_THEMSELVES.contains(&source.path.as_str());
        for read in ["fs::read(", "fs::read_to_string(", "File::open("] {
            if !free && source.code.contains(read) {
                faults.push(format!("src/{} reads by `{read}…)`", source.path));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// The most lines of a function, from its `fn` to its closing brace.
const LONGEST: usize = 60;

/// Reasons to be longer.
const STEPS: &str = "one computation, whose steps share most of what they find";
const CASES: &str = "a list of cases, each a few lines";
const DRAWN: &str = "a drawing from top to bottom, which shares its margins";

/// Functions that are longer, with the reason.
const MAY_BE_LONGER: &[(&str, &str, &str)] = &[
    ("cli/screen/run.rs", "watch", STEPS),
    ("cli/screen/words.rs", "instruction", CASES),
    ("fit/report.rs", "report", STEPS),
    ("fit/solve.rs", "solve", STEPS),
    ("inspection/capture/event.rs", "fmt", CASES),
    ("inspection/capture/one.rs", "trace", STEPS),
    ("inspection/logs/device.rs", "warnings", CASES),
    ("judge/few.rs", "too_few", CASES),
    ("judge/known.rs", "known", CASES),
    ("judge/taper.rs", "of_flute", STEPS),
    ("report/lettering.rs", "sign", DRAWN),
    ("report/lettering.rs", "strokes", CASES),
    ("report/page.rs", "facts", DRAWN),
    ("report/page.rs", "footing_of", DRAWN),
    ("report/table.rs", "draw_row", DRAWN),
    ("report/trend_plot.rs", "draw", DRAWN),
    ("shape/anatomy.rs", "anatomy", STEPS),
    ("shape/corner.rs", "fit_corner", STEPS),
    ("shape/land.rs", "edge", STEPS),
    ("shape/land.rs", "ridden_edge", STEPS),
    ("shape/land.rs", "tooth", STEPS),
    ("shape/runout.rs", "runout", STEPS),
    ("simulator/land.rs", "relief", CASES),
    ("simulator/scenario/check.rs", "check", CASES),
    ("study/crossed.rs", "crossed", STEPS),
    ("study/rest.rs", "rest", STEPS),
    ("study/step.rs", "step", STEPS),
    ("trace/delay.rs", "search", STEPS),
    ("trace/merge.rs", "merge", STEPS),
    ("trace/slide.rs", "straight", STEPS),
    ("trace/turns.rs", "agreement", STEPS),
];

/// The functions of a file with their lengths. `rustfmt` sets a closing brace under its `fn`.
fn functions(code: &str) -> Vec<(&str, usize)> {
    let lines: Vec<&str> = code.lines().collect();
    let mut found = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let start = line.trim_start();
        let Some((before, after)) = start.split_once("fn ") else {
            continue;
        };
        let words = ["pub", "const", "async", "pub(super)", "pub(crate)"];
        let of_function = |word: &str| words.contains(&word) || word.starts_with("pub(in");
        let all = before
            .split_whitespace()
            .all(|word| of_function(word) || word.starts_with("crate::") || word.ends_with(')'));
        let mut rest = lines[at..].iter().map(|line| line.trim_end());
        let opens = rest.find(|line| line.ends_with(['{', ';', '}']));
        if !all || !opens.is_some_and(|line| line.ends_with('{')) {
            continue;
        }
        let name = after.split(['(', '<']).next().unwrap_or_default();
        let end = format!("{}}}", &line[..line.len() - start.len()]);
        let length = lines[at..].iter().position(|line| *line == end);
        found.extend(length.map(|length| (name, length + 1)));
    }
    found
}

#[test]
fn no_function_is_long_but_those_named_with_a_reason() {
    let mut faults = Vec::new();
    let mut longer: BTreeSet<(&str, &str)> = MAY_BE_LONGER
        .iter()
        .map(|(file, name, _)| (*file, *name))
        .collect();
    let sources = sources();
    for source in &sources {
        for (name, length) in functions(&source.code) {
            if length > LONGEST && !longer.remove(&(source.path.as_str(), name)) {
                faults.push(format!("src/{}: `{name}` has {length} lines", source.path));
            }
        }
    }
    for (file, name) in longer {
        faults.push(format!(
            "src/{file}: `{name}` is not longer: take it off the list"
        ));
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_file_says_in_its_first_line_what_it_is() {
    for source in sources() {
        let first = source.whole.lines().next().unwrap_or_default();
        assert!(
            first.starts_with("//! ") && first.len() > 12,
            "src/{} starts with `{first}`",
            source.path
        );
    }
}

#[test]
fn the_table_in_the_developers_guide_is_the_same() {
    let guide = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let guide = fs::read_to_string(guide).unwrap();
    for (module, allowed) in MAY_IMPORT {
        let row = match *module {
            "cli" => "| `cli` | everything |".to_owned(),
            _ if allowed.is_empty() => format!("| `{module}` | nothing |"),
            _ => format!("| `{module}` | {} |", allowed.replace(' ', ", ")),
        };
        assert!(guide.contains(&row), "DEVELOPERS.md lacks the row `{row}`");
    }
}

#[test]
fn the_top_level_holds_what_it_should_and_nothing_else() {
    const KNOWN: &[&str] = &[
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
        "src",
        "firmware-notes",
        "tests",
        "sample-data",
        "target",
    ];
    for entry in fs::read_dir(env!("CARGO_MANIFEST_DIR")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            name.starts_with('.') || KNOWN.contains(&name.as_str()),
            "`{name}` does not belong at the top level"
        );
    }
}

#[test]
fn the_reader_of_imports_sees_what_it_should() {
    #[track_caller]
    fn check(code: &str, expected: &[&str]) {
        let found: Vec<String> = imports(code).into_iter().collect();
        assert_eq!(found, expected);
    }
    check("use crate::card::Name;", &["card"]);
    check(
        "use crate::{card::{Limit, Name}, error::Error, fit};",
        &["card", "error", "fit"],
    );
    check("fn a(b: crate::judge::Budget) {}", &["judge"]);
    check("$crate::card::x(); other_crate::y();", &[]);
}
