//! The manual has a heading for everything that a person may have to look up.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::card::{Kind, Name, keys};
use heelclear::error::Code;
use heelclear::manual::{self, KINDS, PAGES};
use std::collections::BTreeSet;

/// The text under the heading for `word` on a page.
fn under(page: &str, word: &str) -> String {
    let text = manual::page(page).unwrap().text;
    let mut found = String::new();
    let mut inside = false;
    for line in text.lines() {
        if line.starts_with('#') {
            inside = line
                .split('`')
                .skip(1)
                .step_by(2)
                .any(|named| named == word);
        }
        if inside {
            found.push_str(line);
            found.push('\n');
        }
    }
    assert!(
        !found.is_empty(),
        "the page `{page}` has no heading for `{word}`"
    );
    found
}

#[test]
fn every_error_code_has_a_heading() {
    for code in Code::ALL {
        under("errors", code.as_str());
    }
}

#[test]
fn every_characteristic_has_a_heading() {
    for name in Name::ALL {
        under("results", name.as_str());
    }
}

#[test]
fn every_exit_status_has_a_heading() {
    for status in ["0", "1", "2", "3"] {
        under("results", status);
    }
}

#[test]
fn every_key_of_every_card_has_a_heading_that_tells_its_range() {
    for (file, sections) in keys::CARDS {
        let page = file.replace(".toml", "-card");
        for section in *sections {
            if !section.heading.is_empty() {
                under(&page, section.heading);
            }
            for key in section.keys {
                if matches!(key.kind, Kind::Table | Kind::Tables) {
                    // Its heading is that of a section of its own.
                    continue;
                }
                let text = under(&page, key.name);
                if let Some(range) = key.kind.range() {
                    let range = range.to_string();
                    assert!(
                        text.contains(&range),
                        "{page}, `{}` lacks `{range}`",
                        key.name
                    );
                }
                if let Kind::Choice(words) = key.kind {
                    for word in words {
                        let word = format!("`{word}`");
                        assert!(text.contains(&word), "{page}, `{}` lacks {word}", key.name);
                    }
                }
            }
        }
    }
}

#[test]
fn every_limit_of_the_results_is_a_key_of_the_tool_card() {
    let (_, section) = keys::TOOL
        .iter()
        .map(|section| (section.heading, section))
        .find(|(heading, _)| *heading == "[feature.limits]")
        .unwrap();
    let declared: BTreeSet<String> = section.keys.iter().map(|key| key.name.to_owned()).collect();
    let named: BTreeSet<String> = Name::ALL
        .iter()
        .filter_map(|name| name.card_key())
        .collect();
    assert_eq!(declared, named);
}

#[test]
fn every_command_and_each_of_its_flags_is_in_the_reference() {
    for command in heelclear::cli::command().get_subcommands() {
        let text = under("commands", command.get_name());
        for flag in command
            .get_arguments()
            .filter_map(|argument| argument.get_long())
        {
            let flag = format!("`--{flag}");
            let common = ["`--json", "`--help", "`--version"].contains(&flag.as_str());
            assert!(
                common || text.contains(&flag),
                "`{}` lacks {flag}",
                command.get_name()
            );
        }
    }
}

#[test]
fn every_page_has_a_title_and_a_known_kind_and_a_name_of_its_own() {
    let mut names = BTreeSet::new();
    for page in PAGES {
        assert!(page.text.starts_with("# "), "{}", page.name);
        assert!(page.text.lines().count() > 4, "{} is empty", page.name);
        assert!(KINDS.contains(&page.kind), "{}", page.name);
        assert!(names.insert(page.name), "{} is there twice", page.name);
    }
    for kind in KINDS {
        assert!(
            PAGES.iter().any(|page| page.kind == *kind),
            "no page is a {kind}"
        );
    }
}

#[test]
fn a_how_to_page_starts_with_a_verb_and_not_with_how_to() {
    const VERBS: &[&str] = &[
        "Judge", "Capture", "Use", "Take", "Write", "Settle", "Make", "Work", "Keep", "Check",
        "Measure", "Find", "Install", "Choose", "Add",
    ];
    for page in PAGES.iter().filter(|page| page.kind == "how-to") {
        let first = page.title().split(' ').next().unwrap();
        assert!(VERBS.contains(&first), "{}: {}", page.name, page.title());
    }
}

#[test]
fn the_page_on_uncertainty_names_every_input_and_what_is_taken_for_it() {
    let text = manual::page("uncertainty").unwrap().text;
    for input in heelclear::judge::Input::ALL {
        let row = format!("| `{}` |", input.name());
        assert_eq!(text.matches(&row).count(), 1, "{row}");
    }
}

/// The rows of a table of the page between these two lines: cells, without blanks.
fn rows<'t>(text: &'t str, from: &str, to: &str) -> Vec<Vec<&'t str>> {
    let (_, text) = text.split_once(from).unwrap();
    let (text, _) = text.split_once(to).unwrap();
    let rows = text.lines().filter(|line| line.starts_with("| "));
    rows.map(|row| row.trim_matches('|').split('|').map(str::trim).collect())
        .collect()
}

#[test]
fn the_budget_on_the_page_adds_up_and_is_what_the_program_prints() {
    use heelclear::inspection::{Folder, verify};
    let text = manual::page("uncertainty").unwrap().text;
    let rows = rows(text, "## A budget added up", "The root of");
    let lines = &rows[1..rows.len() - 2];
    let squares: f64 = lines.iter().map(|row| row[5].parse::<f64>().unwrap()).sum();
    assert!((squares + 0.002 - 1.051).abs() < 0.0015, "{squares}");
    assert!((1.051_f64.sqrt() - 1.03).abs() < 0.005);
    let folder = Folder::open(std::path::Path::new("sample-data/counterbore-pass")).unwrap();
    let record = verify(&folder).unwrap();
    let figure = record
        .characteristics
        .iter()
        .find(|figure| figure.flute == Some(1) && figure.name == "heel-clearance");
    let figure = figure.unwrap();
    let u_um = figure.standard_uncertainty.unwrap() * 1e3;
    assert!((u_um - 1.03).abs() < 0.1, "{u_um}");
    for row in lines {
        let printed: f64 = row[4].parse().unwrap();
        let line = figure.budget.iter().find(|line| line.quantity == row[0]);
        let brings = line.unwrap().contribution.abs() * 1e3;
        assert!(
            (brings - printed).abs() < 0.02 + 0.15 * printed,
            "{row:?}: {brings}"
        );
    }
}

#[test]
fn every_word_that_the_table_of_synonyms_leads_from_leads_to_a_place() {
    let mut words = BTreeSet::new();
    for (asked, places) in manual::synonyms() {
        for place in places.split(',').map(str::trim) {
            assert!(
                manual::named(place).is_some(),
                "{asked}: `{place}` is nowhere"
            );
        }
        for word in asked.split(',').map(str::trim) {
            assert!(!word.is_empty(), "{asked}");
            let found = manual::meant(word);
            assert!(!found.is_empty(), "`{word}` leads nowhere");
            words.insert(word);
        }
    }
    assert!(words.len() > 200, "{}", words.len());
}

#[test]
fn what_a_page_names_in_backticks_as_a_page_is_one() {
    // Words that look like pages and are something else.
    let all: BTreeSet<&str> = PAGES.iter().map(|page| page.name).collect();
    let named = regex::Regex::new(r"(?:[Ss]ee|page|pages) `([a-z]+(?:-[a-z]+)+)`").unwrap();
    for page in PAGES {
        for found in named.captures_iter(page.text) {
            assert!(all.contains(&found[1]), "{}: `{}`", page.name, &found[1]);
        }
    }
}

#[test]
fn every_card_shown_in_the_manual_can_be_read() {
    use heelclear::card::{GaugeCard, GrinderCard, InspectionCard, ShopCard, ToolCard};
    let mut read = 0;
    for page in PAGES {
        for block in page.text.split("```toml\n").skip(1) {
            let (card, _) = block.split_once("```").unwrap();
            // A part of a card is no card: only those that start as one are tried.
            if !card.trim_start().starts_with("schema = 1") {
                continue;
            }
            let parsed = if card.contains("[[feature]]") {
                ToolCard::parse(card, page.name).map(drop)
            } else if card.contains("[indicator]") {
                GaugeCard::parse(card, page.name).map(drop)
            } else if page.name == "grinder-card" {
                GrinderCard::parse(card, page.name).map(drop)
            } else if page.name == "shop-card" {
                ShopCard::parse(card, page.name).map(drop)
            } else {
                InspectionCard::parse(card, page.name).map(drop)
            };
            assert_eq!(parsed.map_err(|error| error.to_string()), Ok(()));
            read += 1;
        }
    }
    assert!(read >= 3);
}
