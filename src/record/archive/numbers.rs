//! A run of whole numbers in few bytes: common divisor out, differences, zigzag, varint.

/// Differences of differences are the most that pays: a steady clock becomes noughts.
const HIGHEST_ORDER: u8 = 2;

/// Appends a number as a varint: seven bits a byte, the lowest first.
pub(super) fn put_varint(out: &mut Vec<u8>, mut number: u64) {
    while number >= 0x80 {
        out.push(number as u8 | 0x80);
        number >>= 7;
    }
    out.push(number as u8);
}

/// Takes a varint off the front; `None` where it does not end or does not fit.
pub(super) fn take_varint(input: &mut &[u8]) -> Option<u64> {
    let mut number = 0_u64;
    for shift in (0..64).step_by(7) {
        let (&byte, rest) = input.split_first()?;
        *input = rest;
        let bits = u64::from(byte & 0x7f);
        if shift == 63 && bits > 1 {
            return None;
        }
        number |= bits << shift;
        if byte & 0x80 == 0 {
            return Some(number);
        }
    }
    None
}

/// Appends the numbers; how many there are is not kept.
pub(super) fn put(out: &mut Vec<u8>, numbers: &[i64]) {
    let divisor = common_divisor(numbers);
    let mut best: Vec<i64> = numbers.iter().map(|number| number / divisor).collect();
    let mut order = 0;
    let mut tried = best.clone();
    for higher in 1..=HIGHEST_ORDER {
        difference(&mut tried);
        if length(&tried) < length(&best) {
            best.clone_from(&tried);
            order = higher;
        }
    }
    out.push(order);
    put_varint(out, divisor.unsigned_abs());
    out.reserve(best.len() * 2);
    for number in best {
        put_varint(out, zigzag(number));
    }
}

/// Takes `count` numbers off the front; `None` where the bytes do not hold them.
pub(super) fn take(input: &mut &[u8], count: usize) -> Option<Vec<i64>> {
    let (&order, rest) = input.split_first()?;
    *input = rest;
    let divisor = i64::try_from(take_varint(input)?).ok()?;
    // A number is a byte at least, so a count that lies cannot ask for more memory than that.
    if order > HIGHEST_ORDER || count > input.len() {
        return None;
    }
    let mut numbers = Vec::with_capacity(count);
    for _ in 0..count {
        numbers.push(unzigzag(take_varint(input)?));
    }
    for _ in 0..order {
        sum(&mut numbers);
    }
    if divisor > 1 {
        for number in &mut numbers {
            *number = number.checked_mul(divisor)?;
        }
    }
    Some(numbers)
}

/// Small numbers of either sign become small ones without: 0, -1, 1, -2, …
fn zigzag(number: i64) -> u64 {
    ((number << 1) ^ (number >> 63)) as u64
}

fn unzigzag(number: u64) -> i64 {
    (number >> 1) as i64 ^ -((number & 1) as i64)
}

/// Each number less the one before it. Wrapping, so that it can be undone whatever they are.
fn difference(numbers: &mut [i64]) {
    let mut before = 0;
    for number in numbers {
        let this = *number;
        *number = this.wrapping_sub(before);
        before = this;
    }
}

fn sum(numbers: &mut [i64]) {
    let mut total = 0_i64;
    for number in numbers {
        total = total.wrapping_add(*number);
        *number = total;
    }
}

/// Bytes that the numbers take.
fn length(numbers: &[i64]) -> u64 {
    let bytes = |number: &i64| u64::from((64 - (zigzag(*number) | 1).leading_zeros()).div_ceil(7));
    numbers.iter().map(bytes).sum()
}

/// What all numbers are multiples of, at least 1: an encoder's angle goes in steps.
fn common_divisor(numbers: &[i64]) -> i64 {
    let mut divisor = 0_u64;
    for number in numbers {
        let (mut a, mut b) = (divisor, number.unsigned_abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        divisor = a;
        if divisor == 1 {
            break;
        }
    }
    // Noughts alone have none, and that of the least number of all is no such number itself.
    i64::try_from(divisor).map_or(1, |divisor| divisor.max(1))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[track_caller]
    fn check(numbers: &[i64], bytes: usize) {
        let mut out = Vec::new();
        put(&mut out, numbers);
        assert_eq!(out.len(), bytes);
        let mut left = out.as_slice();
        assert_eq!(take(&mut left, numbers.len()).as_deref(), Some(numbers));
        assert!(left.is_empty());
    }

    #[test]
    fn numbers_take_the_bytes_that_their_steps_need() {
        check(&[], 2);
        check(&[0], 3);
        check(&[7, 7, 7], 5);
        // A clock: the first number, then a step, then nothing new.
        check(&(0..100).map(|tick| tick * 20_000).collect::<Vec<_>>(), 104);
        // Multiples of 9 are counted in nines.
        check(&[900, 909, 900, 891], 2 + 2 + 3);
        check(&[i64::MAX, i64::MIN, 0, -1], 2 + 10 + 10 + 1 + 1);
        check(&[i64::MIN], 2 + 10);
    }

    #[test]
    fn bytes_that_lie_give_nothing() {
        for bytes in [&[][..], &[3, 1, 0], &[0, 1], &[0, 1, 0x80], &[0, 0xff]] {
            assert_eq!(take(&mut &*bytes, 1), None);
        }
        assert_eq!(take(&mut [0, 1, 0].as_slice(), usize::MAX), None);
        assert_eq!(take_varint(&mut [0xff; 10].as_slice()), None);
    }

    proptest! {
        #[test]
        fn any_numbers_come_back(numbers in prop::collection::vec(any::<i64>(), 0..50)) {
            let mut out = Vec::new();
            put(&mut out, &numbers);
            prop_assert_eq!(take(&mut out.as_slice(), numbers.len()), Some(numbers));
        }
    }
}
