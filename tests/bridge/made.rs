//! What the tests need, built once: the firmware for an indicator, and the emulator's program.

use std::collections::HashMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::{Mutex, OnceLock};
use tempfile::TempDir;

/// Where everything is built; it goes with the test program.
fn place() -> &'static Path {
    static PLACE: OnceLock<TempDir> = OnceLock::new();
    PLACE.get_or_init(|| tempfile::tempdir().unwrap()).path()
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Told past the test harness, which keeps what passing tests print.
#[allow(clippy::explicit_write)]
fn told(what: &str) {
    writeln!(std::io::stderr(), "not run: {what}").unwrap();
}

fn is_there(program: &str) -> bool {
    let asked = Command::new(program)
        .arg("--version")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    asked.is_ok_and(|status| status.success())
}

fn runs(command: &mut Command) {
    let ran = command.output().unwrap();
    let said = [ran.stdout, ran.stderr].concat();
    let said = String::from_utf8_lossy(&said);
    assert!(ran.status.success(), "{command:?}: {said}");
}

/// The firmware for an indicator and a speed of the line; nothing, and told, without a compiler for
/// the controller.
pub fn firmware(indicator: &str, baud: u32) -> Option<PathBuf> {
    static MADE: OnceLock<Mutex<HashMap<String, Option<PathBuf>>>> = OnceLock::new();
    let name = format!("{indicator}-{baud}");
    let mut made = MADE.get_or_init(Mutex::default).lock().unwrap();
    let build = || {
        if !is_there("avr-gcc") || !is_there("make") {
            told("there is no avr-gcc with make to build the bridge's firmware");
            return None;
        }
        let out = place().join(&name);
        let mut make = Command::new("make");
        make.arg("-C").arg(root().join("firmware-notes/bridge"));
        make.arg(format!("OUT={}", out.display()));
        make.args([format!("INDICATOR={indicator}"), format!("BAUD={baud}")]);
        runs(&mut make);
        Some(out.join("bridge.elf"))
    };
    made.entry(name.clone()).or_insert_with(build).clone()
}

/// A program of C, linked with what it needs; nothing, and told, where that is not there.
fn program(name: &str, build: impl FnOnce(&mut Command)) -> PathBuf {
    let made = place().join(name);
    let mut compiler = Command::new("cc");
    compiler.args(["-std=gnu11", "-Wall", "-Wextra", "-Werror", "-O2", "-o"]);
    compiler.arg(&made);
    build(&mut compiler);
    runs(&mut compiler);
    made
}

/// The emulator; nothing, and told, without its library.
pub fn emulator() -> Option<PathBuf> {
    static MADE: OnceLock<Option<PathBuf>> = OnceLock::new();
    let made = MADE.get_or_init(|| {
        let probe = place().join("probe.c");
        std::fs::write(
            &probe,
            "#include <simavr/sim_avr.h>\nint main(void) { return 0; }\n",
        )
        .unwrap();
        let mut compiler = Command::new("cc");
        compiler.arg("-o").arg(place().join("probe")).arg(&probe);
        let linked = compiler.arg("-lsimavr").output();
        if !linked.is_ok_and(|linked| linked.status.success()) {
            told("there is no C compiler with libsimavr to emulate the bridge's controller");
            return None;
        }
        Some(program("emulator", |compiler| {
            compiler.arg(root().join("tests/bridge/emulator.c"));
            compiler.arg("-lsimavr");
        }))
    });
    made.clone()
}

/// The firmware's lines as a program; nothing, and told, without a C compiler.
pub fn wire() -> Option<PathBuf> {
    if !is_there("cc") {
        told("there is no C compiler to try the firmware's lines with");
        return None;
    }
    let bridge = root().join("firmware-notes/bridge");
    Some(program("wire", |compiler| {
        compiler.arg("-I").arg(&bridge);
        compiler.arg(root().join("tests/bridge/wire.c"));
        compiler.arg(bridge.join("protocol.c"));
    }))
}

/// What the compiler says of a description that is changed so; nothing where there is none.
pub fn refusal(indicator: &str, from: &str, to: &str) -> Option<String> {
    if !is_there("avr-gcc") || !is_there("make") {
        return None;
    }
    let place = tempfile::tempdir().unwrap();
    let bridge = root().join("firmware-notes/bridge");
    for folder in [".", "boards", "indicators"] {
        std::fs::create_dir_all(place.path().join(folder)).unwrap();
        for file in std::fs::read_dir(bridge.join(folder)).unwrap() {
            let file = file.unwrap().path();
            if file.is_file() {
                let name = file.file_name().unwrap();
                std::fs::copy(&file, place.path().join(folder).join(name)).unwrap();
            }
        }
    }
    let described = place.path().join(format!("indicators/{indicator}.h"));
    let text = std::fs::read_to_string(&described).unwrap();
    assert!(text.contains(from), "`{from}` is not in {text}");
    std::fs::write(&described, text.replace(from, to)).unwrap();
    let mut make = Command::new("make");
    make.arg("-C")
        .arg(place.path())
        .arg("INDICATOR=".to_owned() + indicator);
    let made = make.output().unwrap();
    assert!(!made.status.success(), "`{to}` is taken");
    Some(String::from_utf8_lossy(&made.stderr).into_owned())
}
