//! A record as text: for a terminal, a log or a mail.

use super::figures;
use super::noted;
use super::would_show::{LEAD, would_show};
use super::{rank, words};
use crate::quantity::Units;
use crate::quantity::rounded;
use crate::record::{Characteristic, PropagatedWay, Propagation, Record, Verdict};
use anstyle::{AnsiColor, Style};

/// How the text is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TextStyle {
    /// Whether verdicts are coloured and set bold. The words are the same without.
    pub colour: bool,
    /// Whether each uncertainty budget is printed line by line.
    pub budget: bool,
    /// The unit that lengths are shown in.
    pub units: Units,
    /// Characters in a line of running text.
    pub columns: usize,
}

impl Default for TextStyle {
    fn default() -> Self {
        Self {
            colour: false,
            budget: false,
            units: Units::Metric,
            columns: 96,
        }
    }
}

/// A record as text, the verdict first.
pub fn text(record: &Record, style: TextStyle) -> String {
    let record = &*style.units.told(record);
    let mut page = Page {
        style,
        text: String::new(),
    };
    page.heading(record);
    page.tables(record);
    page.findings(record);
    page.list(
        "warnings",
        words::warnings(record).iter().map(String::as_str),
    );
    if let Some(noted) = &record.noted {
        let photographs = noted::photographs(noted);
        let lines = noted.text.as_deref().unwrap_or_default().lines();
        let lines = lines.chain(photographs.as_deref());
        page.list("notes and photographs", lines);
    }
    if style.budget {
        page.budgets(record);
    }
    page.list(
        "taken for granted",
        record.about.assumptions.iter().map(String::as_str),
    );
    page.list("mind", words::CAUTIONS.into_iter());
    page.text
}

/// A record in one line: the verdict, the tool, and the figure that it hangs on. For a list of many.
pub fn line(record: &Record, style: TextStyle) -> String {
    let mut page = Page {
        style,
        text: String::new(),
    };
    let word = words::shout(record.verdict);
    page.verdict_word(record.verdict, word);
    page.say(&format!(
        "{:blank$}{}",
        "",
        record.tool,
        blank = 11 - word.len()
    ));
    if record.about.simulated {
        page.say(", simulated");
    }
    let bad = matches!(record.verdict, Some(Verdict::Fail | Verdict::Undecided));
    if let Some(of) = rank::deciding(record).filter(|_| bad) {
        page.say(&format!(
            "  {}, {}",
            words::subject(record, of, style.units),
            figures::name(&of.name)
        ));
    }
    page.text
}

/// How wide the words before a hanging paragraph are.
const HANG: usize = 10;

struct Page {
    style: TextStyle,
    text: String,
}

impl Page {
    fn heading(&mut self, record: &Record) {
        let word = &words::shouted(record);
        if self.style.colour {
            // Three lines of the verdict's colour can be found from across a shop.
            let block = block(record.verdict);
            let blank = " ".repeat(word.len() + 8);
            for line in [&blank, &format!("    {word}    "), &blank] {
                self.styled(block, line);
                self.end();
            }
            self.end();
        } else {
            self.say(word);
            self.say("  ");
        }
        self.say(&format!("{} {}", record.tool, record.about.tool_name));
        self.end();
        self.paragraph(0, &words::headline(record, self.style.units));
        self.end();
        let about = &record.about;
        let by = if about.operator.is_empty() {
            String::new()
        } else {
            format!(", by {}", about.operator)
        };
        let cut = if about.interrupted {
            "; CAPTURE CUT SHORT"
        } else {
            ""
        };
        let taken = format!("{}, {}{by}{cut}", about.taken, words::stage(record));
        self.hanging("taken", &taken);
        self.hanging("tool", &words::build(record));
        for (index, line) in about.gauge.iter().enumerate() {
            self.hanging(if index == 0 { "gauge" } else { "" }, line);
        }
    }

    /// One table a feature, then one for what belongs to the whole tool; the worst flute first.
    fn tables(&mut self, record: &Record) {
        let rows = rank::by_flute(record);
        let mut features: Vec<Option<&str>> = Vec::new();
        let named = record.features.iter().map(|f| Some(f.feature.as_str()));
        for feature in named.chain(rows.iter().map(|c| c.feature.as_deref())) {
            if !features.contains(&feature) {
                features.push(feature);
            }
        }
        features.sort_by_key(Option::is_none);
        for feature in features {
            let its: Vec<_> = rows
                .iter()
                .copied()
                .filter(|c| c.feature.as_deref() == feature)
                .collect();
            self.end();
            let facts = record
                .features
                .iter()
                .find(|f| Some(f.feature.as_str()) == feature);
            let name = feature.unwrap_or("tool");
            match facts {
                Some(facts) => {
                    let facts = figures::feature_in_words(facts, self.style.units);
                    self.title(&format!("{name}: {facts}"));
                }
                None => self.title(name),
            }
            self.table(record, &its);
            let shown = feature.and_then(|feature| would_show(record, feature, self.style.units));
            if let Some(shown) = shown {
                self.paragraph(2, &format!("{LEAD}: {shown}"));
            }
        }
        self.end();
        let sure = figures::percent(record.about.confidence);
        self.paragraph(
            0,
            &format!(
                "± is the expanded uncertainty U with a coverage of 95 % (k = 2 where it is normal). What \
                 is proven is {sure} certain: a figure passes or fails by that, with a guard band \
                 (ISO 14253-1); else it is undecided."
            ),
        );
    }

    fn table(&mut self, record: &Record, rows: &[&Characteristic]) {
        if rows.is_empty() {
            self.say("  nothing was measured");
            self.end();
            return;
        }
        let cells = cells(record, rows, self.style.units);
        let mut widths = [0; 7];
        for line in &cells {
            for (width, cell) in widths.iter_mut().zip(line) {
                *width = cell.chars().count().max(*width);
            }
        }
        let verdicts = std::iter::once(None).chain(rows.iter().map(Some));
        for (line, row) in cells.iter().zip(verdicts) {
            let [flute, name, value, spread, sign, limit, proven] = line;
            let [a, b, c, d, e, f, g] = widths;
            self.say(&format!(
                "  {flute:>a$}  {name:<b$}  {value:>c$} {spread:<d$} {sign:<e$}  {limit:<f$}  {proven:<g$}  "
            ));
            match row {
                None => self.say("verdict"),
                Some(row) => self.verdict(row.verdict),
            }
            self.end();
            if let Some(row) = row.filter(|row| row.value.is_none() && row.verdict.is_none()) {
                self.paragraph(a + 4, &row.why);
            }
        }
    }

    fn findings(&mut self, record: &Record) {
        let findings = words::findings(record, self.style.units);
        if findings.is_empty() {
            return;
        }
        self.end();
        self.title("why, and what to do");
        for finding in findings {
            self.say("  ");
            self.verdict(Some(finding.verdict));
            self.say("  ");
            self.say(&finding.subject);
            self.end();
            self.paragraph(4, &finding.why);
            if let Some(remedy) = finding.remedy {
                self.paragraph(4, &format!("→ {remedy}"));
            }
        }
    }

    fn budgets(&mut self, record: &Record) {
        let units = self.style.units;
        for one in record
            .characteristics
            .iter()
            .filter(|c| !c.budget.is_empty())
        {
            self.end();
            let value = figures::in_words(one, units);
            self.title(&format!(
                "{}, {}: {value}",
                words::subject(record, one, units),
                figures::name(&one.name)
            ));
            let sign = units.sign(&one.unit);
            let mut cells = vec![
                [
                    "quantity",
                    "value",
                    "distribution",
                    "sensitivity",
                    "brings u",
                ]
                .map(str::to_owned),
            ];
            for line in &one.budget {
                let brings = units.shown(line.contribution, &one.unit);
                let [value, distribution, sensitivity] = line.words(&one.unit, units);
                cells.push([
                    words::harmless(&line.quantity),
                    words::harmless(&value),
                    words::harmless(&distribution),
                    words::harmless(&sensitivity),
                    format!("{} {sign}", rounded(brings, brings.abs())),
                ]);
            }
            let mut widths = [0; 5];
            for line in &cells {
                for (width, cell) in widths.iter_mut().zip(line) {
                    *width = cell.chars().count().max(*width);
                }
            }
            for line in &cells {
                let cells = line
                    .iter()
                    .zip(widths)
                    .map(|(cell, width)| format!("{cell:<width$}"));
                let line = cells.collect::<Vec<_>>().join("  ");
                self.say(&format!("  {}", line.trim_end()));
                self.end();
            }
            if let Some(propagation) = &one.propagation {
                self.paragraph(2, &ways(propagation, &one.unit, units));
            }
        }
    }

    fn list<'a>(&mut self, title: &str, items: impl Iterator<Item = &'a str>) {
        let mut items = items.peekable();
        if items.peek().is_none() {
            return;
        }
        self.end();
        self.title(title);
        for item in items {
            self.paragraph(2, item);
        }
    }

    fn title(&mut self, text: &str) {
        self.styled(Style::new().bold(), text);
        self.end();
    }

    fn verdict(&mut self, verdict: Option<Verdict>) {
        // What needs attention is in capitals, so that it stands out without colour too.
        let word = match verdict {
            Some(Verdict::Fail | Verdict::Undecided) => words::shout(verdict),
            _ => words::word(verdict),
        };
        self.verdict_word(verdict, word);
    }

    fn verdict_word(&mut self, verdict: Option<Verdict>, word: &str) {
        let style = match verdict {
            None => Style::new(),
            Some(Verdict::Pass) => Style::new().fg_color(Some(ink(verdict).into())),
            Some(_) => Style::new().bold().fg_color(Some(ink(verdict).into())),
        };
        self.styled(style, word);
    }

    fn hanging(&mut self, lead: &str, text: &str) {
        let room = self.style.columns.saturating_sub(HANG);
        for (index, line) in lines(text, room).iter().enumerate() {
            let lead = if index == 0 { lead } else { "" };
            self.say(&format!("{lead:<HANG$}{line}"));
            self.end();
        }
    }

    fn paragraph(&mut self, indent: usize, text: &str) {
        for line in lines(text, self.style.columns.saturating_sub(indent)) {
            self.say(&format!("{:indent$}{line}", ""));
            self.end();
        }
    }

    fn say(&mut self, text: &str) {
        self.text.push_str(&words::harmless(text));
    }

    fn styled(&mut self, style: Style, text: &str) {
        if self.style.colour {
            self.text.push_str(&style.render().to_string());
            self.say(text);
            self.text.push_str(&style.render_reset().to_string());
        } else {
            self.say(text);
        }
    }

    fn end(&mut self) {
        // No line ends in blanks, which mails and editors mangle; a coloured block ends in a code.
        self.text.truncate(self.text.trim_end_matches(' ').len());
        self.text.push('\n');
    }
}

const fn ink(verdict: Option<Verdict>) -> AnsiColor {
    match verdict {
        Some(Verdict::Pass) => AnsiColor::Green,
        Some(Verdict::Fail) => AnsiColor::Red,
        Some(Verdict::Undecided) => AnsiColor::Yellow,
        None => AnsiColor::White,
    }
}

fn block(verdict: Option<Verdict>) -> Style {
    let letters = match verdict {
        Some(Verdict::Fail) => AnsiColor::BrightWhite,
        _ => AnsiColor::Black,
    };
    Style::new()
        .bold()
        .fg_color(Some(letters.into()))
        .bg_color(Some(ink(verdict).into()))
}

/// The words of a table, its heading first.
fn cells(record: &Record, rows: &[&Characteristic], units: Units) -> Vec<[String; 7]> {
    let mut cells = vec![
        [
            "flute",
            "characteristic",
            "value",
            "± U",
            "",
            "limit",
            "proven",
        ]
        .map(str::to_owned),
    ];
    for row in rows {
        let figure = figures::figure(row, units);
        let sign = if figure.is_some() {
            units.sign(&row.unit)
        } else {
            ""
        };
        let (value, spread) = match figure {
            Some(figure) => (figure.value, figure.spread.unwrap_or_default()),
            None => (figures::NOTHING.to_owned(), String::new()),
        };
        cells.push([
            figures::flute(row.flute) + &words::place(record, row, units),
            words::harmless(&figures::name(&row.name)),
            value,
            spread,
            sign.to_owned(),
            figures::allowed(row.limit, &row.unit, units),
            figures::proven(row, units).unwrap_or_default(),
        ]);
    }
    cells
}

/// Text in lines of at most `room` characters; a longer word stands alone. A figure stays together
/// with its uncertainty, its unit and its limit.
fn lines(text: &str, room: usize) -> Vec<String> {
    let tied = words::tied(text);
    let words = tied
        .split([' ', '\t', '\n', '\r'])
        .filter(|word| !word.is_empty());
    let mut lines: Vec<String> = Vec::new();
    for word in words.map(|word| word.replace(words::TIE, " ")) {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= room => {
                line.push(' ');
                line.push_str(&word);
            }
            _ => lines.push(word),
        }
    }
    lines
}

/// Both ways of propagating side by side, and which one counts.
fn ways(of: &Propagation, unit: &str, units: Units) -> String {
    let interval = |way: &PropagatedWay| {
        let [from, to] = way.interval.map(|end| {
            let u = units.shown(way.standard_uncertainty, unit);
            rounded(units.shown(end, unit), u)
        });
        format!("{from} to {to} {}", units.sign(unit))
    };
    let counts = match of.used.as_str() {
        "distributions" => "the trials count",
        _ => "the first order counts",
    };
    let unsettled = if of.unsettled {
        ", whose ends still moved after the most that are made"
    } else {
        ""
    };
    format!(
        "95 % interval to first order {}; by {} trials {}{unsettled}; {counts}, since {}",
        interval(&of.first_order),
        of.trials,
        interval(&of.distributions),
        words::harmless(&of.why)
    )
}
