//! Every command that the manual prints is run, and every form of one is held to the command line.
//!
//! A page's commands run in their order in a place of its own, with what a shop has: cards, folders,
//! an archive. A simulated bench stands in for a port.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::manual::{PAGES, Page};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;
use tempfile::TempDir;

/// What cannot be run here, by what it has in it, and why.
const CANNOT: &[(&str, &str)] = &[
    ("cargo ", "builds the program anew"),
    (
        "postgres://",
        "wants a server: `tests/archive/shared.rs` runs that page on one",
    ),
    (
        "psql tools",
        "wants a server: `tests/archive/shared.rs` runs that page on one",
    ),
    (
        "--address 192.168.1.20",
        "listens on an address that this computer does not have",
    ),
    ("--turn", "waits 90 s for a hand at a bench"),
    ("jq ", "another program, which not every computer has"),
];

/// What ends with exit status 2 because it shows a fault.
const SHOWS_A_FAULT: &[&str] = &["archive check --archive broken.db"];

/// Pages that a test of their own follows to the letter.
const FOLLOWED_ELSEWHERE: &[&str] = &["tutorial"];

/// A command as a page prints it: lines of a block that are one, without comments.
fn blocks(page: &Page) -> Vec<String> {
    let mut commands = Vec::new();
    let (mut inside, mut open) = (false, String::new());
    for line in page.text.lines().map(str::trim) {
        if let Some(language) = line.strip_prefix("```") {
            inside = matches!(language, "console" | "sh");
            continue;
        }
        if !inside || line.is_empty() || line.starts_with('#') {
            continue;
        }
        open += line.trim_end_matches('\\');
        if !line.ends_with('\\') {
            commands.push(std::mem::take(&mut open));
        }
    }
    commands
}

/// Commands in the midst of a sentence.
fn in_sentences(page: &Page) -> Vec<String> {
    let mut found = Vec::new();
    let mut fenced = false;
    for line in page.text.lines() {
        fenced ^= line.trim_start().starts_with("```");
        let spans = line.split('`').skip(1).step_by(2);
        let commands = spans.filter(|span| span.starts_with("heelclear "));
        found.extend(commands.filter(|_| !fenced).map(str::to_owned));
    }
    found
}

/// Whether something in it stands for what a person puts there, or it is a command's name alone.
fn is_form(command: &str) -> bool {
    let name = regex::Regex::new(r"\b[A-Z][A-Z_]{2,}\b|…|\[|\|").unwrap();
    let mut at = heelclear::cli::command();
    let named = command.split(' ').skip(1).all(|word| {
        let below = at.find_subcommand(word).cloned();
        below.map(|below| at = below).is_some()
    });
    named || name.is_match(command)
}

/// Holds the words and flags of a command to the command line.
#[track_caller]
fn held(page: &str, command: &str) {
    let words: Vec<&str> = command
        .split([' ', '[', ']'])
        .filter(|w| !w.is_empty())
        .collect();
    let mut at = heelclear::cli::command();
    at.build();
    for word in &words[1..] {
        if *word == "…" {
            // What is left out may name another one.
            return;
        }
        if let Some(flag) = word.strip_prefix("--") {
            let flag = flag.split('=').next().unwrap();
            let known = ["help", "version", "json"].contains(&flag)
                || at.get_arguments().any(|arg| arg.get_long() == Some(flag));
            assert!(known, "{page}: `{command}` has `--{flag}`");
        } else if let Some(below) = at.find_subcommand(word).cloned() {
            at = below;
        } else {
            let placed = at.get_positionals().next().is_some() || word.contains('|');
            let value = at.get_arguments().any(|arg| arg.get_long().is_some());
            assert!(placed || value, "{page}: `{command}` has `{word}`");
        }
    }
}

/// A shop: what the pages take for there.
struct Shop {
    folder: TempDir,
}

impl Shop {
    /// Made once, since it takes a while, and copied for each page.
    fn open() -> Self {
        static MADE: OnceLock<TempDir> = OnceLock::new();
        let made = MADE.get_or_init(|| {
            let shop = Self {
                folder: tempfile::tempdir().unwrap(),
            };
            shop.furnish();
            shop.folder
        });
        let folder = tempfile::tempdir().unwrap();
        let all = made.path().join(".");
        let mut copy = Command::new("cp");
        let copied = copy.arg("-r").arg(all).arg(folder.path()).status();
        assert!(copied.unwrap().success());
        Self { folder }
    }

    fn furnish(&self) {
        for (recipe, folder, more) in [
            ("counterbore-pass", "VB-07", ""),
            ("counterbore-heel-drag", "bench/VB-08", ""),
            ("worn-four-flutes", "bench/VB-31", ""),
            ("worn-form-relieved", "bench/VB-41", ""),
            ("counterbore-pass", "regrind-1", "--regrind 1"),
            ("counterbore-pass", "regrind-2", "--regrind 2"),
        ] {
            self.does(&format!(
                "heelclear simulate {recipe} --out {folder} {more}"
            ));
        }
        self.does("heelclear demo --whole-job --out whole");
        for ground in ["2-ground", "4-ground-again"] {
            fs::rename(
                self.path(&format!("whole/{ground}")),
                self.path(&format!("bench/{ground}-after")),
            )
            .unwrap();
        }
        // A cam that a card knows by its figures.
        let card = fs::read_to_string(self.path("whole/grinder.toml")).unwrap();
        fs::write(
            self.path("grinder.toml"),
            card.replace("cam 1", "four lobes"),
        )
        .unwrap();
        self.does("heelclear verify VB-07 regrind-1 regrind-2 --archive");
        for card in ["tool.toml", "gauge.toml"] {
            fs::copy(
                self.path(&format!("VB-07/{card}")),
                self.path(match card {
                    "tool.toml" => "VB-07.toml",
                    _ => "bench.toml",
                }),
            )
            .unwrap();
        }
        self.recipes();
        fs::create_dir(self.path("shop")).unwrap();
        let hands = |part: u32, operator: &str, trial: u32| {
            let value = 0.05 + 0.002 * f64::from(part) + 0.0001 * f64::from(trial);
            format!("VB-{part:02},{operator},{value}\n")
        };
        let mut table = "part,operator,value_mm\n".to_owned();
        for part in 1..=10 {
            for operator in ["ann", "ben", "cleo"] {
                table.extend((1..=3).map(|trial| hands(part, operator, trial)));
            }
        }
        fs::write(self.path("hands.csv"), table).unwrap();
    }

    /// Hands that turn long enough for whatever a page asks of them: on tools, and on a test bar.
    fn recipes(&self) {
        let long = |text: &str| {
            text.replace("turns = 1.3", "turns = 9.0")
                .replace("turns = 2.2", "turns = 9.0")
        };
        for (recipe, file) in [
            ("counterbore-pass", "good.toml"),
            ("counterbore-heel-drag", "worn.toml"),
        ] {
            let text = self.does(&format!("heelclear simulate {recipe} --recipe"));
            let text = long(&text);
            fs::write(self.path(file), &text).unwrap();
            if file == "good.toml" {
                let both = text.replace("turning = \"backing\"", "turning = \"both\"");
                fs::write(self.path("both.toml"), both).unwrap();
                let (from, rest) = text.split_once("[[reference]]").unwrap();
                let (round, rest) = rest.split_once("[[feature]]").unwrap();
                let far = round.replace("z_mm = 40.0", "z_mm = 0.0");
                let bar = format!("{from}[[reference]]{round}[[reference]]{far}[[feature]]{rest}");
                fs::write(self.path("bar.toml"), bar).unwrap();
            }
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, command: &str) -> Output {
        let program = Path::new(env!("CARGO_BIN_EXE_heelclear"));
        let path = std::env::var("PATH").unwrap();
        let path = format!("{}:{path}", program.parent().unwrap().display());
        Command::new("bash")
            .args(["-c", command])
            .current_dir(self.folder.path())
            .env("PATH", path)
            .env("HOME", self.path("home"))
            .env("XDG_DATA_HOME", self.path("home/data"))
            .output()
            .unwrap()
    }

    /// Runs what has to go well; gives what it printed.
    #[track_caller]
    fn does(&self, command: &str) -> String {
        let output = self.run(command);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_ne!(output.status.code(), Some(2), "{command}\n{said}");
        String::from_utf8(output.stdout).unwrap()
    }

    /// Runs a command of a page, with a simulated bench in place of its port.
    #[track_caller]
    fn follow(&self, page: &str, command: &str) {
        let ran = here(command);
        let output = self.run(&ran);
        let expected_fault = SHOWS_A_FAULT.iter().any(|fault| command.contains(fault));
        let said = [output.stdout, output.stderr].concat();
        let said = String::from_utf8_lossy(&said);
        let status = output.status.code();
        let well = match expected_fault {
            true => status == Some(2),
            // A tool that fails or is undecided is an answer.
            false => matches!(status, Some(0 | 1 | 3)),
        };
        assert!(
            well && !said.contains("panicked"),
            "{page}: `{command}`, run as `{ran}`, ended with {status:?}\n{said}"
        );
    }
}

/// What a command is here: nobody waits a minute, and a simulated bench has no port.
fn here(command: &str) -> String {
    let recipe = match command {
        _ if command.contains("capture worn ") => "worn.toml",
        _ if command.contains("checks/both") => "both.toml",
        _ if command.contains("checks/bar") => "bar.toml",
        _ => "good.toml",
    };
    let simulated = match command.contains(" ready ") {
        true => format!("--simulate {recipe}"),
        false => format!("--simulate {recipe} --faster 100"),
    };
    let mut ran = command
        .replace("--port /dev/ttyUSB0", &simulated)
        .replace("--rest 60", "--rest 2")
        .replace("--rest 5", "--rest 2")
        .replace("--seconds 30", "--seconds 1")
        .replace("/mnt/shop/", "shop/");
    // What serves until it is stopped is stopped.
    if ran.trim_end() == "heelclear bench" || ran.contains("--serve") {
        let port = if ran.contains("--serve") {
            ""
        } else {
            " --port 0"
        };
        ran = format!("timeout --preserve-status -s INT 3 {ran}{port}");
    }
    ran
}

/// What hands do between two commands of a page.
fn between(shop: &Shop, page: &str, command: &str) {
    if page == "keep-records" && command.contains("export 1 --out mend") {
        let mended = "for card in mend/*/gauge.toml; do echo '# of bench 2' >> $card; done";
        shop.does(mended);
    }
    if command.contains("capture checks/high") {
        // A higher block.
        shop.does(
            "awk -F, 'NR > 1 { $NF += 1 } { print }' OFS=, checks/high/traces/rest.csv > higher \
             && mv higher checks/high/traces/rest.csv",
        );
    }
}

fn cannot(command: &str) -> bool {
    CANNOT.iter().any(|(part, _)| command.contains(part))
}

/// Follows the pages from here to there, so that they share the cores.
fn followed(kind: &str) {
    let mut ran = 0;
    let pages = PAGES.iter().filter(|page| page.kind == kind);
    for page in pages.filter(|page| !FOLLOWED_ELSEWHERE.contains(&page.name)) {
        let sentences = in_sentences(page);
        let sentences = sentences.into_iter().filter(|command| !is_form(command));
        let blocks = blocks(page);
        // Another program is not ours to try, but those that stand beside ours are.
        let ours =
            |command: &String| command.starts_with("heelclear") || command.contains("sqlite3");
        let commands: Vec<String> = blocks.into_iter().chain(sentences).collect();
        let commands: Vec<&String> = commands
            .iter()
            .filter(|command| ours(command) && !cannot(command))
            .collect();
        if commands.is_empty() {
            continue;
        }
        let shop = Shop::open();
        if page.name == "the-whole-job" {
            // It begins with nothing, and makes its own.
            shop.does("rm -r bench.toml VB-07.toml home");
        }
        for command in commands {
            shop.follow(page.name, command);
            between(&shop, page.name, command);
            ran += 1;
        }
        if page.name == "the-whole-job" {
            // Whoever follows it to its end has a tool that is proven to clear.
            let verdict = shop.run("heelclear verify ground");
            let said = String::from_utf8_lossy(&verdict.stdout);
            assert_eq!(verdict.status.code(), Some(0), "{said}");
        }
    }
    assert!(ran > 0 || kind == "explanation", "{kind}: no command ran");
}

#[test]
fn every_command_of_a_how_to_page_does_what_it_says() {
    followed("how-to");
}

#[test]
fn every_command_of_the_reference_and_of_an_explanation_runs() {
    followed("reference");
    followed("explanation");
}

#[test]
fn every_form_of_a_command_has_the_words_and_flags_that_there_are() {
    let mut forms = 0;
    for page in PAGES {
        for command in in_sentences(page).iter().filter(|command| is_form(command)) {
            held(page.name, command);
            forms += 1;
        }
    }
    assert!(forms > 30, "{forms}");
}

#[test]
fn what_cannot_be_run_is_there() {
    let all: Vec<String> = PAGES
        .iter()
        .flat_map(|page| [blocks(page), in_sentences(page)].concat())
        .collect();
    for (part, why) in CANNOT {
        let used = all.iter().any(|command| command.contains(part));
        assert!(used, "no page prints `{part}` any more: {why}");
    }
}
