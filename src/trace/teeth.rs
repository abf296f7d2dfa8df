//! Finds the teeth: a tooth is what stands between two gaps.

use super::{Cell, Merged};
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length};

/// One tooth of a merged trace, from the bottom of the gap before its edge to the bottom of the
/// gap behind its heel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ToothSpan {
    /// Index of the cell at the bottom of the gap before the edge, or of the first cell behind it
    /// when nothing was read in that gap.
    pub first: usize,
    /// Cells from there to the bottom of the next gap, both included; the span may pass the end
    /// of the turn, so index `first + i` is to be taken modulo the number of cells.
    pub cells: usize,
    /// Whether nothing was read in the gap before the edge.
    pub begins_in_hole: bool,
    /// Whether nothing was read in the gap behind the heel.
    pub ends_in_hole: bool,
}

/// A gap must be at least this part as deep as the deepest one to be taken for one: a cam-relieved
/// land also falls and rises again, but not nearly as far as the indicator falls into a gap
/// (chosen, no source).
const SHALLOWEST_GAP: f64 = 0.25;

/// One more hollow that is as deep as this part of the shallowest gap makes the count doubtful
/// (chosen, no source).
const DOUBTFUL_HOLLOW: f64 = 0.7;

/// A gap is at least this many times as deep as a reading scatters (chosen, no source).
const GAP_OVER_NOISE: f64 = 10.0;

/// A gap is never shallower than this, whatever the noise: no tooth stands so little above its gap
/// (chosen, no source).
const LEAST_GAP: Length = Length::from_mm(0.005);

/// The teeth in the order of growing angle, as many as the card says.
///
/// Gaps are the hollows of greatest persistence: how far one must climb out of a hollow to reach a
/// deeper one. Where readings are missing altogether (the plunger hung free), a hole may be a gap.
///
/// # Errors
/// `teeth` when another number of gaps stands out than the card has flutes.
pub fn teeth(merged: &Merged, flutes: u32) -> Result<Vec<ToothSpan>> {
    let wanted = flutes as usize;
    let cells = &merged.cells;
    if cells.len() < 4 * wanted.max(2) {
        return Err(Error::new(
            Code::TraceShort,
            format!(
                "found readings at `{}` places of the turn, expected at least `{}` for `{flutes}` flutes",
                cells.len(),
                4 * wanted.max(2)
            ),
        )
        .help("turn the tool more slowly, or through at least one whole turn"));
    }
    let mut hollows = hollows(cells);
    let deepest = hollows.first().map_or(Length::ZERO, |hollow| hollow.depth);
    let least = (merged.noise * GAP_OVER_NOISE)
        .max(LEAST_GAP)
        .max(deepest * SHALLOWEST_GAP);
    hollows.retain(|hollow| hollow.depth >= least);
    if hollows.len() > wanted {
        let shallowest = hollows[wanted - 1].depth;
        let next = hollows[wanted].depth;
        if next > shallowest * DOUBTFUL_HOLLOW {
            return Err(wrong_count(hollows.len(), flutes));
        }
        hollows.truncate(wanted);
    }
    let mut gaps: Vec<Gap> = hollows
        .iter()
        .map(|hollow| Gap::Read(hollow.bottom))
        .collect();
    if gaps.len() < wanted {
        gaps = with_holes(merged, gaps, wanted);
    }
    if gaps.len() != wanted {
        return Err(wrong_count(gaps.len(), flutes));
    }
    gaps.sort_unstable_by_key(|gap| gap.last_before());
    Ok(spans(&gaps, cells.len()))
}

/// A gap between two teeth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Gap {
    /// The cell at its bottom.
    Read(usize),
    /// Nothing was read in it: the last cell before it and the first one behind.
    Hole { before: usize, after: usize },
}

impl Gap {
    fn last_before(self) -> usize {
        match self {
            Gap::Read(bottom) => bottom,
            Gap::Hole { before, .. } => before,
        }
    }

    fn first_after(self) -> usize {
        match self {
            Gap::Read(bottom) => bottom,
            Gap::Hole { after, .. } => after,
        }
    }

    fn is_hole(self) -> bool {
        matches!(self, Gap::Hole { .. })
    }
}

fn wrong_count(found: usize, flutes: u32) -> Error {
    Error::new(
        Code::Teeth,
        format!("found `{found}` gaps between teeth, expected `{flutes}` as the tool card has flutes"),
    )
    .help("check `flutes` in the tool card, and that the trace covers a whole turn with the stylus on the tool")
}

/// From each gap to the next, the last one round the end of the turn.
fn spans(gaps: &[Gap], cells: usize) -> Vec<ToothSpan> {
    let next = gaps.iter().cycle().skip(1);
    gaps.iter()
        .zip(next)
        .map(|(gap, next)| {
            let first = gap.first_after();
            let ahead = (next.last_before() + cells - first) % cells;
            let steps = if ahead == 0 { cells } else { ahead };
            ToothSpan {
                first,
                cells: steps + 1,
                begins_in_hole: gap.is_hole(),
                ends_in_hole: next.is_hole(),
            }
        })
        .collect()
}

/// A hollow of the profile and how far one must climb to leave it for a deeper one.
struct Hollow {
    bottom: usize,
    depth: Length,
}

/// All hollows, deepest first, by zero-dimensional persistence of the heights round the turn.
fn hollows(cells: &[Cell]) -> Vec<Hollow> {
    let count = cells.len();
    let height = |i: usize| cells[i].reading;
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|&a, &b| height(a).total_cmp(&height(b)).then(a.cmp(&b)));

    let mut pools = Pools::new(count);
    let mut found = Vec::new();
    for &cell in &order {
        pools.flood(cell);
        for neighbour in [(cell + 1) % count, (cell + count - 1) % count] {
            if !pools.is_flooded(neighbour) {
                continue;
            }
            let (here, there) = (pools.bottom(cell), pools.bottom(neighbour));
            if here == there {
                continue;
            }
            // Equal heights are told apart by their place, here as in `order`: steps of the
            // indicator make many.
            let first = height(here)
                .total_cmp(&height(there))
                .then(here.cmp(&there));
            let (deeper, shallower) = if first.is_lt() {
                (here, there)
            } else {
                (there, here)
            };
            let depth = height(cell) - height(shallower);
            if depth > Length::ZERO {
                found.push(Hollow {
                    bottom: shallower,
                    depth,
                });
            }
            pools.join(deeper, shallower);
        }
    }
    if let (Some(&lowest), Some(&highest)) = (order.first(), order.last()) {
        found.push(Hollow {
            bottom: lowest,
            depth: height(highest) - height(lowest),
        });
    }
    found.sort_by(|a, b| b.depth.total_cmp(&a.depth).then(a.bottom.cmp(&b.bottom)));
    found
}

/// Pools of flooded cells, each known by the cell at its bottom (a union-find).
struct Pools {
    parent: Vec<Option<usize>>,
}

impl Pools {
    fn new(cells: usize) -> Self {
        Self {
            parent: vec![None; cells],
        }
    }

    fn flood(&mut self, cell: usize) {
        self.parent[cell] = Some(cell);
    }

    fn is_flooded(&self, cell: usize) -> bool {
        self.parent[cell].is_some()
    }

    fn bottom(&mut self, cell: usize) -> usize {
        let mut at = cell;
        while let Some(parent) = self.parent[at] {
            if parent == at {
                break;
            }
            // Halving the path keeps later look-ups short.
            self.parent[at] = self.parent[parent];
            at = parent;
        }
        at
    }

    fn join(&mut self, deeper: usize, shallower: usize) {
        self.parent[shallower] = Some(deeper);
    }
}

/// Takes the widest holes for the gaps that are still missing.
fn with_holes(merged: &Merged, mut gaps: Vec<Gap>, wanted: usize) -> Vec<Gap> {
    let cells = &merged.cells;
    let mut holes = merged.holes.clone();
    holes.sort_by(|a, b| b.width.total_cmp(&a.width));
    for hole in holes {
        if gaps.len() == wanted {
            break;
        }
        let Some(before) = nearest(cells, hole.from) else {
            break;
        };
        let after = (before + 1) % cells.len();
        // The bottom of a gap that was read in part may lie at the rim of a hole.
        let known =
            |gap: &Gap| matches!(gap, Gap::Read(bottom) if [before, after].contains(bottom));
        if !gaps.iter().any(known) {
            gaps.push(Gap::Hole { before, after });
        }
    }
    gaps
}

/// The cell nearest to an angle.
fn nearest(cells: &[Cell], angle: Angle) -> Option<usize> {
    (0..cells.len()).min_by(|&a, &b| {
        let far = |i: usize| (cells[i].angle - angle).shortest().abs();
        far(a).total_cmp(&far(b))
    })
}
