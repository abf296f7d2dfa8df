//! How much later than the encoder the indicator is read.

use super::grid::Grid;
use super::{Delay, DelaySource};
use crate::quantity::{Estimate, Length, Time};
use std::f64::consts::TAU;

/// What a stated delay is taken to be good for: half a millisecond, which a card is written to.
const STATED: Time = Time::from_s(0.000_5 / SQRT_3);
/// One clock stamps both at one instant; an indicator's own filter may still lag by 1 ms.
const ONE_CLOCK: Time = Time::from_s(0.001 / SQRT_3);
/// Two clocks and nothing to go by: instruments polled over a serial line lag by 0.1 s at most
/// (common practice, no source).
const UNKNOWN: Time = Time::from_s(0.1 / SQRT_3);
/// A rectangular distribution's standard deviation is its half-width over this (JCGM 100, 4.3.7).
const SQRT_3: f64 = 1.732_050_807_568_877_2;

/// The delays that are looked at, in seconds.
const EARLIEST_S: f64 = -0.3;
const LATEST_S: f64 = 0.6;
const COARSE_S: f64 = 0.01;
const FINE_S: f64 = 0.000_5;

/// A delay counts as found when it is known better than this ...
const FOUND_WITHIN: Time = Time::from_s(0.01);
/// ... and on one clock only when it is this many standard uncertainties away from none.
const BEYOND_CHANCE: f64 = 5.0;

/// Cells in which the surface is taken to be a straight line are at least so wide, so that several
/// passes meet in each.
const NARROWEST_CELL: f64 = 0.25 / 180.0 * std::f64::consts::PI;

/// Coming back to a cell after so long is another visit, not an encoder that trembles.
const ANOTHER_VISIT_S: f64 = 0.25;

/// Parts of the turn that are left out in turn, to see what the result hangs on.
const SECTORS: usize = 8;
/// The floor of the valley ends where the logarithm of the variance has risen by this.
const VALLEY_RISE: f64 = 0.25;

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

/// The delay as stated, or as the trace shows it.
pub(super) fn delay(
    stated: Option<Time>,
    two_clocks: bool,
    moments: &[Moment],
    grid: &Grid,
    noise: Length,
) -> Delay {
    if let Some(stated) = stated {
        return Delay {
            estimate: Estimate::new(stated, STATED),
            source: DelaySource::Stated,
        };
    }
    let found = search(moments, grid, noise.mm())
        .filter(|found| found.standard_uncertainty < FOUND_WITHIN)
        .filter(|found| {
            two_clocks || found.value.abs() > found.standard_uncertainty * BEYOND_CHANCE
        });
    match (found, two_clocks) {
        (Some(estimate), _) => Delay {
            estimate,
            source: DelaySource::Found,
        },
        (None, false) => Delay {
            estimate: Estimate::new(Time::ZERO, ONE_CLOCK),
            source: DelaySource::OneClock,
        },
        (None, true) => Delay {
            estimate: Estimate::new(Time::ZERO, UNKNOWN),
            source: DelaySource::Unknown,
        },
    }
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
fn smooth(moments: &[Moment]) -> Vec<(f64, f64)> {
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

/// Finds the delay at which one place reads the same whatever the speed. Nothing when every place
/// was passed at one speed only.
///
/// The scatter over delays is a valley, and a parabola through its floor gives the delay. How far
/// that moves when one sector of the turn is left out gives its uncertainty (a jackknife over
/// blocks, since neighbouring samples err alike).
fn search(moments: &[Moment], grid: &Grid, noise: f64) -> Option<Estimate<Time>> {
    let cells = (TAU / grid.width.max(NARROWEST_CELL)).round() as usize;
    let path = smooth(moments);
    let scatter = |delay: f64| Cells::at_delay(moments, &path, cells, delay).scatter(noise);
    let all = |scatter: &[(f64, f64)]| {
        let (sum, count) = scatter
            .iter()
            .fold((0.0, 0.0), |s, part| (s.0 + part.0, s.1 + part.1));
        sum / f64::max(count, 1.0)
    };
    let count = ((LATEST_S - EARLIEST_S) / COARSE_S).round() as usize;
    let coarse = (0..=count).map(|step| EARLIEST_S + step as f64 * COARSE_S);
    let tried = coarse.map(|delay| (delay, all(&scatter(delay))));
    let (best, _) = tried.min_by(|a, b| a.1.total_cmp(&b.1))?;

    // At the end of what was looked at there is no valley.
    let inner = EARLIEST_S + COARSE_S / 2.0..LATEST_S - COARSE_S / 2.0;
    if !inner.contains(&best) {
        return None;
    }

    let half = (COARSE_S / FINE_S).round() as i32;
    let fine: Vec<(f64, Vec<(f64, f64)>)> = (-2 * half..=2 * half)
        .map(|step| f64::from(step) * FINE_S)
        .map(|from_best| (from_best, scatter(best + from_best)))
        .collect();
    let whole: Vec<f64> = fine.iter().map(|(_, scatter)| all(scatter)).collect();
    let lowest = (0..whole.len()).min_by(|a, b| whole[*a].total_cmp(&whole[*b]))?;
    let floor =
        (3..).map(|reach| lowest.saturating_sub(reach)..(lowest + reach + 1).min(whole.len()));
    let floor = floor.take(whole.len()).find(|floor| {
        let rise = whole[floor.start].min(whole[floor.end - 1]) - whole[lowest];
        rise > VALLEY_RISE || floor.len() == whole.len()
    })?;
    let vertex_without = |left_out: Option<usize>| {
        let points = fine[floor.clone()].iter().map(|(from_best, scatter)| {
            let kept = (0..SECTORS).filter(|sector| Some(*sector) != left_out);
            let kept: Vec<(f64, f64)> = kept.map(|sector| scatter[sector]).collect();
            (*from_best, all(&kept))
        });
        vertex(&points.collect::<Vec<_>>())
    };
    let from_best = vertex_without(None)?;
    let without: Option<Vec<f64>> = (0..SECTORS)
        .map(|sector| vertex_without(Some(sector)))
        .collect();
    let without = without?;
    let mean = without.iter().sum::<f64>() / SECTORS as f64;
    let squares: f64 = without.iter().map(|value| (value - mean).powi(2)).sum();
    let jackknife = squares * (SECTORS - 1) as f64 / SECTORS as f64;
    // No search is better than a share of its own step.
    let uncertainty = (jackknife + (FINE_S / 3.0).powi(2)).sqrt();
    let inside = from_best.abs() < 2.0 * COARSE_S;
    inside.then(|| Estimate::new(Time::from_s(best + from_best), Time::from_s(uncertainty)))
}

/// Where the parabola through points by least squares is lowest; nothing when it has no floor
/// among them.
fn vertex(points: &[(f64, f64)]) -> Option<f64> {
    let count = points.len() as f64;
    let middle = points.iter().map(|point| point.0).sum::<f64>() / count;
    let level = points.iter().map(|point| point.1).sum::<f64>() / count;
    let moment = |power: i32| {
        points
            .iter()
            .map(|p| (p.0 - middle).powi(power))
            .sum::<f64>()
    };
    let with = |power: i32| {
        points
            .iter()
            .map(|p| (p.0 - middle).powi(power) * (p.1 - level))
            .sum::<f64>()
    };
    // The points are evenly spaced, so that odd moments vanish and the fit falls apart into a
    // slope and a curvature.
    let slope = with(1) / moment(2);
    let curvature = with(2) / (moment(4) - moment(2).powi(2) / count);
    let from_middle = -slope / (2.0 * curvature);
    let reach = (points.last()?.0 - points.first()?.0) / 2.0;
    (curvature > 0.0 && from_middle.abs() <= reach).then_some(middle + from_middle)
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
        squares.max(0.0) / self.free + noise * noise + 1e-12
    }
}

/// The moments sorted into cells as one delay would have them.
struct Cells {
    sums: Vec<Sums>,
}

impl Cells {
    fn at_delay(moments: &[Moment], path: &[(f64, f64)], cells: usize, delay: f64) -> Self {
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
                let within = angle.rem_euclid(TAU);
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
    fn scatter(&self, noise: f64) -> Vec<(f64, f64)> {
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
