//! What came of one kind of tools, and whether it can be by chance.

use super::kinds::Kind;
use super::whole::{Cut, Done, End, Figure};
use statrs::distribution::{Beta, ContinuousCDF};

/// Skims are to clean up, and intervals to hold the truth, as often as this.
const SAID: f64 = 0.95;

/// The exact interval of a share that holds it in 99 of 100 cases (Clopper and Pearson 1934).
pub fn interval(held: u64, of: u64) -> [f64; 2] {
    let quantile = |a: f64, b: f64, p: f64| Beta::new(a, b).map_or(0.0, |it| it.inverse_cdf(p));
    let (held, missed) = (held as f64, (of - held) as f64);
    let low = if held > 0.0 {
        quantile(held, missed + 1.0, 0.005)
    } else {
        0.0
    };
    let high = if missed > 0.0 {
        quantile(held + 1.0, missed, 0.995)
    } else {
        1.0
    };
    [low, high]
}

fn percent(share: f64) -> String {
    format!("{:.1}", 100.0 * share)
}

/// Grinds of one kind.
#[derive(Default)]
pub struct Grinds {
    tools: u64,
    refused: u64,
    undecided: u64,
    broken: Vec<String>,
    cuts: u64,
    clean: u64,
    thrifty: u64,
    printed: f64,
    least: f64,
}

impl Grinds {
    pub const HEAD: &str = "\
| kind | tools | no set-up (undecided) | in-feeds | clean, % (99 % interval) | at most 1.3 of the least, and what is allowed, % | mean skim printed / least, mm |
|---|---:|---:|---:|---:|---:|---:|";

    pub fn of(round: &[Done]) -> Self {
        let mut tally = Self::default();
        for done in round {
            tally.tools += 1;
            match &done.end {
                End::Broken(why) => tally.broken.push(why.clone()),
                End::Refused { verdict, .. } => {
                    tally.refused += 1;
                    let undecided = *verdict == Some(heelclear::record::Verdict::Undecided);
                    tally.undecided += u64::from(undecided);
                }
                End::Ground { cuts, .. } => cuts.iter().for_each(|cut| tally.add(cut)),
            }
        }
        tally
    }

    fn add(&mut self, cut: &Cut) {
        self.cuts += 1;
        self.clean += u64::from(cut.unclean.is_empty());
        self.thrifty += u64::from(cut.is_thrifty());
        self.printed += cut.printed_mm;
        self.least += cut.least_mm;
    }

    pub fn row(&self, kind: &Kind) -> String {
        let cuts = self.cuts.max(1) as f64;
        let [low, high] = interval(self.clean, self.cuts);
        format!(
            "| {} | {} | {} ({}) | {} | {} ({} to {}) | {} | {:.4} / {:.4} |",
            kind.name,
            self.tools,
            self.refused,
            self.undecided,
            self.cuts,
            percent(self.clean as f64 / cuts),
            percent(low),
            percent(high),
            percent(self.thrifty as f64 / cuts),
            self.printed / cuts,
            self.least / cuts
        )
    }

    /// What no chance explains.
    pub fn wrong(&self, kind: &Kind) -> Vec<String> {
        let mut wrong: Vec<String> = self
            .broken
            .iter()
            .map(|why| format!("{}: {why}", kind.name))
            .collect();
        if kind.hopeless {
            if self.cuts > 0 {
                wrong.push(format!(
                    "{}: {} set-ups of a cam that cannot match",
                    kind.name, self.cuts
                ));
            }
            return wrong;
        }
        if interval(self.clean, self.cuts)[1] < SAID {
            wrong.push(format!(
                "{}: {} of {} in-feeds clean",
                kind.name, self.clean, self.cuts
            ));
        }
        if interval(self.thrifty, self.cuts)[1] < SAID {
            wrong.push(format!(
                "{}: {} of {} skims near the least",
                kind.name, self.thrifty, self.cuts
            ));
        }
        if self.refused * 5 > self.tools {
            wrong.push(format!(
                "{}: {} of {} without a set-up",
                kind.name, self.refused, self.tools
            ));
        }
        wrong
    }
}

/// Predicted figures of one name.
#[derive(Default)]
pub struct Figures {
    /// Figures of one tool err alike, so that only tools are independent of each other.
    tools: u64,
    /// Shares of each tool's figures that held.
    held: f64,
    figures: u64,
    width: f64,
    off: f64,
    off_squared: f64,
    worst: f64,
}

impl Figures {
    pub const HEAD: &str = "\
| kind | figure | tools | figures | held, % | mean width | error / u: mean, root mean square, worst |
|---|---|---:|---:|---:|---:|---:|";

    pub fn add(&mut self, figures: &[&Figure]) {
        self.tools += 1;
        let held = figures.iter().filter(|figure| figure.holds()).count();
        self.held += held as f64 / figures.len() as f64;
        for figure in figures {
            self.figures += 1;
            self.width += figure.interval[1] - figure.interval[0];
            let off = (figure.value - figure.truth) / figure.u.max(1e-9);
            self.off += off;
            self.off_squared += off * off;
            self.worst = self.worst.max(off.abs());
        }
    }

    pub fn row(&self, kind: &str, name: &str) -> String {
        let figures = self.figures.max(1) as f64;
        format!(
            "| {kind} | {name} | {} | {} | {} | {:.5} | {:.2}, {:.2}, {:.1} |",
            self.tools,
            self.figures,
            percent(self.held / self.tools.max(1) as f64),
            self.width / figures,
            self.off / figures,
            (self.off_squared / figures).sqrt(),
            self.worst
        )
    }

    /// Whether they hold the truth less often than chance lets them.
    pub fn strays(&self) -> bool {
        interval(self.held.round() as u64, self.tools)[1] < SAID
    }
}
