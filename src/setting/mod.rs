//! What to set on the grinder.
