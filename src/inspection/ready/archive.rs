//! Whether the archive can be opened and its last records are as they were made.

use super::{Check, What};
use crate::error::{Code, Error, Result};
use crate::record::archive::{Archive, Fault, Glance, Place};
use jiff::Timestamp;

/// The archive as it was found.
pub(super) struct Looked {
    found: Result<Glance>,
    place: Place,
}

impl Looked {
    pub(super) fn at(place: &Place) -> Self {
        Self {
            found: Archive::glance(place),
            place: place.clone(),
        }
    }

    /// When the newest record was made, whichever of its moments is later.
    pub(super) fn last(&self) -> Option<Timestamp> {
        self.found.as_ref().ok()?.newest
    }

    pub(super) fn check(&self) -> Check {
        let place = &self.place;
        let glance = match &self.found {
            Ok(glance) => glance,
            Err(error) if error.code() == Code::Missing => {
                return match place {
                    Place::File(_) => Check::fine(
                        What::Archive,
                        format!("none yet; the first record makes it as {place}"),
                    )
                    .with("records", 0.0),
                    Place::Server(_) => Check::fault(What::Archive, error),
                };
            }
            Err(error) => return Check::fault(What::Archive, error),
        };
        let counted = |check: Check| {
            check
                .with("records", glance.records as f64)
                .with("schema", glance.schema as f64)
        };
        let records = match glance.records {
            1 => "1 record".to_owned(),
            records => format!("{records} records"),
        };
        if let Some(fault) = glance.faults.first() {
            let error = Error::new(Code::ArchiveBroken, format!("{records}; {}", told(fault)))
                .in_file(place.to_string())
                .help(
                    "`heelclear archive check` names everything that is broken; a backup or an \
                     exported folder brings it back",
                );
            return counted(Check::fault(What::Archive, &error));
        }
        let mut found = format!("{place}: {records}, schema {}", glance.schema);
        if glance.looked_at > 0 {
            found += &match glance.looked_at {
                1 => ", the last one whole".to_owned(),
                last => format!(", the last {last} whole"),
            };
        }
        if glance.outdated {
            found += "; its tables are brought up to this version when it is next used, and a copy \
                      is kept";
        }
        counted(Check::fine(What::Archive, found))
    }
}

fn told(fault: &Fault) -> String {
    match (&fault.bench, fault.number) {
        (Some(bench), Some(number)) => format!("record {bench}/{number}: {}", fault.found),
        _ => fault.found.clone(),
    }
}
