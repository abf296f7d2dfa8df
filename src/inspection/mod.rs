//! The only code that joins the stages.
