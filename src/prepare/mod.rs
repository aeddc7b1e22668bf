//! Before the rehearsal: exercises made on purpose.
//!
//! In: what the director asks for, the [`crate::instrument`] catalogue, the band's keys. Out: exercises in the model of
//! [`crate::exercise`]. Next is [`crate::show`].

pub mod drill;
