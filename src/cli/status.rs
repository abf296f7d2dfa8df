//! How a command ended, as scripts see it.

use crate::record::Verdict;
use std::process::ExitCode;

/// The exit status; the worst of several wins.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Status {
    /// Every verdict is pass, or nothing was to be judged.
    #[default]
    Clear,
    /// None fails, at least one is undecided.
    Undecided,
    /// At least one fails.
    Fail,
    /// No verdict: bad usage, bad input, an instrument or disk fault.
    NoVerdict,
}

impl Status {
    /// The number that the program exits with.
    pub const fn code(self) -> u8 {
        match self {
            Status::Clear => 0,
            Status::Fail => 1,
            Status::NoVerdict => 2,
            Status::Undecided => 3,
        }
    }

    /// The worse of two: what could not be judged hides what fails, which hides what is undecided.
    pub fn worst(self, other: Self) -> Self {
        let rank = |status| match status {
            Status::Clear => 0,
            Status::Undecided => 1,
            Status::Fail => 2,
            Status::NoVerdict => 3,
        };
        if rank(other) > rank(self) {
            other
        } else {
            self
        }
    }
}

impl From<Option<Verdict>> for Status {
    fn from(verdict: Option<Verdict>) -> Self {
        match verdict {
            None | Some(Verdict::Pass) => Status::Clear,
            Some(Verdict::Fail) => Status::Fail,
            Some(Verdict::Undecided) => Status::Undecided,
        }
    }
}

impl From<Status> for ExitCode {
    fn from(status: Status) -> Self {
        ExitCode::from(status.code())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(statuses: &[Status], code: u8) {
        let worst = statuses.iter().copied().reduce(Status::worst);
        assert_eq!(worst.unwrap_or_default().code(), code);
        let turned = statuses.iter().rev().copied().reduce(Status::worst);
        assert_eq!(turned.unwrap_or_default().code(), code);
    }

    #[test]
    fn the_worst_of_several_wins_by_meaning_and_not_by_number() {
        use Status::{Clear, Fail, NoVerdict, Undecided};
        check(&[], 0);
        check(&[Clear, Clear], 0);
        check(&[Clear, Undecided], 3);
        check(&[Undecided, Fail, Clear], 1);
        check(&[Undecided, Fail, NoVerdict], 2);
    }
}
