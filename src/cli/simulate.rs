//! `simulate`: an inspection of a tool that does not exist, as a folder or as a port.

use super::{Out, Status};
use crate::error::{Code, Error, Result, reason};
use crate::inspection::simulated::write_folder;
use crate::record::archive::regular;
use crate::simulator::{Scenario, built_in, names};
use clap::Args;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Simulate a bench: write an inspection folder, or serve a port to capture from
#[derive(Args)]
#[command(after_help = "\
Examples:
  heelclear simulate --list                            the tools there are
  heelclear simulate counterbore-pass --out bench/VB-07
  heelclear simulate counterbore-pass --seed 7 --out bench/VB-07
  heelclear simulate counterbore-pass --regrind 1 --out bench/VB-07-again
  heelclear simulate counterbore-pass --recipe > my.toml   then change it, and
  heelclear simulate my.toml --out bench/mine
  heelclear simulate counterbore-pass --serve          then capture from the port it names

The same recipe, seed and moment give the same bytes.")]
pub(super) struct Arguments {
    /// One of the tools that `--list` shows, or a file with a recipe
    #[arg(add = super::names::simulated())]
    name: Option<String>,

    /// List the tools
    #[arg(long, conflicts_with_all = ["out", "serve", "recipe"])]
    list: bool,

    /// Write an inspection into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,

    /// Serve a simulated bridge on a pseudo-terminal until Ctrl-C
    #[arg(long, conflicts_with = "out")]
    serve: bool,

    /// Print the recipe
    #[arg(long, conflicts_with_all = ["out", "serve"])]
    recipe: bool,

    /// Start the random numbers here instead of where the recipe says
    #[arg(long)]
    seed: Option<u64>,

    /// The tool after so many more regrinds: 0.2 mm less in diameter each, measured now
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100))]
    regrind: Option<u32>,

    /// When it is said to be measured
    #[arg(long, value_name = "MOMENT")]
    taken: Option<jiff::Timestamp>,

    /// Serve so many times faster than real time
    #[arg(long, default_value_t = 1.0, requires = "serve", value_name = "TIMES")]
    faster: f64,
}

pub(super) fn run(arguments: &Arguments, out: &mut Out) -> Result<Status> {
    if arguments.list {
        return list(out);
    }
    let Some(name) = arguments.name.as_deref() else {
        return Err(Error::new(
            Code::Usage,
            "read no name, expected that of a tool or a recipe",
        )
        .help("`heelclear simulate --list` lists the tools"));
    };
    let mut scenario = scenario(name)?;
    if let Some(times) = arguments.regrind {
        scenario = scenario.reground(times);
        scenario.check()?;
        scenario.taken = moment(jiff::Timestamp::now());
    }
    if let Some(taken) = arguments.taken {
        scenario.taken = moment(taken);
    }
    if let Some(seed) = arguments.seed {
        scenario.seed = seed;
    }
    match &arguments.out {
        Some(folder) => write(&scenario, folder, out)?,
        None if arguments.serve => serve(scenario, arguments.faster, out)?,
        None if arguments.recipe => print(&scenario, out)?,
        None => {
            return Err(Error::new(
                Code::Usage,
                "read neither `--out` nor `--serve`, expected one of them",
            )
            .help("say where to: `--out DIR` writes a folder, `--serve` serves a port"));
        }
    }
    Ok(Status::Clear)
}

/// A moment as a card has it, to the second.
fn moment(of: jiff::Timestamp) -> String {
    of.strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

/// A recipe by its name, or from a file; the tool is turned as it is practised, unless the file says
/// which way.
pub(super) fn scenario(name: &str) -> Result<Scenario> {
    let path = Path::new(name);
    if !path.is_file() {
        return Ok(built_in(name)?.practised());
    }
    let text = regular::text(path).map_err(|fault| {
        Error::new(Code::Disk, format!("cannot be read: {}", reason(&fault))).in_file(name)
    })?;
    let scenario = Scenario::from_toml(&text, name)?;
    let says = |table: toml::Table| table.get("hand")?.get("turning").cloned();
    let stated = text.parse().ok().and_then(says).is_some();
    Ok(if stated {
        scenario
    } else {
        scenario.practised()
    })
}

fn list(out: &mut Out) -> Result<Status> {
    for name in names() {
        let about = built_in(name)?.about;
        if out.json() {
            out.object(&json!({ "name": name, "about": about }))?;
        } else {
            out.line(&format!("{name:26}{about}"))?;
        }
    }
    Ok(Status::Clear)
}

fn print(scenario: &Scenario, out: &mut Out) -> Result<()> {
    let text =
        toml::to_string(scenario).map_err(|fault| Error::internal("cannot write TOML", fault))?;
    if out.json() {
        return out.object(&json!({ "recipe": text }));
    }
    out.text(&text)
}

fn write(scenario: &Scenario, folder: &Path, out: &mut Out) -> Result<()> {
    if folder.join("inspection.toml").exists() {
        return Err(
            Error::new(Code::Usage, "the folder holds an inspection already")
                .in_path(folder)
                .help("name a new folder: an inspection is never overwritten"),
        );
    }
    write_folder(scenario, folder)?;
    let folder = folder.display().to_string();
    if out.json() {
        out.object(&json!({ "folder": folder, "seed": scenario.seed, "about": scenario.about }))
    } else {
        out.line(&folder)
    }
}

#[cfg(unix)]
fn serve(scenario: Scenario, faster: f64, out: &mut Out) -> Result<()> {
    use crate::simulator::Served;
    if !(0.01..=1000.0).contains(&faster) {
        let message = format!("read `--faster {faster}`, expected 0.01 to 1000");
        return Err(Error::new(Code::Usage, message));
    }
    let fault = |fault: std::io::Error| {
        Error::new(
            Code::Disk,
            format!("cannot serve a pseudo-terminal: {fault}"),
        )
    };
    let served = Served::start(scenario, faster).map_err(fault)?;
    if out.json() {
        out.object(&json!({ "port": served.path() }))?;
    } else {
        out.line(&served.path())?;
    }
    out.note("serving a simulated bridge; Ctrl-C ends it");
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(fault)?;
    runtime.block_on(tokio::signal::ctrl_c()).map_err(fault)
}

#[cfg(not(unix))]
fn serve(_: Scenario, _: f64, _: &mut Out) -> Result<()> {
    Err(
        Error::new(Code::Usage, "this system has no pseudo-terminals").help(
            "`heelclear capture --simulate NAME` captures from a simulated bridge in the program",
        ),
    )
}
