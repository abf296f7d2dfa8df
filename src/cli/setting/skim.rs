//! `setting skim`, measured or typed by hand: the least stock that makes edges even and clears wear lands.

use super::answer::{Answer, exact, shown};
use crate::cli::care::CARE;
use crate::cli::{Out, Status, typed};
use crate::error::{Code, Error, Result};
use crate::inspection::Folder;
use crate::inspection::grind::{self, FeatureSkim};
use crate::quantity::typed::Bare;
use crate::quantity::{Angle, Length, stated};
use crate::setting::{Worn, least_skim};
use clap::Args;
use serde_json::{Value, json};
use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};

/// Least stock that makes all edges even and clears the wear lands
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear setting skim bench/VB-31
  heelclear setting skim --diameter 16 --angle 9 --edges 0 -0.032 -0.004 --wear 0.1 0 0
  heelclear setting skim --diameter 5/8in --angle 9 --edges '0;-0.0012in;-4um'

Values are parted by spaces or semicolons. Commas part them only where all decimals have points and
no comma can be that of a decimal.")]
pub(super) struct Skim {
    /// Folder of the inspection before the grind, in place of all figures
    #[arg(value_name = "DIR", conflicts_with_all = ["diameter", "angle", "edges", "wear"])]
    folder: Option<PathBuf>,
    /// The grinder's card; that of the inspection card when absent
    #[arg(long, value_name = "FILE", requires = "folder")]
    grinder: Option<PathBuf>,
    #[command(flatten)]
    typed: Typed,
}

/// What a person has read off and types.
#[derive(Args)]
struct Typed {
    /// Diameter of the highest edge
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true, required_unless_present = "folder")]
    diameter: Option<Length>,
    /// Relief angle that the lands are ground to
    #[arg(long, value_name = "ANGLE", value_parser = typed::relief, allow_negative_numbers = true, required_unless_present = "folder")]
    angle: Option<Angle>,
    /// Heights of the edges above any common level, flute by flute
    #[arg(
        long,
        value_name = "LENGTH …",
        allow_hyphen_values = true,
        required_unless_present = "folder"
    )]
    edges: Option<String>,
    /// Widths of the wear lands, flute by flute; none when absent
    #[arg(long, value_name = "LENGTH …", allow_hyphen_values = true)]
    wear: Option<String>,
}

/// More than this share of the diameter off one land is a slip of the hand and no skim (common
/// practice, no source): a decimal read as millimetres, most often.
const MOST_OF_DIAMETER: f64 = 0.1;

/// As many teeth as a tool card may have.
const MOST_TEETH: usize = 24;

impl Skim {
    /// What was measured of the folder, where one is named, and else what was typed.
    pub(super) fn run(&self, out: &mut Out) -> Result<Status> {
        match &self.folder {
            Some(folder) => measured(folder, self.grinder.as_deref(), out),
            None => self.typed.answer()?.tell(out),
        }
    }
}

/// The skim of a worn tool that was measured.
fn measured(folder: &Path, grinder: Option<&Path>, out: &mut Out) -> Result<Status> {
    let folder = Folder::open(folder)?;
    let named = grinder.is_some() || folder.inspection.grinder.is_some();
    let card = named.then(|| folder.grinder(grinder)).transpose()?;
    let plan = grind::skim(&folder, card.as_ref())?;
    if out.json() {
        out.object(&json!({
            "setting": "skim",
            "verdict": if plan.why.is_empty() { None } else { Some("undecided") },
            "why": plan.why,
            "features": plan.features.iter().map(object).collect::<Vec<_>>(),
        }))?;
    } else {
        for feature in &plan.features {
            for line in lines(feature) {
                out.line(&line)?;
            }
        }
        if !plan.why.is_empty() {
            out.line("undecided: nothing is set on this")?;
        }
        for why in &plan.why {
            out.line(&format!("  {why}"))?;
        }
        if card.is_none() {
            out.note("name the grinder's card with `--grinder FILE` for the skim in whole steps of its slide");
        }
        out.note(CARE);
    }
    Ok(match plan.why.is_empty() {
        true => Status::Clear,
        false => Status::Undecided,
    })
}

fn lines(of: &FeatureSkim) -> Vec<String> {
    let skim = &of.skim;
    let mut lines = vec![
        format!(
            "{}: {} in-feed, every land at the relief that it has",
            of.feature,
            of.surface.as_str()
        ),
        format!(
            "{}from first touch: cleans up 95 times in 100 (computed {}, u {})",
            shown(skim.sure),
            exact(rounded(skim.in_feed)),
            exact(rounded(skim.standard_uncertainty))
        ),
    ];
    for (at, (land, edge)) in skim.off_land.iter().zip(&skim.off_edge).enumerate() {
        lines.push(format!(
            "{}off the land of flute {}, {} off its edge",
            shown(*land),
            at + 1,
            exact(rounded(*edge))
        ));
    }
    let passes: Vec<String> = of.passes.iter().map(|it| exact(rounded(*it))).collect();
    lines.push(format!("  passes: {}", passes.join(", ")));
    lines.extend(
        of.diameter_left
            .map(|left| format!("{}diameter left", shown(left))),
    );
    lines.extend(
        of.grinds_left
            .map(|left| format!("  {left} more such grinds before the smallest diameter allowed")),
    );
    lines
}

fn rounded(length: Length) -> Length {
    Length::from_um(length.um().round())
}

fn object(of: &FeatureSkim) -> Value {
    let mm = |lengths: &[Length]| lengths.iter().map(|it| stated(it.mm())).collect::<Vec<_>>();
    json!({
        "feature": of.feature,
        "direction": of.surface.as_str(),
        "in_feed_mm": stated(of.skim.sure.mm()),
        "computed_mm": stated(of.skim.in_feed.mm()),
        "standard_uncertainty_mm": stated(of.skim.standard_uncertainty.mm()),
        "off_land_mm": mm(&of.skim.off_land),
        "off_edge_mm": mm(&of.skim.off_edge),
        "passes_mm": mm(&of.passes),
        "diameter_mm": of.diameter_left.map(|left| stated(left.mm())),
        "grinds_left": of.grinds_left,
    })
}

impl Typed {
    fn answer(&self) -> Result<Answer> {
        let (Some(diameter), Some(angle), Some(edges)) = (self.diameter, self.angle, &self.edges)
        else {
            return Err(Error::new(
                Code::Usage,
                "read no folder, expected one, or `--diameter`, `--angle` and `--edges`",
            ));
        };
        let teeth = self.teeth(edges)?;
        let skim = least_skim(diameter, &teeth, angle).ok_or_else(|| {
            Error::new(
                Code::Usage,
                "read a wear land that no flat of this relief can clear",
            )
            .help("a wear land must be narrower than half the diameter times the relief angle in radians")
        })?;
        let most = diameter * MOST_OF_DIAMETER;
        for (at, stock) in skim.stock.iter().enumerate() {
            if *stock > most || skim.diameter <= Length::ZERO {
                let message = format!(
                    "read values that take {:.3} mm off flute {}, expected at most {}, a tenth of the diameter",
                    stock.mm(),
                    at + 1,
                    exact(most)
                );
                return Err(Error::new(Code::Usage, message).help("check the units and the decimal points of `--edges` and `--wear`; a tool that is really as uneven is made anew rather than skimmed"));
            }
        }
        let mut answer = Answer::of("skim")
            .with(
                "stock_mm",
                skim.stock
                    .iter()
                    .map(|stock| stated(stock.mm()))
                    .collect::<Vec<_>>(),
            )
            .mm("diameter_mm", skim.diameter);
        for (at, stock) in skim.stock.iter().enumerate() {
            answer = answer.line(format!("{}off flute {}", shown(*stock), at + 1));
        }
        Ok(answer.line(format!("{}diameter left", shown(skim.diameter))))
    }

    /// The teeth as they were typed.
    fn teeth(&self, edges: &str) -> Result<Vec<Worn>> {
        let edges = read("--edges", edges, None)?;
        if edges.len() > MOST_TEETH {
            let message = format!("read {} edges, expected 1 to {MOST_TEETH}", edges.len());
            return Err(Error::new(Code::Usage, message));
        }
        let wear = match &self.wear {
            None => vec![Length::ZERO; edges.len()],
            Some(text) => read("--wear", text, Some(edges.len()))?,
        };
        if wear.len() != edges.len() {
            let message = format!(
                "read {} wear lands for {} edges, expected as many",
                wear.len(),
                edges.len()
            );
            return Err(
                Error::new(Code::Usage, message).help("name one a flute, 0 where there is none")
            );
        }
        if let Some(narrow) = wear.iter().find(|width| **width < Length::ZERO) {
            let message = format!(
                "read a wear land of {}, expected a width from 0",
                exact(*narrow)
            );
            return Err(Error::new(Code::Usage, message));
        }
        let teeth = edges.into_iter().zip(wear);
        let teeth = teeth.map(|(height, wear_land)| Worn { height, wear_land });
        Ok(teeth.collect())
    }
}

fn read(option: &str, text: &str, count: Option<usize>) -> Result<Vec<Length>> {
    typed::list(text, Bare::Mm, count).map_err(|why| {
        Error::new(
            Code::Usage,
            format!("read `{option} {text}`, expected lengths"),
        )
        .help(why)
    })
}

/// The arguments with the values of each list in one: `--edges 0 -0.032` is what a hand types, and a
/// minus would begin an option.
pub(in crate::cli) fn lists_in_one(arguments: Vec<OsString>) -> Vec<OsString> {
    let here = |words: &[OsString]| {
        let mut words = words.iter().filter(|word| !starts_with(word, "-"));
        words.nth(1).is_some_and(|it| it == "setting")
            && words.next().is_some_and(|it| it == "skim")
    };
    if !here(&arguments) {
        return arguments;
    }
    let mut kept: Vec<OsString> = Vec::with_capacity(arguments.len());
    let mut in_list = false;
    for argument in arguments {
        let option = starts_with(&argument, "--");
        let value_of = kept.last().is_some_and(|before| is_list(before));
        match kept.last_mut() {
            // The first value stands by itself behind the option's name.
            _ if value_of && !option => kept.push(argument),
            Some(before) if in_list && !option && goes_on(&argument) => {
                before.push(" ");
                before.push(argument);
            }
            _ => {
                let name = argument.to_string_lossy();
                let name = name.split('=').next().unwrap_or_default();
                in_list = is_list(OsStr::new(name));
                kept.push(argument);
            }
        }
    }
    kept
}

fn is_list(option: &OsStr) -> bool {
    ["--edges", "--wear"].iter().any(|name| option == *name)
}

fn starts_with(word: &OsStr, with: &str) -> bool {
    word.to_string_lossy().starts_with(with)
}

/// Whether it can be one more value, or the unit of the one before.
fn goes_on(word: &OsStr) -> bool {
    let word = word.to_string_lossy();
    let digits = word.trim_start_matches(['+', '-', '−']);
    let number = digits.starts_with(|c: char| c.is_ascii_digit() || c == '.');
    let none = ["nan", "inf", "infinity"].contains(&digits.to_lowercase().as_str());
    number || none || ["mm", "in", "um", "µm", "μm", ";"].contains(&word.as_ref())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_values_of_a_list_go_into_one_argument() {
        #[track_caller]
        fn check(line: &str, expected: &[&str]) {
            let words = line.split(' ').map(OsString::from).collect();
            assert_eq!(lists_in_one(words), expected);
        }
        check(
            "heelclear setting skim --edges 0 -0.032 -4 um --wear 0.1 0 0 --json",
            &[
                "heelclear",
                "setting",
                "skim",
                "--edges",
                "0 -0.032 -4 um",
                "--wear",
                "0.1 0 0",
                "--json",
            ],
        );
        check(
            "heelclear --json setting skim --edges=0 -1 --diameter 16",
            &[
                "heelclear",
                "--json",
                "setting",
                "skim",
                "--edges=0 -1",
                "--diameter",
                "16",
            ],
        );
        check(
            "heelclear setting skim --edges --wear 0 -h",
            &[
                "heelclear",
                "setting",
                "skim",
                "--edges",
                "--wear",
                "0",
                "-h",
            ],
        );
        check(
            "heelclear verify a --edges 0 1",
            &["heelclear", "verify", "a", "--edges", "0", "1"],
        );
    }
}
