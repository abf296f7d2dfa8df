//! Turns that contradict each other over the same places by far more than chance or a shift does: a
//! plunger that hung in one of them, or dirt that came and went.
//!
//! Neither turn is then known to be right, and what was merged from both is nowhere on the part. What
//! one reading gone astray does is the merge's own business; here readings in a row are looked at, each
//! against all that other turns read a little before and behind its place, so that no slope and no
//! small shift counts.

use super::doubt::{Doubt, DoubtKind};
use super::part::Part;
use crate::quantity::{Angle, Length, told};
use crate::shape::Tooth;
use crate::trace::{Merged, Single};
use std::f64::consts::TAU;

/// So many readings in a row are no spike (common practice, no source).
const IN_A_ROW: usize = 5;
/// No play, drift or chatter that is worth measuring against is as large (common practice, no
/// source) ...
const FAR: Length = Length::from_mm(0.02);
/// ... nor so many times what a reading scatters (chosen, no source).
const FAR_OVER_NOISE: f64 = 20.0;
/// To so many widths of what one pass fills to either side other turns are looked at (chosen, no
/// source).
const BESIDE: f64 = 2.0;
/// What stands lower than this part of a tooth's height over its gap is no matter to its land
/// (chosen, no source).
const OF_LAND: f64 = 0.7;

/// Readings in a row that other turns contradict.
struct Run {
    from: Angle,
    to: Angle,
    /// The most that they stand above what others read; below it where negative.
    most: Length,
    /// The highest of what they and the others read.
    highest: Length,
}

/// A doubt for each tooth on which, or before which, turns contradict each other.
pub(super) fn turns_contrary(part: &Part) -> Vec<Doubt> {
    let merged = part.merged;
    let far = FAR.max(merged.noise * FAR_OVER_NOISE);
    let runs = runs(&merged.singles, merged.pass_width * BESIDE, far);
    if runs.is_empty() {
        return Vec::new();
    }
    let teeth = part.profile.teeth.iter().enumerate();
    let doubt = |(index, tooth): (usize, &Option<Tooth>)| {
        let tooth = tooth.as_ref()?;
        let (first, last) = (tooth.outline.first()?.angle, tooth.outline.last()?.angle);
        let inside = |angle: Angle| (angle - first).in_turn() <= last - first;
        let least = land_level(merged, &inside)?;
        let mut ours = runs.iter();
        let run = ours.find(|run| inside(run.from) && run.highest > least)?;
        Some(told(index, run))
    };
    teeth.filter_map(doubt).collect()
}

/// What is read at least on the land of a tooth that lies where `inside` says.
fn land_level(merged: &Merged, inside: &impl Fn(Angle) -> bool) -> Option<Length> {
    let cells = merged.cells.iter().filter(|cell| inside(cell.angle));
    let readings: Vec<Length> = cells.map(|cell| cell.reading).collect();
    let top = readings.iter().copied().reduce(Length::max)?;
    let bottom = readings.iter().copied().reduce(Length::min)?;
    Some(bottom + (top - bottom) * OF_LAND)
}

fn told(tooth: usize, run: &Run) -> Doubt {
    let side = if run.most > Length::ZERO {
        "above"
    } else {
        "below"
    };
    Doubt {
        tooth: Some(tooth),
        ..Doubt::about(
            DoubtKind::TurnsDisagree,
            format!(
                "over {:.1}° from {:.1}° of the turn on, one turn reads up to {} {side} what another reads there: the plunger hung, or something lay on the tool",
                (run.to - run.from).abs().deg(),
                run.from.in_turn().deg(),
                told::um(run.most.abs(), 0)
            ),
            "see that the plunger moves freely, wipe tool and tip, and take the trace again",
        )
    }
}

/// All runs of readings that other turns contradict by more than `far`.
fn runs(singles: &[Single], reach: Angle, far: Length) -> Vec<Run> {
    let mut runs = Vec::new();
    let mut open: Vec<(usize, Against)> = Vec::new();
    let mut close = |open: &mut Vec<(usize, Against)>| {
        if open.len() >= IN_A_ROW {
            runs.extend(run(singles, open));
        }
        open.clear();
    };
    for (at, against) in against(singles, reach, far).into_iter().enumerate() {
        let goes_on = |last: &(usize, Against), by: Length| {
            singles[last.0].pass == singles[at].pass
                && (last.1.by > Length::ZERO) == (by > Length::ZERO)
        };
        if let Some(against) = against {
            if open.last().is_some_and(|last| !goes_on(last, against.by)) {
                close(&mut open);
            }
            open.push((at, against));
        } else {
            close(&mut open);
        }
    }
    close(&mut open);
    runs
}

fn run(singles: &[Single], open: &[(usize, Against)]) -> Option<Run> {
    let (first, last) = (open.first()?, open.last()?);
    let most = open.iter().map(|(_, against)| against.by);
    let highest = open.iter().map(|(_, against)| against.highest);
    Some(Run {
        from: singles[first.0].angle.min(singles[last.0].angle),
        to: singles[first.0].angle.max(singles[last.0].angle),
        most: most.reduce(|a, b| if b.abs() > a.abs() { b } else { a })?,
        highest: highest.reduce(Length::max)?,
    })
}

/// How a reading stands against what other turns read about its place.
#[derive(Clone, Copy)]
struct Against {
    /// Above all of them; below all of them where negative.
    by: Length,
    /// The highest of it and of them.
    highest: Length,
}

/// A run over the turn once: its pass, and in which turn of that.
type Visit = (u32, i64);

/// So many arcs make up the reach to one side (chosen, no source).
const ARCS: usize = 4;

/// The two greatest values that different visits have: whichever visit is asked for, the greatest of
/// the others is one of them.
#[derive(Clone, Copy, Default)]
struct Greatest([Option<(Visit, Length)>; 2]);

impl Greatest {
    fn take(&mut self, visit: Visit, value: Length) {
        let [first, second] = &mut self.0;
        match first {
            Some((of, most)) if *of == visit => *most = most.max(value),
            Some((_, most)) if *most >= value => {
                if second.is_none_or(|(_, next)| next < value) {
                    *second = Some((visit, value));
                }
            }
            _ => {
                *second = *first;
                *first = Some((visit, value));
            }
        }
    }

    fn other_than(&self, visit: Visit) -> Option<Length> {
        let mut both = self.0.iter().flatten();
        both.find(|(of, _)| *of != visit).map(|(_, value)| *value)
    }
}

/// What visits read about an arc.
#[derive(Clone, Copy, Default)]
struct About {
    most: Greatest,
    /// Of the readings' negatives.
    least: Greatest,
    /// Who read before it or in it, and in it or behind it.
    before: Greatest,
    behind: Greatest,
}

/// For each reading what contradicts it by more than `far`, of what was read no farther than `reach`
/// from its place; nothing where nothing does, or where no other turn was read to both sides of it.
///
/// The turn is divided into arcs, so that it costs the same a reading however many lie in one.
fn against(singles: &[Single], reach: Angle, far: Length) -> Vec<Option<Against>> {
    let count = (TAU / reach.rad() * ARCS as f64)
        .floor()
        .clamp(1.0, 20_000.0) as usize;
    let arc_of = |single: &Single| {
        let at = single.angle.in_turn().rad() / TAU * count as f64;
        (at as usize).min(count - 1)
    };
    let visit_of =
        |single: &Single| -> Visit { (single.pass, (single.angle.rad() / TAU).floor() as i64) };
    let ranges = ranges(singles, |single| (arc_of(single), visit_of(single)));
    let mut about = vec![About::default(); count];
    let reaching = ARCS.min(count.saturating_sub(1) / 2);
    for ((arc, visit), [least, most]) in ranges {
        for off in 0..=2 * reaching {
            let at = &mut about[(arc + count + off - reaching) % count];
            at.most.take(visit, most);
            at.least.take(visit, -least);
            // Seen from an arc that lies farther on, this one lies before it.
            if off >= reaching {
                at.before.take(visit, Length::ZERO);
            }
            if off <= reaching {
                at.behind.take(visit, Length::ZERO);
            }
        }
    }
    let contradicted = |single: &Single| {
        let (about, visit) = (&about[arc_of(single)], visit_of(single));
        about.before.other_than(visit)?;
        about.behind.other_than(visit)?;
        let most = about.most.other_than(visit)?;
        let least = -about.least.other_than(visit)?;
        let reading = single.reading;
        let by = if reading > most {
            reading - most
        } else {
            (reading - least).min(Length::ZERO)
        };
        (by.abs() > far).then(|| Against {
            by,
            highest: reading.max(most),
        })
    };
    singles.iter().map(contradicted).collect()
}

/// The least and the greatest reading of each key, keys growing. Readings in a row mostly share one.
fn ranges<K: Ord>(singles: &[Single], key_of: impl Fn(&Single) -> K) -> Vec<(K, [Length; 2])> {
    let joined = |a: [Length; 2], b: [Length; 2]| [a[0].min(b[0]), a[1].max(b[1])];
    let mut ranges: Vec<(K, [Length; 2])> = Vec::new();
    for single in singles {
        let (key, own) = (key_of(single), [single.reading; 2]);
        match ranges.last_mut() {
            Some((last, range)) if *last == key => *range = joined(*range, own),
            _ => ranges.push((key, own)),
        }
    }
    ranges.sort_by(|(a, _), (b, _)| a.cmp(b));
    ranges.dedup_by(|next, kept| {
        let same = next.0 == kept.0;
        if same {
            kept.1 = joined(kept.1, next.1);
        }
        same
    });
    ranges
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AngularSpeed, Time};

    /// Two turns over a wall and a land, with what the second reads more from a place to another.
    fn singles(from_deg: f64, to_deg: f64, more_mm: f64) -> Vec<Single> {
        let each = (0..1440).map(|i| {
            let deg = f64::from(i) * 0.5 + if i < 720 { 0.0 } else { 0.2 };
            let place = deg.rem_euclid(360.0);
            let surface = if place < 100.0 { -2.0 } else { 0.0 };
            let hung = i >= 720 && (from_deg..to_deg).contains(&place);
            Single {
                angle: Angle::from_deg(deg),
                reading: Length::from_mm(surface + if hung { more_mm } else { 0.0 }),
                speed: AngularSpeed::ZERO,
                time: Time::from_s(f64::from(i) * 0.02),
                pass: 0,
            }
        });
        each.collect()
    }

    #[track_caller]
    fn check(from_deg: f64, to_deg: f64, more_mm: f64, expected: usize) {
        let singles = singles(from_deg, to_deg, more_mm);
        // Each of the two turns contradicts the other.
        let found = runs(&singles, Angle::from_deg(1.0), FAR);
        assert_eq!(found.len(), expected);
    }

    #[test]
    fn turns_that_read_the_same_contradict_nothing_not_even_at_a_wall() {
        check(0.0, 0.0, 0.0, 0);
    }

    #[test]
    fn a_plunger_that_hung_in_one_turn_is_contradicted_by_the_other() {
        check(80.0, 99.0, 1.5, 2);
        check(150.0, 160.0, -0.05, 2);
    }

    #[test]
    fn a_spike_and_a_play_are_none() {
        check(150.0, 150.8, -0.05, 0);
        check(0.0, 360.0, 0.012, 0);
    }
}
