//! What makes disks fail and clocks jump: a few lines of C that are loaded before the C library.

use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;
use tempfile::TempDir;

/// The library; nothing, and told, where there is no compiler for it.
pub fn shim() -> Option<PathBuf> {
    static SHIM: OnceLock<Option<TempDir>> = OnceLock::new();
    let made = SHIM.get_or_init(|| {
        let folder = tempfile::tempdir().ok()?;
        let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/attack/shim.c");
        let mut compiler = Command::new("cc");
        compiler.args(["-shared", "-fPIC", "-O1", "-o"]);
        let made = compiler.arg(folder.path().join("shim.so")).arg(source);
        let made = made.arg("-ldl").status();
        if !made.is_ok_and(|status| status.success()) || !cfg!(target_os = "linux") {
            println!("not run: there is no C compiler to make disks fail with");
            return None;
        }
        Some(folder)
    });
    Some(made.as_ref()?.path().join("shim.so"))
}
