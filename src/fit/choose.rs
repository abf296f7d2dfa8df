//! Which family describes a land: the simplest of those that explain it about as well as any.

use super::contest::Contest;
use super::family::Search;
use super::land::Data;
use super::{Choice, Family, FitSettings, Land, fit};
use crate::error::Result;

/// Fits the families that the settings allow and chooses among them.
///
/// Each family pays for its parameters as in the Bayesian information criterion, with the number
/// of independent points in place of all; a land that bends sharply, behind a margin or where two
/// flats meet, pays what strong evidence is worth on top, so that none is seen by chance. Of families within a bare mention of the best, the
/// one with the fewest parameters is taken. A free curve has no price: it is taken where none of
/// the others is to be trusted and it is.
pub fn choose(land: &Land, settings: &FitSettings) -> Result<Choice> {
    let data = Data::check(land)?;
    let allowed = Family::allowed(settings.curve, land.surface);
    let mut tried = Contest::new(land, &data, settings);
    let (simple, costly): (Vec<Family>, Vec<Family>) = allowed
        .iter()
        .filter(|family| family.search() != Search::Smoothing)
        .partition(|family| family.search() == Search::First);
    // Each round is asked only when all before it leave something to explain.
    let behind = |families: &[Family], margined: bool| -> Vec<(Family, bool)> {
        families.iter().map(|family| (*family, margined)).collect()
    };
    let mut second = behind(&simple, true);
    second.extend(behind(&costly, false));
    tried.consider(&behind(&simple, false));
    tried.consider(&second);
    tried.consider(&behind(&costly, true));
    if allowed == [Family::Free] {
        return Ok(Choice {
            best: fit(land, Family::Free, settings)?,
            others: Vec::new(),
        });
    }
    let free = (allowed.contains(&Family::Free) && !tried.trusted())
        .then(|| fit(land, Family::Free, settings).ok())
        .flatten()
        .filter(|free| free.trust.is_full());
    match free {
        Some(free) => Ok(tried.none_but(free)),
        None => tried.best(),
    }
}
