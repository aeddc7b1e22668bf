//! Briefs that cannot be met say why and what to do.

use restward::exercise::Meter;
use restward::instrument::{Instrument, catalogue};
use restward::judge::Level;
use restward::prepare::drill::{Brief, Kind, compose};
use restward::theory::{Key, Letter, Pitch, default_family};
use std::sync::LazyLock;

fn refused(change: impl FnOnce(&mut Brief<'_>)) -> String {
    let family = default_family();
    let instruments = [catalogue().get("alto-sax").unwrap()];
    let mut brief = Brief {
        kind: Kind::Changed(None),
        key: Key::major(-3),
        family: &family,
        instruments: &instruments,
        level: Level::FirstYear,
        meter: Meter::COMMON,
        measures: 8,
        seed: 1,
    };
    change(&mut brief);
    compose(&brief).unwrap_err().to_string()
}

#[test]
fn each_with_its_option() {
    assert_eq!(refused(|brief| brief.measures = 3), "--measures 3: a drill has 4 to 64 measures");
    assert_eq!(refused(|brief| brief.measures = 65), "--measures 65: a drill has 4 to 64 measures");
    assert_eq!(
        refused(|brief| brief.meter = Meter { count: 5, unit: 4 }),
        "--meter 5/4: drills are made in 2/2, 2/4, 3/4, 4/4, 6/8"
    );
    assert!(refused(|brief| brief.family = &[]).starts_with("C major: no other key of the band changes a note of it"));
    // In the alto's C major against its D, G and F: F, C and B change; A never does.
    assert_eq!(
        refused(|brief| brief.kind = Kind::Changed(Some(Letter::A))),
        "--changed-note A: in C major the changed notes are F♮, B♮, C♮"
    );
    assert_eq!(
        refused(|brief| brief.kind = Kind::TwoKeys(Key::minor(-3))),
        "--to C minor: it has the signature of E♭ major, so that no note changes; choose another key"
    );
    assert!(refused(|brief| brief.instruments = &[]).contains("--instrument"));
}

/// Two instruments whose beginner ranges (made up) have a fourth in common in whatever octaves.
#[test]
fn a_section_with_too_little_in_common() {
    static PLAYERS: LazyLock<[Instrument; 3]> = LazyLock::new(|| {
        let player = |id: &str, low: &str, high: &str| {
            let range = (Pitch::parse(low).unwrap(), Pitch::parse(high).unwrap());
            Instrument { beginner_range: range, ..catalogue().get(id).unwrap().clone() }
        };
        [player("flute", "C5", "G5"), player("oboe", "G4", "C5"), player("trombone", "C3", "G3")]
    });
    static SECTION: LazyLock<[&Instrument; 3]> = LazyLock::new(|| [&PLAYERS[0], &PLAYERS[1], &PLAYERS[2]]);
    let message = refused(|brief| (brief.instruments, brief.key) = (&*SECTION, Key::major(0)));
    assert_eq!(
        message,
        "the beginner ranges of flute, oboe, trombone have too few notes in common for this drill, even in octaves: \
         make a drill of its own for oboe"
    );
}
