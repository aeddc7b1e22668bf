//! Places what is played in the part, note by note.
//!
//! In: [`crate::listen::NoteEvent`]s and a [`crate::exercise::Part`]. Out: placements, for [`crate::judge`].
