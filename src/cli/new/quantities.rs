//! What only cards to start from are told: steps, ranges, words of a card.

use crate::card::Limit;
use crate::cli::typed::{self, Read};
use crate::quantity::typed::Bare;
use crate::quantity::{Length, stated};
use clap::builder::{PossibleValuesParser, TypedValueParser};

/// So many steps no tool has.
const MOST_STEPS: usize = 60;
const STEPS: &str =
    "expected steps such as `6 to 20 by 2`, or their diameters from the front on: `6 9 14`";

/// The diameters of a step tool: `6 to 20 by 2`, `1/4in to 1in by 1/8in`, or each by itself.
pub(super) fn steps(text: &str) -> Read<Steps> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let word = |wanted: &str| {
        words
            .iter()
            .position(|word| word.eq_ignore_ascii_case(wanted))
    };
    let diameters = match (word("to"), word("by")) {
        (Some(to), Some(by)) if to < by => {
            let part = |part: &[&str]| part.join(" ");
            let parts = [&words[..to], &words[to + 1..by], &words[by + 1..]].map(part);
            even(&parts)?
        }
        (None, None) => typed::list(text, Bare::Mm, None)?,
        _ => return Err(STEPS.to_owned()),
    };
    for pair in diameters.windows(2) {
        if let [before, after] = pair
            && before >= after
        {
            return Err("expected diameters that grow from the front on".to_owned());
        }
    }
    if diameters.len() < 2 || diameters.iter().any(|it| *it <= Length::ZERO) {
        return Err(format!("a step tool has two or more diameters; {STEPS}"));
    }
    if diameters.len() > MOST_STEPS {
        return Err(format!("expected at most {MOST_STEPS} steps"));
    }
    Ok(Steps(diameters))
}

/// Diameters from the front on. A list of its own type, since a flag that takes several would be told
/// one at a time.
#[derive(Clone, Debug)]
pub(super) struct Steps(pub Vec<Length>);

/// Steps that are all as high.
fn even(parts: &[String; 3]) -> Read<Vec<Length>> {
    let bare = |text: &String| text.ends_with(|c: char| c.is_ascii_digit() || c == '.');
    if parts.iter().any(bare) && !parts.iter().all(bare) {
        return Err("either all three have their unit behind them or none has".to_owned());
    }
    let read = |text: &String| typed::positive(text).map_err(|why| format!("`{text}`: {why}"));
    let [from, to, by] = [read(&parts[0])?, read(&parts[1])?, read(&parts[2])?];
    let steps = (to - from) / by;
    let whole = steps.round();
    if steps < 0.5 || (steps - whole).abs() > 1e-6 {
        return Err(format!(
            "{} mm is no whole number of steps of {} mm above {} mm",
            stated(to.mm()),
            stated(by.mm()),
            stated(from.mm())
        ));
    }
    if whole >= MOST_STEPS as f64 {
        return Err(format!("expected at most {MOST_STEPS} steps"));
    }
    let step = |at: u32| Length::from_mm(stated((from + by * f64::from(at)).mm()));
    Ok((0..=whole as u32).map(step).collect())
}

/// Lengths of steps, one for all or each its own.
pub(super) fn lengths(text: &str) -> Read<Steps> {
    let lengths = typed::list(text, Bare::Mm, None)?;
    match lengths.iter().all(|it| *it > Length::ZERO) {
        true => Ok(Steps(lengths)),
        false => Err("expected lengths above 0".to_owned()),
    }
}

/// The least and the greatest relief angle: `6 to 9`, `5deg30min to 9deg`.
pub(super) fn relief(text: &str) -> Read<Limit> {
    const EXPECTED: &str = "expected the least and the greatest angle, such as `6 to 9`";
    let (least, most) = text.split_once(" to ").ok_or(EXPECTED)?;
    let read = |text: &str| typed::relief(text).map(|angle| stated(angle.deg()));
    let (min, max) = (read(least)?, read(most)?);
    match min < max {
        true => Ok(Limit {
            min: Some(min),
            max: Some(max),
        }),
        false => Err(EXPECTED.to_owned()),
    }
}

/// One of these, by the word that a card has for it.
pub(super) fn one_of<T: Copy + Send + Sync + 'static>(
    all: &'static [T],
    word: fn(T) -> &'static str,
) -> impl TypedValueParser<Value = T> {
    let words = all.iter().map(|each| word(*each));
    PossibleValuesParser::new(words).try_map(move |said| {
        let found = all.iter().find(|each| word(**each) == said);
        found.copied().ok_or("expected one of the words above")
    })
}
