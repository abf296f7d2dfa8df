//! Characteristics, their uncertainty, the verdict and what would mend it.
