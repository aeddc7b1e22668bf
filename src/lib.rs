//! restward: a MIDI-connected rehearsal assistant for young bands.
//!
//! The modules follow one note from left to right; nothing downstream is known upstream:
//!
//! [`theory`] → [`instrument`] → [`exercise`] → [`read`] → [`listen`] → [`follow`] → [`judge`] →
//! [`session`] → [`book`] → [`grade`] → [`show`] → the command line. [`prepare`] goes from [`exercise`] to [`show`] directly.

mod aside;
pub mod book;
pub mod exercise;
pub mod follow;
pub mod grade;
mod handwritten;
pub mod instrument;
pub mod judge;
pub mod listen;
mod plain;
pub mod prepare;
pub mod read;
pub mod session;
pub mod show;
mod smf;
pub mod theory;
pub mod write;

#[doc(hidden)]
pub mod cli;
