//! What goes wrong around a session while people play: the program is killed, the disk is full, the folder is gone, clocks are
//! set, the computer sleeps, a controller floods. Each on the whole session with simulated players. `killed`: POSIX signal 9;
//! `disk`: folder and disk; `clocks`: wall and stream clock; `long`: takes of hours; `flood`: more MIDI than anybody plays.
//!
//! What needs a machine (a small disk, 200 kills, ports that vanish) is started by `tools/faults/run`.

#![allow(clippy::unwrap_used, clippy::print_stderr)] // a test that cannot go on fails; what it measured is said

#[path = "../support/band.rs"]
mod band;
mod clocks;
mod disk;
mod flood;
#[path = "../support/kept.rs"]
mod kept;
mod killed;
mod long;
mod memory;
mod playing;
