//! What belongs together in two records of a tool: the same figure, the same tooth.

use super::schema::{Characteristic, Flute, Record};
use serde::Serialize;
use std::collections::{HashMap, VecDeque};

/// Which figure of a record is meant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FigureOf {
    /// The feature; null for the whole tool.
    pub feature: Option<String>,
    /// Counted from 1; null for the whole feature.
    pub flute: Option<u32>,
    /// Distance of the trace from the front, where known.
    pub z_mm: Option<f64>,
    /// The characteristic.
    pub name: String,
    /// `mm` or `deg`.
    pub unit: String,
}

impl From<&Characteristic> for FigureOf {
    fn from(of: &Characteristic) -> Self {
        Self {
            feature: of.feature.clone(),
            flute: of.flute,
            z_mm: of.z_mm,
            name: of.name.clone(),
            unit: of.unit.clone(),
        }
    }
}

/// A figure of one record and the same one of another; either may lack it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair<'a> {
    /// In the earlier record.
    pub before: Option<&'a Characteristic>,
    /// In the later record.
    pub after: Option<&'a Characteristic>,
}

impl<'a> Pair<'a> {
    /// The later one, or else the earlier.
    pub fn either(&self) -> Option<&'a Characteristic> {
        self.after.or(self.before)
    }
}

/// What tells one figure of a record from another: feature, flute, place and name.
type Key<'a> = (Option<&'a str>, Option<u32>, Option<u64>, &'a str);

fn key(of: &Characteristic) -> Key<'_> {
    let z = of.z_mm.map(f64::to_bits);
    (of.feature.as_deref(), of.flute, z, &of.name)
}

/// Every figure of either record, in the order of the later one, then what only the earlier has.
///
/// Figures that nothing tells apart, as of a feature that was traced twice at one place, are
/// paired in their order.
pub fn pairs<'a>(before: &'a Record, after: &'a Record) -> Vec<Pair<'a>> {
    let mut earlier: HashMap<Key, VecDeque<&Characteristic>> = HashMap::new();
    for figure in &before.characteristics {
        earlier.entry(key(figure)).or_default().push_back(figure);
    }
    let mut take = |of| earlier.get_mut(&key(of)).and_then(VecDeque::pop_front);
    let mut pairs: Vec<Pair> = Vec::with_capacity(after.characteristics.len());
    for figure in &after.characteristics {
        pairs.push(Pair {
            before: take(figure),
            after: Some(figure),
        });
    }
    for figure in &before.characteristics {
        let before = take(figure);
        pairs.extend(before.map(|_| Pair {
            before,
            after: None,
        }));
    }
    pairs
}

/// The tooth with this number of a feature, at this place.
pub fn tooth<'a>(
    record: &'a Record,
    feature: &str,
    flute: u32,
    z_mm: Option<f64>,
) -> Option<&'a Flute> {
    let mut flutes = record.flutes.iter();
    flutes.find(|it| it.feature == feature && it.flute == flute && it.z_mm == z_mm)
}

/// The tooth of the other record with the same number at the same place.
pub fn same_tooth<'a>(record: &'a Record, flute: &Flute) -> Option<&'a Flute> {
    tooth(record, &flute.feature, flute.flute, flute.z_mm)
}
