//! A trace over table travel as one straight line: passes kept apart, spikes and ends left out.

use super::csv::Slide;
use crate::error::{Code, Error, Result};
use crate::numeric::robust;
use crate::quantity::{Length, Time};
use crate::sample::Mark;

/// A straight line through the heights over the travel.
#[derive(Clone, Debug, PartialEq)]
pub struct Straight {
    /// Growth of the reading per travel.
    pub slope: f64,
    /// Standard uncertainty of the slope from what is left about the line.
    pub slope_uncertainty: f64,
    /// The places that it rests on.
    pub places: Vec<Place>,
    /// From the first to the last of them.
    pub span: Length,
    /// Share of all places that lie on the line, 0 to 1.
    pub on_line: f64,
    /// Whether the table was moved both ways.
    pub both_ways: bool,
    /// Root mean square of what is left.
    pub rms: Length,
}

/// Neighbouring readings of one pass, as one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Where the table stood.
    pub travel: Length,
    /// What the indicator showed, the middle of its readings there.
    pub reading: Length,
    /// When they were taken on average, since the trace began.
    pub time: Time,
    /// Change of the slope with this reading, per mm squared.
    pub weight: f64,
    pass: usize,
}

/// Fewer readings than this say nothing about a face (chosen, no source).
const READINGS_LEAST: usize = 12;
/// A face shorter than this gives no angle (chosen, no source).
const SPAN_LEAST: Length = Length::from_mm(0.2);
/// A pass is cut into so many places; readings of a table at rest then count once (chosen, no source).
const PLACES: f64 = 100.0;
/// The table turns back when it moves back by this part of the whole travel (chosen, no source).
const TURNS_BACK: f64 = 0.05;
/// A run shorter than this part of the whole travel is a nudge and no pass (chosen, no source).
const PASS_LEAST: f64 = 0.3;
/// Pairs of places nearer than this part of the travel tell more of scatter than of slope (chosen,
/// no source).
const PAIR_LEAST: f64 = 0.1;
/// Of all pairs on a trace, those on a face of two thirds of it are more than this share.
const BAND_SHARE: f64 = 0.3;
/// Tukey's biweight with 95 % efficiency on normal scatter (Beaton and Tukey 1974).
const BIWEIGHT: f64 = 4.685;

/// Fits the line; every pass has a height of its own, so that play between the two directions
/// does not bend it.
///
/// # Errors
/// `trace-short` when there are too few readings or the table hardly moved.
pub fn straight(slides: &[Slide], resolution: Length) -> Result<Straight> {
    let usable: Vec<&Slide> = slides
        .iter()
        .filter(|slide| {
            let good = !slide.marks.has(Mark::Spike);
            good && slide.travel.is_finite() && slide.reading.is_finite()
        })
        .collect();
    let least = usable.iter().map(|s| s.travel).reduce(Length::min);
    let most = usable.iter().map(|s| s.travel).reduce(Length::max);
    let span = most.unwrap_or(Length::ZERO) - least.unwrap_or(Length::ZERO);
    if usable.len() < READINGS_LEAST || span < SPAN_LEAST {
        return Err(Error::new(
            Code::TraceShort,
            format!(
                "read {} readings over {:.3} mm of table travel, expected {READINGS_LEAST} or more over {:.1} mm or more",
                usable.len(),
                span.mm(),
                SPAN_LEAST.mm()
            ),
        )
        .help("move the table so that the stylus goes over the whole face, slowly"));
    }
    let passes = passes(&usable, span);
    if passes.is_empty() {
        return Err(Error::new(
            Code::TraceShort,
            "the table went back and forth without ever going over the face in one move",
        )
        .help("move the table over the whole face, then back if you like"));
    }
    let mut places = places(&passes, span);
    let mut slope = commonest_slope(&places, span);
    let floor = (resolution / 12f64.sqrt()).mm().max(1e-7);
    let mut weights = vec![1.0; places.len()];
    for _ in 0..30 {
        let levels = levels(&places, &weights, slope, passes.len(), true);
        let off = off_line(&places, slope, &levels);
        let spread = robust::scale(&mut off.clone()).unwrap_or(0.0).max(floor);
        weights = off
            .iter()
            .map(|off| {
                let share = off / (BIWEIGHT * spread);
                (1.0 - share * share).max(0.0).powi(2)
            })
            .collect();
        let moved = weighted_slope(&mut places, &weights, passes.len());
        let settled = (moved - slope).abs() < 1e-10;
        slope = moved;
        if settled {
            break;
        }
    }
    let levels = levels(&places, &weights, slope, passes.len(), false);
    let off = off_line(&places, slope, &levels);
    let kept: Vec<usize> = (0..places.len()).filter(|&at| weights[at] > 0.0).collect();
    let all: f64 = weights.iter().sum();
    let free = (all - 1.0 - passes.len() as f64).max(1.0);
    let squares: f64 = kept.iter().map(|&at| weights[at] * off[at] * off[at]).sum();
    let spread = (squares / free).sqrt().max(floor / PLACES.sqrt());
    let each = places
        .iter()
        .map(|place| place.weight * place.weight)
        .sum::<f64>();
    let together = hang_together(&off, &kept, &places);
    let on_line = kept.len() as f64 / places.len() as f64;
    places = kept.iter().map(|&at| places[at]).collect();
    let first = places.iter().map(|place| place.travel).reduce(Length::min);
    let last = places.iter().map(|place| place.travel).reduce(Length::max);
    Ok(Straight {
        slope,
        slope_uncertainty: spread * each.sqrt() * together.sqrt(),
        span: last.unwrap_or(Length::ZERO) - first.unwrap_or(Length::ZERO),
        places,
        on_line,
        both_ways: passes.iter().any(|pass| pass.forward) && passes.iter().any(|p| !p.forward),
        rms: Length::from_mm(spread),
    })
}

struct Pass<'s> {
    forward: bool,
    slides: Vec<&'s Slide>,
}

/// Runs of the table in one direction, nudges left out.
fn passes<'s>(slides: &[&'s Slide], span: Length) -> Vec<Pass<'s>> {
    let back = span * TURNS_BACK;
    let mut turns = vec![0];
    let mut forward: Option<bool> = None;
    let (mut low, mut high) = (0, 0);
    for (at, slide) in slides.iter().enumerate() {
        if slide.travel > slides[high].travel {
            high = at;
        }
        if slide.travel < slides[low].travel {
            low = at;
        }
        let fell = slides[high].travel - slide.travel > back;
        let rose = slide.travel - slides[low].travel > back;
        match forward {
            None if fell || rose => forward = Some(rose),
            Some(true) if fell => {
                turns.push(high);
                (forward, low, high) = (Some(false), at, at);
            }
            Some(false) if rose => {
                turns.push(low);
                (forward, low, high) = (Some(true), at, at);
            }
            _ => {}
        }
        // Only the extreme that the run goes towards may still move on.
        match forward {
            Some(true) => low = at,
            Some(false) => high = at,
            None => {}
        }
    }
    turns.push(slides.len());
    turns
        .windows(2)
        .map(|ends| slides[ends[0]..ends[1]].to_vec())
        .filter_map(|slides| {
            let (first, last) = (slides.first()?.travel, slides.last()?.travel);
            ((last - first).abs() >= span * PASS_LEAST).then_some(Pass {
                forward: last > first,
                slides,
            })
        })
        .collect()
}

fn places(passes: &[Pass], span: Length) -> Vec<Place> {
    let width = span / PLACES;
    let mut places = Vec::new();
    for (number, pass) in passes.iter().enumerate() {
        let mut slides = pass.slides.clone();
        slides.sort_by(|a, b| a.travel.total_cmp(&b.travel));
        let mut rest = slides.as_slice();
        while let Some(first) = rest.first() {
            let count = rest.partition_point(|slide| slide.travel - first.travel < width);
            let (cell, others) = rest.split_at(count.max(1));
            let count = cell.len() as f64;
            let travel = cell.iter().map(|slide| slide.travel).sum::<Length>() / count;
            let time = cell.iter().map(|slide| slide.time).sum::<Time>() / count;
            places.push(Place {
                travel,
                reading: Length::from_mm(median(cell.iter().map(|slide| slide.reading.mm()))),
                time,
                weight: 0.0,
                pass: number,
            });
            rest = others;
        }
    }
    places
}

/// The slope that most pairs of places of one pass agree on: the middle of the narrowest band with
/// a share of them. Where a trace runs on beside the face, the median of all pairs would be a
/// compromise that fits neither.
fn commonest_slope(places: &[Place], span: Length) -> f64 {
    let apart = span * PAIR_LEAST;
    let mut slopes = Vec::new();
    for (at, one) in places.iter().enumerate() {
        let others = places[at + 1..].iter().take_while(|o| o.pass == one.pass);
        for other in others {
            let run = other.travel - one.travel;
            if run >= apart {
                slopes.push((other.reading - one.reading) / run);
            }
        }
    }
    slopes.sort_by(f64::total_cmp);
    let band = ((slopes.len() as f64 * BAND_SHARE) as usize).max(1);
    let narrowest = slopes.windows(band).min_by(|a, b| {
        let width = |band: &[f64]| band[band.len() - 1] - band[0];
        width(a).total_cmp(&width(b))
    });
    narrowest.map_or(0.0, |band| band[band.len() / 2])
}

/// The height of each pass at no travel: the middle one, or the weighted mean.
fn levels(places: &[Place], weights: &[f64], slope: f64, passes: usize, middle: bool) -> Vec<f64> {
    let base = |place: &Place| place.reading.mm() - slope * place.travel.mm();
    let of = |pass: usize| {
        places
            .iter()
            .zip(weights)
            .filter(move |(place, _)| place.pass == pass)
    };
    (0..passes)
        .map(|pass| {
            if middle {
                return median(of(pass).map(|(place, _)| base(place)));
            }
            let all: f64 = of(pass).map(|(_, weight)| weight).sum();
            let sum: f64 = of(pass).map(|(place, weight)| weight * base(place)).sum();
            sum / all.max(f64::MIN_POSITIVE)
        })
        .collect()
}

fn off_line(places: &[Place], slope: f64, levels: &[f64]) -> Vec<f64> {
    places
        .iter()
        .map(|place| place.reading.mm() - slope * place.travel.mm() - levels[place.pass])
        .collect()
}

/// Weighted least squares with a height for every pass; leaves each place's weight in the slope.
fn weighted_slope(places: &mut [Place], weights: &[f64], passes: usize) -> f64 {
    let mut sums = vec![(0.0, 0.0); passes];
    for (place, weight) in places.iter().zip(weights) {
        sums[place.pass].0 += weight;
        sums[place.pass].1 += weight * place.travel.mm();
    }
    let from_middle = |place: &Place| {
        let (all, sum) = sums[place.pass];
        place.travel.mm() - sum / f64::max(all, f64::MIN_POSITIVE)
    };
    let square: f64 = places
        .iter()
        .zip(weights)
        .map(|(place, weight)| weight * from_middle(place).powi(2))
        .sum();
    for (place, weight) in places.iter_mut().zip(weights) {
        place.weight = weight * from_middle(place) / square;
    }
    places
        .iter()
        .map(|place| place.weight * place.reading.mm())
        .sum()
}

/// Over how many neighbouring places what is left hangs together: a wavy or bowed face leaves long
/// waves, of which each is one piece of evidence.
fn hang_together(off: &[f64], kept: &[usize], places: &[Place]) -> f64 {
    let product = |lag: usize| {
        let pairs = kept.iter().zip(kept.iter().skip(lag));
        let alike = pairs.filter(|(a, b)| places[**a].pass == places[**b].pass);
        let (sum, count) = alike.fold((0.0, 0.0), |(sum, count), (a, b)| {
            (sum + off[*a] * off[*b], count + 1.0)
        });
        sum / f64::max(count, 1.0)
    };
    let alone = product(0);
    if alone <= 0.0 {
        return 1.0;
    }
    let shares = (1..kept.len() / 4).map(|lag| product(lag) / alone);
    1.0 + 2.0 * shares.take_while(|share| *share > 0.05).sum::<f64>()
}

/// The middle value; 0 of none.
fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    robust::median(&mut values).unwrap_or(0.0)
}
