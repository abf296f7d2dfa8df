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

/// The 16-bit sequence of lines made: by signed differences, so that a line may come late or twice.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sequence {
    next: Option<u16>,
    /// Which of the last lines came: the lowest bit is the one before `next`.
    came: u128,
}

/// How a line stands in the sequence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Followed {
    /// Ahead of all before it; so many between are missing.
    Ahead(u16),
    /// It was missing, and comes behind later ones.
    Late,
    /// It came before.
    Repeated,
}

impl Sequence {
    /// Where the next line stands. One that lies further back than the last 128 is taken as one ahead of
    /// a gap.
    pub fn follow(&mut self, seq: u16) -> Followed {
        let ahead = self.next.map_or(0, |next| seq.wrapping_sub(next));
        let back = u32::from(ahead.wrapping_neg());
        if ahead != 0 && back <= u128::BITS {
            let bit = 1 << (back - 1);
            let came = self.came & bit != 0;
            self.came |= bit;
            return match came {
                true => Followed::Repeated,
                false => Followed::Late,
            };
        }
        let shift = u32::from(ahead) + 1;
        self.came = self.came.checked_shl(shift).unwrap_or(0) | 1;
        self.next = Some(seq.wrapping_add(1));
        Followed::Ahead(ahead)
    }

    /// Whether a line came since it began.
    pub fn has_begun(&self) -> bool {
        self.next.is_some()
    }

    /// Takes the next line as the first: the controller started anew, or the device was away.
    pub fn restart(&mut self) {
        *self = Self::default();
    }
}
