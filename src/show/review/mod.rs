//! The term for the director and for each player: pages and slips, made of what the book holds.
//!
//! In: a [`Book`](crate::book::Book), which takes are asked for ([`Review::of`]). Out: two self-contained documents to print:
//! [`pages`] (each section in tables, each player's progress, takes with their findings marked in the staff) and
//! [`slips`] (half a page for each player).

mod dates;
mod gather;
mod marks;
mod pages;
mod progress;
mod slips;
mod staves;
mod system;
mod table;
mod wilson;

pub use gather::{Asked, Review, Reviewed, Shown};
pub use pages::pages;
pub use slips::slips;
pub use staves::{Staves, engrave};
