//! The recipes that come with the program: a shop that regrinds tools for valve blocks.

use super::scenario::Scenario;
use crate::error::{Code, Error, Result};

/// Names a recipe once; its file has the same name.
macro_rules! recipes {
    ($($name:literal),+ $(,)?) => {
        const RECIPES: &[(&str, &str)] =
            &[$(($name, include_str!(concat!("recipes/", $name, ".toml")))),+];
    };
}

recipes![
    "counterbore-pass",
    "counterbore-heel-drag",
    "counterbore-two-facets",
    "counterbore-no-reference",
    "reamer-cam-rise",
    "six-flute-reamer",
    "chamfer-uneven-edges",
    "chamfer-face",
    "runout-as-relief",
    "runout-with-reference",
    "shank-with-flats",
    "end-face-feed",
    "inch-counterbore",
    "single-flute-long-land",
    "twelve-flute-cutter",
    "two-clocks",
    "worn-long-land",
    "worn-four-flutes",
    "worn-six-flutes",
    "worn-stepped",
    "worn-other-cam",
    "worn-in-fixture",
    "worn-form-relieved",
];

/// The names of all recipes that come with the program.
pub fn names() -> impl Iterator<Item = &'static str> {
    RECIPES.iter().map(|(name, _)| *name)
}

/// A recipe by its name.
pub fn built_in(name: &str) -> Result<Scenario> {
    match RECIPES.iter().find(|(known, _)| *known == name) {
        Some((_, text)) => Scenario::from_toml(text, name),
        None => {
            let all = names().collect::<Vec<_>>().join("`, `");
            let message = format!("no simulated inspection is called `{name}`");
            Err(Error::new(Code::Usage, message).help(format!("there are `{all}`")))
        }
    }
}
