//! From files to exercises: MusicXML, compressed MusicXML, Standard MIDI Files.
//!
//! In: bytes and the choice of a part. Out: [`crate::exercise::Exercise`], or an error that names the
//! place. Next is [`crate::listen`].
