//! The reasons why a sample may be doubted.

/// A reason to doubt a sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(u16)]
pub enum Mark {
    /// It stands out from its neighbours: a chip, or a bump of the table.
    Spike = 1,
    /// The tool stood still; many such samples are one look at one place.
    Pause = 1 << 1,
    /// It belongs to a short move against the run of the pass.
    Nudge = 1 << 2,
    /// Lines were lost just before it.
    AfterLoss = 1 << 3,
    /// The first after the device came back: the encoder may have moved while dark.
    AfterReplug = 1 << 4,
    /// The encoder may have lost counts; its angle is not trusted until an index agrees.
    AngleInDoubt = 1 << 5,
    /// The controller started anew: the angle's reference is gone.
    AfterRestart = 1 << 6,
    /// The tool turned faster than the wanted spacing allows.
    TooFast = 1 << 7,
    /// The time does not grow, or a value is not finite.
    Unusable = 1 << 8,
}

impl Mark {
    /// Every mark, in the order of their bits.
    pub const ALL: &'static [Mark] = &[
        Mark::Spike,
        Mark::Pause,
        Mark::Nudge,
        Mark::AfterLoss,
        Mark::AfterReplug,
        Mark::AngleInDoubt,
        Mark::AfterRestart,
        Mark::TooFast,
        Mark::Unusable,
    ];

    /// The word in trace files and messages.
    pub const fn as_str(self) -> &'static str {
        match self {
            Mark::Spike => "spike",
            Mark::Pause => "pause",
            Mark::Nudge => "nudge",
            Mark::AfterLoss => "after-loss",
            Mark::AfterReplug => "after-replug",
            Mark::AngleInDoubt => "angle-in-doubt",
            Mark::AfterRestart => "after-restart",
            Mark::TooFast => "too-fast",
            Mark::Unusable => "unusable",
        }
    }
}

/// A set of marks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Marks(u16);

impl Marks {
    /// No mark at all.
    pub const NONE: Self = Self(0);

    /// Adds a mark.
    pub fn add(&mut self, mark: Mark) {
        self.0 |= mark as u16;
    }

    /// Takes a mark away that turned out to be unfounded.
    pub fn remove(&mut self, mark: Mark) {
        self.0 &= !(mark as u16);
    }

    /// Whether a mark is in the set.
    pub fn has(self, mark: Mark) -> bool {
        self.0 & mark as u16 != 0
    }

    /// Whether the set is empty.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether a height with these marks may enter a merge.
    pub fn usable(self) -> bool {
        !(self.has(Mark::Spike)
            || self.has(Mark::AngleInDoubt)
            || self.has(Mark::AfterReplug)
            || self.has(Mark::Unusable))
    }

    /// The marks in the set.
    pub fn iter(self) -> impl Iterator<Item = Mark> {
        Mark::ALL
            .iter()
            .copied()
            .filter(move |mark| self.has(*mark))
    }
}
