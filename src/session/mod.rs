//! The live loop: lanes, count-in, click, turns.
//!
//! In: ports and players. Out: decisions of [`crate::judge`], take files. Next is [`crate::show`].
