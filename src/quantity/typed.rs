//! Quantities as people type them: `20`, `3/4in`, `1 1/2in`, `500um`, `8deg30min`, `35m/s`, `1:20`.
//!
//! One reader for every place where somebody types a quantity, so that what is read in one is read in
//! all. What may be read in two ways is refused, with how to write it; so is what is no number.

use super::{Angle, AngularSpeed, Length, Speed, stated};

/// What could not be read, told so that a person can mend it.
pub type Read<T> = Result<T, String>;

/// The unit of a length that has none behind it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bare {
    /// Millimetres.
    Mm,
    /// Micrometres.
    Um,
    /// Inches.
    In,
}

const LENGTH: &str = "expected a length such as 20, 20mm, 0.75in, 3/4in or 500um";
const ANGLE: &str = "expected an angle such as 8, 8.5deg, 8°, 8deg30min or 8:30";
const TURNING: &str = "expected turns a minute such as 3000 or 3000rpm";
const MARK: &str = "expected a speed with its unit, such as 35m/s, 6500ft/min or 3600rpm";
const TAPER: &str =
    "expected an angle such as 0.5, 0.5deg or 1deg30min, or a taper such as 5/8in/ft or 1:20";

/// A length in mm, or with its unit behind it.
///
/// ```
/// use heelclear::quantity::{Length, typed};
/// assert_eq!(typed::length("20"), Ok(Length::from_mm(20.0)));
/// assert_eq!(typed::length("1 1/2in"), Ok(Length::from_mm(38.1)));
/// assert!(typed::length("0,75in").is_err());
/// ```
pub fn length(text: &str) -> Read<Length> {
    length_in(text, Bare::Mm)
}

/// A length in this unit, or with its own behind it.
pub fn length_in(text: &str, bare: Bare) -> Read<Length> {
    let text = cleaned(text);
    let (number, unit) = Number::first(&text, LENGTH)?;
    let from = match unit.to_ascii_lowercase().as_str() {
        "" if number.fraction => {
            return Err(format!("a fraction needs its unit behind it: `{text}in`"));
        }
        "" => match bare {
            Bare::Mm => Length::from_mm,
            Bare::Um => Length::from_um,
            Bare::In => Length::from_in,
        },
        "mm" => Length::from_mm,
        "in" | "\"" | "″" => Length::from_in,
        "um" | "µm" | "μm" => Length::from_um,
        _ => return Err(unknown_unit(unit, "mm, in and um", LENGTH)),
    };
    let length = finite(from(number.value), Length::is_finite)?;
    // 1 1/2 in are 38.1 mm, on a card too, and not 38.099999999999994.
    Ok(Length::from_mm(stated(length.mm())))
}

/// An angle in degrees, or with its units behind it: degrees, minutes and seconds of arc, which colons
/// may part instead.
///
/// ```
/// use heelclear::quantity::{Angle, typed};
/// assert_eq!(typed::angle("8deg30min"), Ok(Angle::from_deg(8.5)));
/// assert_eq!(typed::angle("8° 30′"), typed::angle("8.5"));
/// assert_eq!(typed::angle("8:30"), typed::angle("8.5"));
/// ```
pub fn angle(text: &str) -> Read<Angle> {
    let text = with_units(cleaned(text))?;
    let (first, mut rest) = Number::first(&text, ANGLE)?;
    if rest.is_empty() {
        return finite(Angle::from_deg(first.value), Angle::is_finite);
    }
    let mut part = first;
    let mut deg = 0.0;
    // The part before: its size in degrees, and whether it was whole.
    let mut before: Option<(f64, bool)> = None;
    loop {
        let (size, after) = arc_unit(rest)?;
        if let Some((larger, whole)) = before {
            let smaller = size < larger && whole && part.value.abs() < 60.0 && !part.signed;
            if !smaller {
                return Err(format!(
                    "degrees come before minutes and those before seconds, each whole but the last and the smaller ones below 60; {ANGLE}"
                ));
            }
        }
        deg += part.value.abs() * size;
        before = Some((size, part.whole));
        rest = after.trim_start();
        if rest.is_empty() {
            break;
        }
        (part, rest) = Number::first(rest, ANGLE)?;
    }
    let deg = if first.negative { -deg } else { deg };
    finite(Angle::from_deg(deg), Angle::is_finite)
}

/// The text with units in place of colons: `8:30` is `8deg30min`.
fn with_units(text: String) -> Read<String> {
    if !text.contains(':') {
        return Ok(text);
    }
    let parts: Vec<&str> = text.split(':').collect();
    if parts.len() > 3 || text.contains(char::is_alphabetic) {
        return Err(ANGLE.to_owned());
    }
    let parts = parts.iter().zip(["deg", "min", "sec"]);
    Ok(parts.map(|(part, unit)| format!("{part}{unit}")).collect())
}

/// The size of a unit of arc in degrees, and what follows it.
fn arc_unit(text: &str) -> Read<(f64, &str)> {
    const UNITS: &[(&[&str], f64)] = &[
        (&["deg", "°", "º"], 1.0),
        (&["min", "′", "'"], 60.0),
        (&["sec", "″", "\""], 3600.0),
    ];
    if text.is_empty() {
        return Err(format!("its last number has no unit; {ANGLE}"));
    }
    for (names, a_degree) in UNITS {
        for name in *names {
            let begins = text.get(..name.len());
            if begins.is_some_and(|begins| begins.eq_ignore_ascii_case(name)) {
                let after = &text[name.len()..];
                // `8degrees` is none of ours, and would read as degrees of something.
                if !after.starts_with(|c: char| c.is_alphabetic()) {
                    return Ok((1.0 / a_degree, after));
                }
            }
        }
    }
    Err(unknown_unit(text, "deg, min and sec", ANGLE))
}

/// Turns a minute.
pub fn turning(text: &str) -> Read<AngularSpeed> {
    let text = cleaned(text);
    let (number, unit) = Number::first(&text, TURNING)?;
    match unit.to_ascii_lowercase().as_str() {
        "" | "rpm" | "/min" => finite(
            AngularSpeed::from_rpm(number.value),
            AngularSpeed::is_finite,
        ),
        _ => Err(unknown_unit(unit, "rpm", TURNING)),
    }
}

/// A speed as it is marked on a wheel: of its surface or of its turns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mark {
    /// Of the surface.
    Surface(Speed),
    /// Of the wheel.
    Turning(AngularSpeed),
}

/// A speed with its unit, which has to be there: 30 may be metres a second or nonsense.
pub fn mark(text: &str) -> Read<Mark> {
    let text = cleaned(text);
    let (number, unit) = Number::first(&text, MARK)?;
    let unit: String = unit.to_ascii_lowercase().split_whitespace().collect();
    match unit.as_str() {
        "m/s" => finite(Speed::from_m_per_s(number.value), Speed::is_finite).map(Mark::Surface),
        "ft/min" | "fpm" | "sfpm" => {
            finite(Speed::from_ft_per_min(number.value), Speed::is_finite).map(Mark::Surface)
        }
        "rpm" | "/min" => turning(&text).map(Mark::Turning),
        "" => Err(MARK.to_owned()),
        _ => Err(unknown_unit(&unit, "m/s, ft/min and rpm", MARK)),
    }
}

/// The angle of a side to the axis: as an angle, or as what the diameter changes by over a length,
/// `5/8in/ft` or `1:20`.
///
/// ```
/// use heelclear::quantity::typed;
/// // 3/4 in a foot: 1° 47.4′ (F. D. Jones, Turning and Boring, 1914, p. 97).
/// let side = typed::taper("3/4in/ft").map(|side| format!("{:.4}", side.deg()));
/// assert_eq!(side, Ok("1.7899".to_owned()));
/// ```
pub fn taper(text: &str) -> Read<Angle> {
    let text = cleaned(text);
    let half = |taper: f64| finite(Angle::from_rad((taper / 2.0).atan()), Angle::is_finite);
    if let Some(a_foot) = text.strip_suffix("/ft") {
        let (number, unit) = Number::first(a_foot, TAPER)?;
        let inches = matches!(unit.to_ascii_lowercase().as_str(), "in" | "\"" | "″");
        return match inches && number.value.is_finite() {
            true => half(number.value / 12.0),
            false => Err(TAPER.to_owned()),
        };
    }
    if let Some((change, over)) = text.split_once(':') {
        let (change, none) = Number::first(change, TAPER)?;
        let (over, nor_here) = Number::first(over, TAPER)?;
        // A taper of nothing over something is as likely minutes of arc.
        let numbers = over.value > 0.0 && change.value != 0.0;
        let usable = none.is_empty() && nor_here.is_empty() && numbers;
        return match usable {
            true => half(change.value / over.value),
            false => Err(TAPER.to_owned()),
        };
    }
    // 1/20 is a taper to one person and a twentieth of a degree to another.
    let bare =
        text.contains('/') && !text.contains(|c: char| c.is_alphabetic() || "°º′″'\"".contains(c));
    if bare {
        return Err(TAPER.to_owned());
    }
    angle(&text).map_err(|why| why.replace(ANGLE, TAPER))
}

/// Several lengths: parted by spaces or semicolons, and by commas where no comma can be that of a
/// decimal. With `count` values expected, commas that part so many can be no others.
///
/// ```
/// use heelclear::quantity::typed::{Bare, lengths};
/// assert_eq!(lengths("0 -0.032 -4um", Bare::Mm, None).map(|it| it.len()), Ok(3));
/// assert_eq!(lengths("0,-0.032,-0.004", Bare::Mm, None).map(|it| it.len()), Ok(3));
/// assert!(lengths("-0,032,-0,004", Bare::Mm, None).is_err());
/// ```
pub fn lengths(text: &str, bare: Bare, count: Option<usize>) -> Read<Vec<Length>> {
    let text = cleaned(text);
    let values = if text.contains(';') {
        text.split(';').map(str::to_owned).collect()
    } else {
        parted(&text, count)?
    };
    let read =
        |value: &String| length_in(value, bare).map_err(|why| format!("`{}`: {why}", value.trim()));
    values.iter().map(read).collect()
}

/// The values of a list without semicolons.
fn parted(text: &str, count: Option<usize>) -> Read<Vec<String>> {
    let mut values: Vec<String> = Vec::new();
    for part in text.split(',') {
        let mut words = part.split_whitespace().peekable();
        if words.peek().is_none() {
            return Err(format!("one of the values is empty; {LIST}"));
        }
        for (at, word) in words.enumerate() {
            let begins_a_value =
                word.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
            match values.last_mut() {
                // `20 mm` is one value.
                Some(before) if at > 0 && !begins_a_value => before.push_str(word),
                Some(before) if at > 0 && word.contains('/') && whole(before) => {
                    return Err(format!(
                        "`{before} {word}` may be one value or two: write `{before}-{word}`, or part the values by semicolons"
                    ));
                }
                _ => values.push(word.to_owned()),
            }
        }
    }
    match ambiguous(text, &values, count) {
        true => Err(format!("its commas may be those of decimals; {LIST}")),
        false => Ok(values),
    }
}

const LIST: &str = "write decimals with a point, and part the values by spaces or semicolons: `0 -0.032 -0.004` or `0;-0.032;-0.004`";

/// Whether a comma of a list may be that of a decimal, or part thousands.
fn ambiguous(text: &str, values: &[String], count: Option<usize>) -> bool {
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let tight = text.match_indices(',').filter(|(at, _)| {
        digit(text[..*at].chars().next_back()) && digit(text[at + 1..].chars().next())
    });
    let mut tight = tight.map(|(at, _)| &text[at + 1..]).peekable();
    if tight.peek().is_none() {
        return false;
    }
    // Nobody writes 004 or a whole -0 but behind and before the comma of a decimal.
    let half_of_one = |value: &String| {
        let digits = value.trim_start_matches(['+', '-']);
        let padded = digits.len() > 1 && digits.starts_with('0') && whole(digits);
        padded || value == "-0"
    };
    let thousands = |rest: &str| {
        let digits = rest.chars().take_while(char::is_ascii_digit).count();
        digits == 3 && rest[3..].starts_with('.')
    };
    let told_apart = text.contains('.') || count == Some(values.len());
    !told_apart || values.iter().any(half_of_one) || tight.any(thousands)
}

/// Whether it is a whole number without a unit.
fn whole(text: &str) -> bool {
    let digits = text.trim_start_matches(['+', '-']);
    !digits.is_empty() && digits.chars().all(|c| c.is_ascii_digit())
}

/// A number at the front of a text.
#[derive(Clone, Copy, Debug)]
struct Number {
    value: f64,
    /// Whether it has a fraction bar.
    fraction: bool,
    /// Whether it has no decimals and no fraction.
    whole: bool,
    /// Whether a sign stands before it.
    signed: bool,
    negative: bool,
}

impl Number {
    /// The number that a text begins with, and what follows it.
    fn first<'a>(text: &'a str, expected: &str) -> Read<(Self, &'a str)> {
        let text = text.trim();
        let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text);
        let signed = unsigned.len() < text.len();
        let negative = text.starts_with('-');
        let end = decimal_end(unsigned);
        let (digits, rest) = unsigned.split_at(end);
        let value: f64 = digits.parse().map_err(|_| expected.to_owned())?;
        let is_whole = whole(digits);
        if rest.starts_with(',') {
            return Err(format!("decimals have a point and no comma; {expected}"));
        }
        let (value, fraction, rest) = match is_whole {
            true => with_fraction(value, rest, expected)?,
            false => (value, false, rest),
        };
        let number = Self {
            value: if negative { -value } else { value },
            fraction,
            whole: is_whole && !fraction,
            signed,
            negative,
        };
        Ok((number, rest.trim()))
    }
}

/// Where a number with decimals and perhaps an exponent ends.
fn decimal_end(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits_from = |from: usize| {
        let rest = bytes.get(from..).unwrap_or_default();
        rest.iter().take_while(|byte| byte.is_ascii_digit()).count()
    };
    let mut end = digits_from(0);
    if bytes.get(end) == Some(&b'.') {
        end += 1 + digits_from(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let digits = digits_from(end + 1 + sign);
        if digits > 0 {
            end += 1 + sign + digits;
        }
    }
    end
}

/// A whole number with the fraction that follows it: `3/4`, or `1 1/2` and `1-1/2`.
fn with_fraction<'a>(whole: f64, rest: &'a str, expected: &str) -> Read<(f64, bool, &'a str)> {
    let leading = |text: &'a str| -> (Option<f64>, &'a str) {
        let end = text.find(|c: char| !c.is_ascii_digit());
        let (digits, rest) = text.split_at(end.unwrap_or(text.len()));
        (digits.parse().ok(), rest)
    };
    let fraction = |above: f64, rest: &'a str, whole: f64| {
        let (below, rest) = leading(rest);
        match below.filter(|below| *below > 0.0) {
            // 1 5/4 is a slip of the hand, and so is 3/4.5.
            Some(below) if (whole == 0.0 || above < below) && !rest.starts_with(['.', '/']) => {
                Ok((whole + above / below, true, rest))
            }
            _ => Err(expected.to_owned()),
        }
    };
    if let Some(below) = rest.strip_prefix('/').filter(|it| digit_first(it)) {
        return fraction(whole, below, 0.0);
    }
    let gap = rest.strip_prefix('-').unwrap_or(rest.trim_start());
    if gap.len() < rest.len() && digit_first(gap) {
        let (above, after) = leading(gap);
        if let (Some(above), Some(below)) = (above, after.strip_prefix('/')) {
            return fraction(above, below, whole);
        }
    }
    Ok((whole, false, rest))
}

fn digit_first(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
}

/// The text with plain signs and spaces in place of those that word processors put there.
fn cleaned(text: &str) -> String {
    let plain = |c| match c {
        '−' | '–' => '-',
        '⁄' => '/',
        '\u{a0}' | '\u{202f}' | '\t' => ' ',
        c => c,
    };
    text.trim().chars().map(plain).collect()
}

fn unknown_unit(unit: &str, known: &str, expected: &str) -> String {
    format!("`{unit}` is none of the units {known}; {expected}")
}

fn finite<T: Copy>(value: T, is_finite: impl Fn(T) -> bool) -> Read<T> {
    match is_finite(value) {
        true => Ok(value),
        false => Err("the number is too large".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn is_length(text: &str, mm: f64) {
        match length(text) {
            Ok(length) => assert!((length.mm() - mm).abs() < 1e-12, "{text}: {length:?}"),
            Err(why) => assert_eq!(why, "", "{text}"),
        }
    }

    #[test]
    fn lengths_are_read_as_people_type_them() {
        is_length("20", 20.0);
        is_length(" +20 mm ", 20.0);
        is_length("20MM", 20.0);
        is_length("-.5", -0.5);
        is_length("5.", 5.0);
        is_length("1e-3", 0.001);
        is_length("2E1mm", 20.0);
        is_length("0.75in", 19.05);
        is_length("3/4in", 19.05);
        is_length("3/4\"", 19.05);
        is_length("1 1/2in", 38.1);
        is_length("1-1/2 in", 38.1);
        is_length("-1 1/2in", -38.1);
        is_length("3⁄8″", 9.525);
        is_length("−4um", -0.004);
        is_length("500µm", 0.5);
        is_length("500 μm", 0.5);
        is_length("1/4mm", 0.25);
        assert_eq!(length_in("5", Bare::Um), Ok(Length::from_um(5.0)));
        assert_eq!(length_in("5mm", Bare::Um), Ok(Length::from_mm(5.0)));
        assert_eq!(length_in("1", Bare::In), Ok(Length::from_in(1.0)));
    }

    #[track_caller]
    fn refused<T: std::fmt::Debug>(read: Read<T>, words: &str) {
        match read {
            Err(why) => assert!(why.contains(words), "`{words}` is not in `{why}`"),
            Ok(value) => assert_eq!(format!("{value:?}"), "", "was read"),
        }
    }

    #[test]
    fn what_is_no_length_is_refused_with_what_would_be_one() {
        for text in [
            "", "mm", "nan", "NaN", "inf", "-inf", "infinity", "--5", "+-5", ".", "e5", "0x10",
            "1/0in", "3/4.5in", "1 5/4in", "1/2/3in",
        ] {
            refused(length(text), LENGTH);
        }
        refused(length("20cm"), "`cm` is none of the units mm, in and um");
        refused(length("20mm5"), "`mm5`");
        refused(length("20 21"), "`21`");
        refused(length("0,75in"), "a point and no comma");
        refused(length("3/4"), "`3/4in`");
        refused(length("1e999"), "too large");
    }

    #[test]
    fn angles_are_read_as_people_type_them() {
        #[track_caller]
        fn check(text: &str, deg: f64) {
            match angle(text) {
                Ok(angle) => assert!((angle.deg() - deg).abs() < 1e-12, "{text}: {angle:?}"),
                Err(why) => assert_eq!(why, "", "{text}"),
            }
        }
        check("8", 8.0);
        check("8deg", 8.0);
        check("8.5 °", 8.5);
        check("8deg30min", 8.5);
        check("8° 30′ 36″", 8.51);
        check("8DEG 30.6MIN", 8.51);
        check("-1deg30min", -1.5);
        check("30min", 0.5);
        check("8:30", 8.5);
        check("8:30:36", 8.51);
        check("-0:30.6", -0.51);
        check("1/2deg", 0.5);
        check("0deg0min36sec", 0.01);
        check("-0deg30min", -0.5);
    }

    #[test]
    fn what_is_no_angle_is_refused_with_what_would_be_one() {
        for text in ["", "deg", "nan", "inf", "°"] {
            refused(angle(text), ANGLE);
        }
        refused(angle("8deg30"), "its last number has no unit");
        refused(angle("8degrees"), "none of the units deg, min and sec");
        refused(angle("8rad"), "none of the units deg, min and sec");
        refused(angle("8mm"), "none of the units deg, min and sec");
        refused(angle("8deg60min"), "below 60");
        refused(angle("8:60"), "below 60");
        refused(angle("8.5:30"), "each whole but the last");
        for text in ["8:", ":30", "8:30:0:0", "8:30min", "8deg:30"] {
            refused(angle(text), ANGLE);
        }
        refused(angle("8.5deg30min"), "each whole but the last");
        refused(angle("30min8deg"), "degrees come before minutes");
        refused(angle("8deg-30min"), "degrees come before minutes");
        refused(angle("8,5"), "a point and no comma");
        refused(angle("1e999"), "too large");
    }

    #[test]
    fn speeds_and_turns_have_their_units() {
        assert_eq!(turning("3000"), Ok(AngularSpeed::from_rpm(3000.0)));
        assert_eq!(turning("3000 rpm"), Ok(AngularSpeed::from_rpm(3000.0)));
        assert_eq!(turning("3000/min"), Ok(AngularSpeed::from_rpm(3000.0)));
        refused(turning("3000Hz"), "`Hz`");
        let surface = |speed| Ok(Mark::Surface(speed));
        assert_eq!(mark("35m/s"), surface(Speed::from_m_per_s(35.0)));
        assert_eq!(mark("6500 ft/min"), surface(Speed::from_ft_per_min(6500.0)));
        let turns = Mark::Turning(AngularSpeed::from_rpm(3600.0));
        assert_eq!(mark("3600rpm"), Ok(turns));
        refused(mark("35"), "with its unit");
        refused(mark("35mm/s"), "m/s, ft/min and rpm");
        refused(mark("nan m/s"), "with its unit");
    }

    #[test]
    fn a_taper_is_an_angle_or_what_the_diameter_changes_by() {
        #[track_caller]
        fn check(text: &str, deg: f64) {
            match taper(text) {
                Ok(side) => assert!((side.deg() - deg).abs() < 1e-9, "{text}: {side:?}"),
                Err(why) => assert_eq!(why, "", "{text}"),
            }
        }
        check("0.5", 0.5);
        check("-1deg30min", -1.5);
        check("1:20", 0.025_f64.atan().to_degrees());
        check("-1:20", -(0.025_f64.atan().to_degrees()));
        check("5/8in/ft", (0.625_f64 / 24.0).atan().to_degrees());
        check("0.6in/ft", 0.025_f64.atan().to_degrees());
        for text in [
            "1:0", "1:", ":20", "5/8/ft", "5mm/ft", "1:-20", "1mm:20", "x",
        ] {
            refused(taper(text), TAPER);
        }
    }

    #[track_caller]
    fn list(text: &str, count: Option<usize>, mm: &[f64]) {
        match lengths(text, Bare::Mm, count) {
            Ok(read) => {
                let read: Vec<f64> = read.iter().map(|it| it.mm()).collect();
                assert_eq!(read, mm, "{text}");
            }
            Err(why) => assert_eq!(why, "", "{text}"),
        }
    }

    #[test]
    fn lists_are_parted_by_what_can_part_them() {
        list("0 -0.032 -0.004", None, &[0.0, -0.032, -0.004]);
        list("0;-0.032; -0.004", None, &[0.0, -0.032, -0.004]);
        list("0,-0.032,-0.004", None, &[0.0, -0.032, -0.004]);
        list("0, -0.032, -0.004", None, &[0.0, -0.032, -0.004]);
        list("0, 1, 2", None, &[0.0, 1.0, 2.0]);
        list("0um,-32um,-4um", None, &[0.0, -0.032, -0.004]);
        list("0,-1", None, &[0.0, -1.0]);
        list("0.1,0,0", None, &[0.1, 0.0, 0.0]);
        list("20 mm 21 mm", None, &[20.0, 21.0]);
        list("5", None, &[5.0]);
        list("1;1 1/2in", None, &[1.0, 38.1]);
        list("1-1/2in 1/2in", None, &[38.1, 12.7]);
        // So many are wanted, so each comma parts two.
        list("0,1,2", Some(3), &[0.0, 1.0, 2.0]);
    }

    #[test]
    fn a_comma_that_may_be_that_of_a_decimal_is_refused() {
        for (text, count) in [
            ("-0,032,-0,004", None),
            ("-0,032,-0,004", Some(4)),
            ("0,1", None),
            ("0,1,2", None),
            ("0,1,2", Some(2)),
            ("0,-0.032,-0,004", None),
            ("0,032,-0.004", None),
            ("1,234.5", None),
            ("-0,032 -0,004", None),
        ] {
            let read = lengths(text, Bare::Mm, count);
            refused(read, "write decimals with a point");
        }
        refused(lengths("0;-0,032", Bare::Mm, None), "a point and no comma");
        refused(lengths("0,,1", Bare::Mm, None), "is empty");
        refused(lengths("", Bare::Mm, None), "is empty");
        refused(lengths("0 nan", Bare::Mm, None), "`0nan`");
        refused(
            lengths("0; inf", Bare::Mm, None),
            "`inf`: expected a length",
        );
        refused(lengths("1 1/2in", Bare::Mm, None), "write `1-1/2in`");
    }
}
