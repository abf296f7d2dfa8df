//! The lines of a set-up sheet, in the order of the work.

use super::setup::correction;
use crate::card::{
    Feature, GrinderCard, Limit, MotionIs, Name, Setting, Spindle, Surface, Swivel, SwivelZero,
    Turns, Wheel,
};
use crate::error::{Code, Error, Result};
use crate::inspection::folder::Folder;
use crate::quantity::{AngularSpeed, Speed};
use crate::record::{CutSetup, PredictedFigure, Setup, SheetLine, SwivelSetup};
use crate::setting::{Allowed, Marking, Pulleys, Unlimited, surface_speed, turned_by_height};

/// Adds every line that the cards and traces support, and says what the others would need.
///
/// # Errors
/// `wheel-speed` where no speed of the grinder is safe for the wheel.
pub(super) fn lines(
    setup: &mut Setup,
    folder: &Folder,
    grinder: &GrinderCard,
    wheel: &Wheel,
) -> Result<()> {
    let mut sheet = Sheet::default();
    safety(&mut sheet);
    tool(&mut sheet, setup, grinder);
    height(&mut sheet, folder, grinder);
    throws(&mut sheet, setup, grinder);
    swivels(&mut sheet, setup, folder, grinder);
    of_wheel(&mut sheet, grinder, wheel)?;
    touch(&mut sheet, setup);
    feed(&mut sheet, setup);
    leaves(&mut sheet, setup);
    sheet.line("measure", "measure all lands again before the tool leaves the fixture's arbor, with the fixture locked; set `setup = \"setup.json\"` in that inspection's card, so that it is known what the tool was ground from");
    setup.lines = sheet.lines;
    setup.lacks.extend(sheet.lacks);
    Ok(())
}

#[derive(Default)]
struct Sheet {
    lines: Vec<SheetLine>,
    lacks: Vec<String>,
}

impl Sheet {
    fn line(&mut self, part: &str, what: impl Into<String>) {
        self.lines.push(SheetLine {
            part: part.to_owned(),
            what: what.into(),
            value: None,
            unit: String::new(),
            within: None,
        });
    }

    fn number(
        &mut self,
        part: &str,
        what: impl Into<String>,
        (value, unit): (f64, &str),
        within: Option<f64>,
    ) {
        self.lines.push(SheetLine {
            part: part.to_owned(),
            what: what.into(),
            value: Some(value),
            unit: unit.to_owned(),
            within,
        });
    }

    fn lacks(&mut self, what: &str) {
        self.lacks.push(what.to_owned());
    }
}

fn safety(sheet: &mut Sheet) {
    for what in [
        "the wheel stopped and locked out before anything is set; guards on before it runs",
        "wheel sound, undamaged, of the grade and speed that its maker marks; tried running free behind its guard",
        "ground edges cut: hold the tool by its shank; eyes covered; no gloves or sleeves near what turns",
        "the shop's own rules, the makers' instructions and licensed practice go before this sheet",
    ] {
        sheet.line("safety", what);
    }
}

fn tool(sheet: &mut Sheet, setup: &Setup, grinder: &GrinderCard) {
    sheet.line(
        "tool",
        format!(
            "tool {}, {}-hand, {} flute{}: clamped as it was measured, locks free of chips",
            setup.tool,
            setup.hand,
            setup.flutes,
            if setup.flutes == 1 { "" } else { "s" }
        ),
    );
    for cut in &setup.cuts {
        let fixture = grinder.fixture(&cut.fixture, cut.along());
        let turns = match fixture.map(|fixture| fixture.turns) {
            Some(Turns::Backing) => "heel first",
            Some(Turns::Cutting) | None => "edge first, as it cuts",
        };
        sheet.line(
            "tool",
            format!(
                "{} relief: fixture {}, cam {}, the tool turning {turns}",
                cut.direction, cut.fixture, cut.cam
            ),
        );
        if let Some(lobes) = lobes(grinder, cut) {
            sheet.number(
                "tool",
                format!(
                    "lobes of the cam in one turn of the tool, for {} teeth",
                    setup.flutes
                ),
                (f64::from(lobes), ""),
                None,
            );
        }
    }
}

/// Lobes a turn of a cam that is known by its figures.
fn lobes(grinder: &GrinderCard, cut: &CutSetup) -> Option<u32> {
    let found = grinder
        .motions
        .iter()
        .find(|it| it.cam == cut.cam && it.fixture == cut.fixture && it.direction == cut.along())?;
    match &found.is {
        MotionIs::Law(law) => Some(law.lobes),
        MotionIs::Traced(_) => None,
    }
}

fn height(sheet: &mut Sheet, folder: &Folder, grinder: &GrinderCard) {
    let Some(off) = grinder.centre_tolerance else {
        sheet.lacks("what an error of the height of centre does: add `centre_tolerance_mm` to the grinder's card");
        return;
    };
    sheet.number(
        "height",
        "wheel and tool on one height of centre, within",
        (off.mm(), "mm"),
        None,
    );
    for feature in &folder.tool.features {
        if feature.surface != Surface::Radial {
            continue;
        }
        if let Some(turned) = turned_by_height(feature.diameter, off) {
            sheet.number(
                "height",
                format!(
                    "that much off changes the relief of {} by (asin 2h/D)",
                    feature.name
                ),
                (turned.deg(), "deg"),
                None,
            );
        }
    }
}

fn throws(sheet: &mut Sheet, setup: &Setup, grinder: &GrinderCard) {
    for cut in &setup.cuts {
        sheet.number(
            "throw",
            format!("throw of {}, {}, on its scale", cut.fixture, cut.direction),
            (cut.throw_mm, "mm"),
            Some(cut.throw_graduation_mm / 2.0),
        );
        let fixture = grinder.fixture(&cut.fixture, cut.along());
        let graduation = fixture.and_then(|it| it.cam_graduation);
        let what = match cut.cam_free_deg {
            Some([from, to]) => format!(
                "cam angle: the tool turned against the cam's beginning; any from {from:.1}° to {to:.1}° does"
            ),
            None => "cam angle: the tool turned against the cam's beginning".to_owned(),
        };
        let within = graduation.map(|step| step.deg() / 2.0);
        sheet.number("throw", what, (cut.cam_angle_deg, "deg"), within);
        let learnt = cut.corrections();
        if !learnt.is_empty() {
            let what = format!("both as finished grinds taught: {}", learnt.join("; "));
            sheet.line("throw", what);
        }
    }
}

fn swivels(sheet: &mut Sheet, setup: &mut Setup, folder: &Folder, grinder: &GrinderCard) {
    let swivel = grinder.swivels.first();
    for feature in &folder.tool.features {
        if let Some(face) = feature.face {
            match swivel {
                Some(swivel) => {
                    let zero = match swivel.zero {
                        SwivelZero::Along => "along the axis",
                        SwivelZero::Across => "across the axis",
                    };
                    let set = set_for(grinder, swivel, feature, (Name::FaceAngle, face.deg()));
                    let what = format!(
                        "{} for the face of {} (zero of its scale {zero})",
                        swivel.name, feature.name
                    );
                    set_swivel(sheet, setup, set, what);
                }
                None => {
                    sheet.lacks("the swivel for a face: add a `[[swivel]]` to the grinder's card")
                }
            }
        }
        let Some(taper) = feature.limits.get(Name::BackTaper).and_then(middle) else {
            continue;
        };
        let what = format!(
            "back-off of the table for the back taper of {}, smaller towards the shank",
            feature.name
        );
        match swivel {
            Some(swivel) => {
                let set = set_for(grinder, swivel, feature, (Name::BackTaper, taper));
                set_swivel(sheet, setup, set, what);
            }
            None => sheet.number("swivel", what, (taper, "deg"), None),
        }
    }
}

/// What a swivel's scale is to show for a figure, with what finished grinds taught of it.
fn set_for(
    grinder: &GrinderCard,
    swivel: &Swivel,
    feature: &Feature,
    (figure, wanted): (Name, f64),
) -> SwivelSetup {
    let across = figure == Name::FaceAngle && swivel.zero == SwivelZero::Across;
    let set = SwivelSetup {
        feature: feature.name.clone(),
        figure: figure.as_str().to_owned(),
        swivel: swivel.name.clone(),
        set_deg: if across { 90.0 - wanted } else { wanted },
        across,
        graduation_deg: swivel.graduation.deg(),
        corrected_deg: 0.0,
    };
    let learnt = correction(grinder, Setting::SwivelZero, &swivel.name, set.along());
    let over = learnt.map_or(0.0, |it| it.value);
    SwivelSetup {
        set_deg: set.set_deg - over,
        corrected_deg: over,
        ..set
    }
}

/// The lines that set a swivel. What is not ground by this set-up shows nothing of it afterwards.
fn set_swivel(sheet: &mut Sheet, setup: &mut Setup, set: SwivelSetup, what: String) {
    let within = Some(set.graduation_deg / 2.0);
    sheet.number("swivel", what, (set.set_deg, "deg"), within);
    if set.corrected_deg != 0.0 {
        let what = format!(
            "as finished grinds taught: {} stands {:+.2}° over its scale",
            set.swivel, set.corrected_deg
        );
        sheet.line("swivel", what);
    }
    let mut ground = setup.cuts.iter().flat_map(|cut| &cut.features);
    if ground.any(|name| *name == set.feature) {
        setup.swivels.push(set);
    }
}

fn middle(limit: Limit) -> Option<f64> {
    match (limit.min, limit.max) {
        (Some(min), Some(max)) => Some(f64::midpoint(min, max)),
        (only, None) | (None, only) => only,
    }
}

fn of_wheel(sheet: &mut Sheet, grinder: &GrinderCard, wheel: &Wheel) -> Result<()> {
    sheet.number(
        "wheel",
        format!(
            "wheel {}, grinding with its {}: diameter as dressed",
            wheel.name,
            wheel.cuts.as_str()
        ),
        (wheel.diameter.mm(), "mm"),
        None,
    );
    if let Some(corner) = wheel.corner {
        sheet.number(
            "wheel",
            "corner dressed to a radius of",
            (corner.mm(), "mm"),
            None,
        );
    }
    let marking = Marking {
        full_diameter: wheel.full_diameter,
        speed: wheel.greatest_m_per_s.map(Speed::from_m_per_s),
        turning: wheel.greatest_rpm.map(rpm),
    };
    let allowed = match marking.allows(wheel.diameter) {
        Ok(allowed) => allowed,
        Err(Unlimited::NothingMarked) => {
            sheet.lacks("the speed of the wheel: add what is marked on it, `greatest_m_per_s` or `greatest_rpm`; without a mark no speed is safe");
            return Ok(());
        }
        Err(Unlimited::LargerThanNew | Unlimited::NoNumber) => {
            let message = "read a wheel larger than it was new";
            return Err(Error::new(Code::CardValue, message)
                .help("check `diameter_mm` and `full_diameter_mm` of the wheel"));
        }
    };
    turned(sheet, &grinder.spindle, wheel, allowed)
}

/// How fast to turn a wheel that may turn so fast at most, of what the spindle can do.
fn turned(sheet: &mut Sheet, spindle: &Spindle, wheel: &Wheel, allowed: Allowed) -> Result<()> {
    let turns = turning_choices(spindle);
    if turns.is_empty() {
        sheet.number(
            "wheel",
            "turns of the spindle, never above",
            (in_rpm(allowed.turning).floor(), "1/min"),
            None,
        );
        sheet.lacks("which speed of the spindle: add `motor_rpm` with `[[spindle.pulleys]]`, or `greatest_rpm`, under `[spindle]`");
        return Ok(());
    }
    let safe = turns.iter().filter(|(turning, _)| allowed.holds(*turning));
    let fastest = safe.max_by(|(one, _), (other, _)| one.rad_per_s().total_cmp(&other.rad_per_s()));
    let Some((turning, how)) = fastest else {
        let least = turns.iter().map(|(turning, _)| in_rpm(*turning));
        let least = least.fold(f64::INFINITY, f64::min);
        let message = format!(
            "the grinder turns its wheel {least:.0} times a minute at the slowest, and wheel `{}` of {} mm may turn {:.0} times: no set-up runs it above its marked speed",
            wheel.name,
            wheel.diameter.mm(),
            in_rpm(allowed.turning)
        );
        return Err(Error::new(Code::WheelSpeed, message)
            .help("use a wheel marked for that speed, or a pair of pulleys that turns it slower"));
    };
    sheet.number(
        "wheel",
        format!(
            "turns of the spindle{how} (never above {:.0})",
            in_rpm(allowed.turning).floor()
        ),
        (in_rpm(*turning), "1/min"),
        None,
    );
    let speed = surface_speed(wheel.diameter, *turning);
    sheet.number(
        "wheel",
        "surface speed of the wheel (pi D n)",
        (speed.m_per_s(), "m/s"),
        None,
    );
    for (other, how) in &turns {
        if !allowed.holds(*other) {
            sheet.line(
                "wheel",
                format!(
                    "NOT {:.0} turns{how}: above the speed marked on this wheel",
                    in_rpm(*other)
                ),
            );
        }
    }
    Ok(())
}

/// Speeds that the spindle can be run at, with how.
fn turning_choices(spindle: &Spindle) -> Vec<(AngularSpeed, String)> {
    let mut choices = Vec::new();
    if let Some(motor) = spindle.motor_rpm {
        for pair in &spindle.pulleys {
            let pulleys = Pulleys {
                motor: pair.motor,
                spindle: pair.spindle,
            };
            let how = format!(
                ", pulleys {} mm on the motor, {} mm on the spindle",
                pair.motor.mm(),
                pair.spindle.mm()
            );
            choices.extend(pulleys.spindle_turns(rpm(motor)).map(|turns| (turns, how)));
        }
        if spindle.pulleys.is_empty() {
            choices.push((rpm(motor), ", on the motor's shaft".to_owned()));
        }
    }
    for set in [spindle.least_rpm, spindle.greatest_rpm]
        .into_iter()
        .flatten()
    {
        choices.push((rpm(set), ", by its drive".to_owned()));
    }
    choices
}

fn rpm(turns: f64) -> AngularSpeed {
    AngularSpeed::from_rad_per_s(turns * std::f64::consts::TAU / 60.0)
}

fn in_rpm(turning: AngularSpeed) -> f64 {
    turning.rad_per_s() * 60.0 / std::f64::consts::TAU
}

fn touch(sheet: &mut Sheet, setup: &Setup) {
    for cut in &setup.cuts {
        let spot = &cut.first_touch;
        sheet.line(
            "touch",
            format!(
                "colour the lands of {}, feed in {} until the wheel just touches, stop and look",
                cut.features.join(", "),
                cut.direction
            ),
        );
        sheet.number(
            "touch",
            format!(
                "the mark lies on {} flute {}, behind its edge; anywhere else: stop, and check cam angle, throw and clamping",
                spot.feature, spot.flute
            ),
            (spot.behind_deg, "deg"),
            None,
        );
    }
}

fn feed(sheet: &mut Sheet, setup: &Setup) {
    for cut in &setup.cuts {
        sheet.number(
            "feed",
            format!("{} in-feed from that touch, in all", cut.direction),
            (cut.skim_sure_mm, "mm"),
            cut.step_mm,
        );
        if cut.wear_mm > 0.0 {
            sheet.number(
                "feed",
                "of that the wheel loses of its own radius, as finished grinds taught",
                (cut.wear_mm, "mm"),
                None,
            );
        }
        // Equal passes after each other are one line.
        let mut at = 0;
        while let Some(pass) = cut.passes_mm.get(at) {
            let alike = cut.passes_mm.iter().skip(at);
            let count = alike
                .take_while(|other| (*other - pass).abs() < 1e-9)
                .count();
            sheet.number("feed", format!("{count} × in-feed of"), (*pass, "mm"), None);
            at += count;
        }
    }
    // Sparking out until a wheel no longer throws sparks is how a size is held (common practice, no
    // source).
    sheet.line("feed", "let it spark out without in-feed until no colour and no old surface is left and sparks cease");
}

fn leaves(sheet: &mut Sheet, setup: &Setup) {
    let half = |it: &PredictedFigure| (it.interval[1] - it.interval[0]) / 2.0;
    for name in ["diameter", "relief-angle", "drop", "heel-clearance"] {
        let figures: Vec<&PredictedFigure> = setup
            .predicted
            .iter()
            .filter(|it| it.name == name)
            .collect();
        for feature in features(&figures) {
            let of_it: Vec<&&PredictedFigure> =
                figures.iter().filter(|it| it.feature == feature).collect();
            // Flutes that come out alike are one line: the worst of them.
            let least = of_it.iter().min_by(|a, b| a.value.total_cmp(&b.value));
            let Some(least) = least else { continue };
            let which = if of_it.len() > 1 {
                ", the least of all flutes"
            } else {
                ""
            };
            let word = name.replace('-', " ");
            sheet.number(
                "leaves",
                format!("{word} of {feature}{which}"),
                (least.value, &least.unit),
                Some(half(least)),
            );
        }
    }
}

fn features(figures: &[&PredictedFigure]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for figure in figures {
        if !names.contains(&figure.feature) {
            names.push(figure.feature.clone());
        }
    }
    names
}
