//! Fits one family to a land: solve, weigh points by how far off they lie, solve again.

use super::family::{Family, Search};
use super::land::Data;
use super::report::report;
use super::settle::settle;
use super::{Curve, Fit, FitSettings, Land, kin, smooth, start};
use crate::error::{Code, Error, Result};
use crate::numeric::robust::median;
use crate::quantity::Angle;

/// Fits a curve of one family.
///
/// Errors where the land has too few points for it, or no curve of the family reaches as far round
/// as the land does.
pub fn fit(land: &Land, family: Family, settings: &FitSettings) -> Result<Fit> {
    let data = Data::check(land)?;
    let family = family.on(land.surface);
    enough(&data, family)?;
    let warm = settings
        .start
        .filter(|curve| curve.family() == family && curve.surface() == land.surface)
        .map(|curve| curve.moved_to(land.radius, land.end));
    let guesses = match warm {
        Some(curve) => vec![curve],
        None => start::guesses(&data, land.surface, family),
    };
    fit_from(&data, land, family, &guesses, settings)
}

/// Fits a curve of one family from the best of some guesses.
pub(super) fn fit_from(
    data: &Data,
    land: &Land,
    family: Family,
    guesses: &[Curve],
    settings: &FitSettings,
) -> Result<Fit> {
    let margined = guesses.iter().any(|guess| guess.margin().is_some());
    let found = match family.search() {
        Search::Smoothing => smooth::settled(data, land.surface, settings.systematic),
        // Guesses after the first are for where the first does not exist.
        Search::First if !margined => guesses.iter().find_map(|guess| settle(data, guess)),
        Search::First | Search::Best => kin::best(data, guesses),
    };
    found
        .map(|settled| report(data, settled, settings))
        .ok_or_else(|| no_curve(&format!("of the family `{family}`"), land))
}

/// Fits a curve of one family behind a margin.
///
/// A margin is believed where places were read on it, or where the edge was measured by itself and so
/// stands lower than where the land's curve would begin. Errors as [`fit`].
pub fn fit_behind_margin(land: &Land, family: Family, settings: &FitSettings) -> Result<Fit> {
    let data = Data::check(land)?;
    let family = family.on(land.surface);
    let guesses = start::guesses_behind_margin(&data, land.surface, family);
    let fit = fit_from(&data, land, family, &guesses, settings)?;
    believed(&data, fit, land)
}

/// A fit behind a margin, if places were read on the margin or the edge was, and those that were lie on
/// it: a land that falls from its edge on, less than it does behind, has none.
pub(super) fn believed(data: &Data, fit: Fit, land: &Land) -> Result<Fit> {
    /// Places that a margin must show (chosen, no source).
    const LEAST_SEEN: usize = 3;
    /// So many uncertainties a place lies off a margin that it is on: by chance once in 16,000.
    const ON_IT: f64 = 4.0;
    let width = fit.curve.margin().unwrap_or(Angle::ZERO).rad();
    let seen = data.arcs.partition_point(|arc| *arc <= width);
    if (seen < LEAST_SEEN && data.edge.is_none()) || data.arcs.len() <= fit.parameters + LEAST_SEEN
    {
        let which = format!("`{}` behind a margin that was read", fit.family());
        return Err(no_curve(&which, land));
    }
    let off = (0..seen).map(|at| {
        let noise = ON_IT * data.uncertainties[at] * fit.inflation;
        fit.residuals[at].abs() / noise.max(fit.settings.systematic.mm())
    });
    let mut off: Vec<f64> = off.collect();
    if median(&mut off).is_some_and(|off| off > 1.0) {
        let which = format!("`{}` behind a margin that is level", fit.family());
        return Err(no_curve(&which, land));
    }
    Ok(fit)
}

fn no_curve(which: &str, land: &Land) -> Error {
    Error::new(
        Code::Curve,
        format!(
            "no curve {which} describes a land that ends {:.1} deg behind its edge",
            land.end.deg()
        ),
    )
    .help("let the data choose with `curve = \"auto\"`")
}

/// Refuses a land with too few points for a family.
pub(super) fn enough(data: &Data, family: Family) -> Result<()> {
    let fewest = family.fewest();
    if data.arcs.len() >= fewest {
        return Ok(());
    }
    Err(Error::new(
        Code::Curve,
        format!(
            "a curve of the family `{family}` needs at least {fewest} places, the land has {}",
            data.arcs.len()
        ),
    )
    .help("turn the tool more slowly past this tooth, or over more turns"))
}
