//! The archive: every inspection whole, in a record that is never changed.
//!
//! Each record carries the digest of its files, and of everything said of it together with the
//! record before it, so that a change, a gap or another order is found by [`Archive::check`].

mod add;
mod address;
mod check;
mod columns;
mod connect;
mod contents;
mod copy;
mod digest;
mod drawing;
mod entry;
mod export;
mod find;
mod glance;
mod half;
mod held;
mod inside;
mod kept_files;
mod keyed;
mod load;
mod look;
mod numbers;
mod open;
mod packed;
#[cfg(feature = "parquet")]
mod parquet;
mod postgres;
mod push;
pub mod regular;
mod schema;
mod server_setup;
mod sqlite;
mod standing;
mod store;
mod stored_file;
mod subject;
mod tools;
mod wire;

pub use add::Added;
pub use check::{Checked, Fault};
pub use contents::{Contents, Correction, evidence_of};
pub use digest::{Digest, Passing};
pub use drawing::{Draw, Redrawn};
pub use entry::{KEPT_AS_JUDGED, RecordId, Summary, Wanted};
pub use export::{
    clear_left_over, csv_header, csv_rows, exported_folders, read_exported, write_folder,
};
pub use find::{Dated, Filter, day, searched};
pub use glance::Glance;
pub use held::{Found, Held, HeldAs};
pub use inside::Inside;
pub use load::Stored;
pub use look::Look;
pub use open::{Archive, Place};
pub use packed::{Form, form, joined, pack, unpack};
#[cfg(feature = "parquet")]
pub use parquet::Tables;
pub use push::Pushed;
pub use server_setup::{OfRole, ServerSetup, SetUp};
pub use standing::standing;
pub use stored_file::{ARCHIVE_FILE, REPORT_FILE, SIMULATED, SIMULATED_FILE, StoredFile, plain};
pub use tools::{Due, ToolLine, Tools, ToolsWanted};

#[cfg(test)]
mod damage {
    /// Whatever bit is turned, nothing panics; of what is cut short nothing comes.
    #[track_caller]
    pub fn damage(whole: &[u8], decode: impl Fn(&[u8]) -> Option<Vec<u8>>) {
        for at in 0..whole.len() {
            for bit in 0..8 {
                let mut damaged = whole.to_vec();
                damaged[at] ^= 1 << bit;
                let _ = decode(&damaged);
            }
            assert_eq!(decode(&whole[..at]), None);
        }
    }
}
