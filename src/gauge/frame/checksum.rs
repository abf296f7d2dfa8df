//! The checksum of a body: CRC-16 with polynomial 0x1021 started at 0xFFFF, 29B1 for `123456789`.

use crc::{CRC_16_IBM_3740, Crc, Table};

/// Bytes that are taken in one step, each with a table of its own.
const STEP: usize = 16;

const ALGORITHM: Crc<u16, Table<STEP>> = Crc::<u16, Table<STEP>>::new(&CRC_16_IBM_3740);

/// What a byte adds to the sum of a body that goes on for so many bytes after it.
static ADDS: [[u16; 256]; STEP] = *ALGORITHM.table();

/// The checksum of a body.
pub(crate) fn crc(body: &[u8]) -> u16 {
    // What does not fill a step goes first, as a short one.
    let (first, steps) = body.split_at(body.len() % STEP);
    let begun = step(CRC_16_IBM_3740.init, first);
    steps.chunks_exact(STEP).fold(begun, step)
}

/// The sum after at most so many bytes as one step has.
#[inline(always)]
fn step(sum: u16, bytes: &[u8]) -> u16 {
    let [above, below] = sum.to_be_bytes();
    match bytes {
        [] => sum,
        [byte] => ADDS[0][usize::from(byte ^ above)] ^ sum << 8,
        [high, low, rest @ ..] => {
            // Sums are linear: what each byte adds is looked up on its own, and only the first two
            // wait for the step before.
            let after = rest.len();
            let begun =
                ADDS[after + 1][usize::from(high ^ above)] ^ ADDS[after][usize::from(low ^ below)];
            let added = ADDS.iter().zip(rest.iter().rev());
            added.fold(begun, |sum, (adds, byte)| sum ^ adds[usize::from(*byte)])
        }
    }
}

/// A checksum as its line writes it.
pub(super) fn written(sum: u16) -> [u8; 4] {
    const DIGITS: &[u8; 16] = b"0123456789ABCDEF";
    [12, 8, 4, 0].map(|shift| DIGITS[usize::from(sum >> shift & 0xF)])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_published_check_value_comes_out() {
        // CRC catalogue, CRC-16/IBM-3740.
        assert_eq!(crc(b"123456789"), 0x29B1);
        assert_eq!(&written(0x29B1), b"29B1");
    }

    proptest! {
        #[test]
        fn moving_a_body_to_whole_steps_changes_nothing(
            body in proptest::collection::vec(any::<u8>(), 0..200),
        ) {
            let plain = Crc::<u16>::new(&crc::CRC_16_IBM_3740);
            prop_assert_eq!(super::crc(&body), plain.checksum(&body));
        }
    }
}
