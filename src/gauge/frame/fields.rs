//! The fields of a body, one after another, each in the one form that it may have.

use super::flags::Flags;
use super::refusal::Refusal;

/// Digits of the greatest 32-bit number.
const MOST_DIGITS: usize = 10;

/// Bytes of a word that is looked at in one go.
const WORD: usize = 8;

/// The same byte in all places of a word.
const fn all(byte: u8) -> u64 {
    u64::from_le_bytes([byte; WORD])
}

/// The fields of a body that are not read yet.
pub(super) struct Fields<'a> {
    /// `None` after the last field.
    rest: Option<&'a [u8]>,
}

impl<'a> Fields<'a> {
    pub(super) fn new(rest: &'a [u8]) -> Self {
        Self { rest: Some(rest) }
    }

    /// What is not read yet; `None` after the last field.
    pub(super) fn rest(&self) -> Option<&'a [u8]> {
        self.rest
    }

    /// The bytes of the next field.
    pub(super) fn next(&mut self) -> Result<&'a [u8], Refusal> {
        let rest = self.rest.ok_or(Refusal::Fields)?;
        // Fields are a few bytes long: looking at each is faster than a search with a set-up.
        match rest.iter().position(|byte| *byte == b',') {
            Some(comma) => {
                self.rest = Some(&rest[comma + 1..]);
                Ok(&rest[..comma])
            }
            None => {
                self.rest = None;
                Ok(rest)
            }
        }
    }

    #[inline(always)]
    pub(super) fn u16(&mut self) -> Result<u16, Refusal> {
        self.unsigned(u64::from(u16::MAX)).map(|value| value as u16)
    }

    #[inline(always)]
    pub(super) fn u32(&mut self) -> Result<u32, Refusal> {
        self.unsigned(u64::from(u32::MAX)).map(|value| value as u32)
    }

    #[inline(always)]
    pub(super) fn i32(&mut self) -> Result<i32, Refusal> {
        self.maybe_i32()?.ok_or(Refusal::Form)
    }

    /// A signed number, or nothing.
    #[inline(always)]
    pub(super) fn maybe_i32(&mut self) -> Result<Option<i32>, Refusal> {
        let negative = match self.rest {
            Some([b'-', digits @ ..]) => {
                self.rest = Some(digits);
                true
            }
            _ => false,
        };
        let (value, count) = self.digits()?;
        match (count, negative) {
            (0, false) => Ok(None),
            (0, true) => Err(Refusal::Form),
            (_, true) if value == 0 || value > 1 << 31 => Err(Refusal::Form),
            (_, true) => Ok(Some((-(value as i64)) as i32)),
            (_, false) if value >= 1 << 31 => Err(Refusal::Form),
            (_, false) => Ok(Some(value as i32)),
        }
    }

    #[inline(always)]
    pub(super) fn flags(&mut self) -> Result<Flags, Refusal> {
        let digit = |byte: u8| match byte {
            b'0'..=b'9' => Ok(byte - b'0'),
            b'A'..=b'F' => Ok(byte - b'A' + 10),
            b'a'..=b'f' => Ok(byte - b'a' + 10),
            _ => Err(Refusal::Form),
        };
        let rest = self.rest.ok_or(Refusal::Fields)?;
        let (high, low) = match rest {
            [high, low] => {
                self.rest = None;
                (*high, *low)
            }
            [high, low, b',', more @ ..] => {
                self.rest = Some(more);
                (*high, *low)
            }
            _ => return Err(Refusal::Form),
        };
        Ok(Flags(digit(high)? << 4 | digit(low)?))
    }

    #[inline(always)]
    fn unsigned(&mut self, most: u64) -> Result<u64, Refusal> {
        match self.digits()? {
            (value, 1..) if value <= most => Ok(value),
            _ => Err(Refusal::Form),
        }
    }

    /// Digits up to the next comma, as a number and how many there were.
    #[inline(always)]
    fn digits(&mut self) -> Result<(u64, usize), Refusal> {
        let rest = self.rest.ok_or(Refusal::Fields)?;
        let (mut value, mut count) = leading(first_word(rest));
        if count == WORD {
            while let Some(byte @ b'0'..=b'9') = rest.get(count) {
                // Too many digits wrap here and are refused below.
                value = value.wrapping_mul(10).wrapping_add(u64::from(*byte - b'0'));
                count += 1;
            }
        }
        let after = match rest.get(count..) {
            Some([b',', after @ ..]) => Some(after),
            Some([]) => None,
            _ => return Err(Refusal::Form),
        };
        // One way to write a number: a needless zero is a sign of damage.
        if count > MOST_DIGITS || (count > 1 && rest[0] == b'0') {
            return Err(Refusal::Form);
        }
        self.rest = after;
        Ok((value, count))
    }
}

/// A whole number without sign or needless zeros.
pub(super) fn number(digits: &[u8]) -> Option<u32> {
    let mut fields = Fields::new(digits);
    let number = fields.u32().ok()?;
    fields.rest.is_none().then_some(number)
}

/// The first bytes in one word, the first of them lowest; no digits where there are no bytes.
#[inline(always)]
fn first_word(bytes: &[u8]) -> u64 {
    if let Some(word) = bytes.first_chunk() {
        return u64::from_le_bytes(*word);
    }
    let mut word = [0; WORD];
    for (place, byte) in word.iter_mut().zip(bytes) {
        *place = *byte;
    }
    u64::from_le_bytes(word)
}

/// The number that the leading digits of a word make, and how many they are: without a branch a
/// digit, since no two numbers on the wire are of the same length for long.
#[inline(always)]
fn leading(word: u64) -> (u64, usize) {
    let digits = word ^ all(b'0');
    // The high bit shows where a byte is above 9. A carry only reaches bytes behind such a one.
    let others = (digits.wrapping_add(all(0x76)) | digits) & all(0x80);
    let count = others.trailing_zeros() as usize / WORD;
    if count == 0 {
        return (0, 0);
    }
    // Zeros in front make it eight digits; then pairs, fours and eights are joined.
    let eight = digits << (u64::BITS as usize - count * WORD);
    let pairs = eight.wrapping_mul(10).wrapping_add(eight >> 8) & 0x00FF_00FF_00FF_00FF;
    let fours = pairs.wrapping_mul(100).wrapping_add(pairs >> 16) & 0x0000_FFFF_0000_FFFF;
    let whole = fours.wrapping_mul(10_000).wrapping_add(fours >> 32) & 0xFFFF_FFFF;
    (whole, count)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn leading_digits_are_those_that_a_look_at_each_byte_finds(bytes: [u8; WORD], digits in 0..=WORD) {
            let mut bytes = bytes;
            for byte in &mut bytes[..digits] {
                *byte = b'0' + *byte % 10;
            }
            let count = bytes.iter().take_while(|byte| byte.is_ascii_digit()).count();
            let value = bytes[..count].iter().fold(0, |value, byte| value * 10 + u64::from(*byte - b'0'));
            prop_assert_eq!(leading(u64::from_le_bytes(bytes)), (value, count));
        }
    }
}
