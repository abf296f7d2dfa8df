//! Files read and written whole.

use crate::error::{Code, Error, Result, reason, unwritable};
use std::fs::File;
use std::io::{BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

pub(super) fn unreadable(path: &Path, fault: std::io::Error) -> Error {
    let missing = fault.kind() == std::io::ErrorKind::NotFound;
    let (code, message, help) = if missing {
        let message =
            "found no such file, expected one, since `inspection.toml` names it".to_owned();
        let help = "put the file there, or mend the name on the card; paths start at the folder";
        (Code::Missing, message, help)
    } else {
        let message = format!("could not be read: {}", reason(&fault));
        (
            Code::Disk,
            message,
            "check that it is a file and that you may read it",
        )
    };
    Error::new(code, message)
        .in_path(path)
        .help(help)
        .because(fault)
}

/// Writes a file whole or not at all: beside it first, synced, then renamed over it.
///
/// # Errors
/// `disk` when the system refuses; then nothing half-written is left.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<()> {
    let mut file = WholeFile::new(path)?;
    file.write(bytes)?;
    file.finish()
}

/// The same where nothing of that name is there, as its last step: what came to be there meanwhile
/// stays too. Whether it was written.
///
/// # Errors
/// `disk` when the system refuses; then nothing half-written is left.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<bool> {
    let mut file = WholeFile::new(path)?;
    file.write(bytes)?;
    file.finish_new()
}

/// A file that is written bit by bit, and is there whole or not at all.
#[derive(Debug)]
pub struct WholeFile {
    path: PathBuf,
    beside: BufWriter<NamedTempFile>,
}

impl WholeFile {
    /// Begins the file; what is there under its name stays until it is finished.
    ///
    /// # Errors
    /// `disk` when the system refuses.
    pub fn new(path: &Path) -> Result<Self> {
        // A link stays one: the file that it leads to is the one that is written.
        let led = path
            .is_symlink()
            .then(|| path.canonicalize().ok())
            .flatten();
        let path = led.as_deref().unwrap_or(path);
        let dir = path.parent().unwrap_or(Path::new("."));
        let beside = beside(dir).map_err(|fault| unwritable(path, fault))?;
        Ok(Self {
            path: path.to_owned(),
            beside: BufWriter::new(beside),
        })
    }

    /// Adds bytes.
    ///
    /// # Errors
    /// `disk` when the system refuses.
    pub fn write(&mut self, bytes: &[u8]) -> Result<()> {
        let written = self.beside.write_all(bytes);
        written.map_err(|fault| unwritable(&self.path, fault))
    }

    /// Has it on the disk under its name.
    ///
    /// # Errors
    /// `disk` when the system refuses; then nothing half-written is left.
    pub fn finish(self) -> Result<()> {
        self.under_its_name(|beside, path| Ok(beside.persist(path).map(drop)?))
    }

    /// The same unless something of that name is there; whether it was not.
    fn finish_new(self) -> Result<bool> {
        let mut free = true;
        let named = self.under_its_name(|beside, path| {
            let named = beside.persist_noclobber(path).map(drop);
            let named = named.map_err(std::io::Error::from);
            free = !matches!(&named, Err(fault) if fault.kind() == ErrorKind::AlreadyExists);
            if free { named } else { Ok(()) }
        });
        named.map(|()| free)
    }

    fn under_its_name(
        self,
        name: impl FnOnce(NamedTempFile, &Path) -> std::io::Result<()>,
    ) -> Result<()> {
        let Self { path, beside } = self;
        let finish = || -> std::io::Result<()> {
            let beside = beside.into_inner().map_err(|fault| fault.into_error())?;
            beside.as_file().sync_all()?;
            name(beside, &path)?;
            sync_entries(path.parent().unwrap_or(Path::new(".")));
            Ok(())
        };
        finish().map_err(|fault| unwritable(&path, fault))
    }
}

impl Write for WholeFile {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.beside.write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.beside.flush()
    }
}

/// A new file of another name, which goes away again unless it is renamed.
fn beside(dir: &Path) -> std::io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".heelclear-");
    // Left to itself it would be for its owner alone; an inspection is for the whole shop, as far
    // as the user's mask allows.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(dir)
}

/// Has the disk keep the names in a folder: a file whose name is lost is lost.
pub(super) fn sync_entries(dir: &Path) {
    // Some systems cannot sync a folder, and write names through; the files are whole all the same.
    let here = Path::new(".");
    let dir = if dir.as_os_str().is_empty() {
        here
    } else {
        dir
    };
    let _ = File::open(dir).and_then(|dir| dir.sync_all());
}
