//! What is done to the bridge's wires: noise, bounces, bits too few, hands that change their mind.

use super::drive::{self, CLOCK, Drive, MS, S, START, US, Uneven, Z};
use super::emulated::run;
use super::indicators::{DIG36, Indicator, TWO26};
use super::truth::{all_true, marks_true, true_within};
use heelclear::gauge::frame::{Flags, Line, encode};
use heelclear::quantity::Length;
use heelclear::sample::{Bench, FromBridge};
use rand::Rng;

/// A bit too few, a bit too many, half a frame, a bit that comes late: each is refused and counted, and
/// the next frame is read.
#[test]
fn a_frame_that_does_not_fit_is_refused_and_the_next_one_is_read() {
    for indicator in [TWO26, DIG36] {
        let mut drive = drive::asked(indicator.clock, 50, 1);
        let mut bad = 0;
        for round in 0..100_u64 {
            let at = START + round * 20 * MS;
            let value = drive.rng.random_range(-indicator.most..=indicator.most);
            let mut bits = (indicator.bits)(value, false);
            let length = bits.len();
            match round % 5 {
                0 => bits.truncate(length - 1),
                1 => bits.push(true),
                2 => bits.truncate(length / 2),
                3 => {
                    // A pause in the middle, as long as that between frames or shorter.
                    let pause = [500, 4_000][round as usize / 5 % 2] * US;
                    let (first, rest) = bits.split_at(length / 2);
                    let (first, rest) = (first.to_vec(), rest.to_vec());
                    drive.bits(at, &first, indicator.clock);
                    let behind = at + 2 * indicator.clock.half * first.len() as u64 + pause;
                    drive.bits(behind, &rest, indicator.clock);
                    bad += 1;
                    continue;
                }
                _ => {
                    drive.frame(at, value, &bits, indicator.clock);
                    continue;
                }
            }
            bad += 1;
            drive.bits(at, &bits, indicator.clock);
        }
        drive.ends(START + 3200 * MS);
        let Some(ran) = run(indicator, &drive) else {
            return;
        };
        let compared = all_true(&ran, &drive);
        assert_eq!(compared.readings, 20, "{}", indicator.name);
        // Two halves with a whole pause between them are two bad frames.
        let counted = i32::from(ran.counters().frames_bad);
        assert!((bad..=bad + 10).contains(&counted), "{counted} of {bad}");
        assert!(ran.flagged(Flags::BAD_FRAME) >= 50);
    }
}

/// A bit is missing, and a spike stands in its place, shorter than anything an indicator sends.
#[test]
fn a_spike_in_place_of_a_bit_is_no_bit() {
    for missing in [1, 13, 25] {
        let mut drive = drive::asked(TWO26.clock, 50, 10);
        for round in 0..50_u64 {
            let at = START + round * 20 * MS;
            let value = drive.rng.random_range(-TWO26.most..=TWO26.most);
            let bits = (TWO26.bits)(value, false);
            let (first, rest) = bits.split_at(missing);
            drive.bits(at, first, TWO26.clock);
            let spike = at + 2 * TWO26.clock.half * missing as u64;
            drive.pin(spike, CLOCK, false);
            drive.pin(spike + 6, CLOCK, true);
            drive.bits(spike + 2 * TWO26.clock.half, &rest[1..], TWO26.clock);
        }
        drive.ends(START + 2200 * MS);
        let Some(ran) = run(TWO26, &drive) else {
            return;
        };
        assert_eq!(ran.readings(), []);
        assert_eq!(ran.counters().frames_bad, 50);
    }
}

/// Spikes on the clock line, before, in and behind frames: what comes through is true.
#[track_caller]
fn noise(indicator: Indicator, seed: u64, per_frame: f64) {
    let mut drive = drive::asked(indicator.clock, 50, seed);
    let seconds = 4;
    drive::read(&mut drive, indicator, START, START + seconds * S, 100);
    drive.turn(START, 8_000 * seconds as i64, 8_000.0, Uneven::default());
    let rest = indicator.clock.rising == indicator.clock.inverts;
    let length = 2 * indicator.clock.half * (indicator.bits)(0, false).len() as u64;
    for frame in drive.frames.clone() {
        if !drive.rng.random_bool(per_frame.min(1.0)) {
            continue;
        }
        for _ in 0..per_frame.ceil() as u32 {
            let at = frame.cycle - 2 * MS + drive.rng.random_range(0..length + 4 * MS);
            let lasts = drive.rng.random_range(5..40 * US);
            // Either way round: a spike away from rest, or back to it in the middle of a bit.
            let to = drive.rng.random_bool(0.5);
            drive.pin(at, CLOCK, to);
            drive.pin(at + lasts, CLOCK, rest);
        }
    }
    drive.ends(START + seconds * S + 1100 * MS);
    let Some(ran) = run(indicator, &drive) else {
        return;
    };
    // A spike that runs into the first edge begins the frame, by as much as it lasts before.
    let compared = true_within(&ran, &drive, 50);
    let counters = ran.counters();
    println!(
        "{} with {per_frame} spikes a frame: {compared:?} {counters:?}",
        indicator.name
    );
    assert!(compared.readings > 50, "{compared:?}");
    assert!(counters.frames_bad > 50, "{counters:?}");
    assert_eq!(ran.flagged(Flags::ILLEGAL_STEP), 0);
}

#[test]
fn noise_on_the_clock_line_never_makes_a_reading() {
    for seed in 0..3 {
        noise(TWO26, 100 + seed, 0.5);
        noise(DIG36, 200 + seed, 0.5);
    }
    noise(TWO26, 300, 0.9);
}

/// The index bounces at both its edges; each mark counts once, where its first edge was.
#[test]
fn a_bouncing_index_counts_once_and_where_it_began() {
    let mut drive = drive::asked(TWO26.clock, 600, 2);
    drive.index = Some((3, 1000));
    drive::read(&mut drive, TWO26, START, START + 2 * S, 50);
    drive.turn(START, 12_000, 6_000.0, Uneven::default());
    for (cycle, _, _) in drive.marks.clone() {
        // At the mark for 60 us of the 167 that it lasts, and at its end for as long.
        for bounce in 1..6 {
            let edge = cycle + 1 + bounce * 12 * US;
            drive.pin(edge, Z, false);
            drive.pin(edge + 5 * US, Z, true);
            let end = cycle + 2670 + bounce * 12 * US;
            drive.pin(end, Z, true);
            drive.pin(end + 5 * US, Z, false);
        }
    }
    drive.ends(START + 2200 * MS);
    let Some(ran) = run(TWO26, &drive) else {
        return;
    };
    assert_eq!(marks_true(&ran, &drive), 12);
    let last = *ran.samples().last().unwrap();
    assert_eq!(last.index_edges, 12);
    all_true(&ran, &drive);
}

/// Spikes on the index line that are over before anybody looks are no marks.
#[test]
fn spikes_on_the_index_line_are_no_marks() {
    let mut drive = drive::asked(TWO26.clock, 600, 3);
    drive.index = Some((3, 4000));
    drive.turn(START, 12_000, 6_000.0, Uneven::default());
    drive::read(&mut drive, TWO26, START, START + 2 * S, 50);
    let marks: Vec<u64> = drive.marks.iter().map(|mark| mark.0).collect();
    for at in (START..START + 2 * S).step_by(7_321 * US as usize) {
        if marks.iter().all(|mark| mark.abs_diff(at) > 2 * MS) {
            drive.pin(at, Z, true);
            drive.pin(at + 10, Z, false);
        }
    }
    drive.ends(START + 2200 * MS);
    let Some(ran) = run(TWO26, &drive) else {
        return;
    };
    assert_eq!(marks_true(&ran, &drive), drive.marks.len());
    let last = *ran.samples().last().unwrap();
    assert_eq!(usize::from(last.index_edges), drive.marks.len());
}

/// A hand that turns to and fro over the mark, and stops on it.
#[test]
fn a_hand_that_turns_back_at_the_index_loses_nothing() {
    let mut drive = drive::asked(TWO26.clock, 600, 4);
    drive.index = Some((3, 4000));
    drive::read(&mut drive, TWO26, START, START + 6 * S, 50);
    let mut at = START;
    let even = Uneven::default();
    for (counts, rate) in [
        (3, 2_000.0),
        (-1, 2_000.0),
        (1, 500.0),
        (-2, 8_000.0),
        (2, 8_000.0),
        (5, 30_000.0),
        (-9, 30_000.0),
        (4_000, 10_000.0),
        (-4_000, 20_000.0),
        (8_010, 30_000.0),
        (-7, 1_000.0),
        (-8_000, 30_000.0),
    ] {
        at = drive.turn(at, counts, rate, even) + 3 * MS;
    }
    drive.ends(START + 6200 * MS);
    let Some(ran) = run(TWO26, &drive) else {
        return;
    };
    all_true(&ran, &drive);
    assert_eq!(ran.flagged(Flags::ILLEGAL_STEP), 0);
    assert_eq!(i64::from(ran.samples().last().unwrap().count), drive.count);
    // The host finds nothing lost either, whichever way the mark was passed.
    let mut host = FromBridge::new(Bench::new(Length::from_um(1.0), 4000, false));
    for (_, line) in &ran.lines {
        host.feed(line.as_bytes());
        host.feed(b"\n");
    }
    let tally = host.tally();
    assert_eq!(
        (
            tally.counts_lost,
            tally.refused,
            tally.lost,
            tally.illegal_steps
        ),
        (0, 0, 0, 0)
    );
}

/// Edges that an interrupt misses, one and two at a time: the index tells how many.
#[test]
fn the_index_tells_lost_counts_to_one_or_two() {
    for lost in [1_i64, 2, 3, 5, 8, 40] {
        let mut drive = drive::asked(TWO26.clock, 600, 5);
        drive.index = Some((3, 4000));
        let even = Uneven::default();
        let at = drive.turn(START, 9_000, 30_000.0, even);
        // The tracks go on unseen: what the firmware sees is a jump.
        drive.count += lost;
        let (a, b) = drive::levels(drive.count);
        drive.pin(at + MS, drive::A, a);
        drive.pin(at + MS, drive::B, b);
        let end = drive.turn(at + 2 * MS, 20_000, 30_000.0, even);
        drive::read(&mut drive, TWO26, START, end, 50);
        drive.ends(end + 100 * MS);
        let Some(ran) = run(TWO26, &drive) else {
            return;
        };
        let mut host = FromBridge::new(Bench::new(Length::from_um(1.0), 4000, false));
        for (_, line) in &ran.lines {
            host.feed(line.as_bytes());
            host.feed(b"\n");
        }
        let tally = host.tally();
        let counted = drive.count - i64::from(ran.samples().last().unwrap().count);
        println!(
            "{lost} counts jumped: {counted} off, the host found {}",
            tally.counts_lost
        );
        let found = i64::try_from(tally.counts_lost).unwrap();
        assert!((found - counted.abs()).abs() <= 2, "{found} of {counted}");
        if counted.abs() > 1 {
            assert!(found > 0, "{counted} counts that nobody found");
        }
    }
}

/// Rates changed while it turns: no burst, nothing lost, the counts true.
#[test]
fn rates_changed_while_it_turns_send_no_burst() {
    let mut drive = drive::asked(TWO26.clock, 600, 6);
    drive::read(&mut drive, TWO26, START, START + 4 * S, 50);
    drive.turn(START, 100_000, 25_000.0, Uneven::default());
    for (at, rate) in [
        (400, 0),
        (1500, 50),
        (1800, 600),
        (2100, 1),
        (3200, 200),
        (3500, 601),
    ] {
        drive.types(START + at * MS, &format!("R,{rate}\n"));
    }
    drive.ends(START + 4100 * MS);
    let Some(ran) = run(TWO26, &drive) else {
        return;
    };
    all_true(&ran, &drive);
    assert_eq!(ran.missing(), 0);
    assert_eq!(i64::from(ran.samples().last().unwrap().count), drive.count);
    // The line stands 20 ms for the bytes of a command and its answer.
    let lines = ran.decoded();
    let mut rate = 600;
    let mut last: Option<u32> = None;
    let mut answered = Vec::new();
    for line in lines {
        match line {
            Line::Answer(answer) if answer.command == b'R' => {
                answered.push((answer.ok, answer.value));
                if let (true, Some(value)) = (answer.ok, answer.value) {
                    (rate, last) = (value, None);
                }
            }
            Line::Sample(sample) if sample.reading.is_none() => {
                assert_ne!(rate, 0, "{sample:?} was not asked for");
                if let Some(last) = last {
                    let apart = f64::from(sample.t - last) * f64::from(rate) / 1e6;
                    assert!(
                        (0.4..=1.6).contains(&apart),
                        "{apart} of a period at {rate}: {sample:?}"
                    );
                }
                last = Some(sample.t);
            }
            _ => {}
        }
    }
    let taken = [600, 0, 50, 600, 1, 200].map(|rate| (true, Some(rate)));
    assert_eq!(answered[..6], taken);
    assert_eq!(answered[6], (false, None));
}

/// Commands with what a noisy line makes of them: those that are whole are obeyed, others never.
#[test]
fn spoilt_commands_are_not_obeyed_and_the_next_one_is() {
    let mut drive = Drive::new(TWO26.clock, 7);
    for (at, text) in [
        (20, "G*D9D4\n"),
        (30, "GG\n"),
        (40, "G,1\n"),
        (50, "R,200*A0C3\n"),
        (60, "R,-5\n"),
        (70, "\u{1}\u{2}G\n"),
        (80, "this is no command, and far too long to be one\n"),
        (100, "\n\r\n"),
        (110, "R,300*"),
        (120, "\nG*D9D3\r\n"),
    ] {
        drive.types(at * MS, text);
    }
    drive.ends(400 * MS);
    let Some(ran) = run(TWO26, &drive) else {
        return;
    };
    let answers: Vec<&str> = ran.lines.iter().map(|(_, line)| line.as_str()).collect();
    assert!(answers[0].starts_with("H,0,"));
    assert!(answers[1].starts_with("A,1,G,1,*"), "{answers:?}");
    assert!(answers[2..].iter().all(|line| line.starts_with("S,")));
    // At 50 a second, which no spoilt command changed.
    assert!((13..=15).contains(&answers[2..].len()), "{}", answers.len());
    for line in ran.decoded() {
        if let Line::Sample(_) = line {
            assert!(encode(&line).is_ok());
        }
    }
}

/// A storm on the encoder's wires: the bridge lives on, and tells.
#[test]
fn a_storm_of_edges_is_told_and_passes() {
    let mut drive = drive::asked(TWO26.clock, 200, 8);
    for at in (START..START + 500 * MS).step_by(3 * US as usize) {
        let pin = if drive.rng.random_bool(0.5) {
            drive::A
        } else {
            drive::B
        };
        let high = drive.rng.random_bool(0.5);
        let late = drive.rng.random_range(0..40);
        drive.pin(at + late, pin, high);
    }
    drive.pin(START + 510 * MS, drive::A, false);
    drive.pin(START + 520 * MS, drive::B, false);
    drive::read(&mut drive, TWO26, START + 600 * MS, START + 1600 * MS, 50);
    drive.ends(START + 1800 * MS);
    let Some(ran) = run(TWO26, &drive) else {
        return;
    };
    assert_eq!(ran.missing(), 0);
    assert!(ran.flagged(Flags::ILLEGAL_STEP) > 10);
    assert_eq!(ran.readings().len(), drive.frames.len());
    let samples = ran.samples();
    assert!(samples.len() > 330, "{} lines", samples.len());
    let last = samples.last().unwrap();
    assert!(!last.flags.has(Flags::ILLEGAL_STEP));
    // Its clock lost nothing by it.
    let t = i64::from(last.t);
    assert!((1_840_000..1_862_000).contains(&t), "{t}");
}

/// The line has no way to wait for a host that does not read: what it misses is missing, is counted to
/// the line, and what comes behind it is true.
#[test]
fn a_host_that_stops_reading_knows_what_it_missed() {
    let mut drive = drive::asked(TWO26.clock, 600, 9);
    drive.index = Some((3, 4000));
    drive::read(&mut drive, TWO26, START, START + 4 * S, 50);
    drive.turn(START, 80_000, 20_000.0, Uneven::default());
    drive.ends(START + 4100 * MS);
    let Some(ran) = run(TWO26, &drive) else {
        return;
    };
    let whole: String = ran
        .lines
        .iter()
        .map(|(_, line)| format!("{line}\n"))
        .collect();
    for (from, length) in [(20_001, 3), (30_000, 400), (40_003, 31_007)] {
        let kept = [
            &whole.as_bytes()[..from],
            &whole.as_bytes()[from + length..],
        ]
        .concat();
        let mut host = FromBridge::new(Bench::new(Length::from_um(1.0), 4000, false));
        host.feed(&kept);
        let tally = host.tally();
        let fewer = ran.lines.len() as u64 - tally.good;
        println!(
            "{length} bytes away: {} lines lost, {} refused",
            tally.lost, tally.refused
        );
        assert!(
            fewer > 0 && tally.lost == fewer && tally.refused <= 1,
            "{tally:?}"
        );
        assert_eq!((tally.counts_lost, tally.restarts), (0, 0));
        let samples: Vec<_> = host.since(0).collect();
        let last = samples.last().unwrap();
        let reading = ran.readings();
        let expected = reading.last().unwrap();
        assert!((last.angle.turns() * 4000.0 - f64::from(expected.count)).abs() < 0.5);
    }
}
