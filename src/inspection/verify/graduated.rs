//! The gauge by the steps that its readings come in.

use crate::inspection::Folder;
use crate::judge::{self, Doubt};
use crate::trace::{self, Trace};

/// A folder whose gauge has the least count that the readings show, where that is coarser than the
/// card's.
pub(super) struct Graduated {
    pub folder: Folder,
    /// What is doubtful then.
    pub doubt: Option<Doubt>,
}

impl Graduated {
    pub fn of<'t>(folder: &Folder, traces: impl Iterator<Item = &'t Trace>) -> Self {
        let mut folder = folder.clone();
        let stated = folder.gauge.indicator.resolution;
        let steps = traces.filter_map(|trace| {
            trace::coarser_step(trace, stated).map(|step| (step, trace.name.as_str()))
        });
        let coarsest = steps.max_by(|a, b| a.0.total_cmp(&b.0));
        let doubt = coarsest.map(|(step, name)| {
            folder.gauge.indicator.resolution = step;
            judge::doubt_of_least_count(name, step, stated)
        });
        Self { folder, doubt }
    }
}
