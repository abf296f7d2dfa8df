//! Keeps on a gauge card that its encoder's turning sense was seen.

use crate::card::{GaugeCard, Rotation, SenseProven};
use crate::error::{Code, Error, Result};
use crate::quantity::Angle;

/// Turned by less than this, nothing is proven.
const LEAST: Angle = Angle::from_rad(30.0 / 180.0 * std::f64::consts::PI);

/// The turning direction in which an angle grows that went by so much while the spindle was turned
/// clockwise; nothing where that is too little to tell.
pub fn seen_to_grow(by: Angle) -> Option<Rotation> {
    let told = by.abs() >= LEAST;
    Rotation::Clockwise.in_which_grows(by).filter(|_| told)
}

/// Seen today, by the day of the world's clock.
pub fn seen_today(grows: Rotation) -> SenseProven {
    SenseProven {
        grows,
        on: jiff::tz::Offset::UTC
            .to_datetime(jiff::Timestamp::now())
            .date(),
    }
}

/// The text of a gauge card that says what was seen, all else in it as a person wrote it.
///
/// # Errors
/// `card-syntax` where the card is laid out in a way that hides where its tables end.
pub fn with_proof(text: &str, file: &str, proven: SenseProven) -> Result<String> {
    let kept = GaugeCard::with_sense_proven(text, proven);
    let read = GaugeCard::parse(&kept, file).map(|card| card.encoder.sense_proven);
    if read == Ok(Some(proven)) {
        return Ok(kept);
    }
    Err(Error::new(
        Code::CardSyntax,
        "found no place to keep what was seen, expected `[encoder]` under a heading of its own",
    )
    .in_file(file)
    .help(format!("write `sense_proven = {proven}` under it")))
}
