//! Writes things down for people and programs: console log, JSON, CSV.

pub mod changed;
