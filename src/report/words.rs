//! What the picture and the text both say: the headline, who is meant, what to do.

use super::figures;
use super::rank;
use crate::quantity::Units;
use crate::record::{Characteristic, Record, Verdict};

/// The cautions, in full on every report.
pub(super) const CAUTIONS: [&str; 3] = [
    "Ground edges are sharp. Stop the wheel and lock the spindle before a probe or a hand goes near the tool.",
    "A pass speaks of the geometry measured and not of fitness for any use.",
    "The shop's own safety rules, the wheel maker's speed limit and licensed practice go first.",
];

/// Said before everything else of a capture that ended early.
const CUT_SHORT: &str = "THE CAPTURE WAS CUT SHORT. ";

/// The verdict in capitals, as it stands on top.
pub(super) const fn shout(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(Verdict::Pass) => "PASS",
        Some(Verdict::Fail) => "FAIL",
        Some(Verdict::Undecided) => "UNDECIDED",
        None => "NOT JUDGED",
    }
}

/// The verdict on a tool, and that there was none where the gauge was simulated.
pub(super) fn shouted(record: &Record) -> String {
    let word = shout(record.verdict);
    match record.about.simulated {
        true => format!("{word}, SIMULATED"),
        false => word.to_owned(),
    }
}

/// The verdict on one figure; a dash where it has no limit.
pub(super) const fn word(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(verdict) => verdict.as_str(),
        None => figures::NOTHING,
    }
}

/// What the verdict hangs on, in a sentence or two.
pub fn headline(record: &Record, units: Units) -> String {
    let judged = record
        .characteristics
        .iter()
        .filter(|c| c.verdict.is_some());
    let all = judged.clone().count();
    let alike = judged.filter(|c| c.verdict == record.verdict).count();
    let sure = figures::percent(record.about.confidence);
    let cut = if record.about.interrupted {
        CUT_SHORT
    } else {
        ""
    };
    let (opening, named) = match record.verdict {
        None => {
            return format!("{cut}Nothing was judged: no figure that was measured has a limit.");
        }
        Some(Verdict::Pass) => (
            format!("Every limit is kept, with at least {sure} certainty ({all} judged)."),
            "Nearest to its limit:",
        ),
        Some(Verdict::Fail) => {
            let fail = if alike == 1 { "fails" } else { "fail" };
            (format!("{alike} of {all} judged figures {fail}."), "Worst:")
        }
        Some(Verdict::Undecided) => {
            let are = if alike == 1 { "is" } else { "are" };
            (
                format!("{alike} of {all} judged figures {are} proven neither good nor bad."),
                "First of them:",
            )
        }
    };
    match rank::deciding(record) {
        None => format!("{cut}{opening}"),
        Some(one) => format!("{cut}{opening} {named} {}.", claim(record, one, units)),
    }
}

/// A figure beside its limit: `seat, flute 2, heel clearance 0.0123 ± 0.0022 mm, allowed ≥ 0.02`.
fn claim(record: &Record, of: &Characteristic, units: Units) -> String {
    let value = match of.value {
        Some(_) => figures::in_words(of, units),
        None => "not to be had".to_owned(),
    };
    let allowed = figures::allowed(of.limit, &of.unit, units);
    format!(
        "{}, {} {value}, allowed {allowed}",
        subject(record, of, units),
        figures::name(&of.name)
    )
}

/// Who is meant: `seat, flute 2`, `seat`, or `tool`, and where along it.
pub(super) fn subject(record: &Record, of: &Characteristic, units: Units) -> String {
    let who = match (&of.feature, of.flute) {
        (Some(feature), Some(flute)) => format!("{feature}, flute {flute}"),
        (Some(feature), None) => feature.clone(),
        (None, _) => "tool".to_owned(),
    };
    who + &place(record, of, units)
}

/// Where along the tool a figure was taken, ` at 5 mm`, where its feature was traced at several
/// distances from the front; else nothing.
pub(super) fn place(record: &Record, of: &Characteristic, units: Units) -> String {
    let Some(z_mm) = of.z_mm else {
        return String::new();
    };
    let elsewhere = |other: &Characteristic| {
        other.feature == of.feature && other.z_mm.is_some_and(|other| other != z_mm)
    };
    match record.characteristics.iter().any(elsewhere) {
        true => format!(" at {}", units.length(z_mm)),
        false => String::new(),
    }
}

/// Why figures do not pass and what would mend it, said once for all it is true of.
pub(super) struct Finding<'a> {
    /// Fail or undecided.
    pub verdict: Verdict,
    /// `seat, flutes 1 to 3: heel clearance, drop; seat: edge spread`.
    pub subject: String,
    /// Why; where one remedy mends several, each reason once.
    pub why: String,
    /// What to do.
    pub remedy: Option<&'a str>,
}

/// The findings: what fails before what is undecided, and each in the order of features and flutes,
/// as a person goes round the tool.
pub(super) fn findings(record: &Record, units: Units) -> Vec<Finding<'_>> {
    let bad = |c: &&Characteristic| matches!(c.verdict, Some(Verdict::Fail | Verdict::Undecided));
    let mut bad: Vec<&Characteristic> = record.characteristics.iter().filter(bad).collect();
    bad.sort_by_key(|c| rank::severity(c.verdict));
    let alike = rank::groups(bad, |one, other| {
        let same_grind = one.verdict == Some(Verdict::Fail) && one.remedy.is_some();
        one.verdict == other.verdict
            && one.remedy == other.remedy
            && (one.why == other.why || same_grind)
    });
    let (settings, cannot): (Vec<_>, Vec<_>) =
        settings(record).partition(|(explains, _)| *explains);
    let findings = alike.into_iter().filter_map(|group| {
        let first = *group.first()?;
        Some(Finding {
            verdict: first.verdict?,
            why: whys(&group),
            subject: subjects(record, group, units),
            remedy: first.remedy.as_deref(),
        })
    });
    let settings = settings.into_iter().map(|(_, it)| it);
    let cannot = cannot.into_iter().map(|(_, it)| it);
    settings.chain(findings).chain(cannot).collect()
}

/// What a finished grind tells of its settings, and whether that explains what does not pass: what to set
/// stands before all else, that the settings cannot explain it behind.
fn settings(record: &Record) -> impl Iterator<Item = (bool, Finding<'_>)> {
    record.settings.iter().map(|advice| {
        let finding = Finding {
            verdict: advice.verdict,
            subject: format!("settings of {}, {}", advice.fixture, advice.direction),
            why: advice.why.clone(),
            remedy: Some(&advice.remedy),
        };
        (advice.explains, finding)
    })
}

/// The reasons of a group, each once: the first few, since one remedy may mend a whole cutter.
fn whys(group: &[&Characteristic]) -> String {
    const TOLD: usize = 4;
    let mut whys: Vec<&str> = Vec::new();
    for one in group {
        if !whys.contains(&one.why.as_str()) {
            whys.push(&one.why);
        }
    }
    let more = match whys.len().saturating_sub(TOLD) {
        0 => String::new(),
        more => format!("; and {more} more alike"),
    };
    whys.truncate(TOLD);
    whys.join("; ") + &more
}

/// Who and what a group is about, each flute and each name said once.
fn subjects(record: &Record, group: Vec<&Characteristic>, units: Units) -> String {
    let named = rank::groups(group, |a, b| {
        a.feature == b.feature && a.name == b.name && a.z_mm == b.z_mm
    });
    let mut parts: Vec<(String, Vec<String>)> = Vec::new();
    for same in named {
        let Some(first) = same.first() else { continue };
        let who = first.feature.as_deref().unwrap_or("tool");
        let flutes: Vec<u32> = same.iter().filter_map(|c| c.flute).collect();
        let who = match flutes.len() {
            0 => who.to_owned(),
            1 => format!("{who}, flute {}", ranges(flutes)),
            _ => format!("{who}, flutes {}", ranges(flutes)),
        };
        let who = who + &place(record, first, units);
        match parts.iter_mut().find(|(known, _)| *known == who) {
            Some((_, names)) => names.push(figures::name(&first.name)),
            None => parts.push((who, vec![figures::name(&first.name)])),
        }
    }
    let parts = parts
        .into_iter()
        .map(|(who, names)| format!("{who}: {}", names.join(", ")));
    parts.collect::<Vec<_>>().join("; ")
}

/// Numbers with their runs joined: `1 to 3, 7`.
fn ranges(mut numbers: Vec<u32>) -> String {
    numbers.sort_unstable();
    numbers.dedup();
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let run = |(first, last): (u32, u32)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first} to {last}"),
    };
    runs.into_iter().map(run).collect::<Vec<_>>().join(", ")
}

/// What was seen that a person should know: doubts that no figure tells as its reason, then warnings.
pub(super) fn warnings(record: &Record) -> Vec<String> {
    let told = |clause: &String| {
        let mut whys = record.characteristics.iter().map(|each| &each.why);
        whys.any(|why| why.ends_with(clause))
    };
    let doubts = record.doubts.iter().filter_map(|doubt| {
        let clause = format!("{}; {}", doubt.seen, doubt.cure);
        let flute = doubt
            .flute
            .map_or(String::new(), |n| format!(", flute {n}"));
        (!told(&clause)).then(|| format!("feature `{}`{flute}: {clause}", doubt.feature))
    });
    doubts.chain(record.warnings.iter().cloned()).collect()
}

/// `after-grind` as people say it.
pub(super) fn stage(record: &Record) -> String {
    record.about.stage.replace('-', " ")
}

/// How the tool cuts and how many teeth it has: `right-hand, 2 flutes`.
pub(super) fn build(record: &Record) -> String {
    let flutes = figures::count(record.about.flutes as usize, "flute");
    format!("{}-hand, {flutes}", record.about.hand)
}

/// Text with nothing in it that could move the cursor, end a line or turn the reading direction.
#[must_use]
pub fn harmless(text: &str) -> String {
    let safe = |c: char| match c {
        '\t' | '\n' | '\r' => ' ',
        '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '\u{fffd}',
        '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
        c if c.is_control() => '\u{fffd}',
        c => c,
    };
    text.chars().map(safe).collect()
}

/// The text with a minus as wide as a plus before its negative numbers, for print.
pub(super) fn minus(text: &str) -> String {
    let mut before = ' ';
    let mut printed = String::with_capacity(text.len());
    let mut rest = text.chars().peekable();
    while let Some(character) = rest.next() {
        let negative =
            character == '-' && before == ' ' && rest.peek().is_some_and(char::is_ascii_digit);
        printed.push(if negative { '−' } else { character });
        before = character;
    }
    printed
}

/// A blank at which no line ends.
pub(super) const TIE: char = '\u{a0}';

/// Text for print: minus signs, and figures kept together with what belongs to them.
pub(super) fn printed(text: &str) -> String {
    tied(&minus(text))
}

/// Text with figures kept together with what belongs to them.
pub(super) fn tied(text: &str) -> String {
    let mut text = text.to_owned();
    for loose in [" ± ", " … ", "≥ ", "≤ ", " mm", " µm", " °", " %"] {
        text = text.replace(loose, &loose.replace(' ', "\u{a0}"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_flutes_are_joined() {
        assert_eq!(ranges(vec![3, 1, 2, 7]), "1 to 3, 7");
        assert_eq!(ranges(vec![2, 1]), "1, 2");
        assert_eq!(ranges(vec![5]), "5");
    }

    #[test]
    fn only_negative_numbers_get_a_minus() {
        assert_eq!(
            minus("heel-clearance -0.3, 2026-03-02, VB-07 -x"),
            "heel-clearance −0.3, 2026-03-02, VB-07 -x"
        );
    }

    #[test]
    fn a_name_cannot_reach_the_terminal() {
        assert_eq!(
            harmless("a\u{1b}[2Jb\nc\u{202e}d"),
            "a\u{fffd}[2Jb c\u{fffd}d"
        );
    }
}
