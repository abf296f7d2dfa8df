//! A tool through its regrinds: each figure with its interval, and what is left of the diameter.

use super::faced::{self, FaceOutlook};
use super::schema::{Bounds, FeatureFacts, Record, Verdict};
use crate::numeric::quantile;
use serde::Serialize;

/// The figures that a trend follows besides the diameter.
pub const FOLLOWED: [&str; 3] = ["relief-angle", "heel-clearance", "edge-spread"];

/// Regrinds ahead that a line may be followed.
const FARTHEST: u32 = 200;

/// Points that an interval of a line needs: two are taken by the line itself.
const LEAST_POINTS: usize = 3;

/// One feature through the regrinds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trend {
    /// The tool's id.
    pub tool: String,
    /// The feature.
    pub feature: String,
    /// The regrinds, the first measured first.
    pub regrinds: Vec<Regrind>,
    /// The smallest diameter that is allowed, where one was asked for or stands on the last card.
    pub least_diameter_mm: Option<f64>,
    /// What the line through the diameters says; nothing with fewer than two of them.
    pub outlook: Option<Outlook>,
    /// How its lands get shorter, where its last card says that it is ground on the face.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub face: Option<FaceOutlook>,
    /// Why nothing is told of what is ahead, where regrinds are left out since their records are
    /// damaged: a line through some would be taken for one through all. The archive knows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub incomplete: Option<String>,
    /// What was taken for granted, a sentence each.
    pub assumptions: Vec<String>,
}

/// One regrind of a feature.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Regrind {
    /// The archive's name of its record.
    pub record: String,
    /// When it was measured, RFC 3339.
    pub taken: String,
    /// The verdict on the tool.
    pub verdict: Option<Verdict>,
    /// Whether that was kept as it was judged, and nobody judged again; the archive knows.
    pub as_judged: bool,
    /// Diameter of the edge circle, as its tool card states it.
    pub diameter_mm: f64,
    /// What is followed, for each flute that has it.
    pub figures: Vec<Followed>,
}

/// A figure of one regrind.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Followed {
    /// One of [`FOLLOWED`].
    pub name: String,
    /// Counted from 1; null for the whole feature.
    pub flute: Option<u32>,
    /// In `unit`.
    pub value: f64,
    /// `mm` or `deg`.
    pub unit: String,
    /// The 95 % coverage interval.
    pub interval: Option<[f64; 2]>,
    /// What the card allowed.
    pub limit: Option<Bounds>,
    /// Its verdict.
    pub verdict: Option<Verdict>,
}

/// The straight line through the diameters, and how far it may be followed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Outlook {
    /// Diameters that the line was laid through.
    pub diameters: u32,
    /// The line at the first regrind.
    pub first_mm: f64,
    /// How much a regrind takes off the diameter.
    pub loss_mm: f64,
    /// Scatter of the diameters about the line; unknown with fewer than three.
    pub scatter_mm: Option<f64>,
    /// How many regrinds are left, by the line.
    pub left: Option<u32>,
    /// How many are left at the lower and the upper end of the 95 % prediction interval.
    pub left_interval: Option<[u32; 2]>,
}

impl Outlook {
    /// The diameter that the line gives at a regrind, counted from 0.
    pub fn line_mm(&self, regrind: f64) -> f64 {
        self.first_mm - self.loss_mm * regrind
    }

    /// Where one more diameter there would lie, with 95 % probability; unknown with fewer than
    /// three diameters (NIST/SEMATECH e-Handbook of Statistical Methods, section 4.5.1.2).
    pub fn band_mm(&self, regrind: f64) -> Option<[f64; 2]> {
        let count = f64::from(self.diameters);
        let middle = (count - 1.0) / 2.0;
        // Squares of whole steps about their middle.
        let spread = count * (count * count - 1.0) / 12.0;
        let reach = (1.0 + 1.0 / count + (regrind - middle).powi(2) / spread).sqrt();
        let wide = quantile::student_t(0.975, count - 2.0)? * self.scatter_mm? * reach;
        let at = self.line_mm(regrind);
        Some([at - wide, at + wide])
    }
}

impl Trend {
    /// Every radial or axial feature of these records, which are one tool's, the first measured
    /// first, each with the archive's name of it. A least diameter asked for takes the place of the
    /// one on the last tool card.
    pub fn of(records: &[(String, Record)], least_diameter_mm: Option<f64>) -> Vec<Trend> {
        let mut names: Vec<&str> = Vec::new();
        for facts in records.iter().flat_map(|(_, record)| &record.features) {
            if !names.contains(&facts.feature.as_str()) {
                names.push(&facts.feature);
            }
        }
        let trend = |name: &str| {
            let regrinds: Vec<Regrind> = records
                .iter()
                .filter_map(|(label, record)| regrind(label, record, name))
                .collect();
            // What the last card says holds, unless somebody asks with another diameter.
            let facts = records
                .iter()
                .rev()
                .find_map(|(_, record)| facts(record, name));
            let on_card = facts.and_then(|facts| facts.least_diameter_mm);
            let least = least_diameter_mm.or(on_card);
            let with_it: Vec<&Record> = records
                .iter()
                .map(|(_, record)| record)
                .filter(|record| self::facts(record, name).is_some())
                .collect();
            let diameters: Vec<f64> = regrinds.iter().map(|it| it.diameter_mm).collect();
            Trend {
                tool: records
                    .first()
                    .map(|(_, record)| record.tool.clone())
                    .unwrap_or_default(),
                feature: name.to_owned(),
                outlook: outlook(&diameters, least),
                face: faced::outlook(&with_it, name, least),
                regrinds,
                incomplete: None,
                least_diameter_mm: least,
                assumptions: ASSUMPTIONS.map(str::to_owned).to_vec(),
            }
        };
        names.into_iter().map(trend).collect()
    }
}

const ASSUMPTIONS: [&str; 2] = [
    "diameters are those that the tool cards state, which say no uncertainty: it shows only as scatter about the line",
    "every record after a grind is one regrind, and the next ones take as much as those before",
];

fn facts<'a>(record: &'a Record, feature: &str) -> Option<&'a FeatureFacts> {
    record.features.iter().find(|it| it.feature == feature)
}

fn regrind(label: &str, record: &Record, feature: &str) -> Option<Regrind> {
    let facts = facts(record, feature)?;
    let figures = record.characteristics.iter().filter(|it| {
        it.feature.as_deref() == Some(feature) && FOLLOWED.contains(&it.name.as_str())
    });
    let figures = figures.filter_map(|it| {
        Some(Followed {
            name: it.name.clone(),
            flute: it.flute,
            value: it.value.filter(|value| value.is_finite())?,
            unit: it.unit.clone(),
            interval: it.interval,
            limit: it.limit,
            verdict: it.verdict,
        })
    });
    Some(Regrind {
        record: label.to_owned(),
        taken: record.about.taken.clone(),
        verdict: record.verdict,
        as_judged: false,
        diameter_mm: facts.diameter_mm,
        figures: figures.collect(),
    })
}

/// Least squares of diameter on the number of the regrind (NIST/SEMATECH e-Handbook of Statistical
/// Methods, section 4.1.4.1), followed to the smallest allowed diameter.
fn outlook(diameters: &[f64], least: Option<f64>) -> Option<Outlook> {
    let n = diameters.len();
    if n < 2 || !diameters.iter().all(|d| d.is_finite()) {
        return None;
    }
    let count = n as f64;
    let middle = (count - 1.0) / 2.0;
    let mean = diameters.iter().sum::<f64>() / count;
    let places = || diameters.iter().enumerate();
    let spread: f64 = places().map(|(x, _)| (x as f64 - middle).powi(2)).sum();
    let product = |(x, d): (usize, &f64)| (x as f64 - middle) * (d - mean);
    let slope = places().map(product).sum::<f64>() / spread;
    let at = |x: f64| mean + slope * (x - middle);
    let squares: f64 = places().map(|(x, d)| (d - at(x as f64)).powi(2)).sum();
    let line = Outlook {
        diameters: u32::try_from(n).ok()?,
        first_mm: at(0.0),
        loss_mm: -slope,
        scatter_mm: (n >= LEAST_POINTS).then(|| (squares / (count - 2.0)).sqrt()),
        left: None,
        left_interval: None,
    };
    // A hundredth of a nanometre: what the arithmetic of a decimal leaves, not a diameter.
    let least = least.map(|least| least - 1e-8);
    let (Some(least), true) = (least, slope < -1e-9) else {
        return Some(line);
    };
    let reach = |diameter: &dyn Fn(f64) -> Option<f64>| {
        let above = |ahead: &u32| {
            let there = diameter(count - 1.0 + f64::from(*ahead));
            there.is_some_and(|there| there >= least)
        };
        (1..=FARTHEST).take_while(above).count() as u32
    };
    let end = |end: usize| reach(&|x| line.band_mm(x).map(|band| band[end]));
    Some(Outlook {
        left: Some(reach(&|x| Some(line.line_mm(x)))),
        left_interval: line.scatter_mm.map(|_| [end(0), end(1)]),
        ..line
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[track_caller]
    fn check(diameters: &[f64], least: f64, left: Option<u32>, interval: Option<[u32; 2]>) {
        let found = outlook(diameters, Some(least)).unwrap();
        assert_eq!((found.left, found.left_interval), (left, interval));
    }

    #[test]
    fn what_is_left_is_counted_along_the_line() {
        check(&[20.0, 19.9], 19.7, Some(2), None);
        check(&[20.0, 19.9, 19.8], 19.5, Some(3), Some([3, 3]));
        check(&[20.0, 19.9, 19.8], 19.85, Some(0), Some([0, 0]));
        check(&[20.0, 20.0, 20.0], 19.5, None, None);
        assert_eq!(outlook(&[20.0], Some(19.0)), None);
    }

    #[test]
    fn scatter_widens_what_is_left() {
        let found = outlook(&[20.0, 19.92, 19.79, 19.71, 19.6], Some(19.0)).unwrap();
        let ([low, high], left) = (found.left_interval.unwrap(), found.left.unwrap());
        assert!(low < left && left < high, "{found:?}");
        // By hand: the slope is -1.01 / 10, and the squares about the line sum to 0.00051.
        assert!((found.loss_mm - 0.101).abs() < 1e-9);
        let scatter = (0.00051f64 / 3.0).sqrt();
        assert!((found.scatter_mm.unwrap() - scatter).abs() < 1e-9);
    }
}
