//! Decoding bridge lines, checksum included, against only finding where the lines of the same bytes
//! end.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout)]

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use heelclear::gauge::frame::{Assembler, Flags, Line, SampleLine, encode};
use std::hint::black_box;
use std::io::BufRead;
use std::time::Instant;

/// Ten seconds of a 10 kHz stream.
const LINES: u32 = 100_000;

/// Lines as a bench sends them: half of them readings, half positions.
fn stream() -> Vec<u8> {
    let mut bytes = Vec::new();
    for i in 0..LINES {
        let sample = SampleLine {
            seq: i as u16,
            t: 1_049_848 + i * 100,
            count: 1899 + i as i32 / 3,
            reading: (i % 2 == 0).then_some(-1234 + (i % 500) as i32),
            index_edges: 1,
            index_count: 100,
            flags: Flags(0),
        };
        bytes.extend_from_slice(encode(&Line::Sample(sample)).unwrap().as_bytes());
    }
    bytes
}

/// The lines as the standard library reads them.
fn read_lines(mut bytes: &[u8]) -> usize {
    let mut lines = 0;
    let mut line = Vec::new();
    while bytes.read_until(b'\n', &mut line).unwrap() > 0 {
        lines += black_box(line.as_slice()).len().min(1);
        line.clear();
    }
    lines
}

/// Where each line ends, found with vector instructions.
fn find(bytes: &[u8]) -> usize {
    let mut ends = 0;
    for end in memchr::memchr_iter(b'\n', bytes) {
        ends ^= black_box(end);
    }
    ends
}

fn decode_all(bytes: &[u8]) -> (u32, i64) {
    let (mut lines, mut sum) = (0, 0i64);
    let mut assembler = Assembler::new();
    // As large as a read of a port gives at most.
    for chunk in bytes.chunks(4096) {
        assembler.feed(chunk, |_, line| {
            if let Ok(Line::Sample(sample)) = line {
                lines += 1;
                sum += i64::from(sample.count);
            }
        });
    }
    (lines, sum)
}

fn bench(criterion: &mut Criterion) {
    let bytes = stream();
    let mut group = criterion.benchmark_group("decode");
    group.throughput(Throughput::Bytes(bytes.len() as u64));
    group.bench_function("find line feeds", |b| b.iter(|| find(black_box(&bytes))));
    group.bench_function("decode with crc", |b| {
        b.iter(|| {
            let (lines, sum) = decode_all(black_box(&bytes));
            assert_eq!(lines, LINES);
            sum
        });
    });
    group.finish();
    compare(&bytes);
}

/// Decoding beside two ways of only finding where lines end, each at its best of several.
fn compare(bytes: &[u8]) {
    let best = |work: &dyn Fn()| {
        let time = |_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        };
        let took = (0..30).map(time).fold(f64::MAX, f64::min);
        bytes.len() as f64 / took / 1e6
    };
    let decoding = best(&|| {
        black_box(decode_all(black_box(bytes)));
    });
    let reading = best(&|| {
        black_box(read_lines(black_box(bytes)));
    });
    let finding = best(&|| {
        black_box(find(black_box(bytes)));
    });
    println!("decoding with crc: {decoding:.0} MB/s");
    println!(
        "  only reading lines, `BufRead::read_until`: {reading:.0} MB/s, ratio {:.2}",
        decoding / reading
    );
    println!(
        "  only finding line feeds, vector instructions: {finding:.0} MB/s, ratio {:.2} \
         (1/3 wanted)",
        decoding / finding
    );
}

criterion_group!(benches, bench);
criterion_main!(benches);
