//! What a person was told while a capture ran: faults as they happened, the newest last.

use jiff::Timestamp;
use std::collections::VecDeque;

/// So many are kept; older ones are counted.
const KEPT: usize = 100;

/// How much something matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// It went as it should.
    Plain,
    /// A fault, or something to be done.
    Fault,
}

/// One thing that was told.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// Counted from 1, without a gap.
    pub number: u64,
    /// When.
    pub at: Timestamp,
    /// How much it matters.
    pub weight: Weight,
    /// In plain words.
    pub text: String,
}

/// What was told, in the order in which it was.
#[derive(Clone, Debug, Default)]
pub struct ToldList {
    list: VecDeque<Told>,
    count: u64,
}

impl ToldList {
    pub(super) fn add(&mut self, weight: Weight, text: String) {
        self.count += 1;
        self.list.push_back(Told {
            number: self.count,
            at: Timestamp::now(),
            weight,
            text,
        });
        while self.list.len() > KEPT {
            self.list.pop_front();
        }
    }

    /// What is still kept, the oldest first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &Told> {
        self.list.iter()
    }
}
