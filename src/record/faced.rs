//! Tools that are ground on the face, in their records: the lands before and after are the same surface, of
//! which a grind leaves a shorter piece.

use super::schema::{FeatureFacts, Flute, Record};
use serde::Serialize;

/// The word of a card for it.
pub(super) const FACE: &str = "face";

/// What a grind on the face took off one land.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FaceGround {
    /// The feature.
    pub feature: String,
    /// Counted from 1.
    pub flute: u32,
    /// Distance of the trace from the front, where known.
    pub z_mm: Option<f64>,
    /// Arc of the land before and after.
    pub land_deg: [f64; 2],
    /// How far the face went back, from the ends of the lands and the diameters on the cards; null where
    /// neither tells it.
    pub off_deg: Option<f64>,
    /// Its standard uncertainty.
    pub standard_uncertainty_deg: Option<f64>,
    /// Whether the land is the same surface as before; null where that is not told.
    pub same_surface: Option<bool>,
    /// The most that both surfaces lie apart once they are lined up, the later one lower where above 0.
    pub apart_mm: Option<f64>,
    /// Standard uncertainty of that.
    pub apart_uncertainty_mm: Option<f64>,
    /// Where that is, behind the new edge.
    pub apart_at_deg: Option<f64>,
    /// What was found, in plain words.
    pub why: String,
}

/// Standard uncertainty of a radius on a card: a micrometer reads a diameter to 3 µm, and it is written to
/// a hundredth (common practice, no source).
const RADIUS_U_MM: f64 = 0.0021;

/// Beyond so many standard uncertainties chance does not explain what is found (chosen, no source).
const BEYOND_CHANCE: f64 = 3.29;

/// Whether a record's feature is ground on the face.
pub(super) fn on_its_face(facts: &FeatureFacts) -> bool {
    facts.sharpened_on.as_deref() == Some(FACE)
}

fn facts<'a>(record: &'a Record, feature: &str) -> Option<&'a FeatureFacts> {
    record.features.iter().find(|it| it.feature == feature)
}

/// Drops of a land as it was measured, by growing arc from the edge on.
fn drops(of: &Flute) -> Vec<[f64; 2]> {
    let mut drops = vec![[0.0, 0.0]];
    let places = of.land.iter().filter(|it| it.arc_deg > 0.0);
    drops.extend(places.map(|it| [it.arc_deg, it.drop_mm]));
    drops.sort_by(|one, other| one[0].total_cmp(&other[0]));
    drops
}

fn between(drops: &[[f64; 2]], arc_deg: f64) -> Option<f64> {
    let at = drops.partition_point(|it| it[0] < arc_deg);
    let Some(before) = at.checked_sub(1) else {
        return drops.first().map(|it| it[1]);
    };
    match (drops.get(before), drops.get(at)) {
        (Some([from, low]), Some([to, high])) if to > from => {
            Some(low + (high - low) * (arc_deg - from) / (to - from))
        }
        _ => None,
    }
}

/// The drop at an arc by a straight line through the readings of the next thirtieth of the land, so that no
/// wear before it tells; near the end of the land by those before.
fn drop_at(drops: &[[f64; 2]], arc_deg: f64) -> Option<f64> {
    let end = drops.last()?[0];
    let over = end / 30.0;
    let from = arc_deg.min(end - over);
    let near = drops
        .iter()
        .filter(|it| it[0] > 0.0 && it[0] >= from && it[0] <= from + over);
    let (mut n, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for [arc, drop] in near {
        let off = arc - arc_deg;
        n += 1.0;
        x += off;
        y += drop;
        xx += off * off;
        xy += off * drop;
    }
    let spread = n * xx - x * x;
    match n >= 4.0 && spread > 1e-12 && arc_deg <= end {
        true => Some((y * xx - x * xy) / spread),
        false => between(drops, arc_deg),
    }
}

/// How much a land falls for each degree behind an arc.
fn slope_at(drops: &[[f64; 2]], arc_deg: f64) -> Option<f64> {
    let end = drops.last()?[0];
    let over = end / 20.0;
    let from = arc_deg.min(end - over);
    Some((drop_at(drops, from + over)? - drop_at(drops, from)?) / over)
}

/// Standard uncertainty of how the heights of both records stand to each other: by the micrometer of each
/// card, and by the highest edge, which it was read over.
fn heights_u(before: &Record, after: &Record, feature: &str) -> Option<f64> {
    let diameter = |record: &Record| {
        let facts = facts(record, feature)?;
        (facts.surface == "radial").then_some(facts.diameter_mm)
    };
    // A card that has the same diameter still was not written anew.
    if diameter(before)? == diameter(after)? {
        return None;
    }
    let edge = |record: &Record| {
        let spread = record
            .characteristics
            .iter()
            .find(|it| it.name == "edge-spread" && it.feature.as_deref() == Some(feature));
        spread.and_then(|it| it.standard_uncertainty).unwrap_or(0.0)
    };
    let u = [RADIUS_U_MM, RADIUS_U_MM, edge(before), edge(after)];
    Some(u.iter().map(|u| u * u).sum::<f64>().sqrt())
}

/// How far the face went back by the heights of both lands: where they lie on each other in the mean. A
/// land's height does not hang on where its own edge was found.
fn by_height(
    (old_edge, was): (f64, &[[f64; 2]]),
    (new_edge, is): (f64, &[[f64; 2]]),
    u: f64,
) -> Option<(f64, f64)> {
    const STEPS: usize = 400;
    let end = is.last()?[0];
    let room = was.last()?[0] / 2.0;
    // How much higher the new land lies than the old one that much farther on.
    let higher = |off: f64| {
        let places = (2..=7).map(|tenth| end * f64::from(tenth) / 10.0);
        let each = places.filter_map(|at| {
            let (old, new) = (drop_at(was, at + off)?, drop_at(is, at)?);
            Some((new_edge - new) - (old_edge - old))
        });
        let each: Vec<f64> = each.collect();
        (each.len() >= 3).then(|| each.iter().sum::<f64>() / each.len() as f64)
    };
    let off = |step: usize| room * step as f64 / STEPS as f64;
    let mut last = higher(0.0)?;
    // What lies lower than before already had nothing taken off its face.
    if last > 0.0 {
        let slope = (higher(off(1))? - last) / off(1);
        return (slope > 0.0).then(|| (-last / slope, u / slope));
    }
    for step in 1..=STEPS {
        let next = higher(off(step))?;
        if next >= 0.0 && next > last {
            let slope = (next - last) / (off(step) - off(step - 1));
            return Some((off(step - 1) - last / slope, u / slope));
        }
        last = next;
    }
    None
}

/// How far the face went back by how much shorter the land is.
fn by_ends(old: &[[f64; 2]], new: &[[f64; 2]]) -> Option<(f64, f64)> {
    let end = |drops: &[[f64; 2]]| {
        let last = drops.last()?[0];
        // Places are averages of neighbours: an end lies within one of them, evenly.
        Some((last, last / drops.len().max(2) as f64 / 12f64.sqrt()))
    };
    let ((old, old_u), (new, new_u)) = (end(old)?, end(new)?);
    Some((old - new, old_u.hypot(new_u)))
}

/// Standard uncertainty of a drop, which grows from that at the check distance to that of the whole fall.
fn drop_u(record: &Record, of: &Flute, arc_deg: f64) -> f64 {
    let u = |name: &str| {
        let found = record.characteristics.iter().find(|it| {
            it.name == name
                && it.feature.as_deref() == Some(of.feature.as_str())
                && it.flute == Some(of.flute)
                && it.z_mm == of.z_mm
        });
        found.and_then(|it| it.standard_uncertainty)
    };
    let check = facts(record, &of.feature).map_or(0.0, |it| it.check_deg);
    // A clearance is one place against an edge as both were read; a drop may be that of a curve, which is
    // known better than any place of it.
    let clearance = u("heel-clearance");
    let worse = |of: Option<f64>| match (of, clearance) {
        (Some(one), Some(other)) => one.max(other),
        (one, other) => one.or(other).unwrap_or(f64::INFINITY),
    };
    let (near, far) = (worse(u("drop")), worse(u("total-relief")));
    if !near.is_finite() || !far.is_finite() {
        return f64::INFINITY;
    }
    let share = (arc_deg - check) / (of.land_deg - check).max(1e-9);
    near + (far - near) * share.clamp(0.0, 1.0)
}

/// What a grind on the face took off a land, and whether it is the same surface behind.
pub(super) fn face_ground(before: &Record, after: &Record, old: &Flute, new: &Flute) -> FaceGround {
    let (was, is) = (drops(old), drops(new));
    let land_deg = [&was, &is].map(|drops| drops.last().map_or(0.0, |last| last[0]));
    let height = heights_u(before, after, &new.feature)
        .and_then(|u| by_height((old.edge_mm, &was), (new.edge_mm, &is), u));
    let ends = by_ends(&was, &is);
    let mut found = FaceGround {
        feature: new.feature.clone(),
        flute: new.flute,
        z_mm: new.z_mm,
        land_deg,
        off_deg: None,
        standard_uncertainty_deg: None,
        same_surface: None,
        apart_mm: None,
        apart_uncertainty_mm: None,
        apart_at_deg: None,
        why: String::new(),
    };
    let (off, u) = match combined(height, ends) {
        Ok(combined) => combined,
        Err((same, why)) => {
            (found.same_surface, found.why) = (same, why);
            return found;
        }
    };
    found.off_deg = Some(off);
    found.standard_uncertainty_deg = Some(u);
    if off < -BEYOND_CHANCE * u {
        found.same_surface = Some(false);
        "the land is longer than before: nothing came off this face".clone_into(&mut found.why);
        return found;
    }
    let apart = apart(before, after, (old, &was), (new, &is), (off, u));
    let Some((apart, apart_u, at)) = apart else {
        "too little of the land is left to be compared".clone_into(&mut found.why);
        return found;
    };
    let same = apart.abs() <= BEYOND_CHANCE * apart_u;
    found.same_surface = Some(same);
    found.apart_mm = Some(apart);
    found.apart_uncertainty_mm = Some(apart_u);
    found.apart_at_deg = Some(at);
    found.why = match same {
        true => "the land behind is the same surface".to_owned(),
        false => format!("the land behind has changed, most of all {at:.1}° behind its new edge"),
    };
    found
}

/// How far the face went back by height and by ends, or whether it is the same surface and why not so.
fn combined(
    height: Option<(f64, f64)>,
    ends: Option<(f64, f64)>,
) -> Result<(f64, f64), (Option<bool>, String)> {
    match (height, ends) {
        (Some((one, u)), Some((other, v))) if (one - other).abs() > BEYOND_CHANCE * u.hypot(v) => {
            Err((
                Some(false),
                format!(
                    "by the diameters on the cards {one:.2}° came off, by the ends of the land {other:.2}°: it is not the same surface, or one of the diameters is a slip of the pen"
                ),
            ))
        }
        (Some((one, u)), Some((other, v))) => {
            let (a, b) = (1.0 / (u * u), 1.0 / (v * v));
            Ok(((one * a + other * b) / (a + b), (1.0 / (a + b)).sqrt()))
        }
        (Some(only), None) | (None, Some(only)) => Ok(only),
        (None, None) => Err((
            None,
            "neither diameters nor ends of the lands tell how far the face went back".to_owned(),
        )),
    }
}

/// Places of a land that are compared.
const COMPARED: usize = 40;

/// Where both surfaces, lined up at the new edge, lie farthest apart beside what is not known of that: the
/// distance, its uncertainty, the place. Near its end a land is left out: there the stylus rolls over.
fn apart(
    before: &Record,
    after: &Record,
    (old, was): (&Flute, &[[f64; 2]]),
    (new, is): (&Flute, &[[f64; 2]]),
    (off, u): (f64, f64),
) -> Option<(f64, f64, f64)> {
    let off = off.max(0.0);
    let end = is.last()?[0].min(was.last()?[0] - off);
    if end <= 0.0 {
        return None;
    }
    let edge = drop_at(was, off)?;
    let first = slope_at(was, off)?;
    let mut farthest: Option<(f64, f64, f64)> = None;
    for place in 2..COMPARED - 1 {
        let at = end * place as f64 / COMPARED as f64;
        let (Some(then), Some(now), Some(steep)) = (
            drop_at(was, off + at),
            drop_at(is, at),
            slope_at(was, off + at),
        ) else {
            continue;
        };
        let of = [
            drop_u(before, old, off + at),
            drop_u(after, new, at),
            (steep - first) * u,
        ];
        let of = of.iter().map(|u| u * u).sum::<f64>().sqrt();
        let apart = now - (then - edge);
        let beyond = apart.abs() / of.max(1e-9);
        if farthest.is_none_or(|(most, most_u, _)| beyond > most.abs() / most_u.max(1e-9)) {
            farthest = Some((apart, of, at));
        }
    }
    farthest.filter(|(apart, u, _)| apart.is_finite() && u.is_finite())
}

/// The record before with its lands as they lie behind the edges after the grind: what came off them left
/// out, and drops counted from where the new edges stand.
pub fn lined_up(before: &Record, ground: &[FaceGround]) -> Record {
    let mut record = before.clone();
    for flute in &mut record.flutes {
        let of_it = |it: &&FaceGround| {
            it.feature == flute.feature && it.flute == flute.flute && it.z_mm == flute.z_mm
        };
        let off = ground.iter().find(of_it).and_then(|it| it.off_deg);
        let Some((off, edge)) = off.and_then(|off| Some((off, drop_at(&drops(flute), off)?)))
        else {
            continue;
        };
        flute.land_deg -= off;
        flute.edge_mm -= edge;
        flute.land.retain(|it| it.arc_deg >= off);
        flute.fitted.retain(|it| it.arc_deg >= off);
        for place in &mut flute.land {
            place.arc_deg -= off;
            place.drop_mm -= edge;
        }
        for place in &mut flute.fitted {
            place.arc_deg -= off;
            place.drop_mm -= edge;
        }
        for hole in &mut flute.holes_deg {
            *hole = hole.map(|end| (end - off).max(0.0));
        }
    }
    record
}

/// How a tool that is ground on the face gets shorter lands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FaceOutlook {
    /// Arc of the shortest land at each regrind.
    pub land_deg: Vec<f64>,
    /// What the grind before each took off the lands, in the mean of the flutes; null for the first, and
    /// where it is not told.
    pub used_deg: Vec<Option<f64>>,
    /// What a regrind takes in the mean.
    pub each_deg: Option<f64>,
    /// Scatter of that; unknown with fewer than two.
    pub scatter_deg: Option<f64>,
    /// The shortest land that is allowed, where the last card says.
    pub least_land_deg: Option<f64>,
    /// Land that is left to be used.
    pub left_deg: f64,
    /// How many regrinds are left, until the land is as short or the tool as small as it may get.
    pub left: Option<u32>,
    /// How many are left with 95 % probability, where two or more grinds tell how much one takes.
    pub left_interval: Option<[u32; 2]>,
    /// Diameter after the next regrind, by the curve of the land; null along the axis.
    pub next_diameter_mm: Option<f64>,
    /// Diameter after the last one.
    pub last_diameter_mm: Option<f64>,
    /// Whether a land was found that is not the surface it was before: then what is ahead is not told by
    /// its curve.
    pub changed: bool,
}

/// Regrinds that are counted ahead at most.
const FARTHEST: u32 = 200;

/// The outlook of a feature that is ground on its face, through records of which the first measured is the
/// first; `None` where it is not.
pub(super) fn outlook(
    records: &[&Record],
    feature: &str,
    least_mm: Option<f64>,
) -> Option<FaceOutlook> {
    let last = *records.last()?;
    let facts = facts(last, feature).filter(|it| on_its_face(it))?;
    let land_deg: Vec<f64> = records.iter().map(|it| shortest(it, feature)).collect();
    let now = land_deg.last().copied().filter(|it| it.is_finite())?;
    let (used_deg, changed) = used(records, feature);
    let used: Vec<f64> = used_deg.iter().copied().flatten().collect();
    let count = used.len() as f64;
    let each = (!used.is_empty()).then(|| used.iter().sum::<f64>() / count);
    let scatter = each.filter(|_| used.len() >= 2).map(|mean| {
        let squares: f64 = used.iter().map(|it| (it - mean).powi(2)).sum();
        (squares / (count - 1.0)).sqrt()
    });
    let left_deg = (now - facts.least_land_deg.unwrap_or(0.0)).max(0.0);
    let radial = facts.surface == "radial";
    let diameter = |off: f64| radial.then(|| diameter_after(last, feature, off)).flatten();
    let may = |off: f64| {
        let large = match (least_mm, diameter(off)) {
            (Some(least), Some(left)) => left >= least,
            _ => true,
        };
        off <= left_deg && large
    };
    let ahead = |off: &dyn Fn(f64) -> f64| {
        let each = 1..=FARTHEST;
        each.take_while(|grinds| may(off(f64::from(*grinds))))
            .count() as u32
    };
    let each = each.filter(|each| *each > 0.0);
    let left = each.map(|each| ahead(&|grinds| grinds * each));
    let wide = |grinds: f64| {
        let t = crate::numeric::quantile::student_t(0.975, count - 1.0)?;
        // The sum of so many next ones about the mean of those that were.
        Some(t * scatter? * (grinds + grinds * grinds / count).sqrt())
    };
    let interval = each.filter(|_| scatter.is_some()).map(|each| {
        let end = |sign: f64| ahead(&|grinds| grinds * each + sign * wide(grinds).unwrap_or(0.0));
        [end(1.0), end(-1.0)]
    });
    Some(FaceOutlook {
        next_diameter_mm: each.filter(|_| left > Some(0)).and_then(diameter),
        last_diameter_mm: each
            .zip(left)
            .and_then(|(each, left)| diameter(each * f64::from(left))),
        land_deg,
        used_deg,
        each_deg: each,
        scatter_deg: scatter,
        least_land_deg: facts.least_land_deg,
        left_deg,
        left,
        left_interval: interval,
        changed,
    })
}

/// The shortest land of a feature.
fn shortest(record: &Record, feature: &str) -> f64 {
    let flutes = record.flutes.iter().filter(|it| it.feature == feature);
    let ends = flutes.filter_map(|it| drops(it).last().map(|end| end[0]));
    ends.fold(f64::INFINITY, f64::min)
}

/// What each grind took off the lands in the mean, nothing before the first; and whether a land was found
/// that is another surface than before.
fn used(records: &[&Record], feature: &str) -> (Vec<Option<f64>>, bool) {
    let mut used = vec![None];
    let mut changed = false;
    for pair in records.windows(2) {
        let [before, after] = pair else { continue };
        let ground = all(before, after, feature);
        changed |= ground.iter().any(|it| it.same_surface == Some(false));
        let off: Vec<f64> = ground.iter().filter_map(|it| it.off_deg).collect();
        let mean = off.iter().sum::<f64>() / off.len() as f64;
        used.push((!off.is_empty()).then_some(mean));
    }
    (used, changed)
}

/// Every flute of a feature that both records have.
pub(super) fn all(before: &Record, after: &Record, feature: &str) -> Vec<FaceGround> {
    let flutes = after.flutes.iter().filter(|it| it.feature == feature);
    let each = flutes.filter_map(|new| {
        let old = super::pairs::same_tooth(before, new)?;
        Some(face_ground(before, after, old, new))
    });
    each.collect()
}

/// The diameter of the highest edge once so much of the lands is off.
fn diameter_after(record: &Record, feature: &str, off_deg: f64) -> Option<f64> {
    let flutes = record.flutes.iter().filter(|it| it.feature == feature);
    let edges = flutes.filter_map(|it| {
        let fitted: Vec<[f64; 2]> = it
            .fitted
            .iter()
            .map(|it| [it.arc_deg, it.drop_mm])
            .collect();
        let drop = match fitted.is_empty() {
            true => drop_at(&drops(it), off_deg),
            false => between(&fitted, off_deg.max(1e-9)),
        };
        Some(it.edge_mm - drop?)
    });
    edges.reduce(f64::max).map(|radius| 2.0 * radius)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Drops of a land, `fall_mm` for each degree and as much more for each degree squared.
    fn of(end_deg: f64, fall: impl Fn(f64) -> f64) -> Vec<[f64; 2]> {
        (0..=200)
            .map(|at| end_deg * f64::from(at) / 200.0)
            .map(|arc| [arc, fall(arc)])
            .collect()
    }

    #[test]
    fn lands_are_lined_up_by_their_heights() {
        let fall = |arc: f64| 0.077 * arc + 0.0004 * arc * arc;
        let was = of(30.0, fall);
        for off in [0.3, 1.0, 4.0] {
            let is = of(30.0 - off, |arc| fall(arc + off) - fall(off));
            let found = by_height((25.0, &was), (25.0 - fall(off), &is), 0.003);
            let (found, u) = found.unwrap_or_default();
            assert!((found - off).abs() < 0.003, "{off}: {found}");
            assert!((u - 0.003 / 0.09).abs() < 0.006, "{u}");
        }
    }

    #[test]
    fn ends_tell_it_too() {
        let (old, new) = (of(30.0, |arc| arc), of(29.2, |arc| arc));
        let (off, u) = by_ends(&old, &new).unwrap_or_default();
        assert!((off - 0.8).abs() < 1e-9 && u < 0.13, "{off} {u}");
    }
}
