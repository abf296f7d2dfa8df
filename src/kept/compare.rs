//! Two records of a tool held against each other, with what is to be known of both.

use super::judged::{Judged, judged};
use crate::error::Result;
use crate::quantity::Units;
use crate::record::Compared;
use crate::record::archive::{Archive, KEPT_AS_JUDGED, Wanted};
use crate::report;

/// Two records, and what lies between them.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// The earlier one.
    pub before: Judged,
    /// The later one.
    pub after: Judged,
    /// What moved.
    pub compared: Compared,
}

/// The second record held against the first.
///
/// # Errors
/// Those of [`judged`].
pub fn compare(archive: &mut Archive, before: &Wanted, after: &Wanted) -> Result<Comparison> {
    let before = judged(archive, before)?;
    let after = judged(archive, after)?;
    let mut compared = Compared::of(&before.record, &after.record);
    let sides = [&before.stored.summary, &after.stored.summary].into_iter();
    let as_judged = sides.filter(|summary| summary.as_judged);
    compared.assumptions.extend(as_judged.map(|summary| {
        let id = &summary.id;
        format!("the verdict of record {id} was {KEPT_AS_JUDGED}")
    }));
    Ok(Comparison {
        before,
        after,
        compared,
    })
}

impl Comparison {
    /// Both drawn over each other.
    ///
    /// # Errors
    /// Those of the drawing.
    pub fn svg(&self, units: Units) -> Result<String> {
        let [before, after] = self.names();
        let one = (before.as_str(), &self.before.record);
        let other = (after.as_str(), &self.after.record);
        report::compare_svg(one, other, &self.compared, units)
    }

    /// The same in words.
    pub fn text(&self, units: Units) -> String {
        let [before, after] = self.names();
        let one = (before.as_str(), &self.before.record);
        let other = (after.as_str(), &self.after.record);
        report::compare_text(one, other, &self.compared, units)
    }

    /// The records' names, with what is to be known of a verdict that nobody judged again.
    fn names(&self) -> [String; 2] {
        [&self.before, &self.after].map(|judged| {
            let summary = &judged.stored.summary;
            match summary.as_judged {
                true => format!("{} (as judged)", summary.id),
                false => summary.id.to_string(),
            }
        })
    }
}
