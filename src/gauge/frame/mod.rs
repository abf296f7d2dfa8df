//! Bridge protocol 1: lines to values and back, with nothing but `core`.
//!
//! No I/O, no heap, no floats, so that the same code can run in the bridge itself. What a line
//! means in millimetres and degrees is the business of [`sample`](crate::sample).
//!
//! ```
//! use heelclear::gauge::frame::{Line, decode};
//! let line = decode(b"S,58,1060555,1921,,1,100,00*BA9B");
//! assert!(matches!(line, Ok(Line::Sample(sample)) if sample.count == 1921));
//! ```

mod assemble;
mod checksum;
mod command;
mod decode;
mod encode;
mod fields;
mod flags;
mod line;
mod refusal;
mod unwrap;

pub use assemble::Assembler;
pub use command::Command;
pub use decode::decode;
pub use encode::{Encoded, encode, encode_hello};
pub use flags::Flags;
pub use line::{Answer, Counters, Hello, Line, SampleLine};
pub use refusal::Refusal;
pub use unwrap::{Followed, Sequence, Unwrap};

/// Most bytes of a line, its line feed not counted.
pub const LONGEST: usize = 95;

/// The protocol's number, as `proto` in a hello.
pub const PROTOCOL: u32 = 1;
