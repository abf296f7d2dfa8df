//! A gauge card to start from.

use super::{Draft, Entry, Starter, Value};
use crate::card::{Rotation, StylusShape, keys};
use crate::quantity::{Angle, Length, Units};

/// What is known of a bench; the rest is left to fill in.
#[derive(Clone, Debug, Default)]
pub struct NewGauge {
    /// The unit that lengths are written in.
    pub units: Units,
    /// The indicator's least count.
    pub resolution: Option<Length>,
    /// Range of its plunger.
    pub travel: Option<Length>,
    /// Limit of error over the travel used.
    pub max_error: Option<Length>,
    /// Difference between readings going in and coming out.
    pub hysteresis: Option<Length>,
    /// Angle of a lever.
    pub lever_angle: Option<Angle>,
    /// The shape of the tip.
    pub shape: Option<StylusShape>,
    /// Its radius, or half the width of a flat.
    pub tip_radius: Option<Length>,
    /// Encoder counts in a turn.
    pub counts: Option<u32>,
    /// The turning direction in which its angle grows.
    pub grows: Option<Rotation>,
    /// How far the probe's line passes from the axis.
    pub probe_offset: Option<Length>,
    /// What that may be off by.
    pub probe_offset_tolerance: Option<Length>,
    /// Bound on the eccentricity left without a reference.
    pub runout: Option<Length>,
    /// Bound on the lean over 100 mm.
    pub lean: Option<Length>,
    /// Speed of the indicator's port.
    pub baud: Option<u32>,
}

/// Limits of JIS B 7503:2011 for dials with a bezel of 50 mm or more, of the largest range that it has
/// up to 10 mm: graduation, range, retrace error, error over the whole range, in µm but the range in mm.
/// Rows of `tests/reference/dial_indicator_mpe_jis_b7503_2011.csv`.
const DIALS: &[(f64, f64, f64, f64)] = &[
    (0.001, 5.0, 3.0, 10.0),
    (0.005, 5.0, 3.0, 12.0),
    (0.01, 10.0, 3.0, 15.0),
];

impl NewGauge {
    /// The card.
    pub fn card(&self) -> Starter {
        let mut draft = Draft::new("A gauge card", "gauge-card", self.units);
        draft.prose("What an indicator may err by stands on its certificate. `heelclear study` finds the rest at the bench.");
        for section in keys::GAUGE {
            let entries = match section.heading {
                "" => vec![Entry::stated("schema", Some(Value::Whole(1)))],
                "[indicator]" => self.indicator(),
                "[stylus]" => self.stylus(),
                "[encoder]" => self.encoder(),
                "[setup]" => self.setup(),
                "[link]" if self.baud.is_some() => {
                    vec![Entry::stated("baud", self.baud.map(Value::Whole))]
                }
                _ => {
                    draft.left_out(section);
                    continue;
                }
            };
            draft.table(section, &entries);
        }
        draft.finish()
    }

    fn indicator(&self) -> Vec<Entry> {
        let resolution = self.resolution.unwrap_or(match self.units {
            Units::Metric => Length::from_mm(0.001),
            Units::Inch => Length::from_in(0.0001),
        });
        let mut dials = DIALS.iter();
        let dial = dials.find(|(graduation, ..)| (graduation - resolution.mm()).abs() < 1e-9);
        let error = |key, stated: Option<Length>, um: Option<f64>| {
            let stated = stated.map(Value::Length);
            let Some((um, (graduation, range, ..))) = um.zip(dial) else {
                return Entry::needed(key, stated);
            };
            let source = format!(
                "JIS B 7503:2011, dials of {graduation} mm graduation and up to {range} mm range: your certificate goes before it"
            );
            Entry::or_from(
                key,
                stated,
                Value::Length(Length::from_um(um)),
                (source, true),
            )
        };
        vec![
            Entry::needed("resolution_mm", self.resolution.map(Value::Length)),
            Entry::stated("travel_mm", self.travel.map(Value::Length)),
            error("max_error_mm", self.max_error, dial.map(|it| it.3)),
            error("hysteresis_mm", self.hysteresis, dial.map(|it| it.2)),
            Entry::needed("lever_angle_deg", self.lever_angle.map(Value::Angle)),
        ]
    }

    fn stylus(&self) -> Vec<Entry> {
        let shape = self
            .shape
            .map(|shape| Value::Text(shape.as_str().to_owned()));
        let radius = self.tip_radius.map(Value::Length);
        let radius = match self.shape {
            Some(StylusShape::Point) => Entry::stated("radius_mm", radius),
            _ => Entry::needed("radius_mm", radius),
        };
        vec![Entry::needed("shape", shape), radius]
    }

    fn encoder(&self) -> Vec<Entry> {
        let grows = self.grows.map(|it| Value::Text(it.as_str().to_owned()));
        vec![
            Entry::needed("counts_per_rev", self.counts.map(Value::Whole)),
            Entry::needed("grows", grows),
            Entry::left_out("positive", None, "in place of `grows`, on older cards"),
        ]
    }

    fn setup(&self) -> Vec<Entry> {
        let length = |length: Option<Length>| length.map(Value::Length);
        let tolerance = length(self.probe_offset_tolerance);
        vec![
            Entry::needed("probe_offset_mm", length(self.probe_offset)),
            Entry::needed("probe_offset_tolerance_mm", tolerance),
            Entry::stated("runout_mm", length(self.runout)),
            Entry::stated("lean_mm", length(self.lean)),
        ]
    }
}
