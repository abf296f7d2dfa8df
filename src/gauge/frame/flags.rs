//! The flags of a sample.

/// The flags of a sample.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Flags(pub u8);

impl Flags {
    /// Holds now: no whole frame from the indicator since the start, or for a second.
    pub const NO_FRAME: Self = Self(0x01);
    /// A frame that does not fit what the bridge was told of its indicator was dropped.
    pub const BAD_FRAME: Self = Self(0x02);
    /// Edges of both encoder tracks came too fast to be told apart: counts may be lost.
    pub const ILLEGAL_STEP: Self = Self(0x04);
    /// Lines were made but not sent.
    pub const LINES_DROPPED: Self = Self(0x08);
    /// The index was seen.
    pub const INDEX: Self = Self(0x10);
    /// Holds now: the last index was passed backwards.
    pub const INDEX_BACKWARDS: Self = Self(0x20);
    /// Holds now: the indicator shows inches.
    pub const INCH: Self = Self(0x40);
    /// A frame was lost in the bridge.
    pub const FRAME_LOST: Self = Self(0x80);

    /// Whether all of these are set.
    pub const fn has(self, flags: Self) -> bool {
        self.0 & flags.0 == flags.0
    }

    /// These and those.
    #[must_use]
    pub const fn with(self, flags: Self) -> Self {
        Self(self.0 | flags.0)
    }
}
