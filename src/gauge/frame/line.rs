//! What the lines of the bridge say.

use super::flags::Flags;

/// One accepted line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Line<'a> {
    /// `S`: a sample.
    Sample(SampleLine),
    /// `H`: hello.
    Hello(Hello<'a>),
    /// `T`: counters.
    Counters(Counters),
    /// `A`: the answer to a command.
    Answer(Answer),
    /// A letter that this protocol's first version does not know; to be passed over.
    Unknown {
        /// Its place in the sequence.
        seq: u16,
        /// Its letter.
        letter: u8,
    },
}

impl Line<'_> {
    /// Its place in the sequence of lines made.
    pub const fn seq(&self) -> u16 {
        match self {
            Line::Sample(line) => line.seq,
            Line::Hello(line) => line.seq,
            Line::Counters(line) => line.seq,
            Line::Answer(line) => line.seq,
            Line::Unknown { seq, .. } => *seq,
        }
    }
}

/// `S,seq,t,count,reading,zn,zc,flags`
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SampleLine {
    /// Its place in the sequence of lines made.
    pub seq: u16,
    /// Microseconds at capture, wrapping.
    pub t: u32,
    /// Encoder edges, four a line, at `t`.
    pub count: i32,
    /// Indicator in its least count; absent in a position line.
    pub reading: Option<i32>,
    /// Index edges seen, wrapping.
    pub index_edges: u16,
    /// Count at the last index edge.
    pub index_count: i32,
    /// What happened since the last sample, and what holds now.
    pub flags: Flags,
}

/// `H,seq,key=value,…`
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hello<'a> {
    /// Its place in the sequence of lines made.
    pub seq: u16,
    /// `key=value` pairs, split by commas; each was checked to have both sides.
    pub pairs: &'a [u8],
}

impl<'a> Hello<'a> {
    /// The value of a key.
    pub fn get(&self, key: &str) -> Option<&'a [u8]> {
        self.pairs.split(|byte| *byte == b',').find_map(|pair| {
            let value = pair.strip_prefix(key.as_bytes())?;
            value.strip_prefix(b"=")
        })
    }

    /// The value of a key that is a whole number.
    pub fn number(&self, key: &str) -> Option<u32> {
        super::fields::number(self.get(key)?)
    }
}

/// `T,seq,t,frames_ok,frames_bad,frames_lost,enc_illegal,lines_dropped`: 16 bits, wrapping.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counters {
    /// Its place in the sequence of lines made.
    pub seq: u16,
    /// Microseconds, wrapping.
    pub t: u32,
    /// Frames of the indicator that were whole.
    pub frames_ok: u16,
    /// Frames with a wrong length.
    pub frames_bad: u16,
    /// Frames lost in the bridge.
    pub frames_lost: u16,
    /// Steps of the encoder that cannot be.
    pub illegal_steps: u16,
    /// Lines made but not sent.
    pub lines_dropped: u16,
}

/// `A,seq,cmd,ok,value`
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Its place in the sequence of lines made.
    pub seq: u16,
    /// The letter of the command.
    pub command: u8,
    /// Whether it was done.
    pub ok: bool,
    /// What the command gives back, where it does.
    pub value: Option<i32>,
}
