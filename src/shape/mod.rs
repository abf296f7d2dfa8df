//! The part without the stylus and the clamping.
