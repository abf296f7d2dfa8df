//! The protocol is one: what the firmware's C writes, the program's Rust reads, and the other way round.

use super::made;
use heelclear::gauge::frame::{Command, Flags, Line, SampleLine, decode, encode};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::io::Write;
use std::process::{Command as Process, Stdio};

/// Asks the C for a line for each of these; nothing where there is no compiler.
fn asks(lines: &[String]) -> Option<Vec<String>> {
    let mut program = Process::new(made::wire()?)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let text = lines.join("\n") + "\n";
    let mut into = program.stdin.take().unwrap();
    let writer = std::thread::spawn(move || into.write_all(text.as_bytes()));
    let said = program.wait_with_output().unwrap();
    writer.join().unwrap().unwrap();
    let said = String::from_utf8(said.stdout).unwrap();
    Some(said.lines().map(str::to_owned).collect())
}

fn any_sample(rng: &mut Pcg64) -> SampleLine {
    let mut ends = |all: &[i64]| match rng.random_range(0..3) {
        0 => all[rng.random_range(0..all.len())],
        _ => rng.random_range(*all.iter().min().unwrap()..=*all.iter().max().unwrap()),
    };
    let signed = [i64::from(i32::MIN), -1, 0, 1, i64::from(i32::MAX)];
    let bits16 = [0, 1, 9, 10, 65_535];
    SampleLine {
        seq: ends(&bits16) as u16,
        t: ends(&[0, 1, 999_999_999, 1_000_000_000, i64::from(u32::MAX)]) as u32,
        count: ends(&signed) as i32,
        reading: (ends(&[0, 1]) == 1).then(|| ends(&signed) as i32),
        index_edges: ends(&bits16) as u16,
        index_count: ends(&signed) as i32,
        flags: Flags(ends(&[0, 0x10, 0xFF]) as u8),
    }
}

#[test]
fn what_the_firmware_writes_the_program_reads() {
    let mut rng = Pcg64::seed_from_u64(1);
    let samples: Vec<SampleLine> = (0..20_000).map(|_| any_sample(&mut rng)).collect();
    let asked = samples.iter().map(|s| {
        let (has, reading) = (u8::from(s.reading.is_some()), s.reading.unwrap_or(0));
        format!(
            "S{} {} {} {has} {reading} {} {} {:x}",
            s.seq, s.t, s.count, s.index_edges, s.index_count, s.flags.0
        )
    });
    let Some(written) = asks(&asked.collect::<Vec<_>>()) else {
        return;
    };
    assert_eq!(written.len(), samples.len());
    for (line, sample) in written.iter().zip(samples) {
        let sample = Line::Sample(sample);
        assert_eq!(decode(line.as_bytes()), Ok(sample), "{line}");
        // To the byte, and not only in what it means.
        let ours = encode(&sample).unwrap();
        assert_eq!(ours.as_bytes(), format!("{line}\n").as_bytes());
    }
}

#[test]
fn what_the_program_asks_the_firmware_understands() {
    let mut rng = Pcg64::seed_from_u64(2);
    let mut commands = vec![
        Command::Identify,
        Command::Start,
        Command::Stop,
        Command::Zero,
        Command::Clear,
    ];
    commands.extend((0..=1_200).map(Command::Rate));
    let whole = |command: &Command| {
        let line = command.encode().unwrap();
        String::from_utf8(line.as_bytes().to_vec()).unwrap()
    };
    let mut asked: Vec<String> = commands.iter().map(whole).collect();
    // Spoilt by one character, or cut.
    for _ in 0..5_000 {
        let mut line = asked[rng.random_range(0..commands.len())]
            .clone()
            .into_bytes();
        line.pop();
        match rng.random_range(0..3) {
            0 => line.truncate(rng.random_range(0..line.len())),
            1 => {
                let at = rng.random_range(0..line.len());
                line[at] = rng.random_range(b' '..=b'~');
            }
            _ => line.insert(
                rng.random_range(0..=line.len()),
                rng.random_range(b' '..=b'~'),
            ),
        }
        asked.push(String::from_utf8(line).unwrap());
    }
    let lines: Vec<String> = asked
        .iter()
        .map(|line| format!("C{}", line.trim_end_matches('\n')))
        .collect();
    let Some(understood) = asks(&lines) else {
        return;
    };
    assert_eq!(understood.len(), asked.len());
    let mut refused = 0;
    for (line, heard) in asked.iter().zip(&understood) {
        let ours = match Command::decode(line.trim_end_matches('\n').as_bytes()) {
            // More digits than any rate has.
            Ok(Command::Rate(rate)) if rate > 99_999 => "none".to_owned(),
            Ok(Command::Rate(rate)) => format!("R {rate}"),
            Ok(command) => format!("{} 0", char::from(command.letter())),
            Err(_) => "none".to_owned(),
        };
        assert_eq!(*heard, ours, "{line:?}");
        refused += usize::from(ours == "none");
    }
    assert!(refused > 4_000, "{refused} spoilt commands");
}
