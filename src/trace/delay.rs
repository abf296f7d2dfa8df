//! How much later than the encoder the indicator is read.

use super::grid::Grid;
use super::scatter::{Cells, Moment, SECTORS, least_level, smooth};
use super::{Delay, DelaySource};
use crate::quantity::{Estimate, Length, Time};
use rayon::prelude::*;
use std::f64::consts::TAU;

/// What a stated delay is taken to be good for: half a millisecond, which a card is written to.
const STATED: Time = Time::from_s(0.000_5 / SQRT_3);
/// One clock stamps both at one instant; an indicator's own filter may still lag by 1 ms (chosen,
/// no source).
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

/// A delay counts as found when it is known better than this (chosen, no source) ...
const FOUND_WITHIN: Time = Time::from_s(0.01);
/// ... and on one clock only when it is this many standard uncertainties away from none (chosen, no
/// source).
const BEYOND_CHANCE: f64 = 5.0;

/// Cells in which the surface is taken to be a straight line are at least so wide, so that several
/// passes meet in each (chosen, no source).
const NARROWEST_CELL: f64 = 0.5 / 180.0 * std::f64::consts::PI;

/// A valley is one when its floor lies this much below most delays, in the logarithm of the
/// variance: a third of the scatter gone (chosen, no source).
const CLEAR_VALLEY: f64 = 0.8;
/// On one clock no delay is believed unless it takes this much off the logarithm of the variance
/// that is there without any (chosen, no source).
const CLEARLY_BETTER: f64 = 0.8;

/// A delay shows where places were read in more than one pass: so many readings at least must lie in
/// such places, and so large a part of all. Of fewer, a few that fall in or out of a cell make
/// valleys (chosen, no source).
const SHARED_LEAST: f64 = 100.0;
const SHARED_PART: f64 = 0.05;

/// The floor of the valley ends where the logarithm of the variance has risen by this (chosen, no
/// source).
const VALLEY_RISE: f64 = 0.25;

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
    let found = search(moments, grid, noise.mm(), two_clocks)
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

/// Finds the delay at which one place reads the same whatever the speed. Nothing when every place
/// was passed at one speed only.
///
/// The scatter over delays is a valley, and a parabola through its floor gives the delay. How far
/// that moves when one sector of the turn is left out gives its uncertainty (a jackknife over
/// blocks, since neighbouring samples err alike).
fn search(moments: &[Moment], grid: &Grid, noise: f64, two_clocks: bool) -> Option<Estimate<Time>> {
    let cells = (TAU / grid.width.max(NARROWEST_CELL)).round() as usize;
    let path = smooth(moments);
    let scatter = |delay: f64| Cells::at_delay(moments, &path, cells, delay).scatter(noise);
    let all = |scatter: &[(f64, f64)]| {
        let (sum, count) = scatter
            .iter()
            .fold((0.0, 0.0), |s, part| (s.0 + part.0, s.1 + part.1));
        sum / f64::max(count, 1.0)
    };
    // No delay scatters less than noise alone. Where none scatters little more, none is clearly
    // better, and most traces on one clock need no search.
    let clearly_better = |than: f64| all(&scatter(0.0)) - than >= CLEARLY_BETTER;
    if !two_clocks && !clearly_better(least_level(noise)) {
        return None;
    }
    let count = ((LATEST_S - EARLIEST_S) / COARSE_S).round() as usize;
    let coarse = |step: usize| EARLIEST_S + step as f64 * COARSE_S;
    let tried: Vec<(f64, f64)> = (0..=count)
        .into_par_iter()
        .map(|step| (coarse(step), all(&scatter(coarse(step)))))
        .collect();
    let (best, lowest) = tried.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1))?;

    let shared = scatter(best).iter().map(|(_, count)| count).sum::<f64>();
    if shared < f64::max(SHARED_LEAST, moments.len() as f64 * SHARED_PART) {
        return None;
    }

    // Where every place was passed at one speed, one delay is as good as another, and the lowest
    // of them all is chance.
    let mut levels: Vec<f64> = tried.iter().map(|(_, level)| *level).collect();
    let usual = crate::numeric::robust::median(&mut levels)?;
    if usual - lowest < CLEAR_VALLEY {
        return None;
    }
    if !two_clocks && !clearly_better(lowest) {
        return None;
    }

    // At the end of what was looked at there is no valley.
    let inner = EARLIEST_S + COARSE_S / 2.0..LATEST_S - COARSE_S / 2.0;
    if !inner.contains(&best) {
        return None;
    }

    let half = (COARSE_S / FINE_S).round() as i32;
    let fine: Vec<(f64, Vec<(f64, f64)>)> = (-2 * half..=2 * half)
        .into_par_iter()
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
