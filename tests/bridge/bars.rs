//! What the bridge must hold: edges, lines and times, on the emulated controller.

use super::drive::{self, CLOCK, DATA, Drive, Frame, MS, POKE, RESET, S, START, Uneven};
use super::emulated::{Ran, run, run_at};
use super::indicators::{DIG36, Indicator, MAG30, TWO26};
use super::truth::{TIME_US, all_true, clock_of, cycles, marks_true};
use super::{made, truth};
use heelclear::gauge::frame::{Flags, Line, decode};
use std::process::Command;

/// Losses of any kind.
const LOSSES: Flags = Flags::ILLEGAL_STEP
    .with(Flags::BAD_FRAME)
    .with(Flags::LINES_DROPPED)
    .with(Flags::FRAME_LOST);

/// Turns for so long at a rate, below 0 backwards, with 50 readings and 600 positions a second.
fn turned(indicator: Indicator, rate: f64, uneven: Uneven, seconds: u64, seed: u64) -> Drive {
    let mut drive = drive::asked(indicator.clock, 600, seed);
    drive.index = Some((3, 4000));
    drive::read(&mut drive, indicator, START, START + seconds * S, 50);
    let counts = (rate * seconds as f64) as i64;
    let done = drive.turn(START, counts, rate.abs(), uneven);
    drive.ends(done.max(START + seconds * S) + 100 * MS);
    drive
}

/// Everything arrives, and everything that arrives is true.
#[track_caller]
fn nothing_lost(indicator: Indicator, rate: f64, uneven: Uneven, seconds: u64) -> Option<Ran> {
    let drive = turned(indicator, rate, uneven, seconds, 11);
    let ran = run(indicator, &drive)?;
    let compared = all_true(&ran, &drive);
    println!(
        "{} at {rate} edges/s, {uneven:?}: {compared:?}, locked {}",
        indicator.name, ran.locked
    );
    assert_eq!(ran.missing(), 0, "lines");
    assert_eq!(ran.flagged(Flags::ILLEGAL_STEP), 0, "told losses");
    assert_eq!(ran.flagged(Flags::LINES_DROPPED), 0, "told lines");
    assert!(compared.positions >= 590 * seconds as usize, "{compared:?}");
    let last = ran.samples().last().unwrap().count;
    assert_eq!(i64::from(last), drive.count, "counts");
    // A mark that is narrow for this rate may be over before it is looked at.
    let narrow = rate.abs() > 30_000.0 || uneven.phase != 0.0;
    let least = drive.marks.len() - usize::from(narrow) * (1 + drive.marks.len() / 10);
    assert!(marks_true(&ran, &drive) >= least, "marks");
    assert!(compared.time_off_us <= TIME_US, "{compared:?}");
    if rate.abs() <= 30_000.0 {
        assert_eq!(ran.flagged(LOSSES), 0, "any loss");
        assert_eq!(compared.readings, drive.frames.len(), "readings");
    }
    // Beyond, a bit may be read too late between two edges: its frame is refused, and told.
    assert!(
        compared.readings * 20 >= drive.frames.len() * 19,
        "{compared:?}"
    );
    Some(ran)
}

#[test]
fn thirty_thousand_edges_a_second_are_counted_beside_fifty_readings() {
    let even = Uneven::default();
    if nothing_lost(TWO26, 30_000.0, even, 3).is_none() {
        return;
    }
    for uneven in [
        Uneven {
            jitter: 0.1,
            phase: 0.5,
        },
        // 60 degrees, either way: a third of the time between two edges is left.
        Uneven {
            jitter: 0.0,
            phase: 2.0 / 3.0,
        },
        Uneven {
            jitter: 0.0,
            phase: -2.0 / 3.0,
        },
    ] {
        nothing_lost(TWO26, 30_000.0, uneven, 2);
        nothing_lost(TWO26, -30_000.0, uneven, 1);
    }
    // What counts is the time between two edges, 9.3 us here; evenly, that is many more.
    for phase in [2.0 / 3.0, -2.0 / 3.0] {
        let uneven = Uneven { jitter: 0.0, phase };
        nothing_lost(TWO26, 36_000.0, uneven, 2);
    }
    nothing_lost(TWO26, 60_000.0, even, 2);
}

#[test]
fn a_clock_of_90_khz_is_read_while_thirty_thousand_edges_a_second_are_counted() {
    for uneven in [
        Uneven::default(),
        Uneven {
            jitter: 0.05,
            phase: 0.5,
        },
    ] {
        let drive = turned(DIG36, 30_000.0, uneven, 4, 5);
        let Some(ran) = run(DIG36, &drive) else {
            return;
        };
        let compared = all_true(&ran, &drive);
        let counters = ran.counters();
        println!("{uneven:?}: {compared:?} {counters:?}");
        // A few whose first bit came while another interrupt was under way are refused, and counted.
        assert!(compared.readings * 10 >= drive.frames.len() * 9);
        let refused = drive.frames.len() - compared.readings;
        assert!(usize::from(counters.frames_bad) <= refused);
        assert_eq!(ran.flagged(Flags::ILLEGAL_STEP), 0);
        assert_eq!(i64::from(ran.samples().last().unwrap().count), drive.count);
    }
    // At rest there is nothing in the way.
    let mut drive = drive::asked(DIG36.clock, 600, 6);
    drive::read(&mut drive, DIG36, START, START + 4 * S, 50);
    drive.ends(START + 4 * S + 100 * MS);
    let ran = run(DIG36, &drive).unwrap();
    assert_eq!(all_true(&ran, &drive).readings, drive.frames.len());
    assert_eq!(ran.flagged(LOSSES), 0);
}

/// Frames whose first edge stands around the instant at which the capture timer goes round.
#[test]
fn the_time_of_a_frame_is_right_where_the_timer_goes_round() {
    let asked = |frames: &dyn Fn(&mut Drive)| {
        let mut drive = drive::asked(TWO26.clock, 50, 81);
        drive.turn(START, 90_000, 20_000.0, Uneven::default());
        frames(&mut drive);
        drive.ends(START + 4500 * MS);
        drive
    };
    let send = |drive: &mut Drive, at: u64, value: i32| {
        let bits = (TWO26.bits)(value, false);
        drive.frame(at, value, &bits, TWO26.clock);
    };
    // When the timer began, to a tick of eight cycles, by a first run.
    let first = asked(&|drive| {
        (0..16).for_each(|at| send(drive, START + at * 10 * MS + at, 100 + at as i32))
    });
    let Some(ran) = run(TWO26, &first) else {
        return;
    };
    let readings = ran.readings();
    let began = readings
        .iter()
        .zip(&first.frames)
        .map(|(sample, frame)| frame.cycle - u64::from(sample.t) * drive::US);
    let began = began.min().unwrap();
    let lap = 32_768 * drive::US;
    let second = asked(&|drive| {
        for number in 0..120_u64 {
            // From 15 us before to 15 us behind, in steps of 4 cycles.
            let at = began + (number + 4) * lap + number * 4 - 240;
            send(drive, at, 1000 + number as i32);
        }
    });
    let ran = run(TWO26, &second).unwrap();
    let compared = all_true(&ran, &second);
    assert_eq!(compared.readings, 120);
    assert!(compared.time_off_us <= 1, "{compared:?}");
}

/// Data that changes while the clock still stands: a bit that is read behind that is refused, however
/// busy the controller is.
#[test]
fn a_bit_that_is_read_later_than_it_holds_is_never_believed() {
    let mut refused = 0;
    for (rate, seed) in [(50_000.0, 1), (70_000.0, 2), (90_000.0, 3)] {
        let mut drive = drive::asked(TWO26.clock, 600, 90 + seed);
        let end = START + 2 * S;
        drive.turn(START, (rate * 2.0) as i64, rate, Uneven::default());
        for at in (START..end - 10 * MS).step_by(10 * MS as usize) {
            let value = rand::Rng::random_range(&mut drive.rng, -TWO26.most..=TWO26.most);
            let bits = (TWO26.bits)(value, false);
            // 30 us a bit, of which the clock stands at its new level for 27 and data holds for 19.
            drive.pin(at - 5 * drive::US, DATA, bits[0]);
            for (number, edge) in (0..bits.len()).zip((at..).step_by(480)) {
                drive.pin(edge, CLOCK, false);
                let next = bits.get(number + 1).copied().unwrap_or(true);
                drive.pin(edge + 19 * drive::US, DATA, next);
                drive.pin(edge + 27 * drive::US, CLOCK, true);
            }
            drive.frames.push(Frame { cycle: at, value });
        }
        drive.ends(end + 1100 * MS);
        let Some(ran) = run(TWO26, &drive) else {
            return;
        };
        let compared = all_true(&ran, &drive);
        let bad = ran.counters().frames_bad;
        println!("{rate} edges/s: {compared:?}, {bad} refused");
        assert_eq!(compared.readings + usize::from(bad), drive.frames.len());
        refused += bad;
    }
    assert!(refused > 20, "nothing was ever late");
}

/// A clock that is faster than the description allows is refused every time, and never read.
#[test]
fn a_clock_faster_than_described_is_refused_and_counted() {
    for (indicator, half) in [(TWO26, 89), (TWO26, 150), (DIG36, 60), (DIG36, 40)] {
        let mut fast = indicator;
        fast.clock.half = half;
        let mut drive = drive::asked(indicator.clock, 50, 7);
        drive::read(&mut drive, fast, START, START + 2 * S, 50);
        let even = Uneven::default();
        drive.turn(START, 20_000, 10_000.0, even);
        drive.ends(START + 2 * S + 100 * MS);
        let Some(ran) = run(indicator, &drive) else {
            return;
        };
        assert_eq!(ran.readings(), [], "{half}");
        assert!(ran.flagged(Flags::BAD_FRAME) > 0);
        let bad = ran.counters().frames_bad;
        assert!(
            (90..=120).contains(&bad),
            "{bad} of 100 are counted at {half}"
        );
    }
}

#[test]
fn a_description_that_the_controller_cannot_keep_is_refused_by_the_compiler() {
    #[track_caller]
    fn check(indicator: &str, from: &str, to: &str, word: &str) {
        if let Some(said) = made::refusal(indicator, from, to) {
            assert!(said.contains(word), "`{word}` is not in {said}");
        }
    }
    check("two26", "HOLD_US 18", "HOLD_US 8", "HOLD_US: at least 12");
    check(
        "two26",
        "HOLD_US 18",
        "HOLD_US 30",
        "HOLD_US: data cannot hold",
    );
    check("dig36", "HOLD_US 5", "HOLD_US 4", "HOLD_US: at least 5");
    check(
        "dig36",
        "CLOCK_LEAST_US 10",
        "CLOCK_LEAST_US 9",
        "at least 10",
    );
    check(
        "dig36",
        "PAUSE_US 1000",
        "PAUSE_US 300",
        "PAUSE_US: at least 500",
    );
    check("dig36", "CLOCK_MOST_US 40", "CLOCK_MOST_US 300", "8 ms");
    check("two26", "PAUSE_US 2000", "PAUSE_US 30000", "at most 20,000");
    check("two26", "PAUSE_US 2000", "PAUSE_US 400", "longer than any");
    check(
        "two26",
        "VALUE_LENGTH 22",
        "VALUE_LENGTH 25",
        "beyond the frame",
    );
    check("two26", "VALUE_LENGTH 22", "VALUE_LENGTH 33", "2 to 32");
    check("dig36", "VALUE_LENGTH 6", "VALUE_LENGTH 10", "1 to 9");
    check("two26", "FRAME_BITS 26", "FRAME_BITS 129", "1 to 128");
    check("two26", "UNIT_AT 24", "UNIT_AT 26", "beyond the frame");
}

/// Position lines whose count went astray against the line before, without a line that tells it.
fn untold(ran: &Ran, drive: &Drive, rate: f64) -> (usize, usize) {
    let behind = clock_of(ran, drive);
    let samples = ran.samples();
    // By how much a count can seem to be off, for what the time beside it is off.
    let tolerance = (rate * 5e-6) as i64 + 2;
    let mut before: Option<(usize, i64)> = None;
    let (mut losses, mut untold) = (0, 0);
    for (at, sample) in samples.iter().enumerate() {
        if sample.reading.is_some() {
            continue;
        }
        let (from, to) = cycles(sample, behind);
        let there = drive.counts((from + to) / 2, (from + to) / 2);
        // Continuous over 16 bits as the lines are, unlike the truth's own range.
        let off = i64::from(sample.count) - there.start();
        if let Some((last, was)) = before
            && (off - was).abs() > tolerance
        {
            losses += 1;
            // What is lost while a line is made may be told by it already.
            let told = samples[last..=at].iter();
            let told = told.filter(|line| line.flags.has(Flags::ILLEGAL_STEP));
            untold += usize::from(told.count() == 0);
        }
        before = Some((at, off));
    }
    (losses, untold)
}

#[test]
fn every_count_that_is_lost_is_told() {
    let mut lost = 0;
    for (rate, phase, jitter) in [
        (40_000.0, 0.8, 0.05),
        (60_000.0, 0.6, 0.1),
        (80_000.0, 0.5, 0.1),
        (100_000.0, 0.0, 0.3),
        (130_000.0, 0.3, 0.2),
        (160_000.0, 0.0, 0.0),
        (200_000.0, 0.5, 0.2),
        (250_000.0, 0.0, 0.1),
    ] {
        let uneven = Uneven { jitter, phase };
        let mut drive = turned(TWO26, rate, uneven, 1, 21);
        // A last reading at rest, by which the clocks are compared.
        let end = START + S + 20 * MS;
        for at in 0..3 {
            let value = 1000 + at;
            let bits = (TWO26.bits)(value, false);
            drive.frame(end + at as u64 * 20 * MS, value, &bits, TWO26.clock);
        }
        let Some(ran) = run(TWO26, &drive) else {
            return;
        };
        let (losses, untold) = untold(&ran, &drive, rate);
        let off = drive.count - i64::from(ran.samples().last().unwrap().count);
        let told = ran.flagged(Flags::ILLEGAL_STEP);
        println!("{rate} edges/s, {uneven:?}: {off} counts lost, {losses} losses, {told} told");
        assert_eq!(untold, 0, "losses that no line tells at {rate}");
        assert!(off == 0 || told > 0, "{off} counts");
        lost += usize::from(off != 0);
    }
    assert!(lost >= 4, "the rates were too low to lose anything");
}

#[test]
fn no_line_is_lost_at_500_kbaud_and_one_that_finds_no_room_is_told() {
    let drive = turned(TWO26, 5_000.0, Uneven::default(), 4, 31);
    let Some(ran) = run(TWO26, &drive) else {
        return;
    };
    assert_eq!(ran.missing(), 0);
    assert!(ran.lines.len() > 600 * 4 + 50 * 4);
    // More than the slow line has room for: what is missing is told, and counted to the line.
    let mut drive = drive::asked(TWO26.clock, 138, 32);
    drive::read(&mut drive, TWO26, START, START + 3 * S, 250);
    drive.types(START + 3 * S + 10 * MS, "R,0\n");
    drive.ends(START + 5 * S);
    let ran = run_at(TWO26, 115_200, &drive).unwrap();
    let compared = all_true(&ran, &drive);
    let (missing, counters) = (ran.missing(), ran.counters());
    println!("{missing} lines missing, {compared:?}, {counters:?}");
    assert!(missing > 100);
    assert_eq!(missing, u32::from(counters.lines_dropped));
    assert!(ran.flagged(Flags::LINES_DROPPED) > 10);
    assert_eq!(counters.frames_ok as usize, drive.frames.len());
}

#[test]
fn the_hello_says_what_it_expects() {
    for indicator in [TWO26, MAG30, DIG36] {
        let mut drive = Drive::new(indicator.clock, 1);
        drive.ends(50 * MS);
        let Some(ran) = run(indicator, &drive) else {
            return;
        };
        let [(_, hello)] = ran.lines.as_slice() else {
            panic!("{:?}", ran.lines);
        };
        for word in [
            format!(",ind={},", indicator.name),
            ",proto=1,".to_owned(),
            ",id=ref328p,".to_owned(),
            ",baud=500000*".to_owned(),
        ] {
            assert!(hello.contains(&word), "{hello}");
        }
    }
}

/// Wherever in a line it is cut off, the hello comes whole.
#[test]
fn a_reset_while_it_turns_begins_again_with_a_hello() {
    for late in 0..12_u64 {
        let mut drive = drive::asked(TWO26.clock, 600, 41);
        drive::read(&mut drive, TWO26, START, START + 400 * MS, 50);
        drive.turn(START, 12_000, 30_000.0, Uneven::default());
        drive.event(START + 200 * MS + late * 2_003, RESET, 0, 0, 0);
        drive.types(START + 300 * MS, "G\n");
        drive.ends(START + 500 * MS);
        let Some(ran) = run(TWO26, &drive) else {
            return;
        };
        let starts = |line: &str| line.starts_with("H,0,") && decode(line.as_bytes()).is_ok();
        let lines: Vec<&str> = ran.lines.iter().map(|(_, line)| line.as_str()).collect();
        let hellos = lines.iter().filter(|line| starts(line)).count();
        assert_eq!(hellos, 2, "one at each start: {lines:?}");
        let behind = lines.iter().skip_while(|line| starts(line));
        let behind = behind.skip_while(|line| !starts(line)).skip(1);
        let mut samples = behind.filter_map(|line| match decode(line.as_bytes()) {
            Ok(Line::Sample(sample)) => Some(sample),
            _ => None,
        });
        // Its counts and its clock begin at 0, and it sends nothing before it is asked.
        let first = samples.next().unwrap();
        assert!((2_900..3_100).contains(&first.count), "{first:?}");
        assert!((95_000..105_000).contains(&first.t), "{first:?}");
    }
}

/// The 32 bits of the clock, with frames and positions on both sides of their end.
#[test]
fn time_goes_on_over_the_end_of_its_32_bits() {
    let Some(firmware) = made::firmware("two26", 500_000) else {
        return;
    };
    let names = Command::new("avr-nm").arg(firmware).output().unwrap();
    let names = String::from_utf8(names.stdout).unwrap();
    let laps = names.lines().find(|line| line.ends_with(" laps")).unwrap();
    let laps = u32::from_str_radix(&laps[4..8], 16).unwrap();
    let mut drive = drive::asked(TWO26.clock, 600, 51);
    // A lap is 32,768 us, and 2^17 of them are all.
    drive.event(10 * MS, POKE, 0, laps as u16, (1 << 17) - 16);
    drive::read(&mut drive, TWO26, START, START + 2 * S, 100);
    drive.turn(START, 20_000, 10_000.0, Uneven::default());
    drive.ends(START + 2 * S + 100 * MS);
    let Some(ran) = run(TWO26, &drive) else {
        return;
    };
    let samples = ran.samples();
    assert!(samples[0].t > u32::MAX - 1_000_000 && samples.last().unwrap().t < 2_000_000);
    assert_eq!(ran.flagged(LOSSES), 0);
    let readings = ran.readings();
    assert_eq!(readings.len(), drive.frames.len());
    let behind = |at: usize| (drive.frames[at].cycle / drive::US) as u32;
    let first = readings[0].t.wrapping_sub(behind(0));
    for (at, sample) in readings.iter().enumerate() {
        let off = sample.t.wrapping_sub(behind(at)).wrapping_sub(first) as i32;
        assert!(
            i64::from(off.abs()) <= truth::TIME_US,
            "{sample:?} is off by {off}"
        );
        assert_eq!(sample.reading, Some(drive.frames[at].value));
    }
    let mut last = samples[0].t;
    for sample in samples.iter().filter(|sample| sample.reading.is_none()) {
        let since = sample.t.wrapping_sub(last);
        assert!(since < 4_000, "{sample:?} {since}");
        last = sample.t;
    }
}

/// The controller asks, and the indicator answers some time behind that.
#[test]
fn an_indicator_that_is_asked_answers_within_its_request() {
    let mut drive = drive::asked(MAG30.clock, 100, 61);
    drive.ends(START + 2 * S);
    // What is asked does not hang on the answers but for when the line is let go.
    let Some(silent) = run(MAG30, &drive) else {
        return;
    };
    // The line is pulled low to ask.
    let asks = silent
        .asked
        .iter()
        .filter(|(cycle, high)| !high && *cycle > START);
    let asks: Vec<u64> = asks.map(|(cycle, _)| *cycle).collect();
    assert!(
        (78..=82).contains(&asks.len()),
        "{} in two seconds",
        asks.len()
    );
    let no_frame = silent.samples();
    assert!(
        no_frame
            .iter()
            .all(|sample| sample.flags.has(Flags::NO_FRAME))
    );
    for at in &asks {
        let value = rand::Rng::random_range(&mut drive.rng, -MAG30.most..=MAG30.most);
        let bits = (MAG30.bits)(value, false);
        drive.frame(at + 3 * MS, value, &bits, MAG30.clock);
    }
    drive.turn(START, 20_000, 10_000.0, Uneven::default());
    let ran = run(MAG30, &drive).unwrap();
    let compared = all_true(&ran, &drive);
    // The last may come behind the end.
    assert!(compared.readings + 1 >= drive.frames.len(), "{compared:?}");
    assert_eq!(ran.flagged(LOSSES), 0);
    for frame in &drive.frames[..drive.frames.len() - 1] {
        let before = ran.asked.iter().rfind(|(cycle, _)| *cycle < frame.cycle);
        assert!(!before.unwrap().1, "{frame:?} was not asked for");
        let let_go = ran
            .asked
            .iter()
            .find(|(cycle, _)| *cycle > frame.cycle)
            .unwrap();
        assert!(
            let_go.1 && let_go.0 < frame.cycle + 10 * MS,
            "{frame:?}: {let_go:?}"
        );
    }
}

/// Inches are told with the reading.
#[test]
fn the_unit_that_is_shown_goes_with_each_reading() {
    let mut drive = drive::asked(DIG36.clock, 0, 71);
    for at in 0..20_u64 {
        let value = 1000 + at as i32;
        let bits = (DIG36.bits)(value, at >= 10);
        drive.frame(START + at * 20 * MS, value, &bits, DIG36.clock);
    }
    drive.ends(START + S);
    let Some(ran) = run(DIG36, &drive) else {
        return;
    };
    let readings = ran.readings();
    assert_eq!(readings.len(), 20);
    for (at, sample) in readings.iter().enumerate() {
        assert_eq!(sample.flags.has(Flags::INCH), at >= 10, "{sample:?}");
    }
}
