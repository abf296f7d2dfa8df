//! What wraps at the end of its bits, made continuous; and what is missing from a sequence.

/// A 32-bit value that wraps, made continuous by signed differences: a value may also lie before
/// the last one, by up to half of the whole range.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unwrap {
    last: Option<(u32, i64)>,
}

impl Unwrap {
    /// The continuous value of the next raw one; the first is taken as it is.
    pub fn follow(&mut self, raw: u32) -> i64 {
        let value = match self.last {
            None => i64::from(raw),
            Some((last, value)) => value + i64::from(raw.wrapping_sub(last) as i32),
        };
        self.last = Some((raw, value));
        value
    }

    /// The same for a signed count.
    pub fn follow_signed(&mut self, raw: i32) -> i64 {
        match self.last {
            None => {
                self.last = Some((raw as u32, i64::from(raw)));
                i64::from(raw)
            }
            Some(_) => self.follow(raw as u32),
        }
    }
}

/// The 16-bit sequence of lines made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sequence {
    next: Option<u16>,
}

impl Sequence {
    /// How many lines are missing before this one.
    pub fn follow(&mut self, seq: u16) -> u16 {
        let lost = self.next.map_or(0, |next| seq.wrapping_sub(next));
        self.next = Some(seq.wrapping_add(1));
        lost
    }

    /// Takes the next line as the first: the controller started anew.
    pub fn restart(&mut self) {
        self.next = None;
    }
}
