//! What must not use the heap, counted by an allocator that counts.
#![allow(clippy::unwrap_used)]

use heelclear::gauge::frame::{Assembler, Flags, Line, SampleLine, encode};
use heelclear::quantity::Length;
use heelclear::sample::{Bench, FromBridge};

/// Samples with every kind of field, and now and then a damaged line.
fn stream(lines: u32) -> Vec<u8> {
    let mut bytes = Vec::new();
    for i in 0..lines {
        let sample = SampleLine {
            seq: i as u16,
            t: i.wrapping_mul(2_654_435_761),
            count: i as i32 - 500,
            reading: (i % 2 == 0).then_some(-1234 + i as i32),
            index_edges: 1,
            index_count: 100,
            flags: Flags(0),
        };
        bytes.extend_from_slice(encode(&Line::Sample(sample)).unwrap().as_bytes());
        if i % 100 == 0 {
            bytes.extend_from_slice(b"S,1,2,3*0000\n");
        }
    }
    bytes
}

#[test]
fn decoding_a_line_allocates_nothing() {
    let bytes = stream(10_000);
    let mut lines = 0;
    let counted = allocation_counter::measure(|| {
        let mut assembler = Assembler::new();
        // Chunks that end anywhere in a line.
        for chunk in bytes.chunks(61) {
            assembler.feed(chunk, |_, line| lines += u32::from(line.is_ok()));
        }
    });
    assert_eq!(lines, 10_000);
    assert_eq!(counted.count_total, 0);
}

#[test]
fn keeping_samples_allocates_only_to_grow() {
    let bytes = stream(10_000);
    let mut samples = FromBridge::new(Bench::new(Length::from_um(1.0), 4000, false));
    let counted = allocation_counter::measure(|| samples.feed(&bytes));
    assert_eq!(samples.len(), 10_000);
    // A list that doubles reaches 10,000 in fewer than 14 steps.
    assert!(counted.count_total < 14, "{}", counted.count_total);
}
