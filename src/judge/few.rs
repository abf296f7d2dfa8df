//! Whether enough readings were taken: on the ride over an edge, and on its land.
//!
//! Between two readings nothing was seen. A ball shows an edge while it rolls over it, over some half
//! of its radius; where fewer readings lie there than fix a corner and prove it, and the ball is no
//! smaller than what lies between two of them, the edge may stand higher than any of them by more than
//! the scatter of readings tells. A land of a few readings has no curve, and where it ends is as open
//! as where it begins. Neither is a matter of uncertainty: nothing is proven, either way.

use super::decide::USUAL_GUARD;
use super::doubt::{Doubt, DoubtKind};
use super::figures::Figure;
use super::part::Part;
use crate::card::{Limits, Name};
use crate::quantity::{Angle, Length, told};
use crate::shape::{Tip, Tooth};

/// Two readings fix a corner under a ball of known size; so many also prove that it is one.
const ON_RIDE: usize = 3;
/// Two suffice while readings lie no further apart than this part of the ball's radius: both are then
/// surely on the ride, which goes over some two thirds of it (chosen, no source).
const TWO_SUFFICE: f64 = 0.3;
/// Between readings further apart than this part of a ball's radius it may have fallen, and nothing is
/// known of what lies there (chosen, no source).
const MOST_HIDDEN: f64 = 0.7;
/// Further apart than this part of a tip's size a ride is not followed reading by reading (chosen,
/// no source).
const COARSE: f64 = 0.22;
/// A land that falls as steeply as this from one coarse reading to the next goes down a wall: it ended
/// between two readings, and what follows is the gap (tan 35°; chosen, no source).
const WALL: f64 = 0.70;
/// A land of fewer readings than a smooth needs, and one to spare, shows no curve (chosen, no
/// source).
pub(super) const ON_LAND: usize = 8;
/// Readings that lie no further apart than this part of a tip's size are enough on any edge
/// (chosen, no source).
const OF_TIP: f64 = 0.2;
/// A land should have so many readings (chosen, no source).
const WANTED_ON_LAND: f64 = 16.0;

/// What the readings of a part are too few for, a doubt a tooth.
pub(super) fn few_readings(part: &Part, figures: &[Figure]) -> Vec<Doubt> {
    let teeth = part.profile.teeth.iter().enumerate();
    teeth
        .filter_map(|(index, tooth)| {
            let few = match tooth {
                Some(tooth) => too_few(part, tooth)?,
                None => no_land(part)?,
            };
            let touches = match few.hidden {
                Some(hidden) => {
                    let limits = &part.feature.limits;
                    let ours = figures
                        .iter()
                        .filter(|figure| figure.tooth.is_none_or(|tooth| tooth == index));
                    let moved = ours.filter(|figure| hidden.decides(figure, limits));
                    let names: Vec<Name> = moved.map(|figure| figure.name).collect();
                    if names.is_empty() {
                        return None;
                    }
                    names
                }
                None => Vec::new(),
            };
            Some(Doubt {
                tooth: Some(index),
                touches,
                ..Doubt::about(
                    DoubtKind::FewReadings,
                    few.seen,
                    few.again
                        .map_or_else(|| slower(part, few.apart), str::to_owned),
                )
            })
        })
        .collect()
}

/// What readings are too few for.
struct Few {
    seen: String,
    /// How near they should lie.
    apart: Length,
    /// What helps, where turning slower does not.
    again: Option<&'static str>,
    /// What may lie between two of them at the edge; where nothing says how much, nothing is known.
    hidden: Option<Hidden>,
}

impl Few {
    /// What turning slower helps, without a word of what hides.
    fn slower(seen: String, apart: Length) -> Self {
        Self {
            seen,
            apart,
            again: None,
            hidden: None,
        }
    }
}

/// How far off its place an edge may be that lies between readings.
#[derive(Clone, Copy)]
struct Hidden {
    /// In height: a land is carried back over a margin as wide, or a ball went over what stands up.
    height: Length,
    /// Along the arc.
    along: Length,
    check: Length,
}

impl Hidden {
    /// Whether a figure's verdict hangs on it.
    fn decides(self, figure: &Figure, limits: &Limits) -> bool {
        let (Some(value), Some(budget)) = (figure.value, &figure.budget) else {
            return false;
        };
        let Some(limit) = limits.get(figure.name) else {
            return false;
        };
        let off = match figure.name {
            Name::Drop | Name::HeelClearance | Name::TotalRelief | Name::EdgeSpread => {
                self.height.mm()
            }
            Name::FlatEquivalentRelief => (self.height / self.check).atan().to_degrees(),
            Name::WearLand => self.along.mm(),
            _ => 0.0,
        };
        let guard = USUAL_GUARD * budget.combined();
        let near = |limit: f64| (value - limit).abs() < guard + off;
        limit.min.is_some_and(near) || limit.max.is_some_and(near)
    }
}

/// What an edge and a land are too few for; nothing where both are shown.
fn too_few(part: &Part, tooth: &Tooth) -> Option<Few> {
    let (on_ride, on_land) = (tooth.corner.len(), tooth.land.len());
    let width = part.clamping.radius * tooth.end.rad();
    let apart = spacing(part, tooth);
    if let Some(unread) = tooth.edge_unread {
        return Some(Few {
            seen: format!(
                "nothing was read over {:.1}° where this edge lies: where it is, and how high it stands, is not known",
                unread.deg()
            ),
            apart: wanted(part, width),
            again: Some(
                "take the trace again and turn over this edge, until readings lie on both sides of it",
            ),
            hidden: None,
        });
    }
    if on_land < ON_LAND {
        return Some(Few::slower(
            format!(
                "{on_land} readings lie on the land, {} apart: too few to tell its curve and its ends",
                told::mm(apart, 2)
            ),
            wanted(part, width),
        ));
    }
    if apart <= part.clamping.tip.size() * COARSE {
        return None;
    }
    if falls_into_gap(part, tooth) {
        return Some(Few::slower(
            format!(
                "readings lie {} apart, and the land falls away between two of them: where it ends does not show",
                told::mm(apart, 2)
            ),
            wanted(part, width).min(apart / 2.0),
        ));
    }
    let Tip::Ball(ball) = part.clamping.tip else {
        return None;
    };
    let shown = match on_ride {
        // Held between the readings beside it, the edge is where they let it be. Else it is only
        // carried back from the land, and what lies between hides a margin as well as a burr.
        0 => tooth.edge.height_uncertainty.is_some(),
        1 => false,
        2 => apart <= ball * TWO_SUFFICE,
        _ => on_ride >= ON_RIDE,
    };
    (!shown).then(|| {
        let hidden = (apart <= ball * MOST_HIDDEN).then(|| Hidden {
            height: apart * start_slope(part, tooth) + apart * (apart / ball / 8.0),
            along: apart,
            check: part.feature.check_distance,
        });
        let few = Few::slower(
            format!(
                "readings lie {} apart, and {on_ride} of them on the ride of the ball over the edge: too few to tell how high it stands",
                told::mm(apart, 2)),
            wanted(part, width),
        );
        Few { hidden, ..few }
    })
}

/// How steeply a land falls at its beginning.
fn start_slope(part: &Part, tooth: &Tooth) -> f64 {
    let land = &tooth.land;
    let some = (land.len() / 4)
        .clamp(3, 12)
        .min(land.len().saturating_sub(1));
    match (land.first(), land.get(some)) {
        (Some(first), Some(other)) if other.arc > first.arc => {
            let run = part.clamping.radius * (other.arc - first.arc).rad();
            ((other.drop - first.drop) / run).abs()
        }
        _ => WALL,
    }
}

/// Whether a land goes on into the gap behind it.
fn falls_into_gap(part: &Part, tooth: &Tooth) -> bool {
    let circle = part.clamping.radius;
    tooth.land.windows(2).any(|pair| {
        let run = circle * (pair[1].arc - pair[0].arc).rad();
        pair[1].drop - pair[0].drop > run * WALL
    })
}

/// A tooth without a land, where readings lie too far apart to show one.
fn no_land(part: &Part) -> Option<Few> {
    let apart = part.clamping.radius * part.merged.cell_width.rad();
    let wanted = part.clamping.tip.size() * OF_TIP;
    (apart > wanted).then(|| {
        let seen = format!(
            "readings lie {} apart, and no land shows between them",
            told::mm(apart, 2)
        );
        Few::slower(seen, wanted)
    })
}

/// How near readings should lie on a land of this width under this tip.
fn wanted(part: &Part, land: Length) -> Length {
    let on_land = land / WANTED_ON_LAND;
    match part.clamping.tip {
        Tip::Point => on_land,
        Tip::Ball(size) | Tip::Flat(size) => on_land.min(size * OF_TIP),
    }
}

/// How far apart the places of a land lie.
pub(super) fn spacing(part: &Part, tooth: &Tooth) -> Length {
    let circle = part.clamping.radius;
    let cell = circle * part.merged.cell_width.rad();
    match (tooth.land.first(), tooth.land.last()) {
        (Some(first), Some(last)) if tooth.land.len() > 1 => {
            let each = (last.arc - first.arc) / (tooth.land.len() - 1) as f64;
            (circle * each.rad()).max(cell)
        }
        _ => cell,
    }
}

/// What brings readings no further apart than this.
fn slower(part: &Part, apart: Length) -> String {
    let pace = part.merged.pace;
    let wanted = pace.speed_for(Angle::from_rad(apart / part.clamping.radius));
    if pace.readings_per_s <= 0.0 || pace.speed.deg_per_s() <= 0.0 {
        return "turn slower".to_owned();
    }
    format!(
        "turn slower: {}° a second or less brings enough readings at the {:.3} a second of this trace, which was turned at {:.0}°",
        two_digits(wanted.deg_per_s()),
        pace.readings_per_s,
        pace.speed.deg_per_s()
    )
}

/// A number cut down to two digits.
fn two_digits(value: f64) -> f64 {
    if value <= 0.0 || !value.is_finite() {
        return 0.0;
    }
    let places = 1 - value.log10().floor() as i32;
    // Divided by a power of ten, and not multiplied by one below 1, it is the number as people write it.
    let scale = 10f64.powi(places.abs());
    match places {
        0.. => (value * scale + 1e-9).floor() / scale,
        _ => (value / scale + 1e-9).floor() * scale,
    }
}

#[cfg(test)]
mod tests {
    use super::two_digits;

    #[test]
    fn a_pace_is_written_in_two_digits() {
        for (value, written) in [
            (3.39, "3.3"),
            (7.11, "7.1"),
            (6.3, "6.3"),
            (0.0471, "0.047"),
            (47.9, "47"),
            (479.0, "470"),
        ] {
            assert_eq!(two_digits(value).to_string(), written);
        }
    }
}
