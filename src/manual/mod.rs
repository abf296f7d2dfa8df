//! The manual, compiled into the documentation and the program.
