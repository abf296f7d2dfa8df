//! Lengths in a record's sentences: which numbers they are, and where they stand.

use super::schema::{LengthInText, Record, SettingsAdvice};
use crate::quantity::told::{self, Place};

impl Record {
    /// Every sentence of the record that a stage wrote, in an order that is always the same.
    pub fn sentences(&mut self) -> impl Iterator<Item = &mut String> {
        let figures = self.characteristics.iter_mut();
        let figures = figures.flat_map(|figure| {
            let why = std::iter::once(&mut figure.why);
            why.chain(&mut figure.remedy)
        });
        let curves = self
            .flutes
            .iter_mut()
            .filter_map(|flute| flute.curve.as_mut());
        let curves = curves.flat_map(|curve| &mut curve.doubts);
        let doubts = self.doubts.iter_mut();
        let doubts = doubts.flat_map(|doubt| [&mut doubt.seen, &mut doubt.cure]);
        let about = &mut self.about;
        let gauge = about.gauge.iter_mut();
        let about = gauge
            .chain(&mut about.assumptions)
            .chain(&mut about.history);
        let settings = self.settings.iter_mut();
        let settings = settings.flat_map(|advice| [&mut advice.why, &mut advice.remedy]);
        figures
            .chain(curves)
            .chain(doubts)
            .chain(about)
            .chain(&mut self.warnings)
            .chain(settings)
    }

    /// Adds what to set otherwise on the grinder, its lengths read as those of [`Record::read_lengths`].
    pub fn advise(&mut self, settings: Vec<SettingsAdvice>) {
        let added = 2 * settings.len();
        self.settings.extend(settings);
        let before = self.sentences().count() - added;
        let mut lengths = std::mem::take(&mut self.lengths);
        for (sentence, text) in self.sentences().enumerate().skip(before) {
            let (metric, places) = told::read(text);
            lengths.extend(places.iter().map(|place| LengthInText::of(sentence, place)));
            *text = metric;
        }
        self.lengths = lengths;
    }

    /// Turns the marks that stages left in sentences into metric words, and keeps the numbers.
    pub fn read_lengths(&mut self) {
        let mut lengths = Vec::new();
        for (sentence, text) in self.sentences().enumerate() {
            let (metric, places) = told::read(text);
            lengths.extend(places.iter().map(|place| LengthInText::of(sentence, place)));
            *text = metric;
        }
        self.lengths = lengths;
    }

    /// The same record with the lengths in its sentences in inches.
    pub fn told_in_inches(&self) -> Self {
        let mut told = self.clone();
        let lengths = std::mem::take(&mut told.lengths);
        for (at, text) in told.sentences().enumerate() {
            // From the last on, so that those before keep their places.
            let of_this = lengths
                .iter()
                .rev()
                .filter(|length| length.sentence() == at);
            for place in of_this.map(LengthInText::place) {
                // A record that was changed by hand is told as it stands.
                if text.get(place.from..place.to).is_some() {
                    text.replace_range(place.from..place.to, &place.in_inches());
                }
            }
        }
        told
    }
}

impl LengthInText {
    fn of(sentence: usize, place: &Place) -> Self {
        Self([
            sentence as f64,
            place.from as f64,
            place.to as f64,
            place.mm,
            place.inch_decimals.map_or(-1.0, f64::from),
            f64::from(u8::from(place.with_unit)),
        ])
    }

    fn sentence(&self) -> usize {
        self.0[0] as usize
    }

    fn place(&self) -> Place {
        let [_, from, to, mm, decimals, with_unit] = self.0;
        Place {
            from: from as usize,
            to: to as usize,
            mm,
            inch_decimals: (decimals >= 0.0).then_some(decimals as i32),
            with_unit: with_unit != 0.0,
        }
    }
}
