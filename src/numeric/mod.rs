//! Numbers without units: means, medians, robust scales, least squares, quantiles. Knows nothing of
//! tools.

pub mod golden;
pub mod linear;
pub mod moments;
pub mod quantile;
pub mod random;
pub mod robust;
