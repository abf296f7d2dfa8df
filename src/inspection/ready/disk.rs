//! Room on the disk, where inspections and the archive go, and whether anything can be written.

use super::{Check, What};
use crate::error::{Code, reason, to_write};
use crate::record::archive::Place;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Less than this and a day's work may not fit.
const ROOM_LEAST: u64 = 200_000_000;
/// An inspection with its raw logs: three traces of two minutes at a hundred lines a second, as
/// lines of 47 bytes, as a trace, and packed into the archive.
const INSPECTION: u64 = 3_000_000;
/// Written and taken away again, to see that it can be.
const PROBE: usize = 64 * 1024;

/// Looks at the folder of the inspections, and at that of the archive where it is a file.
pub(super) fn check(folder: &Path, archive: &Place) -> Check {
    let mut places = vec![("inspections", folder.to_owned())];
    if let Place::File(file) = archive {
        let parent = file.parent().map(Path::to_owned).unwrap_or_default();
        places.push(("the archive", parent));
    }
    let mut said = Vec::new();
    let mut least = u64::MAX;
    for (whose, place) in &places {
        let there = existing(place);
        let shown = there.display();
        if let Err(fault) = write_a_little(&there) {
            return Check {
                code: Some(Code::Disk),
                ..Check::mend(
                    What::Disk,
                    format!(
                        "{shown}, for {whose}: cannot be written: {}",
                        reason(&fault)
                    ),
                    to_write(&fault),
                )
            };
        }
        match fs4::available_space(&there) {
            Ok(room) => {
                least = least.min(room);
                if room < ROOM_LEAST {
                    return Check::mend(
                        What::Disk,
                        format!("{shown}, for {whose}: {} left", size(room)),
                        format!("make room: {} or more", size(ROOM_LEAST)),
                    )
                    .with("free_bytes", room as f64);
                }
                said.push((*whose, room));
            }
            Err(fault) => {
                return Check {
                    code: Some(Code::Disk),
                    ..Check::mend(
                        What::Disk,
                        format!(
                            "{shown}, for {whose}: room cannot be told: {}",
                            reason(&fault)
                        ),
                        "choose a folder on a disk of this computer",
                    )
                };
            }
        }
    }
    Check::fine(What::Disk, words(&said)).with("free_bytes", least as f64)
}

fn words(said: &[(&str, u64)]) -> String {
    let all_same = said
        .windows(2)
        .all(|pair| size(pair[0].1) == size(pair[1].1));
    match said {
        [(_, room), ..] if all_same => {
            format!(
                "{} free, room for {}",
                size(*room),
                count(room / INSPECTION)
            )
        }
        _ => {
            let each = said
                .iter()
                .map(|(whose, room)| format!("{} free for {whose}", size(*room)));
            each.collect::<Vec<_>>().join(", ")
        }
    }
}

fn count(inspections: u64) -> String {
    match inspections {
        0..=99 => format!("{inspections} inspections"),
        100..=9_999 => format!("{} inspections", inspections / 100 * 100),
        _ => "more than 10,000 inspections".to_owned(),
    }
}

/// The place, or the nearest folder above it that is there.
fn existing(place: &Path) -> PathBuf {
    let above = place.ancestors().find(|above| above.is_dir());
    match above {
        Some(above) => above.to_owned(),
        None => PathBuf::from("."),
    }
}

fn write_a_little(folder: &Path) -> std::io::Result<()> {
    let mut probe = tempfile::Builder::new()
        .prefix(".heelclear-")
        .tempfile_in(folder)?;
    probe.write_all(&vec![0; PROBE])?;
    probe.as_file().sync_all()
}

fn size(bytes: u64) -> String {
    let mb = bytes as f64 / 1e6;
    match mb {
        mb if mb >= 10_000.0 => format!("{:.0} GB", mb / 1000.0),
        mb if mb >= 1_000.0 => format!("{:.1} GB", mb / 1000.0),
        _ => format!("{mb:.0} MB"),
    }
}
