//! A gauge card with what studies of the gauge found.

use super::writer::Writer;
use super::{GaugeCard, Indicator, LeanBound, Setup, Studied, Studies};
use crate::quantity::Length;

impl GaugeCard {
    /// The card with what its studies found in place of what is stated, wherever that is worse.
    #[must_use]
    pub fn as_studied(&self) -> Self {
        let worse = |stated: Length, study: &Option<Studied>| {
            study.map_or(stated, |study| stated.max(study.found))
        };
        let leans_more = |stated: LeanBound, studied: LeanBound| {
            if studied.slope() > stated.slope() {
                studied
            } else {
                stated
            }
        };
        let studied = self.studies.lean.map(|study| study.bound);
        let lean = match (self.setup.lean, studied) {
            (Some(stated), Some(studied)) => Some(leans_more(stated, studied)),
            (stated, studied) => stated.or(studied),
        };
        Self {
            setup: Setup { lean, ..self.setup },
            indicator: Indicator {
                max_error: worse(self.indicator.max_error, &self.studies.round),
                hysteresis: worse(self.indicator.hysteresis, &self.studies.reversal),
                ..self.indicator
            },
            ..self.clone()
        }
    }

    /// The text of a card with these studies in place of those in it; all else stays as a person
    /// wrote it.
    pub fn with_studies(text: &str, studies: &Studies) -> String {
        let mut kept = String::new();
        let mut inside = false;
        for line in text.lines() {
            let start = line.trim_start();
            if start.starts_with('[') {
                let heading = start.trim_start_matches('[').trim_start();
                inside = heading
                    .strip_prefix("study")
                    .is_some_and(|rest| rest.trim_start().starts_with(['.', ']']));
            }
            if !inside {
                kept.push_str(line);
                kept.push('\n');
            }
        }
        let mut out = Writer::bare();
        studies.write(&mut out);
        format!("{}\n{}", kept.trim_end(), out.finish())
    }
}
