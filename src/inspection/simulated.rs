//! Writes a simulated inspection as the folder that a live capture would have left.

use super::whole_file::write_whole;
use crate::error::Result;
use crate::error::unwritable;
use crate::quantity::{Angle, Length};
use crate::record::CutSetup;
use crate::record::archive::{SIMULATED, SIMULATED_FILE};
use crate::simulator::{Grind, Reading, Scenario};
use std::fs;
use std::path::Path;

/// Writes cards and traces into `folder`, which is made where it is absent.
pub fn write_folder(scenario: &Scenario, folder: &Path) -> Result<()> {
    scenario.check()?;
    let traces = folder.join("traces");
    fs::create_dir_all(&traces).map_err(|error| unwritable(&traces, error))?;
    write_whole(&folder.join("tool.toml"), scenario.tool_card().as_bytes())?;
    write_whole(
        &folder.join("gauge.toml"),
        scenario.gauge_card(None).as_bytes(),
    )?;
    if let Some(card) = scenario.grinder_card() {
        write_whole(&folder.join("grinder.toml"), card.as_bytes())?;
    }
    for (number, pose) in scenario.poses().iter().enumerate() {
        let readings: Vec<Reading> = scenario.run(pose, number).collect();
        if scenario.bench.two_clocks {
            let angles = rows(scenario, &readings, Columns::Angle);
            let heights = rows(scenario, &readings, Columns::Height);
            write_whole(
                &traces.join(format!("{}-angle.csv", pose.name)),
                angles.as_bytes(),
            )?;
            write_whole(
                &traces.join(format!("{}-reading.csv", pose.name)),
                heights.as_bytes(),
            )?;
        } else {
            let both = rows(scenario, &readings, Columns::Both);
            write_whole(&traces.join(format!("{}.csv", pose.name)), both.as_bytes())?;
        }
    }
    for (number, (name, face)) in scenario.face_traces().enumerate() {
        let unit = scenario.unit_name();
        let mut text = format!("time_s,travel_{unit},reading_{unit}\n");
        for reading in scenario.slide(face, number) {
            let travel = scenario.shown_travel(reading.travel_mm);
            let height = scenario.shown(reading.steps);
            text += &format!("{:.6},{travel},{height}\n", reading.time_s);
        }
        write_whole(&traces.join(format!("{name}.csv")), text.as_bytes())?;
    }
    write_whole(&folder.join(SIMULATED_FILE), SIMULATED.as_bytes())?;
    // Last, so that a folder with it is a whole one.
    write_whole(
        &folder.join("inspection.toml"),
        scenario.inspection_card().as_bytes(),
    )
}

/// What a set-up says to set, on the first fixture of the simulated bench that moves a tool that way;
/// nothing where there is none.
pub fn settings(bench: &Scenario, cut: &CutSetup) -> Option<Grind> {
    Some(Grind {
        fixture: bench.fixture_along(cut.along())?,
        throw: Length::from_mm(cut.throw_mm),
        cam_angle: Angle::from_deg(cut.cam_angle_deg),
        in_feed: Length::from_mm(cut.skim_sure_mm),
    })
}

#[derive(Clone, Copy, PartialEq)]
enum Columns {
    Both,
    Angle,
    Height,
}

/// A trace file's text, in the unit and with the angle of the recipe.
fn rows(scenario: &Scenario, readings: &[Reading], columns: Columns) -> String {
    let unit = scenario.unit_name();
    let mut text = match columns {
        Columns::Both => format!("time_s,angle_deg,reading_{unit}\n"),
        Columns::Angle => "time_s,angle_deg\n".to_owned(),
        Columns::Height => format!("time_s,reading_{unit}\n"),
    };
    for (i, reading) in readings.iter().enumerate() {
        let time = format!("{:.6}", reading.time_s);
        let angle = format!("{:.4}", scenario.angle_deg(reading.count));
        let height = reading.steps.map(|steps| scenario.shown(steps));
        match (columns, height) {
            (Columns::Both, Some(height)) => text += &format!("{time},{angle},{height}\n"),
            (Columns::Height, Some(height)) => text += &format!("{time},{height}\n"),
            (Columns::Angle, None) if i % 2 == 1 => text += &format!("{time},{angle}\n"),
            _ => {}
        }
    }
    text
}
