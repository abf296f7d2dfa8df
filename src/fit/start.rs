//! Where to begin: first guesses of a curve, good enough for the solver to find the rest.

use super::family::{Base, Family};
use super::land::Data;
use super::{Curve, hinge};
use crate::card::Surface;
use crate::quantity::{Angle, Length};
use std::collections::BTreeMap;

/// First guesses of a family on a land, best first; the solver decides between them.
pub(super) fn guesses(data: &Data, surface: Surface, family: Family) -> Vec<Curve> {
    let base = Base::of(data, surface);
    let forms = family.guesses(data, surface).into_iter();
    forms.map(|form| Curve::new(base, form)).collect()
}

/// First guesses of a family behind a margin.
pub(super) fn guesses_behind_margin(data: &Data, surface: Surface, family: Family) -> Vec<Curve> {
    let whole = (Length::from_mm(data.radius), Angle::from_rad(data.end));
    hinge::margins(data)
        .into_iter()
        .flat_map(|width| {
            guesses(&data.behind(width), surface, family)
                .into_iter()
                .map(move |guess| guess.moved_to(whole.0, whole.1))
                .map(move |guess| guess.behind_margin(Angle::from_rad(width)))
        })
        .collect()
}

/// Those with as many parameters together: a cam with a return and one without are not compared by
/// how near they come.
pub(super) fn by_freedom(guesses: &[Curve]) -> BTreeMap<usize, Vec<Curve>> {
    let mut groups = BTreeMap::new();
    for guess in guesses {
        let group: &mut Vec<Curve> = groups.entry(guess.freedom()).or_default();
        group.push(*guess);
    }
    groups
}
