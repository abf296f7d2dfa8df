//! What is made of kept records: who may be believed, a trend, a comparison, a certificate.
//!
//! Every face calls this, so that a record says the same wherever it is asked. It reads the archive
//! that it is given, and neither asks the clock nor writes a file.

mod certificate;
mod compare;
mod judged;
mod trend;
mod vouch;

pub use certificate::{Issue, certificate, issuer};
pub use compare::{Comparison, compare};
pub use judged::{Judged, judged};
pub use trend::{Regrinds, regrinds};
pub use vouch::held;

/// Stands over a verdict that nobody held against its evidence, on paper and on the screen.
pub const AS_JUDGED: &str = "AS JUDGED: this verdict was not held against its cards and traces";
