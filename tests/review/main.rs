//! Pages and slips of a book: an invented band whose faults are known, because they are played here.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

mod band;
mod marks;
mod pages;
mod slips;
