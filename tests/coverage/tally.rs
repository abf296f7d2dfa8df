//! What was seen of one characteristic in one kind of inspection, and whether it can be by chance.

use super::inspect::Seen;
use heelclear::record::Verdict;
use statrs::distribution::{Binomial, ChiSquared, ContinuousCDF, DiscreteCDF};

/// Everything seen of one characteristic.
#[derive(Default)]
pub struct Tally {
    pub unit: String,
    /// Inspections that showed it: figures of one inspection err alike, so that only these are
    /// independent of each other.
    pub inspections: u64,
    pub figures: u64,
    pub held: u64,
    pub width: f64,
    /// Off the truth in standard uncertainties: sum, and sum of squares.
    pub off: f64,
    pub off_squared: f64,
    /// Figures judged with a limit at the truth.
    pub judged: u64,
    pub passed_least: u64,
    pub passed_most: u64,
    pub failed_least: u64,
    pub failed_most: u64,
    pub undecided: u64,
    pub undecided_away: u64,
    /// Figures that gave no interval, or none that is to be relied on.
    pub open: u64,
    /// Figures said to be trusted that are off by more than chance ever is.
    pub far: u64,
}

/// Intervals may miss the truth as often as this: the goal is that 93 to 97 % hold it.
const MISSED_MOST: f64 = 0.07;
/// Passes with the limit at the truth may come as often as this.
const PASSED_MOST: f64 = 0.05;
/// One round in so many may be stopped by chance alone, over all rows together.
const OVER_ALL_ROWS: f64 = 1e-5;

/// A share as a table shows it.
pub fn percent(part: u64, whole: u64) -> String {
    if whole == 0 {
        "–".to_owned()
    } else {
        format!("{:.1}", 100.0 * part as f64 / whole as f64)
    }
}

impl Tally {
    /// The head of the table, in Markdown.
    pub const HEAD: &str = "\
| inspection | characteristic | figures | held, % | mean width | error / u, mean and root mean square | pass at truth, least / most, % | fail at truth, least / most, % | undecided at truth, % | undecided 2 guard bands inside, % | no interval | goal |
|---|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---|";

    /// Takes in the figures of this characteristic in one inspection.
    pub fn add<'s>(&mut self, seen: impl Iterator<Item = &'s Seen>) {
        let mut any = false;
        for figure in seen {
            self.unit.clone_from(&figure.unit);
            let Some(found) = &figure.found else {
                self.open += 1;
                continue;
            };
            any = true;
            let [low, high] = found.interval;
            let off = (found.value - figure.truth) / found.u;
            self.figures += 1;
            self.held += u64::from((low..=high).contains(&figure.truth));
            self.width += high - low;
            self.off += off;
            self.off_squared += off * off;
            self.far += u64::from(found.is_far(figure.truth));
            let Some(at) = &figure.at_truth else { continue };
            self.judged += 1;
            let is = |verdict: Verdict, wanted| u64::from(verdict == wanted);
            self.passed_least += is(at.least, Verdict::Pass);
            self.passed_most += is(at.most, Verdict::Pass);
            self.failed_least += is(at.least, Verdict::Fail);
            self.failed_most += is(at.most, Verdict::Fail);
            self.undecided += is(at.least, Verdict::Undecided);
            self.undecided_away += is(at.away, Verdict::Undecided);
        }
        self.inspections += u64::from(any);
    }

    /// Takes in another tally.
    pub fn join(&mut self, other: &Self) {
        self.inspections += other.inspections;
        self.figures += other.figures;
        self.held += other.held;
        self.judged += other.judged;
        self.passed_least += other.passed_least;
        self.passed_most += other.passed_most;
        self.failed_least += other.failed_least;
        self.failed_most += other.failed_most;
        self.undecided += other.undecided;
        self.off += other.off;
        self.off_squared += other.off_squared;
        self.open += other.open;
        self.far += other.far;
    }

    /// Its row of the table.
    pub fn row(&self, kind: &str, name: &str, note: &str) -> String {
        let figures = self.figures.max(1) as f64;
        let width = self.width / figures;
        let width = match self.unit.as_str() {
            "mm" => format!("{:.2} µm", width * 1000.0),
            _ => format!("{width:.3}°"),
        };
        let of_judged = |part| percent(part, self.judged);
        format!(
            "| {kind} | {name} | {} | {} | {width} | {:+.2}, {:.2} | {} / {} | {} / {} | {} | {} | {} | {} |",
            self.figures,
            percent(self.held, self.figures),
            self.off / figures,
            (self.off_squared / figures).sqrt(),
            of_judged(self.passed_least),
            of_judged(self.passed_most),
            of_judged(self.failed_least),
            of_judged(self.failed_most),
            of_judged(self.undecided),
            of_judged(self.undecided_away),
            self.open,
            self.goal(note),
        )
    }

    /// Whether it is inside the goal as far as so many inspections can tell: 93 to 97 % held, and at
    /// most 5 % wrong passes.
    fn goal(&self, note: &str) -> String {
        /// A row is outside where chance would put it there less often than this.
        const BY_CHANCE: f64 = 0.02;
        /// Of errors that are normal, 97 % lie within a 95 % range where their root mean square is this
        /// many standard uncertainties.
        const AT_97: f64 = 1.96 / 2.17;
        let mut outside = Vec::new();
        if self.figures == 0 {
            return "–".to_owned();
        }
        if self.misses_more(BY_CHANCE) {
            outside.push("too narrow");
        }
        // How many are missed says little of a range that is too wide; how small the errors are, much.
        let inspections = self.inspections as f64;
        let squares = inspections * self.off_squared / self.figures as f64 / (AT_97 * AT_97);
        if ChiSquared::new(inspections).unwrap().cdf(squares) < BY_CHANCE {
            outside.push("too wide");
        }
        if self.passes_wrongly_more(BY_CHANCE) {
            outside.push("passes too often");
        }
        if outside.is_empty() {
            "inside".to_owned()
        } else {
            format!("{} ({note})", outside.join(", "))
        }
    }

    /// Whether more intervals miss the truth, or more pass wrongly with the limit at the truth, than
    /// the goal lets by chance over all rows.
    pub fn strays(&self) -> bool {
        self.misses_more(OVER_ALL_ROWS) || self.passes_wrongly_more(OVER_ALL_ROWS)
    }

    fn misses_more(&self, by_chance: f64) -> bool {
        self.more_than(
            self.figures - self.held,
            self.figures,
            MISSED_MOST,
            by_chance,
        )
    }

    /// On the worse side.
    fn passes_wrongly_more(&self, by_chance: f64) -> bool {
        let worse = self.passed_least.max(self.passed_most);
        self.more_than(worse, self.judged, PASSED_MOST, by_chance)
    }

    /// Whether so many of so many are more than chance brings at a true rate, as far as this many
    /// independent inspections can prove it.
    fn more_than(&self, part: u64, whole: u64, rate: f64, by_chance: f64) -> bool {
        if whole == 0 || self.inspections == 0 {
            return false;
        }
        let share = part as f64 / whole as f64;
        let hits = (share * self.inspections as f64).floor() as u64;
        let chance = Binomial::new(rate, self.inspections).unwrap();
        hits > 0 && chance.sf(hits - 1) < by_chance
    }
}
