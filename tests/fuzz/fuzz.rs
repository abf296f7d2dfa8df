//! The door of the engine: `HEELCLEAR_FUZZ` names the target that its inputs go to.
#![no_main]

mod targets;

use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;

static TARGET: OnceLock<targets::Target> = OnceLock::new();

fuzz_target!(|bytes: &[u8]| {
    let target = TARGET.get_or_init(|| {
        let name = std::env::var("HEELCLEAR_FUZZ").unwrap_or_default();
        let names: Vec<&str> = targets::TARGETS.iter().map(|it| it.0).collect();
        let target = targets::TARGETS.iter().find(|it| it.0 == name);
        target
            .unwrap_or_else(|| panic!("`HEELCLEAR_FUZZ` names none of {}", names.join(", ")))
            .1
    });
    target(bytes);
});
