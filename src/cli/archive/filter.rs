//! Which records a command is about, as flags.

use super::super::names;
use crate::record::archive::{Filter, day};
use clap::Args;
use jiff::Timestamp;

/// Flags that many commands share.
#[derive(Args, Clone, Default)]
pub(super) struct FilterArguments {
    /// The tool's id
    #[arg(long, value_name = "ID", add = names::tools())]
    tool: Option<String>,

    /// A feature of the tool card
    #[arg(long, value_name = "NAME")]
    feature: Option<String>,

    /// Measured on this day or later, or from this moment on (UTC)
    #[arg(long, value_name = "DATE", value_parser = from_date)]
    since: Option<Timestamp>,

    /// Measured on this day or earlier, or before this moment (UTC)
    #[arg(long, value_name = "DATE", value_parser = through_date)]
    until: Option<Timestamp>,

    /// Who measured
    #[arg(long, value_name = "NAME")]
    operator: Option<String>,

    /// What it came to
    #[arg(long, value_parser = ["pass", "fail", "undecided", "none"])]
    verdict: Option<String>,

    /// A part of the gauge's line, such as "radius 1.5 mm"
    #[arg(long, value_name = "TEXT")]
    gauge: Option<String>,

    /// Parts of anything that is said of it, each of them: tool, name, feature, operator, customer,
    /// gauge, host, reason
    #[arg(long, value_name = "TEXT")]
    text: Option<String>,

    /// The bench that made it, in an archive of several
    #[arg(long, value_name = "BENCH")]
    bench: Option<String>,

    /// Those too that a later record replaces
    #[arg(long)]
    replaced: bool,
}

impl FilterArguments {
    /// What is asked of the archive.
    pub(super) fn filter(&self, limit: Option<usize>) -> Filter {
        Filter {
            tool: self.tool.clone(),
            feature: self.feature.clone(),
            since: self.since,
            before: self.until,
            operator: self.operator.clone(),
            verdict: self.verdict.clone(),
            gauge: self.gauge.clone(),
            text: self.text.clone(),
            bench: self.bench.clone(),
            replaced: self.replaced,
            limit,
        }
    }
}

fn from_date(text: &str) -> Result<Timestamp, String> {
    moment(text).map(|(start, _)| start)
}

fn through_date(text: &str) -> Result<Timestamp, String> {
    moment(text).map(|(_, end)| end)
}

/// A day or a month from its start to its end, or a moment that is both.
fn moment(text: &str) -> Result<(Timestamp, Timestamp), String> {
    if let Ok(moment) = text.parse::<Timestamp>() {
        return Ok((moment, moment));
    }
    day(text).ok_or_else(|| "expected a date like 2026-03-02, or 2026-03-02T09:14:00Z".to_owned())
}
