//! What work does to a tool, and what a micrometer then shows of it.

use super::outline;
use super::scenario::{Scenario, Surface, Tooth};
use rand::Rng;

impl Scenario {
    /// The tool after it has worked for some months: every edge worn back and rounded, each differently.
    #[must_use]
    pub fn worked(mut self, rng: &mut impl Rng) -> Self {
        let flutes = self.tool.flutes as usize;
        for feature in &mut self.feature {
            feature.tooth.resize(flutes, Tooth::default());
            for tooth in &mut feature.tooth {
                tooth.wear_land_mm = rng.random_range(0.05..0.25);
                // Ground and worn edges are about as round as this (common practice, no source).
                tooth.rounding_mm = rng.random_range(0.005..0.016);
            }
            // Wear has brought the edges down from the circle that the card states.
            if feature.surface == Surface::Radial {
                feature.diameter_error_mm += rng.random_range(-0.01..0.01);
            }
        }
        "before-grind".clone_into(&mut self.stage);
        self.setup = None;
        self.diameters_read()
    }

    /// The tool with its cards' diameters read off it anew, as a micrometer shows them over the highest
    /// edges and a person writes them.
    #[must_use]
    pub fn diameters_read(mut self) -> Self {
        let flutes = self.tool.flutes;
        for feature in &mut self.feature {
            if feature.surface != Surface::Radial {
                continue;
            }
            let z_mm = feature.true_z_mm(0);
            let edges = outline::teeth(feature, flutes, z_mm).into_iter();
            let highest = edges.map(|tooth| tooth.height).fold(f64::MIN, f64::max);
            let ground_to = feature.diameter_mm + feature.diameter_error_mm;
            feature.diameter_mm = written(2.0 * highest);
            feature.diameter_error_mm = ground_to - feature.diameter_mm;
        }
        self
    }
}

/// A diameter as a micrometer shows it and a person writes it.
pub(super) fn written(diameter_mm: f64) -> f64 {
    (diameter_mm * 100.0).round() / 100.0
}
