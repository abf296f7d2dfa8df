//! What studies of the gauge found, kept in its card.

use super::reader::Reader;
use super::writer::Writer;
use super::{LeanBound, Name};
use crate::quantity::{Length, Speed, Time};
use jiff::{Timestamp, Unit};

/// The last study of each kind.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Studies {
    /// How long a study is trusted; a year when absent.
    pub valid_days: Option<u32>,
    /// Drift of the indicator at rest.
    pub rest: Option<StudiedDrift>,
    /// Repeatability between passes, one standard deviation.
    pub repeat: Option<Studied>,
    /// Hysteresis, from a trace turned both ways.
    pub reversal: Option<Studied>,
    /// Half-width of a rectangular error that scatters about a master round as much as was found.
    pub round: Option<Studied>,
    /// Lean of a test bar in the holder, as the most that it may be.
    pub lean: Option<StudiedLean>,
    /// The indicator's scale on known steps.
    pub step: Option<StudiedGain>,
    /// Spread of whole characteristics over operators and trials.
    pub crossed: Option<StudiedSpread>,
}

/// The lean of a holder, and when it was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StudiedLean {
    /// When the study was made.
    pub taken: Timestamp,
    /// The most that a test bar may lean in it.
    pub bound: LeanBound,
}

/// One figure of the indicator, and when it was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Studied {
    /// When the study was made.
    pub taken: Timestamp,
    /// What it found, never negative.
    pub found: Length,
}

/// A drift at rest, and when it was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StudiedDrift {
    /// When the study was made.
    pub taken: Timestamp,
    /// The most, up or down, that the indicator may have drifted in that time.
    pub drift: Length,
    /// How long it was watched, above zero.
    pub lasted: Time,
}

impl StudiedDrift {
    /// The fastest that the indicator may have drifted, up or down.
    pub fn fastest(&self) -> Speed {
        self.drift / self.lasted
    }
}

/// A gain of the indicator, and when it was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StudiedGain {
    /// When the study was made.
    pub taken: Timestamp,
    /// What a millimetre reads, in mm.
    pub gain: f64,
    /// Its standard uncertainty, the indicator's own error left out.
    pub standard_uncertainty: f64,
    /// From the lowest to the highest of the known heights.
    pub over: Length,
}

impl StudiedGain {
    /// By what every reading is to be divided: the gain where it is proven to differ from 1, and
    /// nothing where the indicator's own limit of error explains it.
    ///
    /// A recognised systematic effect that is significant is to be corrected for, with the
    /// correction's uncertainty in the budget (JCGM 100, 3.2.3 and 3.2.4). To refuse such a gauge
    /// would throw away readings that are as good as the step they were compared with.
    pub fn correction(&self, max_error: Length) -> Option<f64> {
        // Both ends of the step may err by anything within the limit: rectangular, independent.
        let error = max_error / self.over * (2.0 / 3f64).sqrt();
        let off = (self.gain - 1.0).abs();
        (off > 1.96 * self.standard_uncertainty.hypot(error)).then_some(self.gain)
    }
}

/// Standard deviations of characteristics, and when they were found.
#[derive(Clone, Debug, PartialEq)]
pub struct StudiedSpread {
    /// When the oldest of them was found.
    pub taken: Timestamp,
    /// Each in the unit of its characteristic, in the order of [`Studies::CHARACTERISTICS`].
    pub found: Vec<(Name, f64)>,
}

/// A study is trusted for a year when its card does not say otherwise (common practice, no source).
const VALID_DAYS: u32 = 365;

impl Studies {
    /// The characteristics that a crossed study may be about: those that one trace gives.
    pub const CHARACTERISTICS: [Name; 7] = [
        Name::HeelClearance,
        Name::ReliefAngle,
        Name::Drop,
        Name::TotalRelief,
        Name::WearLand,
        Name::EdgeSpread,
        Name::FluteSpacing,
    ];

    /// Standard deviation of a characteristic over operators and trials, in its unit.
    pub fn spread(&self, name: Name) -> Option<f64> {
        let found = &self.crossed.as_ref()?.found;
        found
            .iter()
            .find(|(of, _)| *of == name)
            .map(|(_, spread)| *spread)
    }

    /// The studies that were too old at a moment, by name, each with its age in days.
    pub fn outdated(&self, at: Timestamp) -> Vec<(&'static str, i64)> {
        let valid = i64::from(self.valid_days.unwrap_or(VALID_DAYS));
        self.dates()
            .into_iter()
            .filter_map(|(name, taken)| {
                // A span in hours between two moments always exists; days are 24 of them.
                let hours = at.since((Unit::Hour, taken)).ok()?.get_hours();
                let days = i64::from(hours) / 24;
                (days > valid).then_some((name, days))
            })
            .collect()
    }

    fn dates(&self) -> Vec<(&'static str, Timestamp)> {
        let one = |name, study: &Option<Studied>| study.map(|study| (name, study.taken));
        let crossed = self.crossed.as_ref().map(|study| ("crossed", study.taken));
        let rest = self.rest.map(|study| ("rest", study.taken));
        let lean = self.lean.map(|study| ("lean", study.taken));
        let all = [
            rest,
            one("repeat", &self.repeat),
            one("reversal", &self.reversal),
            one("round", &self.round),
            lean,
            self.step.map(|study| ("step", study.taken)),
            crossed,
        ];
        all.into_iter().flatten().collect()
    }

    pub(super) fn read(table: &Reader<'_>) -> Option<Self> {
        let one = |name: &str, key: &str| {
            table.table(name).map(|table| {
                let (taken, found) = (table.moment("taken"), table.length(key));
                Some(Studied {
                    taken: taken?,
                    found: found?,
                })
            })
        };
        let rest = table.table("rest").map(|table| {
            let (taken, drift) = (table.moment("taken"), table.length("drift_mm"));
            let lasted = table.time("lasted_ms");
            Some(StudiedDrift {
                taken: taken?,
                drift: drift?,
                lasted: lasted?,
            })
        });
        let repeat = one("repeat", "repeatability_mm");
        let reversal = one("reversal", "hysteresis_mm");
        let round = one("round", "error_mm");
        let lean = table.table("lean").map(|table| {
            let (taken, bound) = (table.moment("taken"), LeanBound::read(&table));
            Some(StudiedLean {
                taken: taken?,
                bound: bound?,
            })
        });
        let step = table.table("step").map(|table| {
            let (taken, over) = (table.moment("taken"), table.length("over_mm"));
            let (gain, u) = (table.number("gain"), table.number("gain_uncertainty"));
            Some(StudiedGain {
                taken: taken?,
                gain: gain?,
                standard_uncertainty: u?,
                over: over?,
            })
        });
        let crossed = table.table("crossed").map(|table| read_spread(&table));
        Some(Self {
            valid_days: table.whole("valid_days"),
            rest: present(rest)?,
            repeat: present(repeat)?,
            reversal: present(reversal)?,
            round: present(round)?,
            lean: present(lean)?,
            step: present(step)?,
            crossed: present(crossed)?,
        })
    }

    pub(super) fn write(&self, out: &mut Writer) {
        if let Some(days) = self.valid_days {
            out.heading("[study]");
            out.whole("valid_days", days);
        }
        if let Some(rest) = self.rest {
            out.heading("[study.rest]");
            out.plain("taken", rest.taken);
            out.length("drift_mm", Some(rest.drift));
            out.time("lasted_ms", Some(rest.lasted));
        }
        let mut one = |heading, key, study: &Option<Studied>| {
            if let Some(study) = study {
                out.heading(heading);
                out.plain("taken", study.taken);
                out.length(key, Some(study.found));
            }
        };
        one("[study.repeat]", "repeatability_mm", &self.repeat);
        one("[study.reversal]", "hysteresis_mm", &self.reversal);
        one("[study.round]", "error_mm", &self.round);
        if let Some(lean) = self.lean {
            out.heading("[study.lean]");
            out.plain("taken", lean.taken);
            lean.bound.write(out);
        }
        if let Some(step) = &self.step {
            out.heading("[study.step]");
            out.plain("taken", step.taken);
            out.number("gain", step.gain);
            out.number("gain_uncertainty", step.standard_uncertainty);
            out.length("over_mm", Some(step.over));
        }
        if let Some(crossed) = &self.crossed {
            out.heading("[study.crossed]");
            out.plain("taken", crossed.taken);
            for (name, spread) in &crossed.found {
                if let Some(key) = name.card_key() {
                    out.number(&key, *spread);
                }
            }
        }
    }
}

/// A table that is there but cannot be read spoils the whole.
fn present<T>(read: Option<Option<T>>) -> Option<Option<T>> {
    match read {
        None => Some(None),
        Some(inner) => inner.map(Some),
    }
}

fn read_spread(table: &Reader<'_>) -> Option<StudiedSpread> {
    let taken = table.moment("taken");
    let found = Studies::CHARACTERISTICS
        .into_iter()
        .filter_map(|name| {
            let key = name.card_key()?;
            let spread = match name.unit() {
                "mm" => table.length(&key).map(Length::mm),
                _ => table.number(&key),
            };
            Some((name, spread?))
        })
        .collect();
    Some(StudiedSpread {
        taken: taken?,
        found,
    })
}
