//! ABC, construct by construct. Numbers in comments are sections of the ABC standard 2.1 (abcnotation.com, December 2011); values that
//! it does not print are worked out by hand from its rules.

use crate::score::{letters, notes, read};
use restward::exercise::{Alteration, FollowedBy};
use restward::read::{Choice, read_exercise};
use restward::theory::{Key, Mode, Transposition};

/// A tune with quarter notes as units and these further fields.
fn tune(fields: &str, music: &str) -> String {
    format!("X:1\nT:Line\nL:1/4\n{fields}\n{music}\n")
}

/// In C and 4/4.
fn common(music: &str) -> String {
    tune("M:4/4\nK:C", music)
}

fn notices(text: &str) -> String {
    read(text).unwrap().notices.join("\n")
}

fn refused(text: &str) -> String {
    read(text).unwrap_err().to_string()
}

fn pitches(text: &str) -> String {
    read(text).unwrap().part.notes.iter().map(|note| note.written.ascii()).collect::<Vec<_>>().join(" ")
}

fn values(text: &str) -> String {
    let notes = read(text).unwrap().part.notes;
    let whole = |value: String| value.strip_suffix("/1").map(str::to_owned).unwrap_or(value);
    notes.iter().map(|note| whole(note.duration.to_string())).collect::<Vec<_>>().join(" ")
}

fn sounding(text: &str) -> Vec<u8> {
    read(text).unwrap().part.notes.iter().map(|note| note.sounding).collect()
}

/// 4.1: `C,',` is `C,`, and `C'` is `c`. Middle C is C.
#[test]
fn octaves() {
    assert_eq!(pitches(&common("C c C, c' C,', C'|")), "C4 C5 C3 C6 C3 C5");
}

/// 4.3: with a unit of a sixteenth A2 is an eighth, A3 dotted, A7 a double-dotted quarter; `A/` is `A/2`, `A//` `A/4`.
#[test]
fn lengths() {
    assert_eq!(
        values("X:1\nL:1/16\nK:C\nA A1 A2 A3 A4 A7 A8 A15 A/2 A/ A// A3/2 A/4|"),
        "1/4 1/4 1/2 3/4 1 7/4 2 15/4 1/8 1/8 1/16 3/8 1/16"
    );
}

/// 3.1.7: without `L:` the unit is a sixteenth below 3/4, else an eighth; a meter change in the music does not change it.
#[test]
fn units_by_meter() {
    for (meter, unit) in [("2/4", "1/4"), ("4/4", "1/2"), ("6/8", "1/2"), ("3/4", "1/2"), ("C", "1/2"), ("C|", "1/2")] {
        assert_eq!(values(&format!("X:1\nM:{meter}\nK:C\nA|")), unit, "{meter}");
    }
    assert_eq!(values("X:1\nM:none\nK:C\nA|"), "1/2");
    assert_eq!(values("X:1\nM:4/4\nK:C\nA|[M:2/4]A|\nM:2/4\nA|"), "1/2 1/2 1/2");
    assert_eq!(values("X:1\nK:C\nA|[L:1/4]A|"), "1/2 1");
}

/// 4.4: the three lines of its example are the same; `>>` doubly dotted, `<<` the other way; 4.12: through grace notes.
#[test]
fn broken_rhythm() {
    let written_out = "3/4 1/4 1/4 3/4 1/2 1/2 1/2 1/2";
    assert_eq!(values("X:1\nL:1/16\nK:C\na3b cd3 a2b2c2d2|"), written_out);
    assert_eq!(values("X:1\nL:1/8\nK:C\na3/2b/2 c/2d3/2 abcd|"), written_out);
    assert_eq!(values("X:1\nL:1/8\nK:C\na>b c<d abcd|"), written_out);
    assert_eq!(values(&common("A>>B A<<B A>>>B|")), "7/4 1/4 1/4 7/4 15/8 1/8");
    for music in ["A<{g}A", "A{g}<A", "A < A", "A<|A", "A\n<A", "(A)<!trill!(A)", "[Ac]<A", "\"Am\"A<\"C\"A"] {
        assert_eq!(values(&common(music)), "1/2 3/2", "{music}");
    }
    assert_eq!(values(&common("A>z|A|")), "3/2 1");
}

/// 4.13: its table. A group of five, seven or nine is in the time of three in 6/8, 9/8 and 12/8, else of two; (3 is (3:2:3 and (3::,
/// (3::2 is (3:2:2.
#[test]
fn tuplets() {
    for (group, time_of) in [(2, 3), (3, 2), (4, 3), (5, 2), (6, 2), (7, 2), (8, 3), (9, 2)] {
        let music = format!("({group}{}|", "A".repeat(group));
        let expected = restward::exercise::Quarters::new(time_of, group as i64).to_string();
        assert!(values(&common(&music)).split(' ').all(|value| value == expected.trim_end_matches("/1")), "{group}");
    }
    assert_eq!(values(&tune("M:6/8\nK:C", "(5AAAAA A|")), "3/5 3/5 3/5 3/5 3/5 1");
    assert_eq!(values(&common("(3ABc d (3:2ABc d (3:2:3ABc d (3::ABc d|")), ["2/3 2/3 2/3 1"; 4].join(" "));
    assert_eq!(values(&common("(3:2:2 G2c d (3::2 A2A d|")), "4/3 2/3 1 4/3 2/3 1");
    assert_eq!(values(&common("(3:2:4 G2A2Bc d|")), "4/3 4/3 2/3 2/3 1");
    // Groups inside groups; the same sign twice is one group.
    assert_eq!(values(&common("(3:2:4(3ABcde f|")), "4/9 4/9 4/9 2/3 1 1");
    assert_eq!(values(&common("(3(3ABc d|")), "2/3 2/3 2/3 1");
    // Rests and chords count, bar lines do not.
    assert_eq!(notes(common("(3z[Ac]|B A|")), "C5@2/3+2/3 B4@4/3+2/3 A4@2+1");
}

/// 4.17: the chord is as long as its first note, times the length after it: [C2E2G2]3 is [CEG]6. The top tone is judged.
#[test]
fn chords() {
    let part = read(common("[C2E2G2]3 [GEC]/ [C3e]|")).unwrap().part;
    let shown: Vec<_> =
        part.notes.iter().map(|n| (n.written.ascii(), n.duration.to_string(), n.chord.clone())).collect();
    let expected = [("G4", "6/1", vec![60, 64]), ("G4", "1/2", vec![64, 60]), ("E5", "3/1", vec![60])];
    assert_eq!(shown, expected.map(|(name, value, chord)| (name.to_owned(), value.to_owned(), chord)));
    assert_eq!(notes(common("[CE]-[CE]|[C-E]C E|")), "E4@0+2 E4@2+1 E4@4+1");
    // 10.2.3: in old files.
    assert_eq!(notes(common("+CEG+2 A|")), "G4@0+2 A4@2+1");
}

/// 4.11: ties join notes of one pitch, also over bar lines; slurs do not.
#[test]
fn ties_and_slurs() {
    assert_eq!(notes(common("a b c2-|c b a2|")), "A5@0+1 B5@1+1 C5@2+3 B5@5+1 A5@6+2");
    assert_eq!(notes(common("c4- c4|")), "C5@0+8");
    assert_eq!(notes(common("c.-c d-e|")), "C5@0+2 D5@2+1 E5@3+1");
    let slurred = |music| read(common(music)).unwrap().part.notes.iter().map(|n| n.slurred).collect::<Vec<_>>();
    assert_eq!(slurred("(c (d e f) g a)|"), [true, true, true, true, true, false]);
    assert_eq!(slurred("(c d (e) f) g|"), [true, true, true, false, false]);
    assert_eq!(slurred(".(cd) e (f g|"), [true, false, false, false, false]);
}

/// A tied note keeps its accidental over the bar line, those after it do not (common practice, no source).
#[test]
fn a_tie_keeps_its_accidental() {
    assert_eq!(notes(common("^c4-|c2 c2|")), "C#5@0+6 C5@6+2");
}

/// 11.3: to the end of the measure in all octaves, unless `%%propagate-accidentals` says `octave` or `not`.
#[test]
fn accidentals_carry() {
    let music = "^c c C c'|c =c c _B|";
    assert_eq!(pitches(&common(music)), "C#5 C#5 C#4 C#6 C5 C5 C5 Bb4");
    let with = |how: &str| pitches(&tune(&format!("%%propagate-accidentals {how}\nM:4/4\nK:C"), music));
    assert_eq!(with("octave"), "C#5 C#5 C4 C6 C5 C5 C5 Bb4");
    assert_eq!(with("not"), "C#5 C5 C4 C6 C5 C5 C5 Bb4");
    assert_eq!(with("pitch"), pitches(&common(music)));
    assert_eq!(pitches(&common("^^c __d =e c|")), "C##5 Dbb5 E5 C##5");
    // Grace notes have accidentals, too.
    assert_eq!(pitches(&common("{^f}g f|f|")), "G5 F#5 F5");
}

#[test]
fn accidentals_have_a_source() {
    use Alteration::{Carried, Printed, Signature};
    let sources = |text: &str| read(text).unwrap().part.notes.iter().map(|note| note.alteration).collect::<Vec<_>>();
    let flats = tune("M:4/4\nK:F", "B ^F F f|=B B _B B|_B2 ^c2-|c c2|");
    assert_eq!(
        sources(&flats),
        [Signature, Printed, Carried, Carried, Printed, Carried, Printed, Carried, Signature, Printed, Signature]
    );
    // What an unusual signature alters is printed for all that the usual one knows.
    assert_eq!(sources(&tune("M:4/4\nK:D Phr ^f", "f b e c|")), [Printed, Signature, Signature, Signature]);
}

/// 3.1.14: modes, modified and explicit signatures, the pipes, none.
#[test]
fn keys() {
    let key = |field: &str| read(tune(&format!("K:{field}"), "C|")).unwrap().part.notes[0].key;
    let minor = |fifths| Key { fifths, mode: Mode::Minor };
    for (field, expected) in [
        ("Bb", Key::major(-2)),
        ("Gm", minor(-2)),
        ("F# mixolydian", Key::major(5)),
        ("Ador", Key::major(1)),
        ("D =c", Key::major(1)),
        ("Hp", Key::major(2)),
        ("HP", Key::major(0)),
        ("none", Key::major(0)),
        ("", Key::major(0)),
        ("clef=bass", Key::major(0)),
    ] {
        assert_eq!(key(field), expected, "{field}");
    }
    assert_eq!(pitches(&tune("K:D exp _b _e ^f", "b e f F c|")), "Bb5 Eb5 F#5 F#4 C5");
    assert!(notices(&tune("K:D Phr ^f", "f|")).contains("none of the usual ones"));
    assert_eq!(pitches(&tune("K:G", "f [K:F] b f|\nK:D\nf c|")), "F#5 Bb5 F5 F#5 C#5");
}

/// 3.1.6, and 3.1.8 with its deprecated forms (10.1).
#[test]
fn meters_and_tempos() {
    let meter = |field: &str| {
        let meter = read(tune(&format!("M:{field}\nK:C"), "C4|")).unwrap().part.measures[0].meter;
        (meter.count, meter.unit)
    };
    for (field, expected) in
        [("C", (4, 4)), ("C|", (2, 2)), ("6/8", (6, 8)), ("(2+3+2)/8", (7, 8)), ("none", (4, 4)), ("FREI4/4", (4, 4))]
    {
        assert_eq!(meter(field), expected, "{field}");
    }
    assert!(notices(&tune("M:FREI4/4\nK:C", "C|")).contains("\"FREI4/4\" in line 4"));
    let tempo = |field: &str| {
        let part = read(tune(&format!("M:4/4\n{field}\nK:C"), "C4|")).unwrap().part;
        part.tempo_given.then(|| 60e6 / part.tempo.micros_per_quarter(part.notes[0].onset))
    };
    assert_eq!(tempo("Q:1/2=120"), Some(240.0));
    assert_eq!(tempo("Q:1/4 3/8 1/4 3/8=40"), Some(200.0));
    assert_eq!(tempo("Q:\"Allegro\" 1/4=120"), Some(120.0));
    assert_eq!(tempo("Q:\"Andante\""), None);
    // 120 unit note lengths a minute; the unit is a quarter here.
    assert_eq!(tempo("Q:120"), Some(120.0));
    assert_eq!(tempo("Q:C3=40"), Some(120.0));
    let part = read(common("C4|[Q:1/4=60]C4|")).unwrap().part;
    assert_eq!(part.tempo.micros_per_quarter(part.notes[1].onset), 1_000_000.0);
}

/// 4.5: `Z4` is four measures of rest, `Z` one; `x` and `X` are as long as `z` and `Z`.
#[test]
fn rests() {
    assert_eq!(notes(common("Z4|CD EF|GA Bc|")), notes(common("z4|z4|z4|z4|CD EF|GA Bc|")));
    assert_eq!(notes(common("X|x2 C z|")), "C4@6+1");
    assert_eq!(notes(tune("M:3/4\nK:C", "Z2|C3|Z|")), "C4@6+3");
    let part = read(common("C2 z2|C4|")).unwrap().part;
    assert_eq!((part.notes[0].followed_by, part.notes[1].followed_by), (FollowedBy::Rest, FollowedBy::End));
    // 6.1.2: y is no rest.
    assert_eq!(notes(common("C y2 D|")), "C4@0+1 D4@1+1");
}

/// 4.14 and 4.16: `.`, `H`, `!fermata!`, `!breath!` and those that mean nothing to the line; `U:` redefines letters.
#[test]
fn decorations() {
    let flags = |text: &str| {
        let notes = read(text).unwrap().part.notes;
        notes.iter().map(|n| (n.staccato, n.fermata, n.breath)).collect::<Vec<_>>()
    };
    let none = (false, false, false);
    assert_eq!(
        flags(&common(".C HD !fermata!E !breath!F | ~G uvT!trill!A \"Am\"\"^up\"B !nonsense!c|")),
        [
            (true, false, false),
            (false, true, false),
            (false, true, false),
            (false, false, true),
            none,
            none,
            none,
            none
        ]
    );
    assert_eq!(
        flags(&common("[C!fermata!E] .[CE] C !breath!z|D !breath!|")),
        [(false, true, false), (true, false, false), (false, false, true), (false, false, true)]
    );
    let defined = "U: n = !fermata!\nU: H = !nil!\nU: q = +staccato+\nM:4/4\nK:C";
    assert_eq!(flags(&tune(defined, "nC HD qE|")), [(false, true, false), none, (true, false, false)]);
    assert_eq!(flags(&tune("I:decoration +\nK:C", "+fermata+C D|")), [(false, true, false), none]);
    assert!(notices(&common("kC|kD|")).contains("The character k (first in line 6, column 1)"));
}

/// 12.2: a `!` without a partner before a space or bar line is an old sign for a line end.
#[test]
fn old_line_ends() {
    assert_eq!(letters(common("CD EF|!\nGA! Bc!|")), "CDEFGABC");
}

/// 4.12: grace notes take no time and are accepted before their note.
#[test]
fn grace_notes() {
    let part = read(common("{/g}C {c2d}D|E {f}|G|")).unwrap().part;
    let graces: Vec<_> = part.notes.iter().map(|note| note.graces.clone()).collect();
    assert_eq!(graces, [vec![79], vec![72, 74], vec![], vec![77]]);
}

/// 4.8, 4.9: repeats and endings as they are written there.
#[test]
fn repeats_and_endings() {
    for (music, played) in [
        ("|:C4|D4:|E4|]", "CDCDE"),
        ("C4|D4:|E4|]", "CDCDE"),
        ("C4::D4:|", "CCDD"),
        ("C4:|:D4:|", "CCDD"),
        ("C4:||:D4:|", "CCDD"),
        ("|::C4::|D4|", "CCCD"),
        ("C4|[1 D4:|[2 E4|]", "CDCE"),
        ("|:C4|1 D4:|2 E4||F4|", "CDCEF"),
        ("|:C4|1 D4|E4:|2 F4|G4||A4|", "CDECFGA"),
        ("|:C4|[1,3 D4:|[2,4 E4:|F4|", "CDCECDCEF"),
        ("|:C4|[1-2 D4:|[3 E4|]", "CDCDCE"),
        ("|:C4|[\"1.\" D4:|[\"2.\" E4|]", "CDCE"),
        // An ending inside a measure, a line end between bar line and number.
        ("|:C2 [1 D2:|[2 E2|]F4|", "CDCEF"),
        ("|:C4|\\\n1 D4:|\n2 E4|]", "CDCE"),
        ("C4 [|] D4 .| E4 |[| F4 |]", "CDEF"),
        // The second ending is not marked, as in the corpus that music21 10.5 ships, ryansMammoth/CalisthenicHornpipe.
        ("C4|1 D4:|E4|", "CDCE"),
        ("C4|1 D4:|!fine!E4|F4!D.C.!|", "CDCEFCE"),
        // A second ending that nothing ends before the next repeat sign is as long as the first.
        ("C4|1 D4:|2 E4|F4|G4:|A4|", "CDCEFGFGA"),
        ("C4|1 D4:|2 E4:|F4:|", "CDCEFF"),
    ] {
        assert_eq!(letters(common(music)), played, "{music}");
    }
}

/// 4.8: without a beginning, a repeat goes back to the latest double bar or end of a repeat.
#[test]
fn repeats_go_back_to_double_bars() {
    assert_eq!(letters(common("C4||D4|E4:|F4|")), "CDEDEF");
    assert_eq!(letters(common("C4|D4:|E4|F4:|")), "CDCDEFEF");
    assert_eq!(letters(common("C4||D4|1 E4:|2 F4||G4:|")), "CDEDFGG");
    assert_eq!(letters(common("|:C4||D4:|")), "CDCD");
    assert_eq!(letters(common("C4|D4||1 E4:|2 F4|]")), "CDECDF");
}

/// 4.14: the signs; how they work together is common practice, no source.
#[test]
fn jumps() {
    assert_eq!(letters(common("C4|!fine!D4|E4!D.C.!|")), "CDECD");
    assert_eq!(letters(common("C4|!fine!D4|E4|] !dacapo!")), "CDECD");
    assert_eq!(letters(common("C4|SD4|!fine!E4|F4!D.S.!|]")), "CDEFDE");
    assert_eq!(letters(common("C4|D4!dacoda!|E4!D.C.!|!coda!F4|]")), "CDECDF");
    assert_eq!(letters(common("C4|D4O|E4!D.C.!|OF4|]")), "CDECDF");
    assert!(notices(&common("C4|D4\"^D.C. al Fine\"|")).contains("in words only"));
}

/// 3.1.9 and 4.10: the order of sections. P:A2 with two endings is the two times that they tell.
#[test]
fn sections() {
    let in_order = |order: &str, music: &str| letters(tune(&format!("M:4/4\nP:{order}\nK:C"), music));
    assert_eq!(in_order("ABA", "P:A\nC4|D4|\nP:B\nE4:|"), "CDEECD");
    assert_eq!(in_order("(AB)2", "[P:A]C4|[P:B]D4|"), "CDCD");
    assert_eq!(in_order("A2", "P:A\nC4|[1 D4:|[2 E4|]"), "CDCE");
    // On a line of its own a section begins in all voices that are as far.
    assert_eq!(in_order("ABA", "P:A\n[V:1]C4|\n[V:2]G4|\nP:B\n[V:1]D4|\n[V:2]A4|"), "CDC");
    assert_eq!(in_order("BA", "V:1\nP:A\nC4|\nP:B\nD4|\nV:2\nP:A\nG4|\nP:B\nA4|"), "DC");
    let duet = tune("M:4/4\nP:ABA\nK:C", "P:A\n[V:1]C4|\n[V:2]G4|\nP:B\n[V:1]D4|\n[V:2]A4|");
    let second = Choice { part: Some("2".into()), ..Choice::default() };
    assert_eq!(read_exercise(duet.as_bytes(), &second).unwrap().part.notes.len(), 3);
    let missing = tune("M:4/4\nP:ABC\nK:C", "P:A\nC4|\nP:B\nD4|");
    assert_eq!(letters(&missing), "CD");
    assert!(notices(&missing).contains("\"ABC\" in line 5 is not played"));
}

/// 7 and 4.6: voices are parts; name, transposition and clef of each; fields of the header are for all.
#[test]
fn voices_are_parts() {
    let text = "X:1\nT:Duet\nM:4/4\nL:1/4\nQ:1/4=72\nV:Fl name=\"Flute\" clef=treble\nV:Cl name=\"Clarinet\" transpose=-2\n\
        V:Tb name=\"Trombone\" snm=\"Tbn.\" bass\nK:C\n[V:Fl] c4|[K:G]f4|\n[V:Cl] d4|=f4|\nV:Tb\nC,4|F,4|\n";
    let choose = |part: &str| read_exercise(text.as_bytes(), &Choice { part: Some(part.into()), ..Choice::default() });
    let names: Vec<_> = read(text).unwrap().parts.iter().map(|part| format!("{}={}", part.id, part.name)).collect();
    assert_eq!(names, ["Fl=Flute", "Cl=Clarinet", "Tb=Trombone"]);
    let sounds = |part: &str| choose(part).unwrap().part.notes.iter().map(|note| note.sounding).collect::<Vec<_>>();
    assert_eq!(sounds("Flute"), [72, 78]);
    assert_eq!(sounds("2"), [72, 75]);
    assert_eq!(sounds("Tb"), [48, 53]);
    let clarinet = choose("Clarinet").unwrap().part;
    assert_eq!(clarinet.transposition, Some(Transposition { diatonic: -1, chromatic: -2 }));
    assert_eq!(clarinet.notes[0].written.ascii(), "D5");
    assert!(clarinet.tempo_given);
    assert_eq!(choose("Flute").unwrap().part.transposition, None);
    let error = choose("Oboe").unwrap_err().to_string();
    assert!(error.contains("Fl (Flute), Cl (Clarinet), Tb (Trombone)"), "{error}");
    assert!(notices(text).contains("several parts (Fl (Flute)"));
}

/// 4.6: the 8 at a clef, `octave=`, `middle=` with `transpose=` (its own example: bass, middle=d, transpose=-24 sounds as printed).
#[test]
fn clefs_and_octaves() {
    let first = |field: &str, music: &str| {
        let part = read(tune(&format!("K:{field}"), music)).unwrap().part;
        (part.notes[0].written.ascii(), part.notes[0].sounding, part.transposition.map(|t| t.chromatic))
    };
    assert_eq!(first("C clef=treble-8", "c|"), ("C5".into(), 60, Some(-12)));
    assert_eq!(first("C bass octave=-2", "c|"), ("C3".into(), 48, None));
    assert_eq!(first("C bass middle=d transpose=-24", "d|"), ("D3".into(), 50, Some(0)));
    assert_eq!(first("C transpose=-9", "F|"), ("F4".into(), 56, Some(-9)));
    assert!(refused(&tune("K:perc", "CDE|")).contains("no notes with a pitch"));
}

/// A file at concert pitch is read for the player's instrument; one that transposes itself counts as it is.
#[test]
fn for_an_instrument() {
    let alto = Choice { instrument: Some(Transposition { diatonic: -5, chromatic: -9 }), ..Choice::default() };
    let read = |text: &str| {
        let note = read_exercise(text.as_bytes(), &alto).unwrap().part.notes[0].clone();
        (note.written.ascii(), note.sounding, note.key)
    };
    assert_eq!(read(&tune("K:Eb", "A|")), ("F5".into(), 68, Key::major(0)));
    assert_eq!(read(&tune("K:C transpose=-9", "F|")), ("F4".into(), 56, Key::major(0)));
}

/// 7.4: `&` adds a voice below, `&&` goes back by two bar lines (its example).
#[test]
fn overlays() {
    assert_eq!(letters(common("c d e f &\\\nA A A A &\\\nF E D C |g4|]")), "CDEFG");
    assert_eq!(notes(common("g2 f2 | e3 e |\n&& (d4 | c3) c|\nC4|")), "G5@0+2 F5@2+2 E5@4+3 E5@7+1 C4@8+4");
    assert!(notices(&common("c4 & A4|")).contains("several voices in a measure (&, first in line 6)"));
}

/// 2.2.5, 3.3, 6.1.1, 8.1: comments, remarks, continued fields and lines, reserved characters (its example).
#[test]
fn what_is_not_music() {
    assert_eq!(
        letters(common(
            "CDEF| % a comment A\n% CDE\n  % CDE\nGA [r:and CDE]Bc|\nw:A-B C D\n+:A\nW:ABC\ns:!f!\n%%sep A\nC|"
        )),
        "CDEFGABCC"
    );
    let reserved = "@a !pp! #bc2/3* [K:C#] de?f \"@this $2was difficult to parse?\" y |**";
    assert_eq!(
        notes(common(reserved)),
        notes(common("a !pp! bc2/3 [K:C#] def \"@this $2was difficult to parse?\" y |"))
    );
    assert_eq!(letters("X:1\nH:a tale\nof CDE\nK:C\nGA|"), "GA");
    assert_eq!(read("X:1\nT:One\n+:two \\'etude\nK:C\nC|").unwrap().title.as_deref(), Some("One two étude"));
}

/// 2.2: tunes are chosen by number or title; the file header is for all of them (its meter here), the first tune's fields for none.
#[test]
fn tunebooks() {
    let book = "%abc-2.1\nM:3/4\nL:1/4\n\nX:5\nT:First song\nM:2/4\nK:G\nF2|\n\nSome words | between\n\nX:7\nT:Second song\nK:C\nF3|\n\nX:8\nT:Song\nK:F\nB3|";
    let choose =
        |asked: &str| read_exercise(book.as_bytes(), &Choice { tune: Some(asked.into()), ..Choice::default() });
    let meter = |asked: &str| choose(asked).unwrap().part.measures[0].meter.count;
    assert_eq!((meter("5"), meter("7"), meter("second"), meter("song")), (2, 3, 3, 3));
    assert_eq!(choose("song").unwrap().title.as_deref(), Some("Song"));
    assert_eq!(choose("1").unwrap().title.as_deref(), Some("First song"));
    let error = choose("waltz").unwrap_err().to_string();
    assert!(error.contains("5 (First song), 7 (Second song), 8 (Song)"), "{error}");
    assert!(notices(book).contains("3 tunes (5 (First song)") && notices(book).contains("this is tune 5"));
    assert!(choose("7").unwrap().notices.is_empty());
}

/// 2.2.4, 8: an empty line ends a tune; what stands after it is not read in silence. Line ends of all systems.
#[test]
fn empty_lines_and_line_ends() {
    let cut = common("CDEF|\n\nGABc|");
    assert_eq!(letters(&cut), "CDEF");
    assert!(notices(&cut).contains("The music in line 8 is not read"));
    let text = common("CDEF|\nGABc|");
    for ends in ["\r\n", "\r"] {
        assert_eq!(letters(text.replace('\n', ends)), "CDEFGABC");
    }
}

/// 2.1 (byte order mark), 3.1.17 (charset), and how other programs save text.
#[test]
fn encodings() {
    let text = "X:1\nT:Étude\nK:C\nC|";
    let utf16 =
        |mark: &[u8]| mark.iter().copied().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect::<Vec<u8>>();
    let latin: Vec<u8> = text.chars().map(|c| c as u8).collect();
    for bytes in
        [text.as_bytes().to_vec(), format!("\u{feff}{text}").into_bytes(), utf16(&[0xFF, 0xFE]), utf16(&[]), latin]
    {
        assert_eq!(read(bytes).unwrap().title.as_deref(), Some("Étude"));
    }
}

/// Pickups, measures divided by repeat signs, numbers from directives; measures of a wrong length are named.
#[test]
fn measures_have_numbers() {
    let labels = |text: &str| {
        let measures = read(text).unwrap().part.measures;
        measures.iter().map(|measure| measure.label.clone()).collect::<Vec<_>>().join(" ")
    };
    assert_eq!(labels(&common("G|C4|D4|E3:|")), "0 1 2 3 0 1 2 3");
    assert_eq!(labels(&common("|:G|C4|D3:|:G|C4|D3:|")), "0 1 2 0 1 2 2 3 4 2 3 4");
    assert_eq!(labels(&common("C4|[1 D3:|[2 E4|F4|]")), "1 2 1 3 4");
    assert_eq!(labels(&tune("%%setbarnb 10\nM:4/4\nK:C", "C4|D4|[I:setbarnb 20]E4|")), "10 11 20");
    let short = read(common("C4|C2 D|E4|F2 G4|A4|")).unwrap();
    assert_eq!(
        short.notices,
        [
            "Not as long as their meter says: measure 2 (line 6) holds 3 quarters and not 4; measure 4 (line 6) holds 6 quarters and not 4."
        ]
    );
    assert!(read(common("G|C4|D3:|G|C4|D3|]")).unwrap().notices.is_empty());
}

#[test]
fn mistakes_are_refused_with_their_place() {
    for (text, place, what_to_do) in [
        (common("CDEF|[CEG DEF|"), "line 6, column 6", "close it with ]"),
        (common("CDEF|\nC \"Am DEF|"), "line 7, column 3", "close the text"),
        (common("C {de F|"), "line 6, column 3", "close them with }"),
        (common("C 2|"), "line 6, column 3", "directly after its note"),
        (common("C/0|"), "line 6, column 2", "write a number"),
        (common("C99999|"), "line 6, column 2", "write a number"),
        (common("C ^|"), "line 6, column 3", "directly before its note"),
        (common("^=C|"), "line 6, column 1", "^^"),
        (common("(1C|"), "line 6, column 1", "(3"),
        (common("(3:0:2CDE|"), "line 6, column 1", "(3"),
        (common(">C|"), "line 6, column 1", "A>B"),
        (common("é D,,,,,,,,,|"), "line 6, column 3", "commas"),
        (common("Z99999|"), "line 6, column 1", "Z1"),
        (common("C [K:H]D|"), "line 6, column 6", "K:Bb"),
        (tune("M:4/4\nK:c", "C|"), "line 5, column 3", "capital letter"),
        (tune("L:x\nK:C", "C|"), "line 4, column 3", "L:1/8"),
        (tune("K:C transpose=B", "C|"), "line 4, column 5", "-36 to 36"),
        (common("V:\nC|"), "line 6, column 3", "V:1"),
        ("X:1\nT:No key\nC D E|\n".to_owned(), "line 3, column 1", "write K:"),
    ] {
        let error = refused(&text);
        assert!(error.starts_with(place) && error.contains(what_to_do), "{text}\n{error}");
    }
    assert!(refused("X:1\nK:C\n").contains("no music"));
    assert!(refused("X:1\nK:C\nz4|").contains("no notes"));
    let staff = Choice { staff: Some(2), ..Choice::default() };
    assert!(read_exercise(common("C|").as_bytes(), &staff).unwrap_err().to_string().contains("staff 2"));
}

/// Files made to be large or slow are refused, or read in time.
#[test]
fn limits() {
    let many = |piece: &str, count: usize| format!("X:1\nK:C\n{}", piece.repeat(count));
    for text in [many("A", 1_100_000), many("A|\n", 3_000_000), "X:1\n".repeat(60_000)] {
        assert!(read(&text).is_err());
    }
    let voices: String = (0..1000).map(|voice| format!("[V:{voice}]A|")).collect();
    assert!(refused(&format!("X:1\nK:C\n{voices}")).contains("voices"));
    assert!(refused(&many("P:A\n", 200_000)).contains("sections"));
    assert!(matches!(read(many("A", 1_000_000)), Err(restward::read::ReadError::TooLong)));
    for text in [many("(", 400_000) + &"-".repeat(400_000) + "A", many("P:A\n", 900) + "A", many("A|A-(\n", 2000)] {
        assert!(read(&text).is_ok());
    }
}

/// What a text file is not.
#[test]
fn other_texts_are_no_abc() {
    for text in ["Dear band,", "C D E F | G4 |", "\u{0}\u{1}\u{2}X:1"] {
        assert!(refused(text).contains("an ABC tune begins with a line X:1"), "{text}");
    }
    assert_eq!(sounding("Dear band,\n\nX:1\nK:C\nC|"), [60]);
    assert_eq!(sounding("K:C\nC|"), [60]);
}
