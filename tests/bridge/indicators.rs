//! The indicators of `firmware-notes/bridge/indicators`, from their own side: what they send.

use super::drive::{Clock, US};

/// One of them.
#[derive(Clone, Copy, Debug)]
pub struct Indicator {
    pub name: &'static str,
    pub bits: fn(i32, bool) -> Vec<bool>,
    pub clock: Clock,
    /// The greatest value either way.
    pub most: i32,
}

/// Highest bit first.
fn high_first(value: u32, length: u32) -> impl Iterator<Item = bool> {
    (0..length).rev().map(move |bit| value >> bit & 1 == 1)
}

fn low_first(value: u32, length: u32) -> impl Iterator<Item = bool> {
    (0..length).map(move |bit| value >> bit & 1 == 1)
}

fn two26(value: i32, inch: bool) -> Vec<bool> {
    let value = value.cast_unsigned() & 0x3F_FFFF;
    let all = [true, false].into_iter().chain(high_first(value, 22));
    all.chain([inch, false]).collect()
}

fn mag30(value: i32, inch: bool) -> Vec<bool> {
    let all = [false, true].into_iter();
    let all = all.chain(low_first(value.unsigned_abs(), 24));
    all.chain([inch, value < 0, false, false]).collect()
}

fn dig36(value: i32, inch: bool) -> Vec<bool> {
    let digits = (0..6).map(|place| value.unsigned_abs() / 10_u32.pow(place) % 10);
    let unit = if inch { [12, 4] } else { [3, 3] };
    let sign = if value < 0 { 10 } else { 5 };
    let groups = unit.into_iter().chain(digits).chain([sign]);
    groups.flat_map(|group| high_first(group, 4)).collect()
}

/// 33 kHz, which is slow enough for an interrupt a bit.
pub const TWO26: Indicator = Indicator {
    name: "two26",
    bits: two26,
    clock: Clock {
        half: 15 * US,
        rising: false,
        inverts: false,
    },
    most: 2_097_151,
};

/// Asked by a line, at 8 kHz behind inverting stages.
pub const MAG30: Indicator = Indicator {
    name: "mag30",
    bits: mag30,
    clock: Clock {
        half: 60 * US,
        rising: true,
        inverts: true,
    },
    most: 16_777_215,
};

/// 90 kHz.
pub const DIG36: Indicator = Indicator {
    name: "dig36",
    bits: dig36,
    clock: Clock {
        half: 89,
        rising: false,
        inverts: false,
    },
    most: 999_999,
};
