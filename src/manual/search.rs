//! Finding a place in the manual: by its words, and by words that mean the same.

use super::{PAGES, Page};
use rust_stemmers::{Algorithm, Stemmer};
use std::collections::{BTreeMap, BTreeSet};

/// What people ask for and where it stands, a line each: words between commas, a colon, places.
const SYNONYMS: &str = include_str!("synonyms.txt");

/// Words that ask and do not tell what for.
const ASKING: &[&str] = &[
    "a", "an", "and", "any", "are", "as", "at", "be", "been", "by", "can", "could", "do", "does",
    "for", "from", "get", "has", "have", "how", "i", "if", "in", "is", "it", "its", "many", "me",
    "much", "must", "my", "need", "of", "on", "or", "our", "should", "tell", "that", "the",
    "there", "this", "to", "want", "was", "we", "were", "what", "when", "where", "which", "who",
    "why", "will", "with", "would", "you", "your",
];

/// A section's heading counts as if its words stood so often in its text, and so does the title of
/// its page (chosen, no source).
const IN_HEADING: f64 = 6.0;
const IN_TITLE: f64 = 3.0;
/// Half of what a word can bring comes from so many of it (chosen, no source).
const SATURATION: f64 = 1.5;
/// What is found of history and of tables of results comes last.
const LAST: f64 = 0.1;
/// Places shown of one page: what else is on it is close to them.
const OF_A_PAGE: usize = 2;

/// A place of the manual.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// The page.
    pub page: &'static Page,
    /// The line of its Markdown, counted from 1.
    pub line: usize,
    /// The heading above, without its signs.
    pub heading: &'static str,
    /// What the line says.
    pub text: &'static str,
}

impl Place {
    /// The section that it lies in, from its heading up to the next, and the line of the heading.
    pub fn section(&self) -> (usize, &'static str) {
        section(self.page, self.line)
    }

    /// A piece of the line about as long as `most` characters, with the first of these words in it
    /// and without the signs of Markdown.
    pub fn excerpt(&self, words: &str, most: usize) -> String {
        let plain: String = self
            .text
            .trim_start_matches(['#', '-', ' '])
            .chars()
            .filter(|c| !matches!(c, '*' | '`' | '|'))
            .collect();
        let all: Vec<&str> = plain.split_whitespace().collect();
        let wanted: BTreeSet<String> = stems(words).into_iter().collect();
        let has = |word: &&str| stems(word).iter().any(|stem| wanted.contains(stem));
        let first = all.iter().position(has).unwrap_or(0);
        let whole = |from: usize| {
            let mut piece = String::new();
            for word in &all[from..] {
                if piece.chars().count() + word.chars().count() >= most {
                    return (piece + "…", false);
                }
                if !piece.is_empty() {
                    piece.push(' ');
                }
                piece += word;
            }
            (piece, true)
        };
        // A few words before it, and all of the line where there is room.
        let (piece, all_of_it) = whole(0);
        let shown = piece.split_whitespace().count();
        if all_of_it || first + 1 < shown {
            return piece;
        }
        format!("… {}", whole(first.saturating_sub(4)).0)
    }
}

/// The section of a page that this line lies in, and the line of its heading.
pub fn section(page: &'static Page, line: usize) -> (usize, &'static str) {
    let mut found = (1, "");
    for (from, text) in sections(page) {
        if from <= line.max(1) {
            found = (from, text);
        }
    }
    found
}

/// The text from each heading up to the next, with the line of the heading.
pub(super) fn sections(page: &'static Page) -> impl Iterator<Item = (usize, &'static str)> {
    let mut starts = Vec::new();
    let (mut at, mut fenced) = (0, false);
    for (number, line) in page.text.split_inclusive('\n').enumerate() {
        // A line of a shell's may begin with the sign of a heading.
        fenced ^= line.trim_start().starts_with("```");
        if number == 0 || (line.starts_with('#') && !fenced) {
            starts.push((number + 1, at));
        }
        at += line.len();
    }
    let ends: Vec<usize> = starts.iter().skip(1).map(|(_, at)| *at).collect();
    let ends = ends.into_iter().chain([page.text.len()]);
    starts
        .into_iter()
        .zip(ends)
        .map(|((line, from), to)| (line, &page.text[from..to]))
}

/// A heading without its signs.
fn heading(section: &'static str) -> &'static str {
    let first = section.lines().next().unwrap_or_default();
    first.trim_start_matches(['#', ' '])
}

/// Where the table of synonyms leads: what is asked for has all the words of one of its entries, and
/// no more others than these. Those that match most words count.
pub fn meant(asked: &str) -> Vec<Place> {
    let asked: BTreeSet<String> = stems(asked).into_iter().collect();
    let mut found: Vec<(usize, usize, Place)> = Vec::new();
    for (number, (words, places)) in synonyms().enumerate() {
        let entries = words.split(',').map(stems);
        let matched = entries
            .filter(|entry| !entry.is_empty() && entry.iter().all(|stem| asked.contains(stem)))
            .map(|entry| entry.len())
            .max();
        if let Some(matched) = matched.filter(|matched| 2 * matched >= asked.len()) {
            let places = places.split(',').filter_map(|place| named(place.trim()));
            found.extend(places.map(|place| (matched, number, place)));
        }
    }
    let most = found.iter().map(|(matched, ..)| *matched).max();
    // Two words that say something together say more than one of them alone.
    found.retain(|(matched, ..)| Some(*matched) == most);
    found.sort_by_key(|(_, number, _)| *number);
    let mut places: Vec<Place> = Vec::new();
    for (.., place) in found {
        if !places.contains(&place) {
            places.push(place);
        }
    }
    places
}

/// The lines of the table: words, places.
pub fn synonyms() -> impl Iterator<Item = (&'static str, &'static str)> {
    let lines = SYNONYMS.lines().map(str::trim);
    let lines = lines.filter(|line| !line.is_empty() && !line.starts_with('#'));
    lines.filter_map(|line| line.split_once(':'))
}

/// `page`, or `page#the heading`.
pub fn named(place: &str) -> Option<Place> {
    let (name, wanted) = place.split_once('#').unwrap_or((place, ""));
    let page = super::page(name)?;
    let plain = |text: &str| text.replace('`', "").to_lowercase();
    let mut all = sections(page);
    let (line, text) =
        all.find(|(_, text)| wanted.is_empty() || plain(heading(text)) == plain(wanted))?;
    Some(Place {
        page,
        line,
        heading: heading(text),
        text: text.lines().next().unwrap_or_default(),
    })
}

/// The places of the manual that say most about these words, the best first. Those that have all of
/// the words go before the others.
pub fn search(words: &str, most: usize) -> Vec<Place> {
    let wanted = stems(words);
    let wanted: BTreeSet<&str> = wanted.iter().map(String::as_str).collect();
    let mut candidates = Vec::new();
    let mut holders: BTreeMap<&str, f64> = BTreeMap::new();
    let mut all = 0.0;
    for page in PAGES {
        let title = stems(&format!("{} {}", page.name, page.title()));
        for (line, text) in sections(page) {
            all += 1.0;
            let section = Section::of(page, line, text, &wanted, &title);
            for stem in section.counts.keys() {
                *holders.entry(stem).or_default() += 1.0;
            }
            if !section.counts.is_empty() {
                candidates.push(section);
            }
        }
    }
    let worth = |stem: &str| (1.0 + all / holders.get(stem).copied().unwrap_or(all)).ln();
    let mut scored: Vec<(f64, Section)> = candidates
        .into_iter()
        .map(|section| (section.score(&worth, wanted.len()), section))
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut of_pages: BTreeMap<&str, usize> = BTreeMap::new();
    let mut places = Vec::new();
    for (_, section) in scored {
        let shown = of_pages.entry(section.page.name).or_default();
        if *shown < OF_A_PAGE && places.len() < most {
            *shown += 1;
            places.push(section.best());
        }
    }
    places
}

/// A section with what it has of the words that are wanted.
struct Section<'a> {
    page: &'static Page,
    heading: &'static str,
    counts: BTreeMap<&'a str, f64>,
    length: f64,
    /// The line that has most of the words, and how many.
    line: usize,
    together: usize,
    text: &'static str,
}

impl<'a> Section<'a> {
    fn of(
        page: &'static Page,
        from: usize,
        text: &'static str,
        wanted: &BTreeSet<&'a str>,
        title: &[String],
    ) -> Self {
        let mut section = Self {
            page,
            heading: heading(text),
            counts: BTreeMap::new(),
            length: 1.0,
            line: from,
            together: 0,
            text: text.lines().next().unwrap_or_default(),
        };
        for (number, line) in text.lines().enumerate() {
            let stems = stems(line);
            section.length += stems.len() as f64;
            let weight = if number == 0 { IN_HEADING } else { 1.0 };
            let mut here = BTreeSet::new();
            for stem in &stems {
                if let Some(stem) = wanted.get(stem.as_str()) {
                    *section.counts.entry(stem).or_default() += weight;
                    here.insert(*stem);
                }
            }
            if here.len() > section.together {
                section.together = here.len();
                (section.line, section.text) = (from + number, line);
            }
        }
        for (stem, count) in &mut section.counts {
            if title.iter().any(|word| word == stem) {
                *count += IN_TITLE;
            }
        }
        section
    }

    fn score(&self, worth: &impl Fn(&str) -> f64, wanted: usize) -> f64 {
        // Long sections have more of every word.
        let long = (self.length / 100.0).sqrt().max(1.0);
        let counts = self.counts.iter();
        let sum: f64 = counts
            .map(|(stem, count)| worth(stem) * count / (count + SATURATION * long))
            .sum();
        // Words of one line belong together more than those of a whole section.
        let of_all = |count: usize| count as f64 / wanted.max(1) as f64;
        let share = of_all(self.counts.len());
        let together = f64::midpoint(1.0, of_all(self.together));
        let kind = match self.page.kind {
            "changes" => LAST,
            _ if self.page.name == super::TABLES_OF_RESULTS => LAST,
            _ => 1.0,
        };
        sum * share.powi(3) * together * kind
    }

    fn best(&self) -> Place {
        Place {
            page: self.page,
            line: self.line,
            heading: self.heading,
            text: self.text,
        }
    }
}

/// A word of the manual that is spelt almost like one that it does not have.
pub fn spelt_alike(word: &str) -> Option<String> {
    let word = word.to_lowercase();
    let far = match word.chars().count() {
        0..=3 => return None,
        4..=5 => 1,
        _ => 2,
    };
    let mut words: BTreeSet<String> = BTreeSet::new();
    for page in PAGES.iter().filter(|page| page.kind != "changes") {
        words.insert(page.name.to_owned());
        words.extend(split(page.text).map(str::to_lowercase));
    }
    let distance = |other: &str| strsim::damerau_levenshtein(&word, other);
    let near = words.iter().filter(|other| other.len() > 3);
    near.map(|other| (distance(other), other))
        .filter(|(distance, _)| *distance <= far)
        .min()
        .map(|(_, other)| other.clone())
}

/// Whether the manual has this word, in any of its forms.
pub fn has(word: &str) -> bool {
    let wanted = stems(word);
    let mut pages = PAGES.iter();
    wanted.is_empty()
        || pages.any(|page| {
            let stems: BTreeSet<String> = stems(page.text).into_iter().collect();
            wanted.iter().all(|stem| stems.contains(stem))
        })
}

/// The stems of the words of a text, without those that only ask; all of them where there is
/// nothing else.
fn stems(text: &str) -> Vec<String> {
    let stemmer = Stemmer::create(Algorithm::English);
    let all: Vec<String> = split(text).map(str::to_lowercase).collect();
    let tells = |word: &&String| !ASKING.contains(&word.as_str());
    let telling: Vec<&String> = all.iter().filter(tells).collect();
    let kept = if telling.is_empty() {
        all.iter().collect()
    } else {
        telling
    };
    kept.iter()
        .map(|word| stemmer.stem(word).into_owned())
        .collect()
}

fn split(text: &str) -> impl Iterator<Item = &str> {
    let parts = text.split(|c: char| !c.is_alphanumeric() && c != '\'');
    parts
        .map(|word| word.trim_matches('\''))
        .filter(|word| !word.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forms_of_a_word_are_one_and_words_that_only_ask_are_none() {
        assert_eq!(stems("turning"), stems("How do I turn it?"));
        assert_eq!(stems("backups"), stems("a backup"));
        assert_eq!(stems("how"), ["how"]);
    }

    #[test]
    fn a_line_of_a_shell_is_no_heading() {
        for page in PAGES {
            for (_, text) in sections(page) {
                let fences = text.lines().filter(|line| line.trim().starts_with("```"));
                assert_eq!(fences.count() % 2, 0, "{}: {text}", page.name);
            }
        }
    }

    #[test]
    fn only_what_is_almost_the_same_is_taken_for_a_slip() {
        assert_eq!(spelt_alike("tutorail").as_deref(), Some("tutorial"));
        assert_eq!(spelt_alike("verfy").as_deref(), Some("verify"));
        assert_eq!(spelt_alike("zebra"), None);
        assert_eq!(spelt_alike("xyz"), None);
    }
}
