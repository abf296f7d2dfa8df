//! A trace from its file to one height a place, on synthetic tools turned by a synthetic hand.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use crate::traces;
use heelclear::card::{Positive, Role};
use heelclear::error::Code;
use heelclear::quantity::{Angle, Length, Time};
use heelclear::sample::{Height, Mark, Marks, Position, Sample};
use heelclear::trace::csv::{self, Rows};
use heelclear::trace::passes::motion;
use heelclear::trace::{DelaySource, MergeSettings, Merged, Trace, Turning, align, merge};
use proptest::prelude::*;
use rand::{Rng, SeedableRng};

/// A tool as a stylus without width would read it, and the hand that turns it.
#[derive(Clone, Debug)]
struct Bench {
    teeth: u32,
    /// Arc of each land, in degrees.
    land_deg: f64,
    /// Relief angle of the spiral lands, in degrees.
    relief_deg: f64,
    /// Where the first edge is.
    edge_deg: f64,
    rate_hz: f64,
    noise_um: f64,
    resolution_um: f64,
    hysteresis_um: f64,
    delay_ms: f64,
    counts_per_turn: u32,
    /// Angle to turn to, in degrees, and the usual speed on the way there.
    moves: Vec<(f64, f64)>,
    /// Seconds of rest after each move.
    rest_s: f64,
    /// How much the speed swings about the usual one, 0 to 1.
    uneven: f64,
    seed: u64,
}

impl Default for Bench {
    fn default() -> Self {
        Self {
            teeth: 2,
            land_deg: 60.0,
            relief_deg: 7.0,
            edge_deg: 40.0,
            rate_hz: 100.0,
            noise_um: 0.5,
            resolution_um: 1.0,
            hysteresis_um: 0.0,
            delay_ms: 0.0,
            counts_per_turn: 4000,
            moves: vec![(-1100.0, 30.0)],
            rest_s: 0.3,
            uneven: 0.5,
            seed: 1,
        }
    }
}

/// Radius of the edges, in mm.
const R: f64 = 10.0;

impl Bench {
    /// The height in mm at an angle in degrees: land from each edge on, then a gap 1 mm deep, with
    /// a face that rises within 0.6 degrees.
    fn height(&self, deg: f64) -> f64 {
        let pitch = 360.0 / f64::from(self.teeth);
        let behind = (deg - self.edge_deg).rem_euclid(pitch);
        let land = |arc: f64| -R * self.relief_deg.to_radians().tan() * arc.to_radians();
        if behind <= self.land_deg {
            return land(behind);
        }
        let heel = land(self.land_deg);
        let fall = heel - (behind - self.land_deg) * 0.2;
        let rise = (heel - 1.0) * (pitch - behind) / 0.6;
        fall.max(rise).max(heel - 1.0)
    }

    fn samples(&self) -> Vec<Sample> {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(self.seed);
        let fine = 1.0e-3_f64.min(0.1 / self.rate_hz);
        // The path of the hand: time, angle.
        let (mut t, mut at) = (0.0_f64, 0.0_f64);
        let mut path = vec![(0.0, 0.0)];
        for &(target, usual) in &self.moves {
            let way = f64::signum(target - at);
            while (target - at) * way > 0.0 {
                let swing = (2.1 * t).sin() * 0.6 + (5.3 * t + 1.0).sin() * 0.4;
                at += way * usual * (1.0 + self.uneven * swing) * fine;
                t += fine;
                path.push((t, at));
            }
            t += self.rest_s;
            path.push((t, at));
        }
        let angle_at = |t: f64| {
            let next = path
                .partition_point(|(time, _)| *time < t)
                .clamp(1, path.len() - 1);
            let ((t0, a0), (t1, a1)) = (path[next - 1], path[next]);
            a0 + (a1 - a0) * ((t - t0) / (t1 - t0)).clamp(0.0, 1.0)
        };
        let count = (t * self.rate_hz) as usize;
        let step = 360.0 / f64::from(self.counts_per_turn);
        let mut samples = Vec::with_capacity(count);
        let mut way = 1.0;
        for i in 0..count {
            let now = i as f64 / self.rate_hz;
            let (angle, then) = (angle_at(now), angle_at(now - self.delay_ms / 1000.0));
            let moved = then - angle_at(now - self.delay_ms / 1000.0 - 0.02);
            if moved != 0.0 {
                way = moved.signum();
            }
            let noise = self.noise_um / 1000.0 * normal(&mut rng);
            let exact = self.height(then) + noise + way * self.hysteresis_um / 2000.0;
            let least = self.resolution_um / 1000.0;
            let reading = if least > 0.0 {
                (exact / least).round() * least
            } else {
                exact
            };
            samples.push(Sample {
                time: Time::from_s(now),
                angle: Angle::from_deg((angle / step).round() * step),
                reading: Length::from_mm(reading),
                marks: Marks::NONE,
            });
        }
        samples
    }

    fn trace(&self) -> Trace {
        trace(self.samples())
    }

    fn settings(&self) -> MergeSettings {
        traces::steps(Length::from_um(self.resolution_um), self.counts_per_turn)
    }

    fn merge(&self) -> Merged {
        merge(&self.trace(), &self.settings()).unwrap()
    }

    /// Whether the surface is smooth for some way around, so that a height can be compared.
    fn smooth_at(&self, deg: f64) -> bool {
        let pitch = 360.0 / f64::from(self.teeth);
        let behind = (deg - self.edge_deg).rem_euclid(pitch);
        (1.1..self.land_deg - 1.1).contains(&behind)
    }
}

fn normal(rng: &mut impl Rng) -> f64 {
    let (u, v): (f64, f64) = (1.0 - rng.random::<f64>(), rng.random());
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

fn trace(samples: Vec<Sample>) -> Trace {
    Trace {
        name: "traces/seat.csv".to_owned(),
        role: Role::Feature("seat".to_owned()),
        ..traces::bare(samples)
    }
}

/// Errors of the merged heights on the lands, in µm: root mean square, greatest, and both over the
/// standard errors claimed.
struct Errors {
    rms: f64,
    worst: f64,
    rms_over_claimed: f64,
}

fn errors(bench: &Bench, merged: &Merged) -> Errors {
    let on_lands = merged
        .cells
        .iter()
        .filter(|cell| bench.smooth_at(cell.angle.deg()));
    let pairs: Vec<(f64, f64)> = on_lands
        .map(|cell| {
            let error = cell.reading.um() - bench.height(cell.angle.deg()) * 1000.0;
            (error, cell.standard_error.um())
        })
        .collect();
    assert!(pairs.len() > 50, "{} places on lands", pairs.len());
    let mean =
        |of: &dyn Fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / pairs.len() as f64;
    Errors {
        rms: mean(&|pair| pair.0 * pair.0).sqrt(),
        worst: pairs.iter().map(|pair| pair.0.abs()).fold(0.0, f64::max),
        rms_over_claimed: mean(&|pair| (pair.0 / pair.1).powi(2)).sqrt(),
    }
}

#[test]
fn merged_heights_are_those_of_the_tool() {
    #[track_caller]
    fn check(bench: Bench, most_rms_um: f64) {
        let merged = bench.merge();
        let errors = errors(&bench, &merged);
        assert!(errors.rms < most_rms_um, "rms {} µm", errors.rms);
        assert!(
            errors.worst < 8.0 * most_rms_um,
            "worst {} µm",
            errors.worst
        );
        assert!(
            errors.rms_over_claimed < 1.4,
            "{} times what is claimed",
            errors.rms_over_claimed
        );
        assert!(
            errors.rms_over_claimed > 0.3,
            "{} times what is claimed",
            errors.rms_over_claimed
        );
        assert_eq!(merged.holes, []);
        assert!(merged.cells.is_sorted_by(|a, b| a.angle < b.angle));
        assert!(
            merged
                .cells
                .iter()
                .all(|cell| cell.angle >= Angle::ZERO && cell.angle < Angle::TURN)
        );
    }
    let bench = Bench::default();
    check(bench.clone(), 0.6);
    check(
        Bench {
            noise_um: 3.0,
            ..bench.clone()
        },
        2.5,
    );
    check(
        Bench {
            moves: vec![(1100.0, 30.0)],
            ..bench.clone()
        },
        0.6,
    );
    check(
        Bench {
            moves: vec![(800.0, 30.0), (-400.0, 40.0)],
            ..bench.clone()
        },
        0.6,
    );
    check(
        Bench {
            teeth: 1,
            land_deg: 320.0,
            ..bench.clone()
        },
        0.7,
    );
    check(
        Bench {
            teeth: 24,
            land_deg: 8.0,
            moves: vec![(-1500.0, 15.0)],
            ..bench.clone()
        },
        0.6,
    );
    check(
        Bench {
            rate_hz: 2000.0,
            ..bench.clone()
        },
        0.6,
    );
    // Pauses and nudges on the way.
    let moves = vec![
        (-200.0, 30.0),
        (-192.0, 20.0),
        (-500.0, 30.0),
        (-495.0, 9.0),
        (-1100.0, 30.0),
    ];
    check(
        Bench {
            moves,
            rest_s: 4.0,
            ..bench
        },
        0.6,
    );
}

#[track_caller]
fn read(text: &str) -> csv::Table {
    csv::read(text.as_bytes(), "traces/seat.csv").unwrap()
}

#[test]
fn every_form_of_trace_file_is_read() {
    #[track_caller]
    fn check(text: &str, angle_deg: f64, reading_mm: f64) {
        let table = read(text);
        assert_eq!((table.bad.len(), table.warnings.len()), (0, 0), "{table:?}");
        assert_eq!(table.rows.len(), 2);
        let (time, angle, reading) = match &table.rows {
            Rows::Turning(rows) => (rows[1].time, rows[1].angle.deg(), rows[1].reading.mm()),
            Rows::Sliding(rows) => (rows[1].time, rows[1].travel.mm(), rows[1].reading.mm()),
            Rows::Positions(rows) => (rows[1].time, rows[1].angle.deg(), 0.0),
            Rows::Heights(rows) => (rows[1].time, 0.0, rows[1].reading.mm()),
        };
        assert_eq!(time, Time::from_s(0.5));
        assert!((angle - angle_deg).abs() < 1e-12, "{angle}");
        assert_eq!(reading, reading_mm);
    }
    check(
        "time_s,angle_deg,reading_mm\n0,0,0\n0.5,12.5,-0.25\n",
        12.5,
        -0.25,
    );
    check(
        "time_s,angle_deg,reading_in\n0,0,0\n0.5,12.5,0.01\n",
        12.5,
        0.254,
    );
    check(
        "time_s,angle_deg,reading_um\n0,0,0\n0.5,12.5,37\n",
        12.5,
        0.037,
    );
    check(
        "time_ms,angle_deg,reading_mm\n0,0,0\n500,12.5,0.25\n",
        12.5,
        0.25,
    );
    check(
        "reading_mm,time_s,angle_deg\n0,0,0\n0.25,0.5,12.5\n",
        12.5,
        0.25,
    );
    check(
        "time_s,travel_mm,reading_mm\n0,0,0\n0.5,3.5,0.25\n",
        3.5,
        0.25,
    );
    check(
        "time_s,travel_in,reading_in\n0,0,0\n0.5,1,0.01\n",
        25.4,
        0.254,
    );
    check("time_s,angle_deg\n0,0\n0.5,-720\n", -720.0, 0.0);
    check("time_s,reading_mm\n0,0\n0.5,1e-3\n", 0.0, 0.001);
    check(
        "\u{feff}time_s , angle_deg , reading_mm\r\n0, 0, 0\r\n 0.5 ,\t12.5 , 0.25\r\n",
        12.5,
        0.25,
    );
    check(
        "time_s,angle_deg,reading_mm,marks\n0,0,0,\n0.5,12.5,0.25,spike|after-loss\n",
        12.5,
        0.25,
    );
    check(
        "time_s,angle_deg,reading_mm\n\n0,0,0\n\n0.5,12.5,0.25",
        12.5,
        0.25,
    );
}

#[test]
fn a_bad_line_is_named_and_loses_nothing_else() {
    #[track_caller]
    fn check(line: &str, expected: &str) {
        let text = format!("time_s,angle_deg,reading_mm\n0,0,0\n{line}\n1,1,1\n");
        let table = read(&text);
        assert_eq!(table.rows.len(), 2);
        assert_eq!(table.bad_lines, 1);
        assert_eq!(table.bad[0].code(), Code::TraceLine);
        assert_eq!(
            table.bad[0].to_string(),
            format!("traces/seat.csv, line 3: read {expected}")
        );
    }
    check(
        "0.5,1,+00.1x",
        "`+00.1x` as `reading_mm`, expected a number",
    );
    check("0.5,,0.1", "`` as `angle_deg`, expected a number");
    check(
        "0.5,1",
        "a line that ends early, expected a number for `reading_mm`",
    );
    check("0.5,1,2,3", "`0.5123`, expected 3 fields");
    check(
        "NaN,1,2",
        "`NaN` as `time_s`, expected a time within ± 10000000000 s",
    );
    check(
        "0.5,inf,2",
        "`inf` as `angle_deg`, expected an angle within ± 3600000000 deg",
    );
    check(
        "0.5,1,1e9",
        "`1e9` as `reading_mm`, expected a length within ± 1000 mm",
    );
    check("0.5;1;2", "`0.5;1;2` as `time_s`, expected a number");
    check("\"0.5,1,2", "`\"0.5` as `time_s`, expected a number");
}

#[test]
fn many_bad_lines_are_counted_and_a_few_named() {
    let mut text = "time_s,angle_deg,reading_mm\n".to_owned();
    text.push_str(&"0,0,0\n".repeat(99_000));
    text.push_str(&"x,y,z\n".repeat(1000));
    let table = read(&text);
    assert_eq!((table.rows.len(), table.bad_lines), (99_000, 1000));
    assert!(table.bad.len() <= 20);
    assert!(
        table.warnings[0].contains("1000 lines"),
        "{:?}",
        table.warnings
    );
}

#[test]
fn a_torn_last_line_is_a_warning() {
    #[track_caller]
    fn check(tail: &str, rows: usize, warnings: usize) {
        let table = read(&format!(
            "time_s,angle_deg,reading_mm\n0,0,0.123\n0.5,1,0.124\n{tail}"
        ));
        assert_eq!(table.rows.len(), rows, "{table:?}");
        assert_eq!(
            (table.warnings.len(), table.bad_lines),
            (warnings, 0),
            "{table:?}"
        );
    }
    check("1,2,0.125\n", 3, 0);
    check("1,2,0.125", 3, 0);
    check("1,2,0.1", 2, 1); // a number cut short is still a number
    check("1,2,", 2, 1);
    check("1,2", 2, 1);
    check("1", 2, 1);
    check("1,2,0.12\n", 3, 0);
}

#[test]
fn a_file_that_is_no_trace_is_refused() {
    #[track_caller]
    fn check(text: &[u8], code: Code) {
        let error = csv::read(text, "traces/seat.csv").unwrap_err();
        assert_eq!(error.code(), code, "{error}");
        assert_eq!(error.place().file.as_deref(), Some("traces/seat.csv"));
        assert!(error.advice().is_some(), "{error}");
    }
    check(b"", Code::TraceHeader);
    check(b"\n\n", Code::TraceHeader);
    check(b"0,0,0\n1,1,1\n", Code::TraceHeader);
    check(b"time_s\n1\n", Code::TraceHeader);
    check(b"angle_deg,reading_mm\n1,1\n", Code::TraceHeader);
    check(b"time_s:angle_deg:reading_mm\n1:1:1\n", Code::TraceHeader);
    check(
        b"time_s,angle_deg,travel_mm,reading_mm\n1,1,1,1\n",
        Code::TraceHeader,
    );
    check(
        b"time_s,angle_deg,reading_mm,reading_in\n1,1,1,1\n",
        Code::TraceHeader,
    );
    check(b"\x00\xff\x12garbage\x80\n\x01\x02", Code::TraceHeader);
    check(b"time_s,angle_deg,reading_mm\n", Code::TraceShort);
    check(b"time_s,angle_deg,reading_mm\nx,y,z\n", Code::TraceShort);
    check(b"time_s,angle_deg,reading_mm\n1,2", Code::TraceShort);
}

#[test]
fn an_unknown_column_is_ignored_with_a_warning() {
    let table = read("time_s,angle_deg,reading_mm,shop\n0,0,0,here\n");
    assert_eq!(table.rows.len(), 1);
    assert_eq!(table.warnings.len(), 1);
    assert!(table.warnings[0].contains("`shop`"), "{:?}", table.warnings);
}

fn any_sample() -> impl Strategy<Value = Sample> {
    let marks = prop::collection::vec(0..Mark::ALL.len(), 0..3);
    let values = (-1e6..1e6_f64, -1e6..1e6_f64, -1000.0..1000.0_f64, marks);
    values.prop_map(|(time, deg, reading, marks)| Sample {
        time: Time::from_s(time),
        angle: Angle::from_deg(deg),
        reading: Length::from_mm(reading),
        marks: marks.into_iter().fold(Marks::NONE, |mut set, at| {
            set.add(Mark::ALL[at]);
            set
        }),
    })
}

proptest! {
    #[test]
    fn what_is_written_reads_back_the_same(samples in prop::collection::vec(any_sample(), 1..40)) {
        let mut file = Vec::new();
        csv::write(&mut file, &samples).unwrap();
        let table = csv::read(file.as_slice(), "trace").unwrap();
        prop_assert_eq!(table.rows, Rows::Turning(samples));
    }

    #[test]
    fn no_bytes_make_the_reader_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let mut file = b"time_s,angle_deg,reading_mm\n".to_vec();
        file.extend(&bytes);
        let _ = csv::read(file.as_slice(), "trace");
        let _ = csv::read(bytes.as_slice(), "trace");
    }

    #[test]
    fn no_samples_make_the_merge_panic(samples in prop::collection::vec(any_sample(), 0..200)) {
        let aligned = align::one_clock(samples.clone(), Positive::Backing);
        for two_clocks in [false, true] {
            let _ = merge(&Trace { two_clocks, ..trace(aligned.clone()) }, &Bench::default().settings());
            let _ = merge(&Trace { two_clocks, ..trace(samples.clone()) }, &Bench::default().settings());
        }
    }
}

#[test]
fn angles_grow_the_way_the_tool_cuts_and_do_not_wrap() {
    #[track_caller]
    fn check(degs: &[f64], positive: Positive, expected: &[f64]) {
        let samples = degs.iter().enumerate().map(|(i, deg)| Sample {
            time: Time::from_s(i as f64),
            angle: Angle::from_deg(*deg),
            reading: Length::ZERO,
            marks: Marks::NONE,
        });
        let aligned = align::one_clock(samples.collect(), positive);
        for (sample, expected) in aligned.iter().zip(expected) {
            assert!((sample.angle.deg() - expected).abs() < 1e-9, "{aligned:?}");
        }
    }
    use Positive::{Backing, Cutting};
    check(
        &[350.0, 355.0, 0.0, 5.0],
        Cutting,
        &[350.0, 355.0, 360.0, 365.0],
    );
    check(
        &[5.0, 0.0, 355.0, 350.0, 359.0, 3.0],
        Cutting,
        &[5.0, 0.0, -5.0, -10.0, -1.0, 3.0],
    );
    check(&[170.0, 179.0, -175.0], Cutting, &[170.0, 179.0, 185.0]);
    check(&[350.0, 360.0, 725.0], Cutting, &[350.0, 360.0, 725.0]);
    check(&[10.0, 20.0, 30.0], Backing, &[-10.0, -20.0, -30.0]);
    check(&[350.0, 0.0, 10.0], Backing, &[-350.0, -360.0, -370.0]);
    // Lines were lost over 220 degrees: no wrap.
    check(
        &[0.0, 80.0, 300.0, 350.0],
        Cutting,
        &[0.0, 80.0, 300.0, 350.0],
    );
}

#[test]
fn times_that_do_not_grow_are_marked_and_kept() {
    #[track_caller]
    fn check(times: &[f64], unusable: &[usize]) {
        let samples = times.iter().map(|time| Sample {
            time: Time::from_s(*time),
            angle: Angle::ZERO,
            reading: Length::ZERO,
            marks: Marks::NONE,
        });
        let aligned = align::one_clock(samples.collect(), Positive::Cutting);
        let marked = (0..times.len()).filter(|at| aligned[*at].marks.has(Mark::Unusable));
        assert_eq!(marked.collect::<Vec<_>>(), unusable);
    }
    check(&[0.0, 1.0, 2.0, 3.0], &[]);
    check(&[0.0, 1.0, 1.0, 2.0], &[2]);
    check(&[0.0, 2.0, 1.0, 3.0], &[1]);
    check(&[0.0, 1.0, 9999.0, 2.0, 3.0], &[2]);
    check(&[5.0, 4.0, 3.0, 6.0], &[1, 2]);
}

#[test]
fn two_channels_meet_at_the_time_of_the_reading() {
    let position = |time: f64, deg: f64| Position {
        time: Time::from_s(time),
        angle: Angle::from_deg(deg),
        marks: Marks::NONE,
    };
    let height = |time: f64| Height {
        time: Time::from_s(time),
        reading: Length::from_mm(time),
        marks: Marks::NONE,
    };
    let mut positions: Vec<_> = (0..100)
        .map(|i| position(f64::from(i) * 0.01, f64::from(i) * 3.0))
        .collect();
    // Silent for half a second while it turned by 60 degrees, then for another while it did not.
    positions.push(position(1.49, 357.0));
    positions.push(position(1.99, 357.0));
    let times = [-0.1, 0.0, 0.005, 0.505, 1.2, 1.7, 1.99, 2.5];
    let heights = times.map(height);
    let joined = align::two_clocks(&positions, &heights, Positive::Backing);
    let told: Vec<_> = joined
        .iter()
        .map(|s| (-s.angle.deg(), s.marks.has(Mark::AngleInDoubt)))
        .collect();
    let expected = [
        (0.0, true), // before the first position
        (0.0, false),
        (1.5, false),
        (151.5, false),
        (322.2, true), // over the gap
        (357.0, false),
        (357.0, false),
        (357.0, true), // after the last
    ];
    for ((deg, doubt), (expected, expected_doubt)) in told.iter().zip(expected) {
        assert!((deg - expected).abs() < 1e-9, "{told:?}");
        assert_eq!(*doubt, expected_doubt, "{told:?}");
    }
    assert!(
        joined
            .iter()
            .zip(times)
            .all(|(sample, time)| sample.reading.mm() == time)
    );
    assert_eq!(
        align::two_clocks(&[], &heights, Positive::Cutting).len(),
        heights.len()
    );
}

#[test]
fn a_stated_delay_is_taken_out() {
    let moves = vec![(800.0, 60.0), (-400.0, 60.0)];
    let bench = Bench {
        moves,
        delay_ms: 25.0,
        rate_hz: 200.0,
        ..Bench::default()
    };
    let stated = MergeSettings {
        delay: Some(Time::from_ms(25.0)),
        ..bench.settings()
    };
    let merged = merge(&bench.trace(), &stated).unwrap();
    assert_eq!(merged.delay.source, DelaySource::Stated);
    let errors = errors(&bench, &merged);
    assert!(
        errors.rms < 0.5 && errors.worst < 3.0,
        "{} {}",
        errors.rms,
        errors.worst
    );
}

#[test]
fn a_delay_is_found_where_the_speed_changes() {
    #[track_caller]
    fn check(bench: Bench, two_clocks: bool) {
        let trace = Trace {
            two_clocks,
            ..bench.trace()
        };
        let merged = merge(&trace, &bench.settings()).unwrap();
        let (value, u) = (
            merged.delay.estimate.value.ms(),
            merged.delay.estimate.standard_uncertainty.ms(),
        );
        assert_eq!(merged.delay.source, DelaySource::Found, "{value} ± {u} ms");
        assert!((value - bench.delay_ms).abs() < 4.0 * u, "{value} ± {u} ms");
        assert!(u < 1.0, "{value} ± {u} ms");
        let errors = errors(&bench, &merged);
        assert!(
            errors.rms < 1.0,
            "rms {} worst {} µm of {bench:?}",
            errors.rms,
            errors.worst
        );
    }
    let there_and_back = vec![(800.0, 60.0), (-400.0, 60.0)];
    let bench = Bench {
        moves: there_and_back,
        delay_ms: 18.0,
        ..Bench::default()
    };
    check(bench.clone(), true);
    check(bench.clone(), false);
    check(
        Bench {
            delay_ms: -7.0,
            ..bench.clone()
        },
        true,
    );
    check(
        Bench {
            delay_ms: 180.0,
            ..bench.clone()
        },
        true,
    );
    check(
        Bench {
            hysteresis_um: 3.0,
            ..bench.clone()
        },
        true,
    );
    check(
        Bench {
            teeth: 12,
            land_deg: 18.0,
            ..bench.clone()
        },
        true,
    );
    check(
        Bench {
            teeth: 1,
            land_deg: 310.0,
            ..bench.clone()
        },
        true,
    );
    // One way only, but slow and fast.
    let slow_and_fast = vec![(-400.0, 25.0), (-1100.0, 90.0)];
    check(
        Bench {
            moves: slow_and_fast,
            ..bench
        },
        true,
    );
}

#[test]
fn a_delay_that_cannot_be_found_is_said_to_be_unknown() {
    let once = Bench {
        moves: vec![(-365.0, 30.0)],
        uneven: 0.0,
        delay_ms: 20.0,
        ..Bench::default()
    };
    let merged = merge(
        &Trace {
            two_clocks: true,
            ..once.trace()
        },
        &once.settings(),
    )
    .unwrap();
    assert_eq!(merged.delay.source, DelaySource::Unknown);
    assert!(merged.delay.estimate.standard_uncertainty > Time::from_ms(50.0));
    // On one clock there is no reason to suspect one.
    let merged = once.merge();
    assert_eq!(merged.delay.source, DelaySource::OneClock);
    assert!(merged.delay.estimate.standard_uncertainty < Time::from_ms(1.0));
}

#[test]
fn both_directions_weigh_the_same_and_tell_the_hysteresis() {
    // Three turns one way, one back: a plain mean would lean to the first.
    let moves = vec![(1080.0, 40.0), (700.0, 40.0)];
    let bench = Bench {
        moves,
        hysteresis_um: 6.0,
        delay_ms: 0.0,
        rate_hz: 200.0,
        ..Bench::default()
    };
    let settings = MergeSettings {
        delay: Some(Time::ZERO),
        ..bench.settings()
    };
    let merged = merge(&bench.trace(), &settings).unwrap();
    let hysteresis = merged.hysteresis.unwrap();
    let off = (hysteresis.value.um() - 6.0).abs();
    assert!(
        off < 0.5 && off < 4.0 * hysteresis.standard_uncertainty.um(),
        "{hysteresis:?}"
    );
    let errors = errors(&bench, &merged);
    assert!(errors.rms < 0.6, "rms {} µm", errors.rms);
    // One way only tells nothing about it.
    assert_eq!(Bench::default().merge().hysteresis, None);
}

#[test]
fn passes_pauses_and_nudges_are_told_apart() {
    let moves = vec![
        (-200.0, 30.0),
        (-194.0, 20.0),
        (-500.0, 30.0),
        (200.0, 40.0),
    ];
    let bench = Bench {
        moves,
        rest_s: 1.5,
        ..Bench::default()
    };
    let samples = bench.samples();
    let motion = motion(&samples, Angle::from_deg(0.225));
    let turned: Vec<_> = motion
        .passes
        .iter()
        .map(|pass| (pass.turning, pass.arc.deg().round()))
        .collect();
    assert_eq!(
        turned,
        [(Turning::Backing, 500.0), (Turning::Cutting, 700.0)]
    );
    assert_eq!(motion.passes[0].samples.end, motion.passes[1].samples.start);
    let count = |mark| motion.marks.iter().filter(|marks| marks.has(mark)).count();
    // Four rests of 1.5 s at 100 samples a second.
    assert!(
        (560..660).contains(&count(Mark::Pause)),
        "{}",
        count(Mark::Pause)
    );
    assert!(
        (20..400).contains(&count(Mark::Nudge)),
        "{}",
        count(Mark::Nudge)
    );
    for (at, speed) in motion.speed.iter().enumerate() {
        if motion.marks[at].is_empty() && motion.passes[0].samples.contains(&at) {
            assert!(
                (-70.0..4.0).contains(&speed.deg_per_s()),
                "{} at {at}",
                speed.deg_per_s()
            );
        }
    }
}

#[test]
fn a_trembling_encoder_makes_no_passes() {
    let mut samples = Bench::default().samples();
    for (at, sample) in samples.iter_mut().enumerate() {
        sample.angle += Angle::from_deg(0.09) * [0.0, 1.0, -1.0][at % 3];
    }
    assert_eq!(motion(&samples, Angle::from_deg(0.225)).passes.len(), 1);
}

/// A bench trace with spikes of `um` at every `every`th sample, `long` samples each, and where.
fn with_spikes(bench: &Bench, um: f64, every: usize, long: usize) -> (Vec<Sample>, Vec<usize>) {
    let mut samples = bench.samples();
    let mut spiked = Vec::new();
    for first in (every / 2..samples.len() - every).step_by(every) {
        // Not at like intervals, or they would meet at one place of every turn and be the tool's.
        let first = first + first * first % (every / 3);
        for sample in &mut samples[first..first + long] {
            sample.reading += Length::from_um(um);
        }
        spiked.extend(first..first + long);
    }
    (samples, spiked)
}

#[test]
fn chips_and_bumps_do_not_reach_the_heights() {
    #[track_caller]
    fn check(bench: Bench, um: f64, every: usize, long: usize) {
        let (samples, spiked) = with_spikes(&bench, um, every, long);
        let merged = merge(&trace(samples), &bench.settings()).unwrap();
        let errors = errors(&bench, &merged);
        let told = merged.history.join("\n");
        assert!(
            told.contains("stand out") || told.contains("disagree"),
            "{told}"
        );
        assert!(
            errors.rms < 0.8,
            "rms {} µm with {} spikes\n{told}",
            errors.rms,
            spiked.len()
        );
        assert!(errors.worst < 8.0, "worst {} µm\n{told}", errors.worst);
    }
    let bench = Bench {
        rate_hz: 200.0,
        ..Bench::default()
    };
    check(bench.clone(), 40.0, 61, 1);
    check(bench.clone(), 500.0, 61, 3);
    check(bench.clone(), -40.0, 83, 1);
    check(bench.clone(), 25.0, 200, 5);
    check(
        Bench {
            moves: vec![(-370.0, 30.0)],
            ..bench.clone()
        },
        60.0,
        61,
        2,
    );
    // A bump that lasts too long for its neighbours to show it, but that no other pass had.
    check(bench, 60.0, 1777, 30);
}

#[test]
fn what_every_pass_shows_is_the_tool_and_no_spike() {
    #[track_caller]
    fn check(bench: Bench) {
        let merged = bench.merge();
        let told = merged.history.join("\n");
        assert!(!told.contains("stand out"), "{told}");
        // The highest place of each tooth is its edge.
        let highest = merged
            .cells
            .iter()
            .map(|cell| cell.reading.mm())
            .fold(f64::MIN, f64::max);
        assert!(highest > -0.02, "{highest}");
        assert_eq!(merged.holes, []);
    }
    let bench = Bench::default();
    check(bench.clone());
    check(Bench {
        rate_hz: 1000.0,
        ..bench.clone()
    });
    check(Bench {
        noise_um: 0.0,
        resolution_um: 0.0,
        ..bench.clone()
    });
    check(Bench {
        noise_um: 0.0,
        resolution_um: 10.0,
        ..bench.clone()
    });
    check(Bench {
        teeth: 24,
        land_deg: 2.0,
        moves: vec![(-1500.0, 15.0)],
        ..bench.clone()
    });
    check(Bench {
        teeth: 24,
        land_deg: 2.0,
        moves: vec![(800.0, 15.0), (-100.0, 15.0)],
        ..bench
    });
}

#[test]
fn perfect_data_of_one_turn_comes_back_as_it_is() {
    #[track_caller]
    fn check(count: u32) {
        let bench = Bench {
            teeth: 1,
            land_deg: 300.0,
            edge_deg: 20.3,
            ..Bench::default()
        };
        let samples = (0..=count).map(|i| {
            let deg = 360.0 * f64::from(i) / f64::from(count);
            Sample {
                time: Time::from_s(f64::from(i) * 0.02),
                angle: Angle::from_deg(deg),
                reading: Length::from_mm(bench.height(deg)),
                marks: Marks::NONE,
            }
        });
        let settings = MergeSettings {
            resolution: Length::ZERO,
            counts_per_turn: 0,
            ..bench.settings()
        };
        let merged = merge(&trace(samples.collect()), &settings).unwrap();
        assert_eq!(merged.holes, [], "{:?}", merged.history);
        for cell in merged
            .cells
            .iter()
            .filter(|cell| bench.smooth_at(cell.angle.deg()))
        {
            let error = cell.reading.mm() - bench.height(cell.angle.deg());
            assert!(error.abs() < 1e-9, "{error} mm at {}", cell.angle.deg());
        }
    }
    check(3600);
    check(720);
    check(400);
    check(360);
    check(180);
}

#[test]
fn what_was_not_read_is_a_hole() {
    let bench = Bench::default();
    let mut samples = bench.samples();
    let lost = |sample: &Sample| (100.0..112.0).contains(&sample.angle.in_turn().deg());
    samples.retain(|sample| !lost(sample));
    let merged = merge(&trace(samples), &bench.settings()).unwrap();
    assert_eq!(merged.holes.len(), 1, "{:?}", merged.holes);
    let hole = merged.holes[0];
    assert!(
        (hole.from.deg() - 100.0).abs() < 0.6 && (hole.width.deg() - 12.0).abs() < 1.0,
        "{hole:?}"
    );
    // A part of a turn leaves the rest as one hole, over the end of the turn.
    let part = Bench {
        moves: vec![(200.0, 30.0)],
        ..bench
    }
    .merge();
    assert_eq!(part.holes.len(), 1, "{:?}", part.holes);
    assert!(
        (part.holes[0].from.deg() - 200.0).abs() < 1.0,
        "{:?}",
        part.holes
    );
    assert!((part.holes[0].width.deg() - 160.0).abs() < 1.5);
    assert!(
        part.history
            .iter()
            .any(|step| step.contains("° of the turn"))
    );
}

#[test]
fn a_long_pause_weighs_no_more_than_a_look() {
    let bench = Bench {
        noise_um: 0.2,
        ..Bench::default()
    };
    let mut samples = bench.samples();
    let middle = samples.len() / 2;
    let (at, step) = (samples[middle], Time::from_ms(10.0));
    // Half a minute on one place, during which the table warms up by 30 µm.
    let rest = (1..3000).map(|i| Sample {
        time: at.time + step * f64::from(i),
        reading: at.reading + Length::from_um(f64::from(i) * 0.01),
        ..at
    });
    let rest: Vec<Sample> = rest.collect();
    let length = step * rest.len() as f64;
    for sample in &mut samples[middle + 1..] {
        sample.time += length;
    }
    samples.splice(middle + 1..middle + 1, rest);
    let merged = merge(&trace(samples), &bench.settings()).unwrap();
    let apart = |cell: &heelclear::trace::Cell| (cell.angle - at.angle).shortest().abs();
    let near = merged
        .cells
        .iter()
        .min_by(|a, b| apart(a).total_cmp(&apart(b)));
    let place = near.unwrap();
    let error = place.reading.um() - bench.height(place.angle.deg()) * 1000.0;
    assert!(error.abs() < 6.0, "off by {error} µm");
}

#[test]
fn a_restart_keeps_the_longer_stretch() {
    let mut samples = Bench::default().samples();
    let at = samples.len() / 3;
    samples[at].marks.add(Mark::AfterRestart);
    let begin = samples[at].angle;
    for sample in &mut samples[at..] {
        sample.angle -= begin;
    }
    let settings = Bench::default().settings();
    let merged = merge(&trace(samples.clone()), &settings).unwrap();
    let alone = merge(&trace(samples[at..].to_vec()), &settings).unwrap();
    assert_eq!(merged.cells.len(), alone.cells.len());
    assert!(
        merged
            .history
            .iter()
            .any(|step| step.contains("angle in doubt"))
    );
}

#[test]
fn too_little_is_said_to_be_too_little() {
    #[track_caller]
    fn check(samples: Vec<Sample>) {
        let error = merge(&trace(samples), &Bench::default().settings()).unwrap_err();
        assert_eq!(error.code(), Code::TraceShort);
        assert!(
            error.to_string().starts_with("traces/seat.csv: "),
            "{error}"
        );
        assert!(error.advice().is_some());
    }
    let samples = Bench::default().samples();
    check(Vec::new());
    check(samples[..5].to_vec());
    check(
        samples
            .iter()
            .map(|sample| Sample {
                angle: Angle::ZERO,
                ..*sample
            })
            .collect(),
    );
    let still = samples.iter().map(|sample| Sample {
        time: Time::ZERO,
        ..*sample
    });
    check(align::one_clock(still.collect(), Positive::Cutting));
}

#[test]
fn a_constant_reading_merges_without_noise_but_not_without_doubt() {
    let mut samples = Bench::default().samples();
    for sample in &mut samples {
        sample.reading = Length::from_mm(0.25);
    }
    let merged = merge(&trace(samples), &Bench::default().settings()).unwrap();
    assert_eq!(merged.noise, Length::ZERO);
    for cell in &merged.cells {
        assert!((cell.reading - Length::from_mm(0.25)).abs() < Length::from_mm(1e-12));
        assert!(
            cell.standard_error > Length::from_um(0.1),
            "{:?}",
            cell.standard_error
        );
    }
}

#[test]
fn a_few_readings_that_two_turns_share_make_no_delay() {
    // At 25 degrees a second a turn has a reading in each place, and a third of a turn is read twice.
    for seed in 1..=12 {
        let merged = Bench {
            teeth: 3 * (1 + seed as u32 % 2),
            land_deg: 40.0 / (1.0 + (seed % 2) as f64),
            rate_hz: 50.0,
            moves: vec![(-360.0 * (1.24 + 0.01 * seed as f64), 25.0)],
            uneven: 0.4,
            seed,
            ..Bench::default()
        }
        .merge();
        assert_eq!(merged.delay.source, DelaySource::OneClock, "{seed}");
    }
}

/// The same trace as a spreadsheet would write it.
#[test]
fn a_file_of_a_spreadsheet_is_read_where_it_can_mean_one_thing_only() {
    let own = "time_s,angle_deg,reading_mm,marks\n0.00,0.0,0.100,\n0.01,-0.5,1.250,spike\n0.02,1.25,12.098,\n";
    let Rows::Turning(wanted) = read(own).rows else {
        unreachable!()
    };
    let semicolons = own.replace(',', ";").replace('.', ",");
    let quoted = own.lines().map(|line| {
        let fields = line
            .split(',')
            .map(|field| format!("\"{}\"", field.replace('.', ",")));
        fields.collect::<Vec<_>>().join(",") + "\r\n"
    });
    let quoted: String = quoted.collect();
    for foreign in [
        own.replace(',', ";"),
        own.replace(',', "\t"),
        semicolons.clone(),
        semicolons.replace(';', "\t"),
        quoted,
    ] {
        let table = read(&foreign);
        assert_eq!(table.rows, Rows::Turning(wanted.clone()), "{foreign}");
        assert_eq!(table.bad_lines, 0, "{foreign}");
        let [said] = &table.warnings[..] else {
            panic!("{:?}", table.warnings)
        };
        assert!(
            said.starts_with("traces/seat.csv: read as fields between"),
            "{said}"
        );
    }
}

#[test]
fn a_comma_that_may_part_thousands_is_named_and_not_guessed_at() {
    // 1.234 µm or 1234 µm: nothing in the file tells.
    let open = "time_s;angle_deg;reading_um\n1;2;1,234\n2;3;1,235\n";
    let error = csv::read(open.as_bytes(), "traces/seat.csv").unwrap_err();
    assert_eq!(error.code(), Code::TraceLine);
    assert_eq!(error.place().line, Some(2));
    assert!(error.message().contains("`1,234`"), "{error}");
    // Another number of the file tells.
    let told = read(&open.replace("2;3;", "2,5;3;"));
    let Rows::Turning(rows) = told.rows else {
        unreachable!()
    };
    assert!((rows[0].reading.mm() - 0.001_234).abs() < 1e-12);
    // Points beside commas: a comma is no decimal then, and no line is left out for it.
    let mixed = open.replace("2;3;", "2.5;3;").replace("1,235", "1.235");
    let error = csv::read(mixed.as_bytes(), "traces/seat.csv").unwrap_err();
    assert!(error.message().contains("`1,234`"), "{error}");
    // What programs write over a table says what parts its fields.
    let said = read("sep=;\ntime_s;angle_deg;reading_mm\n0,5;1;0,25\n");
    assert_eq!((said.rows.len(), said.bad_lines), (1, 0));
    // Decimal commas between commas cannot be parted.
    let torn = "time_s,angle_deg,reading_mm\n0,01,0,5,0,100\n1,02,0,5,0,100\n";
    let error = csv::read(torn.as_bytes(), "traces/seat.csv").unwrap_err();
    let others: Vec<String> = error.others().iter().map(ToString::to_string).collect();
    assert!(others[0].contains("need semicolons"), "{others:?}");
}

/// Only the readings of a millimetre and more have signs between their thousands: a pad that stands higher
/// than its edge would vanish, line by line.
#[test]
fn what_cannot_be_read_by_its_height_leaves_no_trace() {
    for pad in [
        "1,019",
        "1'019",
        "1.019,0",
        "1\u{a0}019",
        "1 019.5",
        "1,019.0",
    ] {
        let mut text = "time_s;angle_deg;reading_um\n".to_owned();
        for at in 0..1000 {
            let reading = if at == 500 { pad } else { "990.5" };
            text += &format!("{}.5;{at};{reading}\n", at + 1);
        }
        let error = csv::read(text.as_bytes(), "traces/seat.csv").unwrap_err();
        assert_eq!(error.code(), Code::TraceLine, "{pad}");
        assert_eq!(error.place().line, Some(502), "{pad}");
    }
    // Any other reason to leave lines out may come as often as one line in a hundred.
    let text = |every: usize| {
        let line = |at: usize| match at % every {
            0 => format!("{at},x,1\n"),
            _ => format!("{at},{at},1\n"),
        };
        let lines: String = (1..=1000).map(line).collect();
        format!("time_s,angle_deg,reading_mm\n{lines}")
    };
    assert_eq!(read(&text(200)).bad_lines, 5);
    let error = csv::read(text(50).as_bytes(), "traces/seat.csv").unwrap_err();
    assert!(error.message().starts_with("20 of 1000 lines"), "{error}");
}

#[test]
fn a_stray_quote_swallows_its_own_line_alone() {
    let text = "time_s;angle_deg;reading_mm\n0,01;0,5;0,1\n0,02;\"0,6;0,2\n0,03;0,7;0,3\n";
    let table = read(text);
    assert_eq!((table.rows.len(), table.bad_lines), (2, 1));
}
