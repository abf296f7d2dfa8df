//! The tool card: what the reground tool should be.

use super::choices::{CurveChoice, Hand, SharpenedOn, Surface};
use super::page::Page;
use super::reader::Reader;
use super::writer::Writer;
use super::{Limit, Limits, Name, keys};
use crate::error::Result;
use crate::quantity::{Angle, Length};

/// A tool and what is wanted of each of its features.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolCard {
    /// The shop's own number for it.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Which way it cuts.
    pub hand: Hand,
    /// Number of teeth, 1 to 24.
    pub flutes: u32,
    /// Angle from each edge to the next by design, starting at any of them; empty where equal.
    pub spacing: Vec<Angle>,
    /// Probability of conformity that a pass or fail needs, 0.95 by default.
    pub confidence: f64,
    /// What is measured on it.
    pub features: Vec<Feature>,
}

/// One surface of a tool whose lands are judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Feature {
    /// What traces call it.
    pub name: String,
    /// Whether the probe moves along a radius or along the axis.
    pub surface: Surface,
    /// Diameter of the edge circle; for an axial surface, of the circle that the probe follows.
    pub diameter: Length,
    /// The smallest diameter that regrinding may bring a radial surface to.
    pub least_diameter: Option<Length>,
    /// Arc length behind the edge at which the drop is read.
    pub check_distance: Length,
    /// Arc to judge behind each edge; found in the trace when absent.
    pub land: Option<Angle>,
    /// The shortest arc that regrinding may leave of a land.
    pub least_land: Option<Angle>,
    /// What a regrind is ground on.
    pub sharpened_on: SharpenedOn,
    /// Feed a turn, for axial surfaces.
    pub feed: Option<Length>,
    /// Angle of an axial surface to the tool's axis by design: a quarter turn where it is square,
    /// less where its rim stands back, more where it stands forward.
    pub face: Option<Angle>,
    /// Which family of curves describes the land.
    pub curve: CurveChoice,
    /// What is allowed.
    pub limits: Limits,
}

impl Feature {
    /// Whether its limits ask for a face angle, which a trace over table travel tells.
    pub fn asks_for_travel(&self) -> bool {
        self.limits.get(Name::FaceAngle).is_some()
    }
}

impl ToolCard {
    /// Reads a tool card; `file` names it in messages. Everything wrong with it is told at once.
    ///
    /// ```
    /// use heelclear::card::ToolCard;
    /// let text = r#"
    /// schema = 1
    /// id = "VB-07"
    /// name = "seat counterbore"
    /// hand = "right"
    /// flutes = 2
    /// [[feature]]
    /// name = "seat"
    /// surface = "radial"
    /// diameter_mm = 20.0
    /// check_distance_mm = 0.5
    /// "#;
    /// let card = ToolCard::parse(text, "tool.toml")?;
    /// assert_eq!(card.features[0].diameter.mm(), 20.0);
    /// # Ok::<(), heelclear::error::Error>(())
    /// ```
    pub fn parse(text: &str, file: &str) -> Result<Self> {
        let page = Page::new(text, file);
        let entries = page.parse()?;
        let card = Reader::top(&page, keys::TOOL, &entries).and_then(|top| read(&top));
        page.finish(card)
    }

    /// The card as a person would write it, lengths in mm.
    pub fn to_toml(&self) -> String {
        let mut out = Writer::new();
        out.text("id", &self.id);
        out.text("name", &self.name);
        out.text("hand", self.hand.as_str());
        out.whole("flutes", self.flutes);
        out.angles("spacing_deg", &self.spacing);
        out.heading("[decision]");
        out.number("confidence", self.confidence);
        for feature in &self.features {
            write_feature(&mut out, feature);
        }
        out.finish()
    }
}

/// Conformity is proven at 95 % unless the card asks otherwise, as ISO 14253-1 does by default.
const DEFAULT_CONFIDENCE: f64 = 0.95;

/// Angles written with a few digits add up to a whole turn within this (0.01°, with a little for
/// the last digit of a computer's sum).
const WHOLE_TURN_WITHIN: Angle = Angle::from_rad(0.010_000_1 / 180.0 * std::f64::consts::PI);

fn read(top: &Reader<'_>) -> Option<ToolCard> {
    let id = top.text("id");
    let name = top.text("name");
    let hand = top.choice("hand");
    let flutes = top.whole("flutes");
    let spacing = read_spacing(top, flutes);
    let decision = top.table("decision");
    let confidence = decision.and_then(|decision| decision.number("confidence"));
    let tables = top.tables("feature");
    let features: Option<Vec<Feature>> = tables.iter().map(read_feature).collect();
    let features = features?;
    for (at, table) in tables.iter().enumerate().skip(1) {
        if features[..at].iter().any(|f| f.name == features[at].name) {
            let message = format!("read a second feature `{}`", features[at].name);
            let help = "traces find a feature by its name: give each its own";
            table.object("name", message, help);
        }
    }
    let pitch = narrowest_pitch(flutes, &spacing);
    for (table, feature) in tables.iter().zip(&features) {
        let reach = Angle::from_rad(feature.check_distance / (feature.diameter / 2.0));
        if reach >= pitch {
            let message = format!(
                "read a check distance that reaches {:.1}° behind the edge, where the next edge stands {:.1}° behind it",
                reach.deg(),
                pitch.deg()
            );
            let help = "the drop is read this far behind the edge, along its circle: half a millimetre is usual";
            table.object("check_distance_mm", message, help);
        }
    }
    Some(ToolCard {
        id: id?,
        name: name?,
        hand: hand?,
        flutes: flutes?,
        spacing,
        confidence: confidence.unwrap_or(DEFAULT_CONFIDENCE),
        features,
    })
}

/// The least angle from an edge to the next.
fn narrowest_pitch(flutes: Option<u32>, spacing: &[Angle]) -> Angle {
    let even = Angle::TURN / f64::from(flutes.unwrap_or(1).max(1));
    spacing.iter().copied().reduce(Angle::min).unwrap_or(even)
}

/// The spacing that a card lists, which must go once round: as many angles as flutes.
fn read_spacing(top: &Reader<'_>, flutes: Option<u32>) -> Vec<Angle> {
    let Some(spacing) = top.angles("spacing_deg") else {
        return Vec::new();
    };
    let help = "list the angle from each edge to the next, once round; leave the key out where the flutes are meant to stand evenly";
    if let Some(flutes) = flutes.filter(|flutes| spacing.len() != *flutes as usize) {
        let message = format!(
            "read {} angles for {flutes} flutes, expected as many",
            spacing.len()
        );
        top.object("spacing_deg", message, help);
    }
    let sum: Angle = spacing.iter().copied().sum();
    if (sum - Angle::TURN).abs() > WHOLE_TURN_WITHIN {
        let message = format!(
            "read angles that add up to {:.3}°, expected 360° within {:.2}°",
            sum.deg(),
            WHOLE_TURN_WITHIN.deg()
        );
        top.object("spacing_deg", message, help);
    }
    spacing
}

fn read_feature(table: &Reader<'_>) -> Option<Feature> {
    let name = table.text("name");
    let surface = table.choice("surface");
    let diameter = table.length("diameter_mm");
    let least_diameter = table.length("least_diameter_mm");
    let check_distance = table.length("check_distance_mm");
    let land = table.angle("land_deg");
    let least_land = table.angle("least_land_deg");
    let sharpened_on = table.choice("sharpened_on");
    let feed = table.length("feed_mm_per_rev");
    let face = table.angle("face_deg");
    let curve = table.choice("curve");
    let limits = table.table("limits");
    let limits = limits.map_or_else(Limits::default, |limits| read_limits(&limits));
    if surface == Some(Surface::Radial) && feed.is_some() {
        table.object(
            "feed_mm_per_rev",
            "read a feed on a radial surface, expected it on an axial one alone",
            "take the feed out, or make the surface `axial`",
        );
    }
    if surface == Some(Surface::Radial) && face.is_some() {
        table.object(
            "face_deg",
            "read the angle of a face on a radial surface, expected it on an axial one alone",
            "take it out: an indicator along a radius reads the same on a face of any angle",
        );
    }
    if surface == Some(Surface::Axial) && least_diameter.is_some() {
        table.object(
            "least_diameter_mm",
            "read a smallest diameter on an axial surface, expected it on a radial one alone",
            "take it out: the circle that the probe follows does not get smaller with a regrind",
        );
    }
    Some(Feature {
        name: name?,
        surface: surface?,
        diameter: diameter?,
        least_diameter,
        check_distance: check_distance?,
        land,
        least_land,
        sharpened_on: sharpened_on.unwrap_or_default(),
        feed,
        face,
        curve: curve.unwrap_or_default(),
        limits,
    })
}

fn read_limits(table: &Reader<'_>) -> Limits {
    let mut limits = Limits::default();
    for &name in Name::ALL {
        let Some(limit) = name.card_key().and_then(|key| table.limit(&key)) else {
            continue;
        };
        // An upper limit alone does not switch the rule against heel drag off.
        let rule = Limits::default().get(name).and_then(|rule| rule.min);
        let min = limit.min.or(rule);
        limits.set(name, Limit { min, ..limit });
    }
    limits
}

fn write_feature(out: &mut Writer, feature: &Feature) {
    out.heading("[[feature]]");
    out.text("name", &feature.name);
    out.text("surface", feature.surface.as_str());
    out.length("diameter_mm", Some(feature.diameter));
    out.length("least_diameter_mm", feature.least_diameter);
    out.length("check_distance_mm", Some(feature.check_distance));
    out.angle("land_deg", feature.land);
    out.angle("least_land_deg", feature.least_land);
    if feature.sharpened_on != SharpenedOn::Land {
        out.text("sharpened_on", feature.sharpened_on.as_str());
    }
    out.length("feed_mm_per_rev", feature.feed);
    out.angle("face_deg", feature.face);
    out.text("curve", feature.curve.as_str());
    out.heading("[feature.limits]");
    for (name, limit) in feature.limits.iter() {
        if let Some(key) = name.card_key() {
            out.limit(&key, limit);
        }
    }
}
