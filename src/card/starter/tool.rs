//! A tool card to start from.

use super::figures::{Known, Place};
use super::{Draft, Entry, Material, Starter, Value, Work};
use crate::card::{CurveChoice, Hand, Limit, Name, Section, Surface, keys};
use crate::quantity::{Angle, Length, Units};

/// What is known of a tool; the rest is left to fill in.
#[derive(Clone, Debug)]
pub struct NewTool {
    /// The unit that lengths are written in.
    pub units: Units,
    /// The shop's own number for it.
    pub id: Option<String>,
    /// What people call it.
    pub name: Option<String>,
    /// Which way it cuts.
    pub hand: Option<Hand>,
    /// Number of teeth.
    pub flutes: Option<u32>,
    /// How it works.
    pub work: Work,
    /// What it cuts.
    pub material: Option<Material>,
    /// Its features; one to fill in where there is none.
    pub features: Vec<NewFeature>,
}

/// What is known of a feature.
#[derive(Clone, Debug)]
pub struct NewFeature {
    /// What traces call it.
    pub name: Option<String>,
    /// Along which direction the indicator touches.
    pub surface: Surface,
    /// Diameter of the edge circle, or of the one that the probe follows.
    pub diameter: Option<Length>,
    /// The smallest diameter that regrinding may bring it to.
    pub least_diameter: Option<Length>,
    /// Arc length behind the edge at which the drop is read.
    pub check_distance: Option<Length>,
    /// Arc to judge behind each edge.
    pub land: Option<Angle>,
    /// Feed a turn.
    pub feed: Option<Length>,
    /// Angle of an axial surface to the axis.
    pub face: Option<Angle>,
    /// Which family of curves describes the land.
    pub curve: Option<CurveChoice>,
    /// Least and greatest relief, in degrees.
    pub relief: Option<Limit>,
    /// Least height of the edge above what follows it.
    pub clearance: Option<Length>,
}

impl Default for NewFeature {
    fn default() -> Self {
        Self {
            name: None,
            surface: Surface::Radial,
            diameter: None,
            least_diameter: None,
            check_distance: None,
            land: None,
            feed: None,
            face: None,
            curve: None,
            relief: None,
            clearance: None,
        }
    }
}

impl NewTool {
    /// The card.
    pub fn card(&self) -> Starter {
        let mut draft = Draft::new("A tool card", "tool-card", self.units);
        let text = |text: &Option<String>| text.clone().map(Value::Text);
        let [top, decision, feature, limits] = keys::TOOL else {
            return draft.finish();
        };
        let hand = self.hand.map(|hand| Value::Text(hand.as_str().to_owned()));
        draft.table(
            top,
            &[
                Entry::stated("schema", Some(Value::Whole(1))),
                Entry::needed("id", text(&self.id)),
                Entry::needed("name", text(&self.name)),
                Entry::needed("hand", hand),
                Entry::needed("flutes", self.flutes.map(Value::Whole)),
            ],
        );
        draft.left_out(decision);
        let to_fill_in = [NewFeature::default()];
        let features = match self.features.is_empty() {
            true => &to_fill_in[..],
            false => &self.features,
        };
        for each in features {
            self.feature(&mut draft, (feature, limits), each);
        }
        draft.finish()
    }

    fn feature(
        &self,
        draft: &mut Draft,
        (feature, limits): (&Section, &Section),
        each: &NewFeature,
    ) {
        let length = |length: Option<Length>| length.map(Value::Length);
        let angle = |angle: Option<Angle>| angle.map(Value::Angle);
        let named = each.name.clone().map(Value::Text);
        let surface = Value::Text(each.surface.as_str().to_owned());
        let curve = each.curve.map(|it| Value::Text(it.as_str().to_owned()));
        draft.table(
            feature,
            &[
                Entry::needed("name", named),
                Entry::stated("surface", Some(surface)),
                Entry::needed("diameter_mm", length(each.diameter)),
                Entry::stated("least_diameter_mm", length(each.least_diameter)),
                self.check_distance(each),
                Entry::stated("land_deg", angle(each.land)),
                Entry::stated("least_land_deg", None),
                Entry::stated("sharpened_on", None),
                Entry::stated("feed_mm_per_rev", length(each.feed)),
                Entry::stated("face_deg", angle(each.face)),
                Entry::stated("curve", curve),
            ],
        );
        draft.table(limits, &self.limits(each));
    }

    fn limits(&self, each: &NewFeature) -> Vec<Entry> {
        let place = Place {
            work: self.work,
            material: self.material,
            surface: each.surface,
            face: each.face,
            diameter: each.diameter,
        };
        let from_figure = |key: &'static str, name: Name| match place.figure(name) {
            Some(figure) if figure.known == Known::Published => {
                Entry::or_from(key, None, Value::Limit(figure.limit), (figure.source, true))
            }
            Some(figure) => Entry::left_out(key, Some(Value::Limit(figure.limit)), figure.source),
            None => Entry::stated(key, None),
        };
        let margin = self.work == Work::Reamer && each.surface == Surface::Radial;
        let relief = match each.relief {
            Some(relief) => Entry::stated("relief_angle_deg", Some(Value::Limit(relief))),
            None if margin => Entry::left_out(
                "relief_angle_deg",
                None,
                "not on a margin, which has none: judge its width, and the drop behind it",
            ),
            None => from_figure("relief_angle_deg", Name::ReliefAngle),
        };
        let at_least = |length: Length| Limit {
            min: Some(length.mm()),
            max: None,
        };
        let clearance = each.clearance.map(|it| Value::Limit(at_least(it)));
        vec![
            relief,
            Entry::or_from(
                "heel_clearance_mm",
                clearance,
                Value::Limit(at_least(Length::ZERO)),
                ("holds without being written: no heel may drag", false),
            ),
            from_figure("wear_land_mm", Name::WearLand),
            from_figure("primary_width_mm", Name::PrimaryWidth),
        ]
    }

    /// Half a millimetre, or less where the teeth are small: not farther than a quarter of the way to
    /// the next edge.
    fn check_distance(&self, each: &NewFeature) -> Entry {
        const METRIC: [f64; 7] = [0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005];
        const INCH: [f64; 7] = [0.02, 0.01, 0.005, 0.002, 0.001, 0.0005, 0.0002];
        let usual = match self.units {
            Units::Metric => METRIC.map(Length::from_mm),
            Units::Inch => INCH.map(Length::from_in),
        };
        let flutes = f64::from(self.flutes.unwrap_or(2).max(1));
        let pitch = each.diameter.map(|it| it * std::f64::consts::PI / flutes);
        let [largest, .., smallest] = usual;
        let fits = |it: &Length| pitch.is_none_or(|pitch| *it <= pitch / 4.0);
        let chosen = usual.into_iter().find(fits).unwrap_or(smallest);
        let why = match chosen == largest {
            true => "common practice, no source",
            false => "chosen, no source: a small part of the way to the next edge",
        };
        let stated = each.check_distance.map(Value::Length);
        Entry::or_from(
            "check_distance_mm",
            stated,
            Value::Length(chosen),
            (why, false),
        )
    }
}
