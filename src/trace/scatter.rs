//! How much one place scatters over its visits, were the indicator later by a given time.

use std::f64::consts::TAU;

/// Coming back to a cell after so long is another visit, not an encoder that trembles (chosen, no
/// source).
const ANOTHER_VISIT_S: f64 = 0.25;

/// Parts of the turn that are left out in turn, to see what the result hangs on (chosen, no source).
pub(super) const SECTORS: usize = 8;

/// One sample as the search for the delay needs it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moment {
    pub time: f64,
    pub angle: f64,
    pub reading: f64,
    /// 1 the cutting way, -1 the backing way, 0 where the reading does not count; the angle does
    /// in any case.
    pub way: f64,
}

/// The angle of a path of growing times at growing `times`; nothing before or after it.
pub(super) fn angles_at(
    path: impl Fn(usize) -> (f64, f64),
    length: usize,
    times: impl Iterator<Item = f64>,
    mut take: impl FnMut(usize, Option<f64>),
) {
    let mut after = 0;
    for (at, wanted) in times.enumerate() {
        while after < length && path(after).0 < wanted {
            after += 1;
        }
        let angle = if after == length {
            None
        } else if path(after).0 == wanted {
            Some(path(after).1)
        } else if after == 0 {
            None
        } else {
            let ((t0, a0), (t1, a1)) = (path(after - 1), path(after));
            Some(a0 + (a1 - a0) * (wanted - t0) / (t1 - t0))
        };
        take(at, angle);
    }
}

/// Means of neighbouring moments. Without them a wrong delay, which interpolates between two
/// counts of the encoder, would seem to scatter less than the right one, which does not.
pub(super) fn smooth(moments: &[Moment]) -> Vec<(f64, f64)> {
    /// Moments in each (chosen, no source).
    const TOGETHER: usize = 7;
    let mean = |of: fn(&Moment) -> f64, window: &[Moment]| {
        let first = of(&window[0]);
        first + window.iter().map(|m| of(m) - first).sum::<f64>() / window.len() as f64
    };
    let windows = moments.windows(TOGETHER);
    windows
        .map(|window| (mean(|m| m.time, window), mean(|m| m.angle, window)))
        .collect()
}

/// Sums over the moments that fall into one cell, angles from its middle.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    count: f64,
    a: f64,
    y: f64,
    aa: f64,
    ay: f64,
    yy: f64,
    /// Of the way, and its products.
    w: f64,
    aw: f64,
    yw: f64,
    visits: u32,
    last_seen: f64,
}

impl Sums {
    /// What is left about a straight line, where the place was visited more than once.
    fn about_line(&self) -> Option<AboutLine> {
        if self.count < 4.0 || self.visits < 2 {
            return None;
        }
        let about_mean = |product: f64, a: f64, b: f64| product - a * b / self.count;
        let saa = about_mean(self.aa, self.a, self.a);
        let (say, saw) = (
            about_mean(self.ay, self.a, self.y),
            about_mean(self.aw, self.a, self.w),
        );
        let explained = |a: f64, b: f64| if saa > 0.0 { a * b / saa } else { 0.0 };
        Some(AboutLine {
            free: self.count - 2.0,
            yy: about_mean(self.yy, self.y, self.y) - explained(say, say),
            yw: about_mean(self.yw, self.y, self.w) - explained(say, saw),
            // The way is 1 or -1, so its squares add up to the count.
            ww: about_mean(self.count, self.w, self.w) - explained(saw, saw),
        })
    }
}

/// Sums of squares and products in one cell about a straight line.
struct AboutLine {
    free: f64,
    yy: f64,
    yw: f64,
    ww: f64,
}

impl AboutLine {
    /// Variance when the cutting way reads more by `hysteresis`; `noise` keeps an accidental exact
    /// line from counting for all.
    fn variance(&self, hysteresis: f64, noise: f64) -> f64 {
        let half = hysteresis / 2.0;
        let squares = self.yy - 2.0 * half * self.yw + half * half * self.ww;
        squares.max(0.0) / self.free + least_variance(noise)
    }
}

fn least_variance(noise: f64) -> f64 {
    noise * noise + 1e-12
}

/// The lowest that the mean of the logarithms of variances can be at any delay.
pub(super) fn least_level(noise: f64) -> f64 {
    least_variance(noise).ln()
}

/// The same as `rem_euclid`, digit for digit, in a third of the time: whole turns are taken off with
/// one rounding.
fn in_turn(angle: f64) -> f64 {
    let turns = (angle / TAU) as i64 as f64;
    let rest = (-turns).mul_add(TAU, angle);
    if rest < 0.0 { rest + TAU } else { rest }
}

/// The moments sorted into cells as one delay would have them.
pub(super) struct Cells {
    sums: Vec<Sums>,
}

impl Cells {
    pub fn at_delay(moments: &[Moment], path: &[(f64, f64)], cells: usize, delay: f64) -> Self {
        let mut sums = vec![Sums::default(); cells];
        let width = TAU / cells as f64;
        let mut last_cell = usize::MAX;
        let times = moments.iter().map(|moment| moment.time - delay);
        angles_at(
            |at| path[at],
            path.len(),
            times,
            |at, angle| {
                let Some(angle) = angle.filter(|_| moments[at].way != 0.0) else {
                    return;
                };
                let moment = &moments[at];
                let within = in_turn(angle);
                let cell = ((within / width) as usize).min(cells - 1);
                let a = within - (cell as f64 + 0.5) * width;
                let sum = &mut sums[cell];
                let again = moment.time - sum.last_seen > ANOTHER_VISIT_S && cell != last_cell;
                sum.visits += u32::from(sum.visits == 0 || again);
                sum.last_seen = moment.time;
                last_cell = cell;
                sum.count += 1.0;
                sum.a += a;
                sum.y += moment.reading;
                sum.aa += a * a;
                sum.ay += a * moment.reading;
                sum.yy += moment.reading * moment.reading;
                sum.w += moment.way;
                sum.aw += a * moment.way;
                sum.yw += moment.reading * moment.way;
            },
        );
        Self { sums }
    }

    /// By sector: the sum of the logarithm of the variance over all moments, and their number. The
    /// logarithm keeps the few steep cells from deciding alone.
    ///
    /// On lands that all fall the same way a hysteresis looks like a delay, so the one that fits
    /// best is taken out first; the faces tell the two apart.
    pub fn scatter(&self, noise: f64) -> Vec<(f64, f64)> {
        let lines: Vec<Option<AboutLine>> = self.sums.iter().map(Sums::about_line).collect();
        let mut hysteresis = 0.0;
        for _ in 0..4 {
            let known = lines.iter().flatten();
            let (yw, ww) = known.fold((0.0, 0.0), |(yw, ww), line| {
                let weight = 1.0 / line.variance(hysteresis, noise);
                (yw + weight * line.yw, ww + weight * line.ww)
            });
            hysteresis = if ww > 0.0 { 2.0 * yw / ww } else { 0.0 };
        }
        let mut sectors = vec![(0.0, 0.0); SECTORS];
        for (cell, line) in lines.iter().enumerate() {
            if let Some(line) = line {
                let sector = &mut sectors[cell * SECTORS / lines.len()];
                sector.0 += (line.free + 2.0) * line.variance(hysteresis, noise).ln();
                sector.1 += line.free + 2.0;
            }
        }
        sectors
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_turns_are_taken_off_without_a_rounding_of_their_own() {
        let beside = |angle: f64| [angle, angle.next_up(), angle.next_down()];
        for turns in -40..40 {
            for part in [0.0, 1e-17, 0.25, 0.7, 1.0] {
                for angle in beside((f64::from(turns) + part) * TAU) {
                    assert_eq!(in_turn(angle), angle.rem_euclid(TAU), "{angle:e}");
                }
            }
        }
    }
}
