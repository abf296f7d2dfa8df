//! A grinder's card to start from.

use super::{Draft, Entry, Starter, Value};
use crate::card::{Cuts, keys};
use crate::quantity::{AngularSpeed, Length, Speed, Units};

/// What is known of a grinder; the rest is left to fill in.
#[derive(Clone, Debug, Default)]
pub struct NewGrinder {
    /// The unit that lengths are written in.
    pub units: Units,
    /// What people call it.
    pub name: Option<String>,
    /// Within how much the height of centre is known.
    pub centre_tolerance: Option<Length>,
    /// A wheel.
    pub wheel: Option<NewWheel>,
    /// Turns a minute of the motor.
    pub motor: Option<AngularSpeed>,
    /// Pairs of pulleys, that of the motor first.
    pub pulleys: Vec<(Length, Length)>,
    /// The least that the slide along the tool's radius can be set by.
    pub graduation: Option<Length>,
}

/// What is known of a wheel.
#[derive(Clone, Debug)]
pub struct NewWheel {
    /// What people call it.
    pub name: Option<String>,
    /// Which part of it grinds.
    pub cuts: Cuts,
    /// As it is dressed now.
    pub diameter: Length,
    /// When it was new.
    pub full_diameter: Option<Length>,
    /// Radius of its corner.
    pub corner: Option<Length>,
    /// The greatest surface speed marked on it.
    pub greatest: Option<Speed>,
    /// The greatest turns a minute marked on it.
    pub greatest_turns: Option<AngularSpeed>,
}

impl NewGrinder {
    /// The card.
    pub fn card(&self) -> Starter {
        let mut draft = Draft::new("A grinder's card", "grinder-card", self.units);
        draft.prose("What is not said here is not worked out. Copy speeds from the wheel itself and from the motor's plate, never from an example.");
        for section in keys::GRINDER {
            match section.heading {
                "" => draft.table(section, &self.top()),
                "[spindle]" if self.motor.is_some() => {
                    let motor = self.motor.map(|motor| Value::Number(motor.rpm()));
                    draft.table(section, &[Entry::stated("motor_rpm", motor)]);
                }
                "[[spindle.pulleys]]" if !self.pulleys.is_empty() => {
                    for (motor, spindle) in &self.pulleys {
                        let entries = [
                            Entry::stated("motor_mm", Some(Value::Length(*motor))),
                            Entry::stated("spindle_mm", Some(Value::Length(*spindle))),
                        ];
                        draft.table(section, &entries);
                    }
                }
                "[[wheel]]" if self.wheel.is_some() => {
                    let wheel = self.wheel.iter();
                    wheel.for_each(|wheel| draft.table(section, &of_wheel(wheel)));
                }
                "[[slide]]" if self.graduation.is_some() => {
                    draft.table(section, &self.slide());
                }
                _ => draft.left_out(section),
            }
        }
        draft.finish()
    }

    fn top(&self) -> Vec<Entry> {
        let tolerance = self.centre_tolerance.map(Value::Length);
        vec![
            Entry::stated("schema", Some(Value::Whole(1))),
            Entry::needed("name", self.name.clone().map(Value::Text)),
            Entry::stated("centre_tolerance_mm", tolerance),
        ]
    }

    fn slide(&self) -> Vec<Entry> {
        vec![
            Entry::needed("name", None),
            Entry::stated("direction", Some(Value::Text("radial".to_owned()))),
            Entry::stated("graduation_mm", self.graduation.map(Value::Length)),
        ]
    }
}

fn of_wheel(wheel: &NewWheel) -> Vec<Entry> {
    let cuts = Value::Text(wheel.cuts.as_str().to_owned());
    let corner = wheel.corner.map(Value::Length);
    let corner = match wheel.cuts {
        Cuts::Corner => Entry::needed("corner_mm", corner),
        _ => Entry::stated("corner_mm", corner),
    };
    let speed = wheel.greatest.map(|it| Value::Number(it.m_per_s()));
    let turns = wheel.greatest_turns.map(|it| Value::Number(it.rpm()));
    vec![
        Entry::needed("name", wheel.name.clone().map(Value::Text)),
        Entry::stated("cuts", Some(cuts)),
        Entry::stated("diameter_mm", Some(Value::Length(wheel.diameter))),
        Entry::stated("full_diameter_mm", wheel.full_diameter.map(Value::Length)),
        corner,
        Entry::stated("greatest_m_per_s", speed),
        Entry::stated("greatest_rpm", turns),
    ]
}
