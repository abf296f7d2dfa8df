//! The cards that go with a simulated inspection, as a person would have written them.

use super::run::Pose;
use super::scenario::{Feature, Grows, Positive, Scenario, Surface, Tip, Turning, Unit};
use super::target::Target;
use std::fmt::Write;

/// Millimetres in an inch, by definition.
const MM_PER_INCH: f64 = 25.4;

impl Scenario {
    /// `tool.toml`.
    pub fn tool_card(&self) -> String {
        let mut card = format!(
            "schema = 1\nid = {:?}\nname = {:?}\nhand = {:?}\nflutes = {}\n",
            self.tool.id, self.tool.name, self.tool.hand, self.tool.flutes
        );
        for feature in &self.feature {
            card.push_str(&self.feature_card(feature));
        }
        card
    }

    /// `gauge.toml`, its `[link]` included where `link` gives one.
    pub fn gauge_card(&self, link: Option<&str>) -> String {
        let gauge = &self.gauge;
        let stylus = match gauge.stylus {
            Tip::Ball => "ball",
            Tip::Flat => "flat",
            Tip::Point => "point",
        };
        let length = |key, mm| self.length(key, mm);
        let mut card = "schema = 1\n\n[indicator]\n".to_owned();
        card += &length("resolution", gauge.resolution_mm);
        card += &length("max_error", gauge.max_error_mm);
        card += &length("hysteresis", gauge.hysteresis_mm);
        card += &format!("lever_angle_deg = {:?}\n", gauge.lever_angle_deg);
        card += &format!("\n[stylus]\nshape = {stylus:?}\n");
        card += &length("radius", gauge.radius_mm);
        card += &format!("\n[encoder]\ncounts_per_rev = {}\n", gauge.counts_per_rev);
        card += &self.sense();
        card += "\n[setup]\n";
        card += &length("probe_offset", gauge.probe_offset_mm);
        card += &length("probe_offset_tolerance", gauge.probe_offset_tolerance_mm);
        for (key, stated) in [
            ("runout", gauge.runout_mm),
            ("lean", gauge.lean_mm),
            ("lean_over", gauge.lean_over_mm),
            ("swash", gauge.swash_mm),
        ] {
            card += &stated.map_or_else(String::new, |mm| length(key, mm));
        }
        if let Some(delay_ms) = gauge.delay_ms {
            card += &format!("delay_ms = {delay_ms:?}\n");
        }
        if let Some(link) = link {
            card += &format!("\n[link]\n{link}");
        }
        card
    }

    /// The same as it is shown, simulated and practised: a tool of two or more teeth is turned heel
    /// first, so that the stylus never meets a face.
    #[must_use]
    pub fn practised(mut self) -> Self {
        if self.tool.flutes > 1 && self.hand.turning == Turning::Cutting {
            self.hand.turning = Turning::Backing;
        }
        self
    }

    /// The same with a hand that is watched while it turns: one that would turn back half-way goes on
    /// heel first. Two clocks are told apart by turning both ways, and stay as they are.
    #[must_use]
    pub fn watched(self) -> Self {
        let mut watched = self.practised();
        let both = watched.hand.turning == Turning::Both;
        if both && watched.tool.flutes > 1 && !watched.bench.two_clocks {
            watched.hand.turning = Turning::Backing;
            watched.hand.turns *= 2.0;
        }
        watched
    }

    /// The way of turning that is clockwise with this tool, seen from the driven end.
    pub fn clockwise(&self) -> Turning {
        match self.tool.hand.as_str() {
            "left" => Turning::Backing,
            _ => Turning::Cutting,
        }
    }

    /// What the card says of the encoder's sense.
    fn sense(&self) -> String {
        match self.gauge.positive {
            Some(Positive::Cutting) => return "positive = \"cutting\"\n".to_owned(),
            Some(Positive::Backing) => return "positive = \"backing\"\n".to_owned(),
            None => {}
        }
        let grows = match self.gauge.grows {
            Grows::Clockwise => "clockwise",
            Grows::CounterClockwise => "counter-clockwise",
        };
        let mut lines = format!("grows = {grows:?}\n");
        if self.gauge.sense_proven {
            let moment = self.taken.to_string();
            let day = moment.split('T').next().unwrap_or_default();
            let _ = writeln!(lines, "sense_proven = {{ grows = {grows:?}, on = {day} }}");
        }
        lines
    }

    /// `inspection.toml`.
    pub fn inspection_card(&self) -> String {
        let mut card = format!(
            "schema = 1\ntool = \"tool.toml\"\ngauge = \"gauge.toml\"\ntaken = {}\n\
             operator = {:?}\nstage = {:?}\n",
            self.taken, self.operator, self.stage
        );
        if self.grinder.is_some() {
            card += "grinder = \"grinder.toml\"\n";
        }
        if let Some(setup) = &self.setup {
            let _ = writeln!(card, "setup = {setup:?}");
        }
        for pose in self.poses() {
            card.push_str(&self.trace_entry(&pose));
        }
        for (name, face) in self.face_traces() {
            let _ = write!(
                card,
                "\n[[trace]]\nfile = \"traces/{name}.csv\"\nrole = \"feature\"\nfeature = {:?}\n",
                face.feature
            );
        }
        card
    }

    fn trace_entry(&self, pose: &Pose) -> String {
        let name = &pose.name;
        let mut entry = "\n[[trace]]\n".to_owned();
        if self.bench.two_clocks {
            let _ = writeln!(entry, "angle_file = \"traces/{name}-angle.csv\"");
            let _ = writeln!(entry, "reading_file = \"traces/{name}-reading.csv\"");
        } else {
            let _ = writeln!(entry, "file = \"traces/{name}.csv\"");
        }
        match pose.target {
            Target::Reference(i) => {
                entry += "role = \"reference\"\n";
                let round = self.reference.get(i);
                let diameter = round.map(|round| self.length("diameter", round.diameter_mm));
                entry += &diameter.unwrap_or_default();
            }
            Target::Feature(i) => {
                entry += "role = \"feature\"\n";
                if let Some(feature) = self.feature.get(i) {
                    let _ = writeln!(entry, "feature = {:?}", feature.name);
                }
            }
            Target::Motion(_) => entry += "role = \"motion\"\n",
            Target::Residual { feature, .. } => {
                entry += "role = \"residual\"\n";
                if let Some(feature) = self.feature.get(feature) {
                    let _ = writeln!(entry, "feature = {:?}", feature.name);
                }
            }
        }
        if let Some(stands) = self.stands(pose.target) {
            let _ = writeln!(entry, "direction = {:?}", stands.direction.as_str());
            entry += &self.length("throw", stands.throw.mm());
        }
        entry += &self.length("z", pose.z_mm);
        if pose.rezeroed {
            entry += "rezeroed = true\n";
        }
        entry
    }

    fn feature_card(&self, feature: &Feature) -> String {
        let surface = match feature.surface {
            Surface::Radial => "radial",
            Surface::Axial => "axial",
        };
        let mut card = format!(
            "\n[[feature]]\nname = {:?}\nsurface = {surface:?}\n",
            feature.name
        );
        card += &self.length("diameter", feature.diameter_mm);
        if let Some(least) = feature.least_diameter_mm {
            card += &self.length("least_diameter", least);
        }
        card += &self.length("check_distance", feature.check_distance_mm);
        if feature.state_land {
            let _ = writeln!(card, "land_deg = {:?}", feature.land.arc_deg);
        }
        if let Some(least) = feature.least_land_deg {
            let _ = writeln!(card, "least_land_deg = {least:?}");
        }
        if feature.on_the_face {
            card += "sharpened_on = \"face\"\n";
        }
        if let Some(feed) = feature.feed_mm_per_rev {
            let value = self.number(feed);
            let unit = self.suffix();
            let _ = writeln!(card, "feed_{unit}_per_rev = {value}");
        }
        if feature.state_face && feature.surface == Surface::Axial {
            let _ = writeln!(card, "face_deg = {:?}", feature.face_deg);
        }
        if let Some(curve) = &feature.curve {
            let _ = writeln!(card, "curve = {curve:?}");
        }
        if !feature.limits.is_empty() {
            card += "\n[feature.limits]\n";
            for (key, limit) in &feature.limits {
                let _ = writeln!(card, "{key} = {limit}");
            }
        }
        card
    }

    /// `key_mm = value`, or the same in inches.
    fn length(&self, key: &str, mm: f64) -> String {
        format!("{key}_{} = {}\n", self.suffix(), self.number(mm))
    }

    /// `mm` or `in`, as in the written traces' header.
    pub fn unit_name(&self) -> &'static str {
        self.suffix()
    }

    /// The angle that a count of the encoder stands for in a written trace, in degrees.
    pub fn angle_deg(&self, count: i64) -> f64 {
        let deg = count as f64 * 360.0 / f64::from(self.gauge.counts_per_rev);
        if self.bench.wrapped {
            deg.rem_euclid(360.0)
        } else {
            deg
        }
    }

    /// What the indicator shows for so many steps of its least count, in the recipe's unit.
    pub fn shown(&self, steps: i64) -> String {
        let mm = steps as f64 * self.gauge.resolution_mm;
        match self.unit {
            Unit::Mm => format!("{mm:.6}"),
            Unit::In => format!("{:.7}", mm / MM_PER_INCH),
        }
    }

    /// A length in the recipe's unit, as a table's scale shows it.
    pub fn shown_travel(&self, mm: f64) -> String {
        match self.unit {
            Unit::Mm => format!("{mm:.4}"),
            Unit::In => format!("{:.6}", mm / MM_PER_INCH),
        }
    }

    fn suffix(&self) -> &'static str {
        match self.unit {
            Unit::Mm => "mm",
            Unit::In => "in",
        }
    }

    /// A length as a number in the recipe's unit, to a tenth of a nanometre.
    fn number(&self, mm: f64) -> String {
        let value = match self.unit {
            Unit::Mm => mm,
            Unit::In => mm / MM_PER_INCH,
        };
        format!("{:?}", (value * 1e7).round() / 1e7)
    }
}
