//! Holds the inside of rooms to the picture of the house: files that need each other are one file.
#![allow(clippy::unwrap_used)]

use crate::imports::{Source, sources};
use regex::Regex;
use std::collections::{BTreeMap, BTreeSet};

/// Module paths from the crate on, `judge::trial`, as lists of names.
type Path = Vec<String>;

struct House {
    /// The file of each module.
    modules: BTreeMap<Path, String>,
    /// What each module gives away under a name of its own, and where that lies in truth.
    given: BTreeMap<(Path, String), Path>,
}

/// A `use` of one name.
struct Use {
    given: bool,
    path: String,
    name: String,
}

fn module_of(file: &str) -> Path {
    let path = file.trim_end_matches(".rs").trim_end_matches("/mod");
    let names = path.split('/').filter(|name| *name != "lib");
    names.map(str::to_owned).collect()
}

impl House {
    fn of(sources: &[Source]) -> Self {
        let modules = sources
            .iter()
            .map(|source| (module_of(&source.path), source.path.clone()))
            .collect();
        let mut house = Self {
            modules,
            given: BTreeMap::new(),
        };
        for source in sources {
            let here = module_of(&source.path);
            for each in uses(&source.code).into_iter().filter(|each| each.given) {
                if let Some(path) = house.absolute(&here, &each.path) {
                    house.given.insert((here.clone(), each.name), path);
                }
            }
        }
        house
    }

    /// A path as seen from a module, from the crate on; nothing where it leads out of the crate.
    fn absolute(&self, here: &Path, path: &str) -> Option<Path> {
        let names = path.split("::").filter(|name| *name != "self");
        let names: Vec<String> = names.map(str::to_owned).collect();
        let climbs = names.iter().take_while(|name| *name == "super").count();
        let (first, rest) = names.split_first()?;
        if first == "crate" {
            return Some(rest.to_vec());
        }
        if climbs > 0 {
            let mut above = here[..here.len().checked_sub(climbs)?].to_vec();
            above.extend_from_slice(&names[climbs..]);
            return Some(above);
        }
        let mut below = here.clone();
        below.push(first.clone());
        let inside = self.modules.contains_key(&below) || path.starts_with("self::");
        below.extend_from_slice(rest);
        inside.then_some(below)
    }

    /// The file in which what a path names is written.
    fn file(&self, path: &Path) -> Option<&str> {
        let mut path = path.clone();
        // A name may be given on a few times; a circle of such would not compile.
        for _ in 0..8 {
            let held = (0..=path.len()).rev();
            let module = held
                .map(|length| path[..length].to_vec())
                .find(|module| self.modules.contains_key(module))?;
            let rest = &path[module.len()..];
            let given = rest
                .first()
                .and_then(|name| self.given.get(&(module.clone(), name.clone())));
            match given {
                Some(truth) => path = [truth.as_slice(), &rest[1..]].concat(),
                None => return self.modules.get(&module).map(String::as_str),
            }
        }
        None
    }

    /// The files that each file needs. What a `mod.rs` declares is shared by all behind it, as what
    /// stands in the room itself, and is not counted.
    fn needs(&self, source: &Source) -> BTreeSet<String> {
        let here = module_of(&source.path);
        let (uses, body) = (uses(&source.code), without_uses(&source.code));
        let taken = uses
            .into_iter()
            // What is given on and not used is for others.
            .filter(|each| !each.given || word(&each.name).is_match(&body))
            .map(|each| each.path);
        let paths = Regex::new(r"(?:^|[^\w$:])([a-z_][a-z_0-9]*(?:::\w+)+)").unwrap();
        let named = paths.captures_iter(&body).map(|path| path[1].to_owned());
        taken
            .chain(named)
            .filter_map(|path| self.file(&self.absolute(&here, &path)?))
            .filter(|file| *file != source.path && !is_door_of(file, &source.path))
            .map(str::to_owned)
            .collect()
    }
}

fn is_door_of(file: &str, of: &str) -> bool {
    let room = file.strip_suffix("mod.rs");
    room.is_some_and(|room| of.starts_with(room))
}

fn word(name: &str) -> Regex {
    Regex::new(&format!(r"\b{}\b", regex::escape(name))).unwrap()
}

fn each_use() -> Regex {
    Regex::new(r"(?m)^[ \t]*(pub(?:\([^)]*\))?\s+)?use\s+([^;]+);").unwrap()
}

fn without_uses(code: &str) -> String {
    each_use().replace_all(code, "").into_owned()
}

fn uses(code: &str) -> Vec<Use> {
    let mut found = Vec::new();
    for each in each_use().captures_iter(code) {
        let given = each.get(1).is_some();
        for tree in leaves(&each[2]) {
            let (path, name) = match tree.split_once(" as ") {
                Some((path, name)) => (path.trim().to_owned(), name.trim().to_owned()),
                None => (tree.clone(), last(&tree).to_owned()),
            };
            found.push(Use { given, path, name });
        }
    }
    found
}

fn last(path: &str) -> &str {
    let path = path.trim_end_matches("::self");
    path.rsplit("::").next().unwrap_or(path)
}

/// The paths of a `use`, braces multiplied out.
fn leaves(tree: &str) -> Vec<String> {
    let tree = tree.split_whitespace().collect::<Vec<_>>().join(" ");
    let Some((before, inside)) = tree.split_once('{') else {
        return vec![tree.trim().to_owned()];
    };
    let inside = inside.trim().trim_end_matches(',').trim();
    let inside = inside.strip_suffix('}').unwrap_or(inside);
    let mut depth = 0;
    let parts = inside.split(|c| {
        depth += i32::from(c == '{') - i32::from(c == '}');
        c == ',' && depth == 0
    });
    parts
        .map(str::trim)
        .filter(|part| !part.is_empty())
        .flat_map(leaves)
        .map(|leaf| format!("{}{leaf}", before.trim()))
        .collect()
}

/// All files from which `file` can be come back to, itself among them, if there is another.
fn circle_of(file: &str, needs: &BTreeMap<String, BTreeSet<String>>) -> BTreeSet<String> {
    let reached = |from: &str| {
        let mut seen = BTreeSet::new();
        let mut next = vec![from.to_owned()];
        while let Some(here) = next.pop() {
            for file in needs.get(&here).into_iter().flatten() {
                if seen.insert(file.clone()) {
                    next.push(file.clone());
                }
            }
        }
        seen
    };
    let ahead = reached(file);
    let back = |other: &&String| reached(other).contains(file);
    ahead.iter().filter(back).cloned().collect()
}

fn needs_of_all() -> BTreeMap<String, BTreeSet<String>> {
    let sources = sources();
    let house = House::of(&sources);
    let counted = sources.iter().filter(|source| source.path != "main.rs");
    counted
        .map(|source| (source.path.clone(), house.needs(source)))
        .collect()
}

/// Circles that there are, with what makes them worth it.
const KNOWN: &[(&str, &str)] = &[(
    "setting/matching/draws.rs, setting/matching/predict.rs, setting/matching/search.rs",
    "a search asks what a setting would leave, which is read off the surfaces that it keeps, and drawn",
)];

#[test]
fn no_files_need_each_other() {
    let needs = needs_of_all();
    let mut told = BTreeSet::new();
    for file in needs.keys() {
        let circle = circle_of(file, &needs);
        if !circle.is_empty() {
            told.insert(circle.into_iter().collect::<Vec<_>>().join(", "));
        }
    }
    for (known, _) in KNOWN {
        assert!(told.remove(*known), "no circle any more: {known}");
    }
    let told: Vec<String> = told.into_iter().collect();
    assert!(told.is_empty(), "circles of files:\n{}", told.join("\n"));
}

#[test]
fn what_a_file_needs_is_seen_through_what_is_given_on() {
    let source = |path: &str, code: &str| Source {
        path: path.to_owned(),
        code: code.to_owned(),
        whole: String::new(),
    };
    let sources = [
        source(
            "fit/mod.rs",
            "mod land;\nmod run;\npub use land::{Land, Place as Spot};",
        ),
        source("fit/land.rs", "use super::run::fit;\npub struct Land;"),
        source(
            "fit/run.rs",
            "fn fit(land: &super::Land) { crate::judge::judge() }",
        ),
        source("judge/mod.rs", "use crate::{fit::Spot, quantity};"),
    ];
    let house = House::of(&sources);
    let needs = |at: usize| {
        let needs: Vec<String> = house.needs(&sources[at]).into_iter().collect();
        needs.join(" ")
    };
    assert_eq!(needs(0), "");
    assert_eq!(needs(1), "fit/run.rs");
    assert_eq!(needs(2), "fit/land.rs judge/mod.rs");
    assert_eq!(needs(3), "fit/land.rs");
    let needs = sources
        .iter()
        .map(|source| (source.path.clone(), house.needs(source)))
        .collect();
    let circle = circle_of("fit/land.rs", &needs);
    assert!(circle.contains("fit/run.rs") && circle.contains("judge/mod.rs"));
    assert!(circle_of("fit/mod.rs", &needs).is_empty());
}
