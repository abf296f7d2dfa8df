//! The gauge as its studies found it.

use crate::card::{LeanBound, Studied};
use crate::inspection::Folder;
use crate::quantity::{Length, told};

/// The folder with what studies of the gauge found in place of what its card states, wherever that
/// is worse; what was replaced, and what was studied too long ago, goes to `warnings`.
pub(super) fn studied(folder: &Folder, warnings: &mut Vec<String>) -> Folder {
    let gauge = folder.gauge.as_studied();
    let studies = &gauge.studies;
    for (name, days) in studies.outdated(folder.inspection.taken) {
        warnings.push(format!(
            "the study `{name}` of the gauge was {days} days old when the traces were taken: its result is used all the same; `heelclear study {name}` makes it anew"
        ));
    }
    if let Some(lean) = studies.lean {
        let bound = |bound: LeanBound| {
            format!(
                "{} over {}",
                told::um(bound.growth, 1),
                told::exact_mm(bound.over)
            )
        };
        let stated = folder.gauge.setup.lean;
        if let Some(stated) = stated.filter(|stated| lean.bound.slope() > stated.slope()) {
            warnings.push(format!(
                "the lean of a tool is taken as at most {}, as the study of {} found it, in place of the {} that the gauge card states",
                bound(lean.bound),
                lean.taken,
                bound(stated)
            ));
        }
    }
    let mut replaced = |what: &str, stated: Length, study: &Option<Studied>| {
        if let Some(study) = study.filter(|study| study.found > stated) {
            warnings.push(format!(
                "the {what} is taken as {}, as the study of {} found it, in place of the {} that the gauge card states",
                told::um(study.found, 2),
                study.taken,
                told::um(stated, 2)));
        }
    };
    let stated = &folder.gauge.indicator;
    replaced("hysteresis", stated.hysteresis, &studies.reversal);
    replaced("indicator's error", stated.max_error, &studies.round);
    Folder {
        gauge,
        ..folder.clone()
    }
}
