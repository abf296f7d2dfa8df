//! How long the page waits, and for how many: nobody who is slow or stays away holds up the others.

use std::time::Duration;

/// What is waited for, and for how long (all chosen, no source).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limits {
    /// The head of a request has to be whole within this time of the connection, or of the answer
    /// before it.
    pub head: Duration,
    /// Its body, beyond what a slow network needs for as many bytes.
    pub body: Duration,
    /// Who takes nothing of an answer for so long is given up.
    pub stalled: Duration,
    /// What a disk has not brought back within this time is told of.
    pub disk: Duration,
    /// One file of many has to be read within this time, or the others are shown without it.
    pub file: Duration,
    /// Connections at a time that have not shown the token.
    pub strangers: usize,
    /// Connections at a time that have.
    pub known: usize,
}

/// So many files may be of use at the same time.
#[cfg(unix)]
const WANTED_FILES: u64 = 4096;

impl Default for Limits {
    fn default() -> Self {
        let (strangers, known) = connections(most_files());
        Self {
            head: Duration::from_secs(10),
            body: Duration::from_secs(20),
            stalled: Duration::from_secs(20),
            disk: Duration::from_secs(20),
            file: Duration::from_secs(5),
            strangers,
            known,
        }
    }
}

/// So many of each where the system lets the program open so many files: most of them are left for
/// ports, archives and the files of an inspection.
fn connections(files: u64) -> (usize, usize) {
    let share = |of: u64| usize::try_from(files / of).unwrap_or(usize::MAX);
    (share(4).clamp(8, 1024), share(8).clamp(8, 256))
}

/// How many files the program may have open, once it has asked for as many as it has a use for.
#[cfg(unix)]
fn most_files() -> u64 {
    use rustix::process::{Resource, getrlimit, setrlimit};
    let mut may = getrlimit(Resource::Nofile);
    let has = may.current.unwrap_or(u64::MAX);
    let wanted = may.maximum.unwrap_or(WANTED_FILES).min(WANTED_FILES);
    if has >= wanted {
        return has;
    }
    may.current = Some(wanted);
    // Where it is refused, there are fewer.
    match setrlimit(Resource::Nofile, may) {
        Ok(()) => wanted,
        Err(_) => has,
    }
}

#[cfg(not(unix))]
fn most_files() -> u64 {
    u64::MAX
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn most_of_the_files_that_may_be_open_are_left_for_the_work() {
        assert_eq!(connections(u64::MAX), (1024, 256));
        assert_eq!(connections(4096), (1024, 256));
        assert_eq!(connections(1024), (256, 128));
        assert_eq!(connections(256), (64, 32));
        assert_eq!(connections(0), (8, 8));
    }
}
