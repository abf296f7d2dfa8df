//! What a bridge says of itself, and each index mark that passes, from the same bytes as samples.

use crate::gauge::frame::{Assembler, Flags, Hello, Line, SampleLine, Unwrap};
use crate::quantity::Time;

/// Listens to a bridge's stream for what is no reading.
#[derive(Clone, Debug, Default)]
pub struct Overheard {
    lines: Assembler,
    seen: Seen,
}

/// What was heard so far.
#[derive(Clone, Debug, Default)]
struct Seen {
    introduction: Option<Introduction>,
    counter: Unwrap,
    clock: Unwrap,
    first_us: Option<i64>,
    last_us: i64,
    edges: Option<u16>,
    marks: Vec<IndexMark>,
    without_frame: bool,
}

/// What a bridge answers when it is asked who it is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Introduction {
    /// The version of the line protocol.
    pub protocol: Option<u32>,
    /// The version of its firmware.
    pub firmware: Option<String>,
    /// Its own name.
    pub id: Option<String>,
    /// The indicator that it expects.
    pub indicator: Option<String>,
}

/// An edge of the encoder's index that was passed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct IndexMark {
    /// The encoder's count there, continuous.
    pub count: i64,
    /// Whether the encoder counted down as it passed.
    pub backwards: bool,
}

impl Overheard {
    /// Nothing heard yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes the next bytes of the stream.
    pub fn feed(&mut self, bytes: &[u8]) {
        let seen = &mut self.seen;
        self.lines.feed(bytes, |_, line| match line {
            Ok(Line::Hello(hello)) => seen.introduction = Some(introduction(&hello)),
            Ok(Line::Sample(sample)) => seen.sample(&sample),
            _ => {}
        });
    }

    /// What it said of itself last; nothing while it has not.
    pub fn introduction(&self) -> Option<&Introduction> {
        self.seen.introduction.as_ref()
    }

    /// The index marks passed so far, in the order passed.
    pub fn marks(&self) -> &[IndexMark] {
        &self.seen.marks
    }

    /// Time from the first sample to the last by the bridge's own clock; nothing before two.
    pub fn lasted(&self) -> Option<Time> {
        let first = self
            .seen
            .first_us
            .filter(|first| *first < self.seen.last_us)?;
        Some(Time::from_s((self.seen.last_us - first) as f64 / 1e6))
    }

    /// Whether the last sample said that no whole frame comes from the indicator.
    pub fn without_frame(&self) -> bool {
        self.seen.without_frame
    }
}

impl Seen {
    fn sample(&mut self, line: &SampleLine) {
        let us = self.clock.follow(line.t);
        self.first_us.get_or_insert(us);
        // With a reading, `t` may lie before that of a line sent earlier.
        self.last_us = self.last_us.max(us);
        self.without_frame = line.flags.has(Flags::NO_FRAME);
        let count = self.counter.follow_signed(line.count);
        // The number of edges alone does not tell one that was passed before anybody listened.
        let before = self.edges.replace(line.index_edges);
        if before.is_none_or(|before| before == line.index_edges) {
            return;
        }
        let behind = line.count.wrapping_sub(line.index_count);
        let mark = IndexMark {
            count: count - i64::from(behind),
            backwards: line.flags.has(Flags::INDEX_BACKWARDS),
        };
        // A bouncing pulse counts twice where it stands.
        if self.marks.last() != Some(&mark) {
            self.marks.push(mark);
        }
    }
}

fn introduction(hello: &Hello<'_>) -> Introduction {
    let text = |key| {
        let value = hello.get(key)?;
        Some(String::from_utf8_lossy(value).into_owned())
    };
    Introduction {
        protocol: hello.number("proto"),
        firmware: text("fw"),
        id: text("id"),
        indicator: text("ind"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // The worked lines of bridge protocol 1.
    const LINES: &[u8] =
        b"H,0,proto=1,fw=0.1.0,id=ref328p,tick=1000000,quad=4,ind=bits24,max=96,baud=500000*46F8
S,57,1049848,1899,-1234,1,100,10*30C1
S,58,1060555,1921,,1,100,00*BA9B
S,60,4294967290,2410,6789,2,2500,10*AFFA
S,61,12704,2431,6790,2,2500,00*155B
";

    #[test]
    fn a_hello_tells_protocol_firmware_name_and_indicator() {
        let mut overheard = Overheard::new();
        overheard.feed(LINES);
        let expected = Introduction {
            protocol: Some(1),
            firmware: Some("0.1.0".to_owned()),
            id: Some("ref328p".to_owned()),
            indicator: Some("bits24".to_owned()),
        };
        assert_eq!(overheard.introduction(), Some(&expected));
    }

    #[test]
    fn a_mark_is_one_that_was_passed_while_listening() {
        let mut overheard = Overheard::new();
        overheard.feed(LINES);
        let passed = IndexMark {
            count: 2500,
            backwards: false,
        };
        assert_eq!(overheard.marks(), [passed]);
    }
}
