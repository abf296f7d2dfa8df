//! An inspection card to start from.

use super::{Draft, Entry, Starter, Value};
use crate::card::{Role, Source, Stage, TraceEntry, keys};
use crate::quantity::Units;
use jiff::Timestamp;

/// What is known of an inspection; the rest is left to fill in.
#[derive(Clone, Debug)]
pub struct NewInspection {
    /// The unit that lengths are written in.
    pub units: Units,
    /// When its traces are taken.
    pub taken: Timestamp,
    /// Who takes them.
    pub operator: Option<String>,
    /// Before or after the grind.
    pub stage: Stage,
    /// The grinder's card in the folder.
    pub grinder: Option<String>,
    /// The set-up in the folder.
    pub setup: Option<String>,
    /// Its traces, in the order in which they are taken.
    pub traces: Vec<TraceEntry>,
}

impl NewInspection {
    /// The card. Tool and gauge card are called as `capture` calls them.
    pub fn card(&self) -> Starter {
        let mut draft = Draft::new("An inspection card", "inspection-card", self.units);
        draft.prose("It lies in a folder of its own with the tool card, the gauge card and the traces that it names. `heelclear capture` writes one by itself.");
        let text = |text: &str| Some(Value::Text(text.to_owned()));
        let named = |name: &Option<String>| name.clone().map(Value::Text);
        let [top, trace] = keys::INSPECTION else {
            return draft.finish();
        };
        draft.table(
            top,
            &[
                Entry::stated("schema", Some(Value::Whole(1))),
                Entry::stated("tool", text("tool.toml")),
                Entry::stated("gauge", text("gauge.toml")),
                Entry::stated("taken", Some(Value::Plain(self.taken.to_string()))),
                Entry::stated("operator", named(&self.operator)),
                Entry::stated("grinder", named(&self.grinder)),
                Entry::stated("setup", named(&self.setup)),
                Entry::stated("stage", text(self.stage.as_str())),
            ],
        );
        match self.traces.is_empty() {
            true => draft.left_out(trace),
            false => {
                let traces = self.traces.iter();
                traces.for_each(|each| draft.table(trace, &of_trace(each)));
            }
        }
        draft.finish()
    }
}

fn of_trace(each: &TraceEntry) -> Vec<Entry> {
    let text = |text: &str| Some(Value::Text(text.to_owned()));
    let (angle, reading) = match &each.source {
        Source::One(_) => (None, None),
        Source::Two { angle, reading } => (text(angle), text(reading)),
    };
    let file = match &each.source {
        Source::One(file) => text(file),
        Source::Two { .. } => None,
    };
    let engaged = match &each.role {
        Role::Motion(engaged) | Role::Residual(_, engaged) => Some(engaged),
        Role::Reference | Role::Feature(_) => None,
    };
    let rezeroed = each.rezeroed.then(|| Value::Plain("true".to_owned()));
    vec![
        Entry::stated("file", file),
        Entry::stated("angle_file", angle),
        Entry::stated("reading_file", reading),
        Entry::stated("role", text(each.role.as_str())),
        Entry::stated("feature", each.role.feature().and_then(text)),
        Entry::stated(
            "direction",
            engaged.and_then(|it| text(it.direction.as_str())),
        ),
        Entry::stated("throw_mm", engaged.map(|it| Value::Length(it.throw))),
        Entry::stated("z_mm", each.z.map(Value::Length)),
        Entry::stated("diameter_mm", each.diameter.map(Value::Length)),
        Entry::stated("rezeroed", rezeroed),
    ]
}
