//! The folder: cards that say what is stated, and traces that hold what was read.

use super::bench::Readings;
use super::brute::Tip;
use super::world::{Inspection, Sense, Stated};
use crate::traces::BALL_GAUGE;
use heelclear::card::{GaugeCard, ToolCard};
use std::fmt::Write;
use std::path::Path;

pub fn write(inspection: &Inspection, traces: &[Readings], dir: &Path) {
    let stated = &inspection.stated;
    std::fs::create_dir_all(dir.join("traces")).unwrap();
    let mut card = String::from(
        "schema = 1\ntool = \"tool.toml\"\ngauge = \"gauge.toml\"\ntaken = 2026-03-02T09:14:00Z\nstage = \"after-grind\"\n",
    );
    for (at, readings) in traces.iter().enumerate() {
        let name = match at.checked_sub(inspection.references.len()) {
            None => format!("shank-{}", at + 1),
            Some(at) => format!("seat-{}", at + 1),
        };
        card.push_str("\n[[trace]]\n");
        write_trace(dir, &name, readings, inspection, &mut card);
        match at.checked_sub(inspection.references.len()) {
            None => {
                let reference = &inspection.references[at];
                writeln!(card, "role = \"reference\"").unwrap();
                writeln!(
                    card,
                    "{}",
                    length(stated, "diameter", 2.0 * reference.radius_mm)
                )
                .unwrap();
                writeln!(card, "{}", length(stated, "z", reference.z_mm)).unwrap();
            }
            Some(at) => {
                writeln!(card, "role = \"feature\"\nfeature = \"seat\"").unwrap();
                if inspection.tool.axial && at == 0 && !inspection.references.is_empty() {
                    writeln!(card, "rezeroed = true").unwrap();
                }
                writeln!(card, "{}", length(stated, "z", inspection.z_mm[at])).unwrap();
            }
        }
    }
    std::fs::write(dir.join("inspection.toml"), card).unwrap();
    std::fs::write(dir.join("tool.toml"), tool(inspection)).unwrap();
    std::fs::write(dir.join("gauge.toml"), gauge(stated)).unwrap();
}

fn write_trace(
    dir: &Path,
    name: &str,
    readings: &Readings,
    inspection: &Inspection,
    card: &mut String,
) {
    let (unit, size, places) = if inspection.stated.inches {
        ("in", 25.4, 7)
    } else {
        ("mm", 1.0, 5)
    };
    if inspection.bench.two_clocks_s.is_some() {
        let mut angles = String::from("time_s,angle_deg\n");
        for (time, angle) in &readings.angles {
            writeln!(angles, "{time:.6},{angle:.5}").unwrap();
        }
        let mut heights = format!("time_s,reading_{unit}\n");
        for (time, reading) in &readings.readings {
            writeln!(heights, "{time:.6},{:.places$}", reading / size).unwrap();
        }
        std::fs::write(dir.join(format!("traces/{name}-angle.csv")), angles).unwrap();
        std::fs::write(dir.join(format!("traces/{name}-reading.csv")), heights).unwrap();
        writeln!(card, "angle_file = \"traces/{name}-angle.csv\"").unwrap();
        writeln!(card, "reading_file = \"traces/{name}-reading.csv\"").unwrap();
        return;
    }
    let mut rows = format!("time_s,angle_deg,reading_{unit}\n");
    for ((time, angle), (_, reading)) in readings.angles.iter().zip(&readings.readings) {
        writeln!(rows, "{time:.6},{angle:.5},{:.places$}", reading / size).unwrap();
    }
    std::fs::write(dir.join(format!("traces/{name}.csv")), rows).unwrap();
    writeln!(card, "file = \"traces/{name}.csv\"").unwrap();
}

/// A length under its key, in the unit of the cards.
fn length(stated: &Stated, key: &str, mm: f64) -> String {
    if stated.inches {
        format!("{key}_in = {:?}", mm / 25.4)
    } else {
        format!("{key}_mm = {mm:?}")
    }
}

fn tool(inspection: &Inspection) -> String {
    let stated = &inspection.stated;
    let mut card = format!(
        "schema = 1\nid = \"VB-90\"\nname = \"seat counterbore\"\nhand = \"{}\"\nflutes = {}\n\n[[feature]]\nname = \"seat\"\n",
        stated.hand, stated.flutes
    );
    let surface = if inspection.tool.axial {
        "axial"
    } else {
        "radial"
    };
    writeln!(card, "surface = \"{surface}\"").unwrap();
    writeln!(card, "{}", length(stated, "diameter", stated.diameter_mm)).unwrap();
    writeln!(
        card,
        "{}",
        length(stated, "check_distance", stated.check_mm)
    )
    .unwrap();
    if let Some(land) = stated.land_deg {
        writeln!(card, "land_deg = {land:?}").unwrap();
    }
    if let Some(feed) = stated.feed_mm {
        let per_rev = length(stated, "feed", feed);
        let (key, value) = per_rev.split_once(" = ").unwrap();
        writeln!(card, "{key}_per_rev = {value}").unwrap();
    }
    if let Some(curve) = stated.curve {
        writeln!(card, "curve = \"{curve}\"").unwrap();
    }
    more(stated, "tool", "feature", &mut card);
    writeln!(card, "\n[feature.limits]").unwrap();
    for (key, _, least, most) in &stated.limits {
        let (key, size) = match key.strip_suffix("_mm") {
            Some(bare) if stated.inches => (format!("{bare}_in"), 25.4),
            _ => ((*key).to_owned(), 1.0),
        };
        let bounds = [("min", least), ("max", most)]
            .map(|(bound, value)| value.map(|value| format!("{bound} = {:?}", value / size)));
        let bounds: Vec<String> = bounds.into_iter().flatten().collect();
        writeln!(card, "{key} = {{ {} }}", bounds.join(", ")).unwrap();
    }
    card
}

fn gauge(stated: &Stated) -> String {
    let mut card = String::from("schema = 1\n\n[indicator]\n");
    for (key, value) in [
        ("resolution", Some(stated.resolution_mm)),
        ("count", stated.count_mm),
        ("travel", stated.travel_mm),
        ("max_error", Some(stated.max_error_mm)),
        ("hysteresis", Some(stated.hysteresis_mm)),
    ] {
        if let Some(value) = value {
            let line = length(stated, key, value);
            if key != "count" && key != "travel" || knows_gauge("indicator", &line) {
                writeln!(card, "{line}").unwrap();
            }
        }
    }
    writeln!(card, "lever_angle_deg = {:?}", stated.lever_deg).unwrap();
    more(stated, "gauge", "indicator", &mut card);
    writeln!(card, "\n[stylus]").unwrap();
    match stated.tip {
        Tip::Ball { radius_mm } => writeln!(
            card,
            "shape = \"ball\"\n{}",
            length(stated, "radius", radius_mm)
        )
        .unwrap(),
        Tip::Flat { half_width_mm } => {
            writeln!(
                card,
                "shape = \"flat\"\n{}",
                length(stated, "radius", half_width_mm)
            )
            .unwrap();
        }
        Tip::Point => writeln!(card, "shape = \"point\"").unwrap(),
    }
    writeln!(
        card,
        "\n[encoder]\ncounts_per_rev = {}",
        stated.counts_per_rev
    )
    .unwrap();
    writeln!(card, "{}", sense(stated)).unwrap();
    more(stated, "gauge", "encoder", &mut card);
    writeln!(
        card,
        "\n[setup]\n{}",
        length(stated, "probe_offset", stated.offset_mm)
    )
    .unwrap();
    writeln!(
        card,
        "{}",
        length(stated, "probe_offset_tolerance", stated.offset_tolerance_mm)
    )
    .unwrap();
    if let Some((lean, over)) = stated.lean {
        let lines = format!(
            "{}\n{}",
            length(stated, "lean", lean),
            length(stated, "lean_over", over)
        );
        if knows_gauge("setup", &lines) {
            writeln!(card, "{lines}").unwrap();
        }
    }
    if let Some(runout) = stated.runout_mm {
        writeln!(card, "{}", length(stated, "runout", runout)).unwrap();
    }
    if let Some(delay) = stated.delay_ms {
        writeln!(card, "delay_ms = {delay:?}").unwrap();
    }
    more(stated, "gauge", "setup", &mut card);
    card
}

fn more(stated: &Stated, card: &str, table: &str, text: &mut String) {
    for (of, within, line) in &stated.more {
        let here = *of == card && *within == table;
        if here
            && if card == "gauge" {
                knows_gauge(within, line)
            } else {
                knows_tool(line)
            }
        {
            writeln!(text, "{line}").unwrap();
        }
    }
}

fn sense(stated: &Stated) -> String {
    let words = |clockwise: bool| {
        if clockwise {
            "clockwise"
        } else {
            "counter-clockwise"
        }
    };
    match stated.sense {
        Sense::Relative { cutting } => {
            format!(
                "positive = \"{}\"",
                if cutting { "cutting" } else { "backing" }
            )
        }
        Sense::Physical { clockwise, proven } => {
            let mut lines = format!("grows = \"{}\"", words(clockwise));
            if proven {
                write!(
                    lines,
                    "\nsense_proven = {{ grows = \"{}\", on = 2026-03-01 }}",
                    words(clockwise)
                )
                .unwrap();
            }
            if knows_sense(&lines) {
                return lines;
            }
            // A right-hand tool cuts clockwise, seen from the driven end.
            let cutting = clockwise == (stated.hand == "right");
            sense(&Stated {
                sense: Sense::Relative { cutting },
                ..stated.clone()
            })
        }
    }
}

/// Whether the reader of gauge cards knows these lines in this table.
fn knows_gauge(table: &str, lines: &str) -> bool {
    let text = BALL_GAUGE.replace(&format!("[{table}]\n"), &format!("[{table}]\n{lines}\n"));
    GaugeCard::parse(&text, "gauge.toml").is_ok()
}

/// Whether the reader of tool cards knows this line of a feature.
fn knows_tool(line: &str) -> bool {
    let text = format!(
        "schema = 1\nid = \"a\"\nname = \"a\"\nhand = \"right\"\nflutes = 2\n[[feature]]\nname = \"a\"\nsurface = \"axial\"\ndiameter_mm = 20.0\ncheck_distance_mm = 0.5\n{line}\n"
    );
    ToolCard::parse(&text, "tool.toml").is_ok()
}

fn knows_sense(lines: &str) -> bool {
    GaugeCard::parse(
        &BALL_GAUGE.replace("positive = \"cutting\"", lines),
        "gauge.toml",
    )
    .is_ok()
}
