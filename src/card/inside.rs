//! Which files the card of an inspection may name: what a person puts into its folder.

/// What the program itself writes at the top of an inspection's folder, or reads there as a card.
const OWN: [(&str, &str); 6] = [
    ("inspection.toml", "the inspection card itself"),
    ("verdict.json", "the verdict, which judging writes"),
    ("report.svg", "the report, which judging writes"),
    ("plan.toml", "the plan of the page, which it writes"),
    (
        "simulated.txt",
        "the mark of a simulated gauge, which the page writes",
    ),
    (
        "archive-record.json",
        "what an export says of a record, which it writes",
    ),
];
/// How other names begin that are the program's own.
const OWN_BEGINNINGS: [(&str, &str); 2] = [
    ("archive.db", "an archive, which the program writes"),
    (".heelclear-", "a file that is not whole yet"),
];
/// Where capture keeps what came over the wire, and how its files there end.
const LOGS: &str = "raw/";
const LOG_ENDINGS: [&str; 2] = [".log", ".times.csv"];

/// The rule that all files of an inspection's cards are held to, for messages and the manual.
pub const INSIDE: &str = "a card names regular files inside the folder of the inspection, relative to it: copy the file there; what the program writes itself, and the cards, are no traces";

/// What is wrong with a path that a card of an inspection names, by its words alone; nothing where
/// it may be named. Capitals make no other name: on some systems they do not.
///
/// ```
/// use heelclear::card::objection;
/// assert_eq!(objection("traces/seat.csv", &[]), None);
/// assert!(objection("traces/../../seat.csv", &[]).is_some());
/// assert!(objection("./Verdict.json", &[]).is_some());
/// assert!(objection("tool.toml", &["tool.toml"]).is_some());
/// ```
pub fn objection(path: &str, cards: &[&str]) -> Option<String> {
    if path.starts_with(['/', '\\']) || path.contains(':') {
        return Some("it does not start at the folder".to_owned());
    }
    if path.split(['/', '\\']).any(|part| part == "..") {
        return Some("it leads out of a folder".to_owned());
    }
    if path.contains('\0') || path.ends_with(['/', '\\']) || path.ends_with("/.") {
        return Some("it names no file".to_owned());
    }
    let plain = plain(path);
    if plain.is_empty() {
        return Some("it names the folder itself".to_owned());
    }
    let own = OWN.iter().find(|(name, _)| plain == *name);
    let begins = || {
        let mut own = OWN_BEGINNINGS.iter();
        own.find(|(beginning, _)| plain.starts_with(beginning))
    };
    if let Some((_, what)) = own.or_else(begins) {
        return Some(format!("that is {what}"));
    }
    if plain.starts_with(LOGS) && LOG_ENDINGS.iter().any(|end| plain.ends_with(end)) {
        return Some("that is a raw log, which capture writes".to_owned());
    }
    if cards.iter().any(|card| self::plain(card) == plain) {
        return Some("that is the tool card or the gauge card".to_owned());
    }
    None
}

/// `./Traces//seat.csv` as `traces/seat.csv`.
fn plain(path: &str) -> String {
    let parts = path.split(['/', '\\']);
    let parts: Vec<&str> = parts.filter(|part| !matches!(*part, "" | ".")).collect();
    parts.join("/").to_lowercase()
}
