//! A tool through its regrinds as text, and how many are left in a sentence.

use super::figures::{self, allowed};
use super::words;
use crate::quantity::Units;
use crate::record::{Bounds, FOLLOWED, FaceOutlook, Followed, Outlook, Trend};

/// What is left of a feature in a sentence.
pub fn left(of: &Trend, units: Units) -> String {
    if let Some(why) = &of.incomplete {
        return format!("What is left cannot be told: {why}.");
    }
    if let Some(face) = &of.face {
        return on_the_face(face, of.least_diameter_mm, units);
    }
    let Some(outlook) = &of.outlook else {
        return "One regrind tells no trend: two give an estimate, three an interval.".to_owned();
    };
    let Outlook {
        loss_mm,
        left,
        left_interval,
        ..
    } = *outlook;
    if loss_mm <= 1e-9 {
        return "The stated diameters do not fall: what is left cannot be told from them. Write each regrind's diameter on its tool card.".to_owned();
    }
    let rounded = (loss_mm * 1e4).round() / 1e4;
    let loss = format!(
        "A regrind takes {} off the diameter.",
        units.length(rounded)
    );
    let (Some(least), Some(left)) = (of.least_diameter_mm, left) else {
        return format!(
            "{loss} Write the smallest allowed one, least_diameter_mm, on the tool card to learn how many are left."
        );
    };
    let least = units.length(least);
    let left = match left {
        1 => "1 regrind is left".to_owned(),
        left => format!("{left} regrinds are left"),
    };
    let sure = match left_interval {
        Some([low, high]) => format!("95 % prediction interval {low} to {high}"),
        None => "too few regrinds for an interval: three are needed".to_owned(),
    };
    format!("{loss} {left} until Ø {least} by the line, {sure}.")
}

/// What is left of a feature that is ground on the face.
fn on_the_face(of: &FaceOutlook, least_mm: Option<f64>, units: Units) -> String {
    let now = of.land_deg.last().copied().unwrap_or(0.0);
    let least = match of.least_land_deg {
        Some(least) => format!(", {least}° of them to be left"),
        None => ". Write the shortest that is allowed, least_land_deg, on the tool card".to_owned(),
    };
    let land = format!("The shortest land has {now:.2}° left{least}.");
    if of.changed {
        return format!(
            "{land} A land was found that is not the surface it was before: what is ahead cannot be told by its curve."
        );
    }
    let Some(each) = of.each_deg else {
        return format!(
            "{land} One regrind does not tell how much a grind on the face takes: two do, and three give an interval."
        );
    };
    let left = of.left.unwrap_or(0);
    let regrinds = if left == 1 {
        "regrind is"
    } else {
        "regrinds are"
    };
    let until = match least_mm {
        Some(least) => format!("until that or Ø {}", units.length(least)),
        None => "until that".to_owned(),
    };
    let sure = match of.left_interval {
        Some([low, high]) => format!(", 95 % prediction interval {low} to {high}"),
        None => ", too few regrinds for an interval: three are needed".to_owned(),
    };
    let rounded = |mm: f64| units.length((mm * 1e3).round() / 1e3);
    let next = of.next_diameter_mm.zip(of.last_diameter_mm);
    let next = next.map_or(String::new(), |(next, last)| {
        format!(
            " By the curve of the land the next one leaves Ø {}, the last one Ø {}.",
            rounded(next),
            rounded(last)
        )
    });
    format!(
        "A regrind takes {each:.2}° off the lands. {land} {left} {regrinds} left {until}{sure}.{next}"
    )
}

/// The trends of a tool as text.
pub fn trend_text(trends: &[Trend], units: Units) -> String {
    let mut text = String::new();
    for of in trends {
        let [tool, feature] = [&of.tool, &of.feature].map(|name| words::harmless(name));
        text += &format!("{tool}  {feature}\n");
        for (at, regrind) in of.regrinds.iter().enumerate() {
            text += &format!(
                "  {:<10}  record {}  Ø {}  {}{}\n",
                regrind.taken.get(..10).unwrap_or(&regrind.taken),
                regrind.record,
                units.length(regrind.diameter_mm),
                words::word(regrind.verdict),
                match regrind.as_judged {
                    true => ", as judged",
                    false => "",
                }
            );
            if let Some(face) = &of.face {
                text += &land(face, at);
            }
            for name in FOLLOWED {
                let its = regrind.figures.iter().filter(|it| it.name == name);
                let worst = its.min_by(|a, b| inside(a).total_cmp(&inside(b)));
                if let Some(worst) = worst {
                    text += &format!("      {:<15} {}\n", figures::name(name), told(worst, units));
                }
            }
        }
        text += &format!("  {}\n", left(of, units));
    }
    if let Some(of) = trends.first() {
        text += "taken for granted\n";
        for assumption in &of.assumptions {
            text += &format!("  {assumption}\n");
        }
    }
    text
}

/// The land of a regrind that was ground on the face, and what that took.
fn land(of: &FaceOutlook, at: usize) -> String {
    let Some(land) = of.land_deg.get(at).filter(|it| it.is_finite()) else {
        return String::new();
    };
    let used = of.used_deg.get(at).copied().flatten();
    let used = used.map_or(String::new(), |used| format!(", {used:.2}° came off"));
    format!("      {:<15} {land:.2}° at the shortest{used}\n", "land")
}

/// How far inside its nearer limit; its value where it has none.
fn inside(of: &Followed) -> f64 {
    let bounds = of.limit.unwrap_or(Bounds {
        min: Some(0.0),
        max: None,
    });
    let above = bounds.min.map_or(f64::INFINITY, |min| of.value - min);
    above.min(bounds.max.map_or(f64::INFINITY, |max| max - of.value))
}

fn told(of: &Followed, units: Units) -> String {
    let decimals = match (of.unit.as_str(), units) {
        ("deg", _) => 3,
        (_, Units::Inch) => 5,
        _ => 4,
    };
    let number = |value: f64| format!("{:.decimals$}", units.shown(value, &of.unit));
    let mut text = number(of.value);
    if let Some([low, high]) = of.interval {
        text += &format!(" ({} … {})", number(low), number(high));
    }
    text += &format!(" {}", units.sign(&of.unit));
    if of.limit.is_some() {
        text += &format!(", allowed {}", allowed(of.limit, &of.unit, units));
    }
    if let Some(flute) = of.flute {
        text += &format!(", worst on flute {flute}");
    }
    text
}
