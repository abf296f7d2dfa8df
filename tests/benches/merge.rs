//! What reading and merging cost a sample, from three thousand samples to ten million.
//!
//! `cargo bench --bench merge` goes up to ten million, `cargo bench --bench merge -- --quick` to
//! one. It fails when the cost a sample grows with the number of samples. As a yardstick it also
//! times a plain pass over the same samples, which only adds up what is in them.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic)]

use heelclear::card::Positive;
use heelclear::quantity::{Angle, Length, Time};
use heelclear::sample::{Marks, Sample};
use heelclear::trace::{align, csv, merge};
use std::hint::black_box;
use std::time::Instant;

#[path = "../fixtures/traces.rs"]
mod traces;

/// The cost a sample of the largest trace may be so many times that of the smallest: caches are
/// left behind on the way, and nothing else.
const GROWTH_MOST: f64 = 4.0;

/// Two flat lands under an indicator of 1 µm, turned there and back by an uneven hand, as many
/// turns as it takes at 4,000 samples each.
fn samples(count: usize) -> Vec<Sample> {
    let mut state = 1_u64;
    let mut deg = 0.0_f64;
    let turn = |deg: f64| 10.0 - (deg.rem_euclid(180.0) / 180.0) * 0.7;
    (0..count)
        .map(|at| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            let noise = (state >> 40) as f64 / (1_u64 << 24) as f64 - 0.5;
            let way = if (at / 20_000) % 2 == 0 { 1.0 } else { -1.0 };
            deg += way * 0.09 * (1.0 + 0.5 * (at as f64 * 0.001).sin());
            Sample {
                time: Time::from_s(at as f64 * 0.001),
                angle: Angle::from_deg((deg / 0.09).round() * 0.09),
                reading: Length::from_mm(((turn(deg) + noise * 0.002) * 1000.0).round() / 1000.0),
                marks: Marks::NONE,
            }
        })
        .collect()
}

/// The least of several times, in nanoseconds a sample.
fn cost(count: usize, mut work: impl FnMut()) -> f64 {
    let times = (1_000_000 / count).clamp(2, 20);
    let once = |_| {
        let start = Instant::now();
        work();
        start.elapsed().as_secs_f64() * 1e9 / count as f64
    };
    (0..times).map(once).fold(f64::MAX, f64::min)
}

fn main() {
    let quick = std::env::args().any(|argument| argument == "--quick");
    let sizes: &[usize] = if quick {
        &[3_000, 30_000, 300_000, 1_000_000]
    } else {
        &[3_000, 30_000, 300_000, 3_000_000, 10_000_000]
    };
    let settings = traces::steps(Length::from_um(1.0), 4000);
    println!("ns a sample     read    align    merge    plain pass");
    let mut totals = Vec::new();
    for &count in sizes {
        let samples = samples(count);
        let mut file = Vec::new();
        csv::write(&mut file, &samples).unwrap();
        let read = cost(count, || {
            black_box(csv::read(file.as_slice(), "trace").unwrap());
        });
        drop(file);
        let aligned = cost(count, || {
            black_box(align::one_clock(samples.clone(), Positive::Cutting));
        });
        let trace = traces::bare(samples);
        let merged = cost(count, || {
            black_box(merge(&trace, &settings).unwrap());
        });
        let plain = cost(count, || {
            let sum = |(time, angle, reading): (Time, Angle, Length), sample: &Sample| {
                (
                    time + sample.time,
                    angle + sample.angle,
                    reading + sample.reading,
                )
            };
            let start = (Time::ZERO, Angle::ZERO, Length::ZERO);
            black_box(trace.samples.iter().fold(start, sum));
        });
        println!("{count:>11} {read:>8.1} {aligned:>8.1} {merged:>8.1} {plain:>13.2}");
        totals.push((count, read + aligned + merged));
    }
    // The smallest trace pays for the search of the delay, which has a ceiling; the next does not.
    let (first, last) = (totals[0], totals[totals.len() - 1]);
    let growth = last.1 / first.1;
    println!(
        "cost a sample at {} over that at {}: {growth:.2}",
        last.0, first.0
    );
    if growth >= GROWTH_MOST {
        println!("  missed: the cost a sample grows {growth:.1} times");
    }
}
