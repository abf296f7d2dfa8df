//! What came of all inspections of a scenario, and whether it is within the bars.

use super::judged::{Figure, Seen};
use super::scenarios::{Cards, Scenario};
use heelclear::record::Verdict;
use statrs::distribution::{Binomial, DiscreteCDF};

/// Counts of one scenario.
#[derive(Default)]
pub struct Tally {
    pub inspections: u64,
    pub bad: u64,
    pub wrong_passes: u64,
    /// Passes of bad tools in which no reading met what is bad.
    pub unseen: u64,
    /// The farthest outside a limit that passed, in standard uncertainties.
    pub farthest: f64,
    pub wrong_fails: u64,
    pub undecided: u64,
    pub refused: u64,
    pub noticed: u64,
    /// Passes, and fails of good tools, without a word of what is wrong.
    pub unnoticed: u64,
    pub figures: u64,
    pub held: u64,
    /// Inspections whose figures all hold, of those with any.
    pub whole: u64,
    pub with_figures: u64,
}

/// Wrong passes, intervals missed, and ordinary tools undecided may come as often as this.
const OFTEN: f64 = 0.05;
/// One row in so many may be stopped by chance alone.
const BY_CHANCE: f64 = 0.005;
/// No wrong pass may lie farther outside than this many standard uncertainties.
const FARTHEST: f64 = 3.0;

impl Tally {
    pub const HEAD: &str = "\
| scenario | cards | inspections | of bad tools | wrong passes | no reading met it | farthest outside, u | wrong fails | undecided | refused | noticed | intervals held | bars |
|---|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---|";

    pub fn of(seen: &[Seen]) -> Self {
        let mut tally = Self::default();
        for one in seen {
            tally.inspections += 1;
            tally.bad += u64::from(!one.good);
            tally.unseen += u64::from(one.unseen());
            tally.wrong_passes += u64::from(one.wrong_pass());
            tally.farthest = tally.farthest.max(if one.wrong_pass() {
                one.farthest()
            } else {
                0.0
            });
            tally.wrong_fails += u64::from(one.wrong_fail());
            tally.undecided += u64::from(
                one.verdict == Some(Verdict::Undecided)
                    || one.verdict.is_none() && one.refused.is_none(),
            );
            tally.refused += u64::from(one.refused.is_some());
            tally.noticed += u64::from(one.noticed);
            let told = one.verdict == Some(Verdict::Pass) || one.wrong_fail();
            tally.unnoticed += u64::from(told && !one.noticed);
            // Nothing holds what no reading met.
            let met = |figure: &&Figure| one.shown != Some(0) || figure.name != "heel-clearance";
            let trials: Vec<bool> = one
                .figures
                .iter()
                .filter(met)
                .filter_map(Figure::held)
                .collect();
            tally.figures += trials.len() as u64;
            tally.held += trials.iter().filter(|held| **held).count() as u64;
            tally.with_figures += u64::from(!trials.is_empty());
            tally.whole += u64::from(!trials.is_empty() && trials.iter().all(|held| *held));
        }
        tally
    }

    pub fn join(&mut self, other: &Self) {
        self.inspections += other.inspections;
        self.bad += other.bad;
        self.wrong_passes += other.wrong_passes;
        self.unseen += other.unseen;
        self.wrong_fails += other.wrong_fails;
        self.undecided += other.undecided;
        self.refused += other.refused;
        self.noticed += other.noticed;
        self.unnoticed += other.unnoticed;
        self.figures += other.figures;
        self.held += other.held;
    }

    /// What is beyond the bars by more than chance.
    pub fn beyond_bars(&self, scenario: &Scenario) -> Vec<String> {
        let mut beyond = Vec::new();
        if self.farthest > FARTHEST {
            beyond.push(format!("a wrong pass {:.0} u outside", self.farthest));
        }
        if scenario.cards == Cards::Honest && more_than(self.wrong_passes, self.inspections) {
            beyond.push(format!(
                "{} wrong passes of {}",
                self.wrong_passes, self.inspections
            ));
        }
        if scenario.cards == Cards::Honest && more_than(self.wrong_fails, self.inspections) {
            beyond.push(format!(
                "{} wrong fails of {}",
                self.wrong_fails, self.inspections
            ));
        }
        if scenario.cards == Cards::Beyond && self.unnoticed > 0 {
            beyond.push(format!(
                "{} unnoticed of {}",
                self.unnoticed, self.inspections
            ));
        }
        if scenario.decided && more_than(self.undecided + self.refused, self.inspections) {
            beyond.push(format!(
                "{} undecided of {}",
                self.undecided + self.refused,
                self.inspections
            ));
        }
        // Figures of one inspection err alike, so that only inspections are independent.
        let missed = self.figures - self.held;
        let share = missed as f64 / self.figures.max(1) as f64;
        if scenario.cards == Cards::Honest
            && more_than((share * self.with_figures as f64) as u64, self.with_figures)
        {
            beyond.push(format!("{} intervals held of {}", self.held, self.figures));
        }
        beyond
    }

    pub fn row(&self, scenario: &Scenario) -> String {
        let cards = match scenario.cards {
            Cards::Honest => "honest",
            Cards::Beyond => "beyond",
            Cards::Hidden => "beyond, not to be seen",
        };
        let beyond = self.beyond_bars(scenario);
        let bars = match (beyond.is_empty(), scenario.open) {
            (true, _) => "inside".to_owned(),
            (false, None) => format!("**{}**", beyond.join(", ")),
            (false, Some(note)) => format!("{}: {note}", beyond.join(", ")),
        };
        let farthest = if self.wrong_passes > 0 {
            format!("{:.1}", self.farthest)
        } else {
            "–".to_owned()
        };
        let noticed = if scenario.signs.is_empty() {
            "–".to_owned()
        } else {
            self.noticed.to_string()
        };
        format!(
            "| {} | {cards} | {} | {} | {} | {} | {farthest} | {} | {} | {} | {noticed} | {} of {} | {bars} |",
            scenario.name,
            self.inspections,
            self.bad,
            self.wrong_passes,
            self.unseen,
            self.wrong_fails,
            self.undecided,
            self.refused,
            self.held,
            self.figures,
        )
    }
}

/// Whether so many are more than chance brings (exact binomial, Clopper and Pearson 1934).
fn more_than(part: u64, whole: u64) -> bool {
    part > 0 && Binomial::new(OFTEN, whole).unwrap().sf(part - 1) < BY_CHANCE
}
