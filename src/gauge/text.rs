//! Any instrument that sends lines of text, read by a pattern with named groups.

use crate::card::Link;
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length, Time};
use regex::bytes::{Captures, Regex};

/// A pattern and what its groups mean.
#[derive(Clone, Debug)]
pub struct TextPattern {
    regex: Regex,
    unit: Option<TextUnit>,
    end: u8,
}

/// The unit of a reading in text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TextUnit {
    /// Millimetres.
    Mm,
    /// Inches.
    In,
    /// Micrometres.
    Um,
}

/// What one line of text said; what its pattern has no group for is absent.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TextLine {
    /// `reading`, in its unit.
    pub reading: Option<Length>,
    /// `angle`, in degrees in the text.
    pub angle: Option<Angle>,
    /// `count` of an encoder.
    pub count: Option<i64>,
    /// `time` on the instrument's own clock, in seconds in the text.
    pub time: Option<Time>,
}

impl TextUnit {
    /// A unit by the ways in which instruments write it.
    pub fn named(text: &[u8]) -> Option<Self> {
        let text = text.to_ascii_lowercase();
        match text.as_slice() {
            b"mm" => Some(Self::Mm),
            b"in" | b"inch" | b"\"" => Some(Self::In),
            b"um" | b"\xC2\xB5m" | b"\xCE\xBCm" => Some(Self::Um),
            _ => None,
        }
    }

    fn length(self, value: f64) -> Length {
        match self {
            Self::Mm => Length::from_mm(value),
            Self::In => Length::from_in(value),
            Self::Um => Length::from_um(value),
        }
    }
}

impl TextPattern {
    /// The pattern of the instrument that gives the reading.
    pub fn of_indicator(link: &Link) -> Result<Self> {
        let pattern = link.pattern.as_deref().ok_or_else(|| {
            Error::new(
                Code::MissingKey,
                "read no `pattern` in `[link]`, which `text` needs",
            )
            .help("add `pattern = '(?<reading>[-+0-9.]+)'`, fitted to the instrument's lines")
        })?;
        Self::new(pattern, link, &["reading"])
    }

    /// The pattern of a second instrument, which gives the angle.
    pub fn of_encoder(link: &Link) -> Result<Option<Self>> {
        let pattern = link.angle_pattern.as_deref();
        pattern
            .map(|pattern| Self::new(pattern, link, &["angle", "count"]))
            .transpose()
    }

    fn new(pattern: &str, link: &Link, any_of: &[&str]) -> Result<Self> {
        let regex = Regex::new(pattern).map_err(|fault| {
            let message = format!("read the pattern `{pattern}`, which is none: {fault}");
            Error::new(Code::CardValue, message).because(fault)
        })?;
        let groups: Vec<_> = regex.capture_names().flatten().collect();
        if !any_of.iter().any(|wanted| groups.contains(wanted)) {
            let wanted = any_of.join("` or `");
            let message = format!("the pattern `{pattern}` has no group `{wanted}`");
            return Err(Error::new(Code::CardValue, message)
                .help(format!("name it `(?<{}>…)`", any_of.first().unwrap_or(&""))));
        }
        let unit = link.unit.as_deref();
        Ok(Self {
            regex,
            unit: unit.and_then(|unit| TextUnit::named(unit.as_bytes())),
            end: match link.line_ending.as_deref() {
                Some("cr") => b'\r',
                _ => b'\n',
            },
        })
    }

    /// The byte that ends a line.
    pub fn end(&self) -> u8 {
        self.end
    }

    /// Reads one line; `None` where it does not fit the pattern or a number in it is none.
    pub fn read(&self, line: &[u8]) -> Option<TextLine> {
        let groups = self.regex.captures(line)?;
        let reading = match groups.name("reading") {
            Some(_) => {
                let unit = match groups.name("unit") {
                    Some(unit) => TextUnit::named(unit.as_bytes())?,
                    None => self.unit.unwrap_or(TextUnit::Mm),
                };
                let length = unit.length(float(&groups, "reading")?);
                Some(length).filter(|length| length.is_finite())?.into()
            }
            None => None,
        };
        let maybe = |name| match groups.name(name) {
            Some(_) => float(&groups, name).map(Some),
            None => Some(None),
        };
        Some(TextLine {
            reading,
            angle: maybe("angle")?.map(Angle::from_deg),
            count: match groups.name("count") {
                Some(count) => Some(std::str::from_utf8(count.as_bytes()).ok()?.parse().ok()?),
                None => None,
            },
            time: maybe("time")?.map(Time::from_s),
        })
    }
}

/// A number as people and instruments write it: spaces after the sign, a comma for the point.
fn float(groups: &Captures<'_>, name: &str) -> Option<f64> {
    let bytes = groups.name(name)?.as_bytes();
    let text: String = bytes
        .iter()
        .filter(|byte| !byte.is_ascii_whitespace())
        .map(|byte| {
            if *byte == b',' {
                '.'
            } else {
                char::from(*byte)
            }
        })
        .collect();
    let number: f64 = text.parse().ok()?;
    number.is_finite().then_some(number)
}

/// The bytes of a request, with `\r`, `\n` and `\t` as people write them.
pub fn request_bytes(request: &str) -> Vec<u8> {
    let text = request
        .replace("\\r", "\r")
        .replace("\\n", "\n")
        .replace("\\t", "\t");
    text.into_bytes()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn pattern(pattern: &str, unit: Option<&str>) -> TextPattern {
        let link = Link {
            pattern: Some(pattern.to_owned()),
            unit: unit.map(str::to_owned),
            ..Link::default()
        };
        TextPattern::of_indicator(&link).unwrap()
    }

    #[track_caller]
    fn check(form: &TextPattern, line: &str, expected_mm: Option<f64>) {
        let read = form.read(line.as_bytes());
        let mm = read.and_then(|line| line.reading).map(Length::mm);
        assert_eq!(mm, expected_mm, "{line}");
    }

    #[test]
    fn readings_come_in_the_unit_of_the_card_or_of_the_line() {
        let card = pattern(r"^(?<reading>[-+ 0-9.,]+)", Some("um"));
        check(&card, "+0012.5", Some(0.0125));
        check(&card, "- 3,5", Some(-0.0035));
        check(&card, "error 3", None);
        let line = pattern(r"(?<reading>[-+0-9.]+) ?(?<unit>\S+)", None);
        check(&line, "0.100 in", Some(2.54));
        check(&line, "-1.25mm", Some(-1.25));
        check(&line, "3 µm", Some(0.003));
        check(&line, "3 furlongs", None);
        check(&line, "1.2.3 mm", None);
    }

    #[test]
    fn angle_count_and_time_come_along() {
        let form = pattern(
            r"(?<time>\d+\.\d+);(?<angle>[-0-9.]+);(?<count>-?\d+);(?<reading>.+)",
            None,
        );
        let line = form.read(b"1.5;90;-1000;0.25").unwrap();
        assert_eq!(line.time, Some(Time::from_s(1.5)));
        assert_eq!(line.angle, Some(Angle::from_deg(90.0)));
        assert_eq!(line.count, Some(-1000));
    }

    #[test]
    fn a_pattern_without_its_group_is_refused_with_what_to_do() {
        let link = Link {
            pattern: Some("([0-9]+)".to_owned()),
            ..Link::default()
        };
        let error = TextPattern::of_indicator(&link).unwrap_err();
        assert_eq!(error.code(), Code::CardValue);
        assert!(error.advice().unwrap().contains("(?<reading>"));
    }

    #[test]
    fn a_request_may_hold_line_ends_as_people_write_them() {
        assert_eq!(request_bytes(r"?R\r\n"), b"?R\r\n");
    }
}
