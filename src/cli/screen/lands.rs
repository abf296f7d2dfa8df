//! The drop behind each edge against its limits, or the readings over the turn before there is one.

use super::Shown;
use crate::inspection::live::SoFar;
use crate::quantity::Length;
use crate::record::{Characteristic, FeatureFacts, Flute, Record, Verdict};
use crate::report::{Units, in_words};
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::symbols::Marker;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Axis, Block, Borders, Chart, Dataset, GraphType, Paragraph};

/// A chart is no narrower and no lower than this.
const NARROWEST: u16 = 36;
const LOWEST: u16 = 7;
/// A land falls away by less than this, a gap by more.
const REACH: Length = Length::from_mm(0.5);

/// The lands of what was judged so far; whether there were any to draw.
pub(super) fn lands(frame: &mut Frame<'_>, area: Rect, so_far: &SoFar, units: Units) -> bool {
    let Ok(record) = &so_far.record else {
        return false;
    };
    let mut flutes: Vec<&Flute> = record
        .flutes
        .iter()
        .filter(|flute| !flute.land.is_empty())
        .collect();
    if flutes.is_empty() || area.height <= LOWEST || area.width < NARROWEST {
        return false;
    }
    let [area, legend] =
        Layout::vertical([Constraint::Min(LOWEST), Constraint::Length(1)]).areas(area);
    let across = usize::from((area.width / NARROWEST).max(1)).min(flutes.len());
    let down = usize::from((area.height / LOWEST).max(1));
    let down = flutes.len().div_ceil(across).min(down);
    let room = across * down;
    let all = flutes.len();
    if all > room {
        // Those that matter most, in the order of the tool.
        flutes.sort_by_key(|flute| severity(clearance(record, flute)));
        flutes.truncate(room);
        flutes.sort_by_key(|flute| flute.flute);
    }
    let rows = Layout::vertical(vec![Constraint::Fill(1); down]).split(area);
    for (row, some) in rows.iter().zip(flutes.chunks(across)) {
        let places = Layout::horizontal(vec![Constraint::Fill(1); across]).spacing(1);
        let places = places.split(*row);
        for (place, flute) in places.iter().zip(some) {
            land(frame, *place, record, flute, units);
        }
    }
    let mut text = " ⠒⠤ height behind the edge   • most allowed up to the heel".to_owned();
    if record
        .features
        .iter()
        .any(|facts| facts.limits.contains_key("drop"))
    {
        text += "   █ drop allowed";
    }
    if all > room {
        text = format!(" the worst {room} of {all} flutes  {text}");
    }
    frame.render_widget(Paragraph::new(text), legend);
    true
}

fn land(frame: &mut Frame<'_>, area: Rect, record: &Record, flute: &Flute, units: Units) {
    let points: Vec<(f64, f64)> = (flute.land.iter())
        .map(|sample| (sample.arc_deg, -in_unit(sample.drop_mm, units)))
        .collect();
    let facts = record
        .features
        .iter()
        .find(|facts| facts.feature == flute.feature);
    let least = facts
        .map(|facts| least_allowed(facts, flute, units))
        .unwrap_or_default();
    let gate = facts
        .map(|facts| drop_allowed(facts, units))
        .unwrap_or_default();
    let every = points.iter().chain(&least).chain(&gate);
    let deepest = every.clone().map(|point| point.1).fold(0.0, f64::min);
    let highest = every.map(|point| point.1).fold(0.0, f64::max);
    let span = (highest - deepest).max(1e-4);
    let bounds = [deepest - span * 0.05, highest + span * 0.05];
    let edge = [(0.0, 0.0), (flute.land_deg, 0.0)];
    let line = |points, sign: Marker, colour| {
        Dataset::default()
            .data(points)
            .marker(sign)
            .graph_type(GraphType::Line)
            .style(Style::new().fg(colour))
    };
    let sets = vec![
        line(&edge, Marker::Braille, Color::DarkGray),
        line(&least, Marker::Dot, Color::Red),
        line(&gate, Marker::Block, Color::Yellow),
        line(&points, Marker::Braille, Color::Cyan),
    ];
    let decimals = match units {
        Units::Metric => 3,
        Units::Inch => 4,
    };
    let chart = Chart::new(sets)
        .block(
            Block::new()
                .borders(Borders::TOP)
                .title(title(record, flute, units, area.width)),
        )
        .x_axis(
            Axis::default()
                .bounds([0.0, flute.land_deg.max(0.1)])
                .labels(["edge".to_owned(), format!("heel {:.0}°", flute.land_deg)]),
        )
        .y_axis(
            // The surface falls away below the edge, as one sees it.
            Axis::default().bounds(bounds).labels([
                format!("{:+.decimals$}", bounds[0]),
                format!("{:+.decimals$}", bounds[1]),
            ]),
        );
    frame.render_widget(chart, area);
}

/// The least drop that is allowed, from the check distance to the heel.
fn least_allowed(facts: &FeatureFacts, flute: &Flute, units: Units) -> Vec<(f64, f64)> {
    [facts.check_deg, flute.land_deg.max(facts.check_deg)]
        .map(|arc| (arc, -in_unit(facts.least_drop_mm(arc), units)))
        .to_vec()
}

/// The drop that is allowed at the check distance, as a gate that the land has to go through.
fn drop_allowed(facts: &FeatureFacts, units: Units) -> Vec<(f64, f64)> {
    let Some(limit) = facts.limits.get("drop") else {
        return Vec::new();
    };
    let ends = [limit.min, limit.max].into_iter().flatten();
    ends.map(|drop| (facts.check_deg, -in_unit(drop, units)))
        .collect()
}

/// The flute with its heel's clearance and verdict, in as many words as there is room for: the
/// verdict is never what is cut off.
fn title<'a>(record: &Record, flute: &Flute, units: Units, width: u16) -> Line<'a> {
    let line = |of: &str, what: &str| {
        let mut spans = vec![Span::styled(
            format!(" {of}{} ", flute.flute),
            Style::new().add_modifier(Modifier::BOLD),
        )];
        if let Some(clearance) = clearance(record, flute) {
            spans.push(Span::raw(format!("{what}{} ", in_words(clearance, units))));
            if let Some(verdict) = clearance.verdict {
                spans.push(Span::styled(verdict.as_str(), tint(Some(verdict))));
                spans.push(Span::raw(" "));
            }
        }
        Line::from(spans)
    };
    let forms = [("flute ", "heel "), ("flute ", ""), ("", "")];
    let mut forms = forms.map(|(of, what)| line(of, what)).into_iter();
    let last = forms.next_back();
    let fits = forms.find(|line| line.width() <= usize::from(width));
    fits.or(last).unwrap_or_default()
}

fn clearance<'a>(record: &'a Record, flute: &Flute) -> Option<&'a Characteristic> {
    record.characteristics.iter().find(|one| {
        one.name == "heel-clearance"
            && one.feature.as_ref() == Some(&flute.feature)
            && one.flute == Some(flute.flute)
            && (one.z_mm == flute.z_mm || one.z_mm.is_none())
    })
}

fn severity(of: Option<&Characteristic>) -> u8 {
    match of.and_then(|one| one.verdict) {
        Some(Verdict::Fail) => 0,
        Some(Verdict::Undecided) => 1,
        None => 2,
        Some(Verdict::Pass) => 3,
    }
}

/// The colour of a verdict; its word always stands beside it.
pub(super) fn tint(verdict: Option<Verdict>) -> Style {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    match verdict {
        Some(Verdict::Pass) => bold.fg(Color::Green),
        Some(Verdict::Fail) => bold.fg(Color::Red),
        Some(Verdict::Undecided) => bold.fg(Color::Yellow),
        None => bold,
    }
}

/// The readings over the turn, least and greatest at each place; of lands only what lies within
/// [`REACH`] of the highest edge, since the gaps between them would leave nothing to see.
pub(super) fn readings(frame: &mut Frame<'_>, area: Rect, shown: &Shown<'_>, lands: bool) {
    let cells = shown.live.round.cells();
    let count = cells.len().max(1) as f64;
    let mut points = Vec::new();
    for (place, cell) in cells.iter().enumerate() {
        if let Some((least, most)) = cell.readings {
            let deg = (place as f64 + 0.5) * 360.0 / count;
            points.push((deg, in_unit(least.mm(), shown.units)));
            points.push((deg, in_unit(most.mm(), shown.units)));
        }
    }
    let low = points
        .iter()
        .map(|point| point.1)
        .fold(f64::INFINITY, f64::min);
    let high = points
        .iter()
        .map(|point| point.1)
        .fold(f64::NEG_INFINITY, f64::max);
    let (low, high) = match low <= high {
        true => (low, high),
        false => (0.0, 0.0),
    };
    let low = match lands {
        true => low.max(high - in_unit(REACH.mm(), shown.units)),
        false => low,
    };
    points.retain(|point| point.1 >= low);
    let title = match lands {
        true => "readings near the edges; each land is drawn as soon as it can be judged",
        false => "readings over the turn: on a round that runs true, a level line",
    };
    let slack = ((high - low) * 0.05).max(1e-4);
    let set = Dataset::default()
        .data(&points)
        .marker(Marker::Braille)
        .graph_type(GraphType::Scatter)
        .style(Style::new().fg(Color::Cyan));
    let chart = Chart::new(vec![set])
        .block(
            Block::new()
                .borders(Borders::TOP)
                .title(format!(" {title} ")),
        )
        .x_axis(
            Axis::default()
                .bounds([0.0, 360.0])
                .labels(["0°", "180°", "360°"]),
        )
        .y_axis(
            Axis::default()
                .bounds([low - slack, high + slack])
                .labels([format!("{low:+.3}"), format!("{high:+.3}")]),
        );
    frame.render_widget(chart, area);
}

fn in_unit(mm: f64, units: Units) -> f64 {
    match units {
        Units::Metric => mm,
        Units::Inch => Length::from_mm(mm).inches(),
    }
}
