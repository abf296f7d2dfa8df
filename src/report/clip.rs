//! Lines cut to a window and broken where nothing is known, before a plot sees them: the plotting
//! library bends what leaves its frame along the border and draws NaN as a spike.

use crate::record::Flute;

/// A window on data.
#[derive(Clone, Copy, Debug)]
pub(super) struct Window {
    pub x: [f64; 2],
    pub y: [f64; 2],
}

type Point = (f64, f64);

impl Window {
    /// Whether a point lies in it.
    pub(super) fn holds(&self, (x, y): Point) -> bool {
        (self.x[0]..=self.x[1]).contains(&x) && (self.y[0]..=self.y[1]).contains(&y)
    }
}

/// The parts of a line inside the window. The line is broken at points that are not finite and
/// wherever `broken` says so of two neighbours.
pub(super) fn runs(
    points: impl IntoIterator<Item = Point>,
    window: Window,
    broken: impl Fn(Point, Point) -> bool,
) -> Vec<Vec<Point>> {
    let mut runs: Vec<Vec<Point>> = Vec::new();
    let mut before: Option<Point> = None;
    for point in points {
        if !(point.0.is_finite() && point.1.is_finite()) {
            before = None;
            continue;
        }
        if let Some(before) = before.filter(|before| !broken(*before, point))
            && let Some((from, to)) = segment(before, point, window)
        {
            match runs.last_mut() {
                Some(run) if run.last() == Some(&from) => run.push(to),
                _ => runs.push(vec![from, to]),
            }
        }
        before = Some(point);
    }
    runs
}

/// The outlines of the band between two lines over the same places, cut at the window, broken where
/// `broken` says so and where the band is outside.
pub(super) fn bands(
    low: &[Point],
    high: &[Point],
    window: Window,
    broken: impl Fn(Point, Point) -> bool,
) -> Vec<Vec<Point>> {
    let mut runs: Vec<(Vec<Point>, Vec<Point>)> = vec![Default::default()];
    for (&low, &high) in low.iter().zip(high) {
        let known = low.1.is_finite() && high.1.is_finite();
        let inside = (window.x[0]..=window.x[1]).contains(&low.0)
            && low.1 <= window.y[1]
            && high.1 >= window.y[0];
        let cut = |point: Point| (point.0, point.1.clamp(window.y[0], window.y[1]));
        match runs.last_mut() {
            Some((lows, highs))
                if known && inside && lows.last().is_none_or(|last| !broken(*last, low)) =>
            {
                lows.push(cut(low));
                highs.push(cut(high));
            }
            _ if known && inside => runs.push((vec![cut(low)], vec![cut(high)])),
            _ => runs.push(Default::default()),
        }
    }
    let there = runs.into_iter().filter(|(lows, _)| lows.len() > 1);
    let outline = |(mut lows, highs): (Vec<Point>, Vec<Point>)| {
        lows.extend(highs.into_iter().rev());
        lows
    };
    there.map(outline).collect()
}

/// The part of a segment inside the window (the parametric method of Liang and Barsky, 1984).
fn segment(from: Point, to: Point, window: Window) -> Option<(Point, Point)> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    if !(dx.is_finite() && dy.is_finite()) {
        return None;
    }
    let (mut enter, mut leave) = (0.0f64, 1.0f64);
    for (step, room) in [
        (-dx, from.0 - window.x[0]),
        (dx, window.x[1] - from.0),
        (-dy, from.1 - window.y[0]),
        (dy, window.y[1] - from.1),
    ] {
        if step == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if step < 0.0 {
            enter = enter.max(room / step);
        } else {
            leave = leave.min(room / step);
        }
    }
    if enter > leave {
        return None;
    }
    // A whole end stays exactly itself, so that neighbours join. Both are held to the window, since
    // digits are lost where the other end is far away.
    let held = |v: f64, [least, most]: [f64; 2]| v.max(least).min(most);
    let at = |t: f64, whole: f64, point: Point| {
        let (x, y) = if t == whole {
            point
        } else {
            (from.0 + t * dx, from.1 + t * dy)
        };
        (held(x, window.x), held(y, window.y))
    };
    Some((at(enter, 0.0, from), at(leave, 1.0, to)))
}

/// Whether nothing was read between two arcs behind the edge, in degrees.
pub(super) fn in_hole(flute: &Flute, from_deg: f64, to_deg: f64) -> bool {
    let spanned = |hole: &[f64; 2]| from_deg <= hole[0] + 1e-9 && to_deg >= hole[1] - 1e-9;
    flute.holes_deg.iter().any(spanned)
}

#[cfg(test)]
mod tests {
    use super::*;

    const UNIT: Window = Window {
        x: [0.0, 1.0],
        y: [0.0, 1.0],
    };

    #[track_caller]
    fn check(points: &[Point], expected: &[&[Point]]) {
        assert_eq!(runs(points.iter().copied(), UNIT, |_, _| false), expected);
    }

    #[test]
    fn lines_are_cut_at_the_window_not_bent_along_it() {
        check(&[(0.0, 0.5), (1.0, 0.5)], &[&[(0.0, 0.5), (1.0, 0.5)]]);
        check(&[(-1.0, 0.5), (2.0, 0.5)], &[&[(0.0, 0.5), (1.0, 0.5)]]);
        check(
            &[(0.0, 0.0), (0.5, 2.0), (1.0, 0.0)],
            &[&[(0.0, 0.0), (0.25, 1.0)], &[(0.75, 1.0), (1.0, 0.0)]],
        );
        check(&[(2.0, 0.0), (3.0, 1.0)], &[]);
        check(&[(-1.0, 0.5), (0.5, 2.5)], &[]);
    }

    #[test]
    fn what_is_not_finite_breaks_a_line() {
        let nan = f64::NAN;
        check(
            &[(0.0, 0.1), (0.2, 0.1), (0.3, nan), (0.4, 0.1), (0.6, 0.1)],
            &[&[(0.0, 0.1), (0.2, 0.1)], &[(0.4, 0.1), (0.6, 0.1)]],
        );
        check(&[(0.0, f64::INFINITY), (0.2, 0.1)], &[]);
    }

    #[test]
    fn a_band_is_cut_and_broken_like_a_line() {
        let low = [
            (0.0, -0.5),
            (0.2, 0.1),
            (0.4, f64::NAN),
            (0.6, 0.2),
            (0.8, 0.2),
            (0.9, 2.0),
        ];
        let high = low.map(|(x, y)| (x, y + 0.1));
        let high = [(0.0, 0.4), high[1], high[2], high[3], high[4], high[5]];
        let found = bands(&low, &high, UNIT, |_, _| false);
        let first = vec![(0.0, 0.0), (0.2, 0.1), (0.2, 0.2), (0.0, 0.4)];
        let second = vec![(0.6, 0.2), (0.8, 0.2), (0.8, 0.2 + 0.1), (0.6, 0.2 + 0.1)];
        assert_eq!(found, [first, second]);
    }

    #[test]
    fn a_hole_breaks_a_line() {
        let points = [(0.0, 0.5), (0.1, 0.5), (0.8, 0.5), (0.9, 0.5)];
        let found = runs(points, UNIT, |a, b| a.0 <= 0.2 && b.0 >= 0.7);
        assert_eq!(
            found,
            [vec![points[0], points[1]], vec![points[2], points[3]]]
        );
    }
}
