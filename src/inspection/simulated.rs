//! Writes a simulated inspection as the folder that a live capture would have left.

use crate::error::{Code, Error, Result, reason};
use crate::gauge::simulated::{Reading, Scenario};
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::Path;

/// Writes cards and traces into `folder`, which is made where it is absent.
pub fn write_folder(scenario: &Scenario, folder: &Path) -> Result<()> {
    scenario.check()?;
    let traces = folder.join("traces");
    fs::create_dir_all(&traces).map_err(|error| disk(&traces, &error))?;
    write_text(&folder.join("tool.toml"), &scenario.tool_card())?;
    write_text(&folder.join("gauge.toml"), &scenario.gauge_card(None))?;
    for (number, pose) in scenario.poses().iter().enumerate() {
        let readings: Vec<Reading> = scenario.run(pose, number).collect();
        if scenario.bench.two_clocks {
            let angles = rows(scenario, &readings, Columns::Angle);
            let heights = rows(scenario, &readings, Columns::Height);
            write_text(&traces.join(format!("{}-angle.csv", pose.name)), &angles)?;
            write_text(&traces.join(format!("{}-reading.csv", pose.name)), &heights)?;
        } else {
            let both = rows(scenario, &readings, Columns::Both);
            write_text(&traces.join(format!("{}.csv", pose.name)), &both)?;
        }
    }
    // Last, so that a folder with it is a whole one.
    write_text(&folder.join("inspection.toml"), &scenario.inspection_card())
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

fn write_text(path: &Path, text: &str) -> Result<()> {
    let write = || -> io::Result<()> {
        let mut file = BufWriter::new(File::create(path)?);
        file.write_all(text.as_bytes())?;
        file.flush()
    };
    write().map_err(|error| disk(path, &error))
}

fn disk(path: &Path, error: &io::Error) -> Error {
    Error::new(Code::Disk, format!("cannot be written: {}", reason(error)))
        .in_file(path.display().to_string())
        .help("check that the folder exists, is writable and has room")
}
