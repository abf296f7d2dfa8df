//! What is said of a tool is what its readings show: from a trace to a verdict and its remedies.

mod along_the_tool;
mod anything;
mod beyond_cards;
mod chain;
mod drift;
mod facets;
mod few_readings;
mod geometry;
mod guard;
mod holes;
mod lean;
mod past;
mod remedies;
mod runout;
mod sense;
mod simulated;
mod starter_cards;
mod trace;
mod trials;

#[path = "../fixtures/truth.rs"]
mod truth;

#[path = "../fixtures/traces.rs"]
mod traces;
