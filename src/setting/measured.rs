//! The least skim of worn lands that keep the relief they have, from what was measured of them.

use super::matching::OldPlace;
use super::rounding::Rounding;
use crate::judge::Draws;
use crate::numeric::random::gauss;
use crate::quantity::{Angle, Estimate, Length};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// A worn land, and the one that it is ground to.
#[derive(Clone, Debug, PartialEq)]
pub struct Relieved {
    /// Where its edge is on the encoder.
    pub edge: Angle,
    /// Places of the old land, the edge itself first.
    pub places: Vec<OldPlace>,
    /// How far the new land lies under its edge at each of them.
    pub new_drop: Vec<Length>,
    /// Radius of the rounding of its edge, as far as the ride of the ball tells it.
    pub rounding: Option<Estimate<Length>>,
}

/// What is not known exactly of what was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unsure {
    /// Limit of the indicator's error.
    pub indicator: Length,
    /// Standard uncertainty of each coordinate of the tool's axis in the spindle.
    pub axis: Length,
    /// Mean radius of an edge's rounding that was not seen.
    pub rounding: Length,
}

/// What comes off at one stop, and what it leaves.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredSkim {
    /// From the first land that is touched until all are clean, as computed.
    pub in_feed: Length,
    /// Its standard uncertainty.
    pub standard_uncertainty: Length,
    /// The in-feed that is enough in 95 of 100 cases, in whole steps.
    pub sure: Length,
    /// Off each land, where it has its relief still.
    pub off_land: Vec<Length>,
    /// Off each edge, with the in-feed that is sure.
    pub off_edge: Vec<Length>,
    /// Height of all edges afterwards, with the in-feed that is sure.
    pub edges_left: Length,
}

/// The least skim that cleans every land, all of them to edges of one height; `None` without lands.
///
/// A new land with its edge at `r` lies at `r - c` where the old one stands at `h`: it is clean where
/// `r <= h + c`, so the least `h + c` of all places is the greatest `r`, and the greatest is where the
/// wheel touches first.
pub fn measured_skim(lands: &[Relieved], unsure: &Unsure, step: Length) -> Option<MeasuredSkim> {
    let mean = unsure.rounding.mm();
    let rounding = |land: &Relieved| Rounding::of(land.rounding, mean);
    let levels = |land: &Relieved| {
        let each = land.places.iter().zip(&land.new_drop).enumerate();
        let each = each.map(|(at, (place, drop))| {
            let rounded = if at == 0 {
                rounding(land).likeliest()
            } else {
                0.0
            };
            (place.height + *drop).mm() - rounded
        });
        each.collect::<Vec<f64>>()
    };
    let all: Vec<Vec<f64>> = lands.iter().map(levels).collect();
    let [least, most] = ends(all.iter().flatten().copied())?;
    let (sure, u) = enough(lands, &all, unsure)?;
    let sure = in_steps(sure, step.mm());
    let left = most - sure;
    let of_land = |levels: &Vec<f64>, land: &Relieved| {
        // Damage stands lower: the land itself is the middle of what is not damaged.
        let whole = levels.iter().zip(&land.places);
        let mut whole: Vec<f64> = whole
            .filter(|(_, place)| !place.damaged)
            .map(|(level, _)| *level)
            .collect();
        let middle = crate::numeric::robust::median(&mut whole);
        Length::from_mm(middle.map_or(0.0, |middle| middle - left))
    };
    let edge = |land: &Relieved| {
        let edge = land.places.first().map_or(left, |place| place.height.mm());
        Length::from_mm(edge - left)
    };
    Some(MeasuredSkim {
        in_feed: Length::from_mm(most - least),
        standard_uncertainty: Length::from_mm(u),
        sure: Length::from_mm(sure),
        off_land: all
            .iter()
            .zip(lands)
            .map(|(it, land)| of_land(it, land))
            .collect(),
        off_edge: lands.iter().map(edge).collect(),
        edges_left: Length::from_mm(left),
    })
}

fn ends(values: impl Iterator<Item = f64>) -> Option<[f64; 2]> {
    values.fold(None, |ends: Option<[f64; 2]>, it| {
        let [low, high] = ends.unwrap_or([it; 2]);
        Some([low.min(it), high.max(it)])
    })
}

fn in_steps(enough: f64, step: f64) -> f64 {
    if step > 0.0 {
        (enough / step - 1e-6).ceil() * step
    } else {
        enough
    }
}

/// The in-feed that is enough in 95 of 100 cases, and its standard uncertainty: as for a match.
fn enough(lands: &[Relieved], levels: &[Vec<f64>], unsure: &Unsure) -> Option<(f64, f64)> {
    const TRIALS: usize = 2000;
    const SEED: u64 = 17;
    let heights = lands.iter().flat_map(|land| &land.places);
    let [least, most] = ends(heights.map(|place| place.height.mm()))?;
    let span = (most - least).max(1e-6);
    let mut rng = Pcg64::seed_from_u64(SEED);
    let trial = |_| {
        let limit = unsure.indicator.mm();
        let [tilt, bow] = [0, 1].map(|_| limit * (2.0 * rng.random::<f64>() - 1.0));
        let [x, y] = [0, 1].map(|_| unsure.axis.mm() * gauss(&mut rng));
        let mut found: Option<[f64; 2]> = None;
        for (land, levels) in lands.iter().zip(levels) {
            for (at, (place, level)) in land.places.iter().zip(levels).enumerate() {
                let share = (place.height.mm() - least) / span;
                let read = tilt * share + bow * 4.0 * share * (1.0 - share);
                let (sin, cos) = (land.edge.rad() + place.behind.rad()).sin_cos();
                let scatter = place.scatter.mm() * gauss(&mut rng);
                let rounding = Rounding::of(land.rounding, unsure.rounding.mm());
                let round = match at {
                    0 => rounding.draw(&mut rng) - rounding.likeliest(),
                    _ => 0.0,
                };
                let it = level + read + x * cos + y * sin + scatter - round;
                let [low, high] = found.unwrap_or([it; 2]);
                found = Some([low.min(it), high.max(it)]);
            }
        }
        found.map_or(f64::NAN, |[low, high]| high - low)
    };
    let draws = Draws::new((0..TRIALS).map(trial).collect())?;
    let sorted = draws.sorted();
    let at = (sorted.len() * 95).div_ceil(100).min(sorted.len() - 1);
    Some((*sorted.get(at)?, draws.standard_uncertainty()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::setting::stock_for_wear;

    fn certain() -> Unsure {
        Unsure {
            indicator: Length::ZERO,
            axis: Length::ZERO,
            rounding: Length::ZERO,
        }
    }

    /// A land of 8° that fell by `wear` behind a flat of no relief, drawn from straight lines alone.
    fn worn(height: f64, width_deg: f64) -> Relieved {
        let radius: f64 = 10.0;
        let relief = 8f64.to_radians();
        let flat = |arc: f64| radius - radius * relief.cos() / (arc - relief).cos();
        let width = width_deg.to_radians();
        let arcs: Vec<f64> = (0..60)
            .map(|at| (f64::from(at) * 0.2).to_radians())
            .collect();
        let place = |arc: f64| OldPlace {
            behind: Angle::from_rad(arc),
            height: Length::from_mm(if arc < width {
                height
            } else {
                height + flat(width) - flat(arc)
            }),
            scatter: Length::ZERO,
            damaged: arc < width,
            beyond: false,
        };
        Relieved {
            edge: Angle::ZERO,
            places: arcs.iter().map(|arc| place(*arc)).collect(),
            new_drop: arcs.iter().map(|arc| Length::from_mm(flat(*arc))).collect(),
            rounding: None,
        }
    }

    #[test]
    fn a_wear_land_takes_what_its_width_takes_at_the_relief_that_it_has() {
        let skim = measured_skim(&[worn(10.0, 1.2)], &certain(), Length::ZERO).unwrap();
        let width = Length::from_mm(10.0 * 1.2f64.to_radians());
        let expected = stock_for_wear(Length::from_mm(20.0), width, Angle::from_deg(8.0)).unwrap();
        assert!(
            (skim.in_feed - expected).abs() < Length::from_um(3.0),
            "{skim:?}"
        );
        assert!((skim.edges_left.mm() - 10.0).abs() < 1e-9);
    }

    #[test]
    fn all_edges_come_to_the_lowest_and_a_rounding_comes_off_with_it() {
        let mut low = worn(9.97, 0.0);
        low.rounding = Some(Estimate::new(Length::from_mm(0.02), Length::ZERO));
        let skim = measured_skim(&[worn(10.0, 0.0), low], &certain(), Length::from_mm(0.005));
        let skim = skim.unwrap();
        assert!((skim.sure.mm() - 0.05).abs() < 1e-9, "{skim:?}");
        assert!((skim.off_edge[0].mm() - 0.05).abs() < 1e-9);
        assert!((skim.off_edge[1].mm() - 0.02).abs() < 1e-9);
    }
}
