//! Bridge protocol 1 on its worked lines, on damage, and on anything at all.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr
)]

use heelclear::gauge::frame::{
    Answer, Assembler, Command, Counters, Flags, Followed, Hello, Line, Refusal, SampleLine,
    Sequence, Unwrap, decode, encode, encode_hello,
};
use heelclear::quantity::Length;
use heelclear::sample::{Bench, FromBridge, Mark, Sample};
use proptest::prelude::*;

fn sample(line: &str) -> SampleLine {
    match decode(line.as_bytes()) {
        Ok(Line::Sample(sample)) => sample,
        other => panic!("{line}: {other:?}"),
    }
}

/// Decodes to this, and this encodes to the same bytes.
#[track_caller]
fn check(line: &str, expected: Line<'_>) {
    assert_eq!(decode(line.as_bytes()), Ok(expected), "{line}");
    let encoded = encode(&expected).unwrap();
    assert_eq!(encoded.as_bytes(), format!("{line}\n").as_bytes());
}

#[track_caller]
fn refused(line: &str, reason: Refusal) {
    assert_eq!(decode(line.as_bytes()), Err(reason), "{line}");
}

/// A body with its checksum, which is right.
fn closed(body: &str) -> String {
    let crc = crc::Crc::<u16>::new(&crc::CRC_16_IBM_3740).checksum(body.as_bytes());
    format!("{body}*{crc:04X}")
}

#[test]
fn the_checksum_is_that_of_the_published_check_value() {
    // CRC catalogue, CRC-16/IBM-3740: check value of `123456789` is 29B1.
    assert!(closed("123456789").ends_with("*29B1"));
}

#[test]
fn the_worked_lines_of_the_protocol_mean_what_they_say() {
    check(
        "H,0,proto=1,fw=0.1.0,id=ref328p,tick=1000000,quad=4,ind=bits24,max=96,baud=500000*46F8",
        Line::Hello(Hello {
            seq: 0,
            pairs: b"proto=1,fw=0.1.0,id=ref328p,tick=1000000,quad=4,ind=bits24,max=96,baud=500000",
        }),
    );
    let s = |seq, t, count, reading, index_edges, index_count, flags| {
        Line::Sample(SampleLine {
            seq,
            t,
            count,
            reading,
            index_edges,
            index_count,
            flags: Flags(flags),
        })
    };
    check("S,1,21003,0,,0,0,01*56FB", s(1, 21003, 0, None, 0, 0, 1));
    check(
        "S,57,1049848,1899,-1234,1,100,10*30C1",
        s(57, 1_049_848, 1899, Some(-1234), 1, 100, 0x10),
    );
    check(
        "S,58,1060555,1921,,1,100,00*BA9B",
        s(58, 1_060_555, 1921, None, 1, 100, 0),
    );
    check(
        "S,60,4294967290,2410,6789,2,2500,10*AFFA",
        s(60, 4_294_967_290, 2410, Some(6789), 2, 2500, 0x10),
    );
    check(
        "S,61,12704,2431,6790,2,2500,00*155B",
        s(61, 12704, 2431, Some(6790), 2, 2500, 0),
    );
    check(
        "S,65535,99048,-51,-1048575,65535,-2300,FF*B08B",
        s(65535, 99048, -51, Some(-1_048_575), 65535, -2300, 0xFF),
    );
    check(
        "S,0,109061,-49,,65535,-2300,20*A408",
        s(0, 109_061, -49, None, 65535, -2300, 0x20),
    );
    check(
        "T,110,2001039,81,2,0,0,0*5C38",
        Line::Counters(Counters {
            seq: 110,
            t: 2_001_039,
            frames_ok: 81,
            frames_bad: 2,
            ..Counters::default()
        }),
    );
    check(
        "A,52,R,1,200*C671",
        Line::Answer(Answer {
            seq: 52,
            command: b'R',
            ok: true,
            value: Some(200),
        }),
    );
}

#[test]
fn the_worked_commands_are_those_of_the_protocol() {
    for (line, command) in [
        ("?*264C", Command::Identify),
        ("G*D9D3", Command::Start),
        ("X*3A0D", Command::Stop),
        ("R,200*A0C2", Command::Rate(200)),
        ("Z*1A4F", Command::Zero),
        ("C*9957", Command::Clear),
    ] {
        assert_eq!(Command::decode(line.as_bytes()), Ok(command));
        let typed = line.split('*').next().unwrap();
        assert_eq!(
            Command::decode(typed.as_bytes()),
            Ok(command),
            "typed by hand"
        );
        let sent = command.encode().unwrap();
        assert_eq!(sent.as_bytes(), format!("{line}\n").as_bytes());
    }
    assert_eq!(Command::decode(b"G*D9D4"), Err(Refusal::Crc));
    assert_eq!(Command::decode(b"R,-1"), Err(Refusal::Form));
    assert_eq!(Command::decode(b"Q"), Err(Refusal::Form));
}

#[test]
fn a_hello_tells_its_keys() {
    let line =
        b"H,0,proto=1,fw=0.1.0,id=ref328p,tick=1000000,quad=4,ind=bits24,max=96,baud=500000*46F8";
    let Ok(Line::Hello(hello)) = decode(line) else {
        panic!("not a hello");
    };
    assert_eq!(hello.number("proto"), Some(1));
    assert_eq!(hello.get("ind"), Some(&b"bits24"[..]));
    assert_eq!(hello.number("ind"), None);
    assert_eq!(hello.get("pro"), None);
}

#[test]
fn a_field_in_the_wrong_form_is_refused_though_its_checksum_is_right() {
    let good = "S,1,2,3,4,5,6,00";
    assert!(decode(closed(good).as_bytes()).is_ok());
    for body in [
        "S,65536,2,3,4,5,6,00",
        "S,-1,2,3,4,5,6,00",
        "S,01,2,3,4,5,6,00",
        "S,1,4294967296,3,4,5,6,00",
        "S,1,2,2147483648,4,5,6,00",
        "S,1,2,-2147483649,4,5,6,00",
        "S,1,2,,4,5,6,00",
        "S,1,2,+3,4,5,6,00",
        "S,1,2,-,4,5,6,00",
        "S,1,2,-0,4,5,6,00",
        "S,1,2,3,4.5,5,6,00",
        "S,1,2,3, 4,5,6,00",
        "S,1,2,3,4,5,6,0",
        "S,1,2,3,4,5,6,000",
        "S,1,2,3,4,5,6,0G",
        "A,1,RR,1,2",
        "A,1,R,2,2",
        "H,1,proto",
        "H,1,proto=1,=2",
        "H,1,proto=one",
        "T,1,2,3,4,5,6,70000",
        "1,2,3",
        "",
        "SS,1",
        "Q,x",
    ] {
        refused(&closed(body), Refusal::Form);
    }
    for body in [
        "S",
        "S,1,2,3,4,5,6",
        "H,1",
        "H,1,fw=2",
        "T,1,2,3",
        "A,1,R,1",
    ] {
        refused(&closed(body), Refusal::Fields);
    }
    assert_eq!(
        sample(&closed("S,1,2,-2147483648,4,5,6,00")).count,
        i32::MIN
    );
}

#[test]
fn what_later_versions_add_is_passed_over() {
    let more = closed("S,1,2,3,4,5,6,00,new,fields");
    assert_eq!(sample(&more), sample(&closed("S,1,2,3,4,5,6,00")));
    let letter = closed("Q,7,anything");
    let expected = Line::Unknown {
        seq: 7,
        letter: b'Q',
    };
    assert_eq!(decode(letter.as_bytes()), Ok(expected));
}

#[test]
fn length_and_characters_are_checked() {
    let longest = closed(&format!("Q,1,{}", "x".repeat(86)));
    assert_eq!(longest.len(), 95);
    assert!(decode(longest.as_bytes()).is_ok());
    assert!(decode(format!("{longest}\r\n").as_bytes()).is_ok());
    refused(&closed(&format!("Q,1,{}", "x".repeat(87))), Refusal::Length);
    refused(&closed("Q,1,\u{7f}"), Refusal::Character);
    refused(&closed("Q,1,a\tb"), Refusal::Character);
    refused(&closed("Q,1,a*b"), Refusal::Character);
    refused("S,1,21003,0,,0,0,01*56fb", Refusal::Character);
    refused("S,1,21003,0,,0,0,0156FB", Refusal::Character);
    refused("*", Refusal::Character);
    refused("S,1,21003,0,,0,0,01*56FA", Refusal::Crc);
}

#[test]
fn time_and_counts_unwrap_by_signed_differences() {
    let mut time = Unwrap::default();
    assert_eq!(time.follow(4_294_967_290), 4_294_967_290);
    assert_eq!(time.follow(12_704), 4_294_967_296 + 12_704);
    assert_eq!(
        time.follow(4_294_967_295),
        4_294_967_295,
        "a line may lie before the last"
    );
    let mut count = Unwrap::default();
    assert_eq!(count.follow_signed(-5), -5);
    assert_eq!(count.follow_signed(i32::MIN), i64::from(i32::MIN));
    assert_eq!(count.follow_signed(i32::MAX), i64::from(i32::MIN) - 1);
}

#[test]
fn gaps_in_the_sequence_are_counted_over_its_end() {
    let mut sequence = Sequence::default();
    let lost: Vec<Followed> = [65_531, 65_532, 65_535, 0, 3, 40_000]
        .into_iter()
        .map(|seq| sequence.follow(seq))
        .collect();
    assert_eq!(lost, [0, 0, 2, 0, 2, 39_996].map(Followed::Ahead));
    sequence.restart();
    assert_eq!(sequence.follow(0), Followed::Ahead(0));
}

#[test]
fn a_line_that_comes_late_or_twice_is_no_gap() {
    let mut sequence = Sequence::default();
    let stand: Vec<Followed> = [65_534, 0, 65_535, 65_535, 0, 1, 1, 3, 2, 4]
        .into_iter()
        .map(|seq| sequence.follow(seq))
        .collect();
    use Followed::{Ahead, Late, Repeated};
    let expected = [
        Ahead(0),
        Ahead(1),
        Late,
        Repeated,
        Repeated,
        Ahead(0),
        Repeated,
        Ahead(1),
        Late,
        Ahead(0),
    ];
    assert_eq!(stand, expected);
}

fn bench() -> Bench {
    Bench::new(Length::from_um(1.0), 4000, false)
}

/// The line with this number of a bridge that sends a thousand a second, near the end of its sequence.
fn numbered(number: u32) -> Vec<u8> {
    let line = SampleLine {
        seq: 65_400_u16.wrapping_add(number as u16),
        t: number * 1000,
        count: number as i32,
        reading: Some(1000 + number as i32),
        index_edges: 0,
        index_count: 0,
        flags: Flags::default(),
    };
    encode(&Line::Sample(line)).unwrap().as_bytes().to_vec()
}

/// A bridge's samples with some of their lines sent again, swapped, or after a gap.
#[test]
fn what_comes_twice_is_used_once_and_named_and_nothing_is_said_to_be_lost() {
    let lines: Vec<Vec<u8>> = (0..400_u32).map(numbered).collect();
    let read = |order: &[usize]| {
        let mut bridge = FromBridge::new(bench());
        for at in order {
            bridge.feed(&lines[*at]);
        }
        let samples: Vec<Sample> = bridge.since(0).collect();
        (bridge.tally(), samples)
    };
    let all: Vec<usize> = (0..400).collect();
    let (tally, wanted) = read(&all);
    assert_eq!((tally.good, tally.lost, tally.repeated), (400, 0, 0));
    // Every fifth line twice, at once or some lines later.
    for behind in [1, 7, 60] {
        let mut order = all.clone();
        for at in (0..300).rev().step_by(5) {
            order.insert(at + behind, at);
        }
        let (tally, samples) = read(&order);
        assert_eq!(
            (tally.good, tally.lost, tally.repeated, tally.late),
            (400, 0, 60, 0)
        );
        assert_eq!(samples, wanted);
    }
    // Three hundred lines that come again in one piece.
    let again: Vec<usize> = (0..350).chain(50..350).chain(350..400).collect();
    let (tally, samples) = read(&again);
    assert_eq!((tally.good, tally.lost, tally.repeated), (400, 0, 300));
    assert_eq!(samples, wanted);
    let mut swapped = all.clone();
    for pair in swapped.chunks_mut(2).skip(1).step_by(3) {
        pair.swap(0, 1);
    }
    let (tally, samples) = read(&swapped);
    assert_eq!(
        (tally.good, tally.lost, tally.repeated, tally.late),
        (400, 0, 0, 67)
    );
    assert_eq!(samples.len(), 400);
    // What is missing is missing, also over the end of the sequence.
    let gap: Vec<usize> = (0..100).chain(150..400).collect();
    let (tally, _) = read(&gap);
    assert_eq!((tally.good, tally.lost), (350, 50));
    // A device that was away goes on wherever it stands.
    let mut bridge = FromBridge::new(bench());
    bridge.feed(&lines[..100].concat());
    bridge.replugged();
    bridge.feed(&lines[300..].concat());
    assert_eq!((bridge.tally().lost, bridge.tally().replugs), (0, 1));
    // One that was without power meanwhile has lost its zero, and its hello says so.
    let mut bridge = FromBridge::new(bench());
    bridge.feed(&lines[..100].concat());
    bridge.replugged();
    bridge.feed(encode_hello(0, &[("proto", "1")]).unwrap().as_bytes());
    assert_eq!((bridge.tally().lost, bridge.tally().starts), (0, 1));
}

/// Whoever opens a port hears the rest of a line first, and that is no damage; what is damaged later is.
#[test]
fn the_rest_of_a_line_at_the_beginning_is_not_damaged() {
    let rest = &numbered(0)[9..];
    let mut bridge = FromBridge::new(bench());
    bridge.feed(&[rest, &numbered(1), &numbered(2)].concat());
    assert_eq!((bridge.tally().refused, bridge.tally().good), (0, 2));
    bridge.feed(&[rest, &numbered(3)].concat());
    assert_eq!((bridge.tally().refused, bridge.tally().good), (1, 3));
    // Behind a device that comes back it begins in the middle again.
    bridge.replugged();
    bridge.feed(&[rest, &numbered(4)].concat());
    assert_eq!((bridge.tally().refused, bridge.tally().good), (1, 4));
    let damaged: Vec<usize> = (bridge.since(0).enumerate())
        .filter(|(_, sample)| sample.marks.has(Mark::AfterLoss))
        .map(|(at, _)| at)
        .collect();
    assert_eq!(damaged, [2]);
}

/// A tool turned on one way for some turns of 4000 counts, a line every 100; the counter loses what
/// `loses` says at a line, and the bridge tells where it does.
fn turned(turns: u32, loses: impl Fn(u32) -> (i32, bool)) -> FromBridge {
    let mut bridge = FromBridge::new(bench());
    let (mut lost, mut edges, mut zc) = (0, 0, 0);
    for at in 0..turns * 40 {
        let (fewer, told) = loses(at);
        lost += fewer;
        let seen = at > 0 && at % 40 == 0;
        if seen {
            (edges, zc) = (edges + 1, (at * 100) as i32 - lost);
        }
        let flags = if seen { 0x10 } else { 0 } | if told { 0x04 } else { 0 };
        let line = SampleLine {
            seq: at as u16,
            t: at * 1000,
            count: (at * 100) as i32 - lost,
            reading: Some(0),
            index_edges: edges,
            index_count: zc,
            flags: Flags(flags),
        };
        bridge.feed(encode(&Line::Sample(line)).unwrap().as_bytes());
    }
    bridge
}

/// Where the tool stood at each line that is trusted, against where it was.
#[track_caller]
fn trusted_counts_are_right(bridge: &FromBridge, least: usize) {
    let mut trusted = 0;
    for (at, sample) in bridge.since(0).enumerate() {
        if !sample.marks.has(Mark::AngleInDoubt) {
            trusted += 1;
            let off = sample.angle.turns() * 4000.0 - at as f64 * 100.0;
            assert!(off.abs() < 0.5, "line {at} is off by {off} counts");
        }
    }
    assert!(trusted >= least, "{trusted} lines are trusted");
}

#[test]
fn lost_counts_are_put_right_to_the_last_one() {
    // Four jumps of two counts, each told.
    let bridge = turned(10, |at| match [50, 130, 210, 290].contains(&at) {
        true => (2, true),
        false => (0, false),
    });
    assert_eq!(bridge.tally().counts_lost, 8);
    trusted_counts_are_right(&bridge, 200);
    // Three counts that nothing tells: once the index stands beside its place a second time, they
    // are taken as lost since it last stood in it.
    let bridge = turned(10, |at| (if at == 130 { 3 } else { 0 }, false));
    assert_eq!(bridge.tally().counts_lost, 3);
    trusted_counts_are_right(&bridge, 200);
    // More than an index is wide shows at once.
    let bridge = turned(10, |at| (if at == 130 { 40 } else { 0 }, false));
    assert_eq!(bridge.tally().counts_lost, 40);
    trusted_counts_are_right(&bridge, 300);
}

/// Lines of a tool that turns 4,000 counts a second, before any index: told of by what is not said.
fn told_of(lines: &[Line<'_>]) -> FromBridge {
    let mut bridge = FromBridge::new(bench());
    for line in lines {
        bridge.feed(encode(line).unwrap().as_bytes());
    }
    bridge
}

fn placed(seq: u16, t: u32, count: i32) -> Line<'static> {
    Line::Sample(SampleLine {
        seq,
        t,
        count,
        reading: Some(0),
        ..SampleLine::default()
    })
}

#[track_caller]
fn doubted(bridge: &FromBridge, expected: &[bool]) {
    let marks = bridge
        .since(0)
        .map(|it| it.marks.has(Mark::AngleInDoubt) || it.marks.has(Mark::AfterRestart));
    assert_eq!(marks.collect::<Vec<_>>(), expected);
}

#[test]
fn what_no_flag_tells_of_is_told_by_what_cannot_be() {
    // A thousand counts in two milliseconds.
    let bridge = told_of(&[
        placed(1, 20_000, 80),
        placed(2, 40_000, 160),
        placed(3, 42_000, 1168),
        placed(4, 44_000, 1176),
    ]);
    assert_eq!(bridge.tally().jumps, 1);
    doubted(&bridge, &[false, false, true, true]);

    // A clock that is two seconds back.
    let bridge = told_of(&[
        placed(1, 5_020_000, 80),
        placed(2, 5_040_000, 160),
        placed(3, 3_040_000, 240),
    ]);
    assert_eq!(bridge.tally().restarts, 1);
    doubted(&bridge, &[false, false, true]);

    // Another bridge, asked or not.
    let hello = |seq, pairs| Line::Hello(Hello { seq, pairs });
    let bridge = told_of(&[
        hello(0, b"proto=1,fw=0.1.0,id=one,tick=1000000,quad=4,ind=bits24"),
        placed(1, 20_000, 80),
        hello(2, b"proto=1,fw=0.1.0,id=one,tick=1000000,quad=4,ind=bits24"),
        placed(3, 40_000, 160),
        hello(4, b"proto=1,fw=0.1.0,id=two,tick=1000000,quad=4,ind=bits24"),
        placed(5, 60_000, 240),
    ]);
    assert_eq!(bridge.tally().others, 1);
    doubted(&bridge, &[false, false, true]);

    // A step that cannot be, of which the only line was lost.
    let counted = |seq, illegal_steps| {
        Line::Counters(Counters {
            seq,
            illegal_steps,
            ..Counters::default()
        })
    };
    let bridge = told_of(&[
        counted(1, 4),
        placed(2, 20_000, 80),
        placed(4, 60_000, 240),
        counted(5, 5),
        placed(6, 80_000, 320),
    ]);
    assert_eq!(bridge.tally().illegal_steps, 1);
    doubted(&bridge, &[false, false, true]);
}

#[test]
fn a_stream_that_is_followed_does_not_grow() {
    let line = |at: u32| {
        encode(&Line::Sample(SampleLine {
            seq: at as u16,
            t: at * 100,
            count: at as i32,
            reading: Some(7),
            index_edges: 0,
            index_count: 0,
            flags: Flags::default(),
        }))
    };
    let mut bridge = FromBridge::new(bench());
    let mut seen = 0;
    for at in 0..100_000_u32 {
        bridge.feed(line(at).unwrap().as_bytes());
        seen += bridge.seen_since(at as usize).count();
        bridge.shed();
        // Two windows of 16,384 lines at most.
        assert!(at % 1000 != 0 || bridge.since(0).count() <= 32_769);
    }
    assert_eq!((seen, bridge.len()), (100_000, 100_000));
    let last = bridge.seen_since(99_999).last().unwrap();
    assert_eq!(last.angle, Some(bench().angle(99_999)));
    assert!((last.time.s() - 9.9999).abs() < 1e-9);
}

/// Everything that an assembler hands on, as text.
fn assembled(chunks: &[&[u8]]) -> Vec<String> {
    let mut lines = Vec::new();
    let mut assembler = Assembler::new();
    for chunk in chunks {
        assembler.feed(chunk, |raw, line| {
            let raw = String::from_utf8_lossy(raw).into_owned();
            lines.push(match line {
                Ok(_) => raw,
                Err(reason) => format!("{reason:?}"),
            });
        });
    }
    lines
}

#[test]
fn a_line_too_long_is_dropped_whole_and_the_next_is_good_again() {
    let long = [b'x'; 300];
    let good = b"G,1*0000\nS,1,21003,0,,0,0,01*56FB\r\n";
    let lines = assembled(&[&long, b"yz\n", good]);
    assert_eq!(lines, ["Length", "Crc", "S,1,21003,0,,0,0,01*56FB\r"]);
}

#[test]
fn the_codec_uses_neither_heap_nor_floats_nor_the_system() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/gauge/frame");
    for file in std::fs::read_dir(folder).unwrap() {
        let text = std::fs::read_to_string(file.unwrap().path()).unwrap();
        let code: String = text
            .lines()
            .filter(|line| !line.trim_start().starts_with("//"))
            .collect();
        for word in [
            "std::", "alloc", "String", "Vec", "Box", "f32", "f64", "format!",
        ] {
            assert!(!code.contains(word), "`{word}` in {text}");
        }
    }
}

/// The reference firmware runs its own test wherever there is a C compiler.
#[test]
fn the_firmware_of_the_notes_passes_its_own_test() {
    let notes = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("firmware-notes/bridge");
    let folder = tempfile::tempdir().unwrap();
    let program = folder.path().join("host_test");
    let compiled = std::process::Command::new("cc")
        .args(["-std=c99", "-Wall", "-Wextra", "-Werror", "-I.", "-o"])
        .arg(&program)
        .args(["-DBAUD=500000u", "-DINDICATOR=\"two26\""])
        .args(["-include", "indicators/two26.h", "host_test.c"])
        .args(["bridge.c", "protocol.c", "frame.c", "form.c"])
        .current_dir(notes)
        .status();
    let Ok(compiled) = compiled else {
        use std::io::Write;
        let told = "no C compiler here: the firmware was not tried";
        writeln!(std::io::stderr(), "{told}").unwrap();
        return;
    };
    assert!(compiled.success());
    let ran = std::process::Command::new(program).output().unwrap();
    assert!(
        ran.status.success(),
        "{}",
        String::from_utf8_lossy(&ran.stdout)
    );
}

fn any_sample() -> impl Strategy<Value = SampleLine> {
    let reading = proptest::option::of(any::<i32>());
    let all = (any::<u16>(), any::<u32>(), any::<i32>(), reading);
    let more = (any::<u16>(), any::<i32>(), any::<u8>());
    (all, more).prop_map(
        |((seq, t, count, reading), (edges, zc, flags))| SampleLine {
            seq,
            t,
            count,
            reading,
            index_edges: edges,
            index_count: zc,
            flags: Flags(flags),
        },
    )
}

proptest! {
    #[test]
    fn what_is_encoded_decodes_to_the_same(sample in any_sample()) {
        let encoded = encode(&Line::Sample(sample)).unwrap();
        prop_assert_eq!(decode(encoded.as_bytes()), Ok(Line::Sample(sample)));
    }

    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        let _ = decode(&bytes);
        let _ = Command::decode(&bytes);
        assembled(&[&bytes]);
    }

    #[test]
    fn lines_come_out_the_same_wherever_the_chunks_end(
        samples in proptest::collection::vec(any_sample(), 1..20),
        cuts in proptest::collection::vec(1usize..40, 1..100),
    ) {
        let mut bytes = Vec::new();
        for sample in &samples {
            bytes.extend_from_slice(encode(&Line::Sample(*sample)).unwrap().as_bytes());
        }
        let mut chunks = Vec::new();
        let mut rest = &bytes[..];
        for cut in cuts {
            let (chunk, more) = rest.split_at(cut.min(rest.len()));
            chunks.push(chunk);
            rest = more;
        }
        chunks.push(rest);
        prop_assert_eq!(assembled(&chunks), assembled(&[&bytes]));
        prop_assert_eq!(assembled(&[&bytes]).len(), samples.len());
    }

    #[test]
    fn a_single_flipped_bit_is_never_taken_for_another_sample(
        sample in any_sample(),
        place in any::<prop::sample::Index>(),
        bit in 0u8..8,
    ) {
        let encoded = encode(&Line::Sample(sample)).unwrap();
        let mut bytes = encoded.as_bytes().to_vec();
        let at = place.index(bytes.len());
        bytes[at] ^= 1 << bit;
        let mut lines = 0;
        let mut refused = 0;
        let mut assembler = Assembler::new();
        assembler.feed(&bytes, |_, line| match line {
            Ok(_) => lines += 1,
            Err(_) => refused += 1,
        });
        // In the body or the checksum it is refused; in the line feed the line does not end; a
        // new line feed gives two halves, both refused.
        prop_assert_eq!(lines, 0);
        prop_assert!(refused >= 1 || assembler.is_torn());
    }
}
