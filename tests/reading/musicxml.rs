//! Notation, element by element. MusicXML 4.0 reference; accidentals and slurs: common practice, no source.

use crate::score::{START, note, notes, partwise, read};
use restward::exercise::{Alteration, FollowedBy};
use restward::read::{Choice, read_exercise};
use restward::theory::{Key, Transposition};

const TRIPLET: &str =
    "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>";

#[test]
fn rounded_triplets_in_two_voices() {
    let triplet = |voice: u8| note('C', 0, 5, 1, &format!("<voice>{voice}</voice><type>eighth</type>{TRIPLET}"));
    let four = |voice| (0..3).map(|_| triplet(voice)).collect::<String>();
    // Divisions of 4 cannot hold a third: each beat is one division short, for both voices and the backup.
    let inside = format!(
        "{START}{}{}<backup><duration>6</duration></backup><note><rest/><duration>4</duration><voice>2</voice></note>{}{}",
        four(1),
        four(1),
        four(2),
        note('E', 0, 5, 8, "<voice>1</voice><type>half</type>")
    );
    assert_eq!(notes(partwise(&[&inside])), "C5@0+1/3 C5@1/3+1/3 C5@2/3+1/3 C5@1+1/3 C5@4/3+1/3 C5@5/3+1/3 E5@2+2");
}

#[test]
fn quintuplets_without_a_type() {
    let modification = TRIPLET.replace(">3<", ">5<").replace(">2<", ">4<");
    let inside = format!("{START}{}", (0..5).map(|_| note('C', 0, 5, 1, &modification)).collect::<String>());
    assert_eq!(notes(partwise(&[&inside])).split(' ').next_back(), Some("C5@4/5+1/5"));
}

#[test]
fn divisions_that_hold_the_tuplet_are_believed() {
    let start = START.replace(">4</divisions>", ">3</divisions>");
    let inside = format!(
        "{start}{}{}",
        note('C', 0, 5, 1, TRIPLET),
        note('D', 0, 5, 2, &format!("<type>quarter</type>{TRIPLET}"))
    );
    assert_eq!(notes(partwise(&[&inside])), "C5@0+1/3 D5@1/3+2/3");
}

#[test]
fn decimal_durations_and_divisions() {
    let start = START.replace(">4</divisions>", ">1.5</divisions>");
    let inside = format!("{start}{}", note('C', 0, 5, 0, "").replace(">0</duration>", ">0.75</duration>"));
    assert_eq!(notes(partwise(&[&inside])), "C5@0+1/2");
}

#[test]
fn a_backup_below_zero_stops_at_the_start() {
    let inside = format!(
        "{START}{}<backup><duration>99</duration></backup>{}",
        note('C', 0, 5, 4, "<voice>1</voice>"),
        note('E', 0, 4, 8, "<voice>2</voice>")
    );
    let exercise = read(partwise(&[&inside, &note('D', 0, 5, 4, "")])).unwrap();
    assert_eq!(exercise.part.notes[1].onset.to_string(), "2/1");
    assert!(exercise.notices.iter().any(|notice| notice.contains("voices")));
}

#[test]
fn whole_rests_are_never_longer_than_the_measure() {
    let three = START.replace("<beats>4", "<beats>3");
    let rest = |inside: &str, more: &str| format!("<note><rest{inside}/><duration>16</duration>{more}</note>");
    for rest in
        [rest(" measure=\"yes\"", ""), rest("", "<type>whole</type>"), rest("", ""), rest("", "<voice>1</voice>")]
    {
        let score = partwise(&[&format!("{three}{rest}"), &note('C', 0, 5, 12, "")]);
        assert_eq!(notes(score), "C5@3+3", "{rest}");
    }
    let longer = START.replace("<beats>4", "<beats>6");
    let score = partwise(&[&format!("{longer}{}", rest("", "<type>whole</type>")), &note('C', 0, 5, 12, "")]);
    assert_eq!(notes(score), "C5@4+3");
    // As in the corpus that music21 10.5 ships, demos/incorrect_time_signature_pv: a dotted whole rest is no measure's.
    let dotted = rest("", "<type>whole</type><dot/>").replace(">16<", ">24<");
    assert_eq!(notes(partwise(&[&format!("{three}{dotted}"), &note('C', 0, 5, 12, "")])), "C5@6+3");
}

#[test]
fn accidentals_have_a_source() {
    let sharp = "<accidental>sharp</accidental>";
    let flats = START.replace("<fifths>0", "<fifths>-1");
    let inside = [
        note('B', -1, 4, 2, ""),
        note('F', 1, 4, 2, sharp),
        note('F', 1, 4, 2, ""),
        note('F', 0, 5, 2, ""),
        note('F', 0, 4, 2, "<accidental>natural</accidental>"),
        note('B', -1, 4, 2, "<accidental>flat</accidental>"),
        note('C', 1, 5, 4, &format!("<tie type=\"start\"/>{sharp}")),
    ];
    let next = [note('C', 1, 5, 4, "<tie type=\"stop\"/>"), note('C', 0, 5, 4, "")];
    let part = read(partwise(&[&(flats + &inside.concat()), &next.concat()])).unwrap().part;
    use Alteration::{Carried, Printed, Signature};
    let sources: Vec<Alteration> = part.notes.iter().map(|note| note.alteration).collect();
    assert_eq!(sources, [Signature, Printed, Carried, Signature, Printed, Signature, Printed, Signature]);
}

#[test]
fn keys_change_and_have_a_mode() {
    let minor = "<attributes><key><cancel>2</cancel><fifths>-3</fifths><mode>minor</mode></key></attributes>";
    let inside = format!("{START}{}{minor}{}", note('C', 0, 4, 8, ""), note('D', 0, 4, 8, ""));
    let part = read(partwise(&[&inside, &note('E', -1, 4, 16, "")])).unwrap().part;
    assert_eq!(part.notes[0].key, Key::major(0));
    assert_eq!(part.notes[1].key, Key { fifths: -3, mode: restward::theory::Mode::Minor });
    assert_eq!(part.measures[1].key, part.notes[2].key);
}

#[test]
fn a_key_for_another_staff_is_not_ours() {
    let keys =
        START.replace("<key><fifths>0", "<key number=\"2\"><fifths>3</fifths></key><key number=\"1\"><fifths>-2");
    let part = read(partwise(&[&format!("{keys}{}", note('C', 0, 4, 16, "<staff>1</staff>"))])).unwrap().part;
    assert_eq!(part.notes[0].key, Key::major(-2));
}

#[test]
fn transposition_with_octaves_and_double() {
    let transpose = "<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>\
        <octave-change>-1</octave-change><double/></transpose></attributes>";
    let part = read(partwise(&[&format!("{START}{transpose}{}", note('D', 0, 5, 16, ""))])).unwrap().part;
    assert_eq!((part.notes.len(), part.notes[0].sounding), (1, 60));
    assert_eq!(part.transposition, Some(Transposition { diatonic: -8, chromatic: -14 }));
}

#[test]
fn transposition_counts_from_its_point_for_all_voices() {
    let to_a = "<attributes><transpose><diatonic>-2</diatonic><chromatic>-3</chromatic></transpose></attributes>";
    let inside = format!(
        "{START}{}{to_a}{}<backup><duration>16</duration></backup>{}",
        note('C', 0, 5, 8, "<voice>2</voice>"),
        note('C', 0, 5, 8, "<voice>2</voice>"),
        note('E', 0, 5, 8, "<voice>1</voice>") + &note('E', 0, 5, 8, "<voice>1</voice>"),
    );
    let part = read(partwise(&[&inside])).unwrap().part;
    assert_eq!(part.notes.iter().map(|note| note.sounding).collect::<Vec<_>>(), [76, 73]);
}

#[test]
fn a_concert_score_for_a_clarinet() {
    let score = partwise(&[&format!("{}{}", START.replace("<fifths>0", "<fifths>-2"), note('B', -1, 4, 16, ""))]);
    let concert = score.replace("<part-list>", "<defaults><concert-score/></defaults><part-list>");
    let clarinet = Choice { instrument: Some(Transposition { diatonic: -1, chromatic: -2 }), ..Choice::default() };
    for text in [&concert, &score] {
        let note = &read_exercise(text.as_bytes(), &clarinet).unwrap().part.notes[0];
        assert_eq!((note.written.ascii().as_str(), note.sounding, note.key), ("C5", 70, Key::major(0)));
    }
    let by_file = concert.replace(
        "</time></attributes>",
        "</time><for-part><part-transpose><diatonic>-5</diatonic><chromatic>-9</chromatic></part-transpose></for-part></attributes>",
    );
    let note = &read(by_file).unwrap().part.notes[0];
    assert_eq!((note.written.ascii().as_str(), note.sounding, note.key), ("G5", 70, Key::major(1)));
}

#[test]
fn a_concert_score_tells_the_instrument_by_the_name_of_the_part() {
    let score = partwise(&[&format!("{START}{}", note('C', 0, 4, 16, ""))]).replace(">Line<", ">Alto Saxophone<");
    let concert = score.replace("<part-list>", "<defaults><concert-score/></defaults><part-list>");
    let written = |text: &str| read(text).unwrap().part.notes[0].written.ascii();
    assert_eq!((written(&concert).as_str(), written(&score).as_str()), ("A4", "C4"));
}

#[test]
fn octaves_count_in_a_concert_score() {
    let transpose = "<attributes><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>\
        <octave-change>1</octave-change></transpose></attributes>";
    let score = partwise(&[&format!("{START}{transpose}{}", note('C', 0, 4, 16, ""))]);
    let concert = score.replace("<part-list>", "<defaults><concert-score/></defaults><part-list>");
    assert_eq!(read(concert).unwrap().part.notes[0].sounding, 72);
}

#[test]
fn marks_at_notes() {
    let marks = |inside: &str| format!("<notations>{inside}</notations>");
    let inside = [
        START.to_owned(),
        note('C', 0, 4, 4, &marks("<slur type=\"start\" number=\"2\"/>")),
        note('D', 0, 4, 4, &marks("<articulations><staccato/></articulations>")),
        note('E', 0, 4, 4, &marks("<slur type=\"stop\" number=\"2\"/><articulations><breath-mark/></articulations>")),
        note('F', 0, 4, 2, &marks("<fermata/><articulations><caesura/></articulations>")),
        "<note><rest/><duration>2</duration></note>".to_owned(),
    ];
    let notes = read(partwise(&[&inside.concat()])).unwrap().part.notes;
    let flags: Vec<_> = notes.iter().map(|n| (n.slurred, n.staccato, n.breath, n.fermata, n.followed_by)).collect();
    let note = FollowedBy::Note;
    assert_eq!(
        flags,
        [
            (true, false, false, false, note),
            (true, true, false, false, note),
            (false, false, true, false, note),
            (false, false, true, true, FollowedBy::Rest),
        ]
    );
}

#[test]
fn chords_and_graces_are_accepted_beside_the_judged_note() {
    let grace = "<note><grace/><pitch><step>B</step><octave>4</octave></pitch></note>";
    let chord = |step| note(step, 0, 5, 16, "").replace("<note>", "<note><chord/>");
    let inside = format!("{START}{grace}{}{}{}{grace}", note('C', 0, 5, 16, ""), chord('G'), chord('E'));
    let part = read(partwise(&[&inside, &note('D', 0, 5, 16, "")])).unwrap().part;
    assert_eq!((part.notes[0].written.ascii(), &part.notes[0].chord), ("G5".into(), &vec![72, 76]));
    assert_eq!((&part.notes[0].graces, &part.notes[1].graces), (&vec![71], &vec![71]));
}

/// MusicXML 4.0 (`alter`): a sign at a note does not say how it sounds. Files that leave the alteration out, such as
/// 32c-MultipleNotationChildren of the LilyPond test suite, are read as printed by music21 10.5 and partitura 1.9.
#[test]
fn a_printed_sign_without_its_sound_is_played_as_printed() {
    let plain = |step, sign: &str| note(step, 0, 4, 4, sign).replace("<alter>0</alter>", "");
    let sign = |sign: &str| format!("<accidental>{sign}</accidental>");
    let inside = format!(
        "{START}{}{}{}{}",
        plain('A', &sign("sharp")),
        plain('B', &sign("flat")),
        plain('C', &sign("natural")),
        note('F', 0, 4, 4, &sign("sharp"))
    );
    let exercise = read(partwise(&[&inside])).unwrap();
    let written: Vec<String> = exercise.part.notes.iter().map(|note| note.written.ascii()).collect();
    // An alteration that the pitch itself gives is believed, whatever is printed.
    assert_eq!(written, ["A#4", "Bb4", "C4", "F4"]);
    assert_eq!(exercise.part.notes[0].sounding, 70);
    assert_eq!(exercise.notices.len(), 1, "{:?}", exercise.notices);
    assert!(exercise.notices[0].contains("measure 1"), "{:?}", exercise.notices);
}

/// No wrong silence: where the top voice rests all measure and another plays, a sentence says so; an unprinted rest is
/// no voice at all.
#[test]
fn a_voice_below_a_resting_one_is_not_left_out_in_silence() {
    let voices = |print: &str| {
        let below = |step| note(step, 0, 4, 16, "<voice>2</voice>");
        let rest = format!("<note{print}><rest/><duration>16</duration><voice>1</voice></note>");
        let backup = "<backup><duration>16</duration></backup>";
        partwise(&[&format!("{START}{}", below('C')), &format!("{rest}{backup}{}", below('D')), &below('E')])
    };
    let printed = read(voices("")).unwrap();
    assert_eq!(notes(voices("")), "C4@0+4 E4@8+4");
    assert!(
        printed.notices.iter().any(|notice| notice.contains("voices (first in measure 2)")),
        "{:?}",
        printed.notices
    );
    let unprinted = voices(" print-object=\"no\"");
    assert!(read(&unprinted).unwrap().notices.is_empty());
    assert_eq!(notes(unprinted), "C4@0+4 D4@4+4 E4@8+4");
}

#[test]
fn chord_notes_without_a_voice_are_of_the_chords_voice() {
    // As in the corpus that music21 10.5 ships, demos/voices_with_chords.
    let chord = note('G', 0, 4, 16, "").replace("<note>", "<note><chord/>");
    let inside = format!(
        "{START}{}<backup><duration>16</duration></backup>{}{chord}",
        note('C', 0, 5, 16, "<voice>1</voice>"),
        note('E', 0, 4, 16, "<voice>2</voice>")
    );
    assert_eq!(notes(partwise(&[&inside])), "C5@0+4");
}

#[test]
fn tones_of_a_chord_that_are_printed_alike_are_as_long() {
    let tone =
        |step, octave, duration, more: &str| note(step, 0, octave, duration, more).replace("<note>", "<note><chord/>");
    let start = START.replace(">4</divisions>", ">12</divisions>");
    let (dotted, tied) = ("<type>half</type><dot/>", "<tie type=\"start\"/><type>half</type><dot/>");
    let triplet = format!("<type>eighth</type>{TRIPLET}");
    // The upper tones leave out their dot or tuplet; the tie goes on from the dotted half.
    let first = [note('C', 0, 4, 36, dotted), tone('G', 4, 24, tied)];
    let second = [note('G', 0, 4, 12, "<type>quarter</type>")];
    let third = ['C', 'D', 'E'].map(|step| note(step, 0, 4, 4, &triplet) + &tone('A', 4, 6, &triplet));
    let score = |first: &[String]| partwise(&[&(start.clone() + &first.concat() + &second.concat()), &third.concat()]);
    assert_eq!(notes(score(&first)), "G4@0+4 A4@4+1/3 A4@13/3+1/3 A4@14/3+1/3");
    let notices = read(score(&first)).unwrap().notices;
    assert!(
        notices.len() == 1 && notices[0].contains("measure 1") && notices[0].contains("printed alike"),
        "{notices:?}"
    );
    // Printed shorter, it is shorter.
    let stopped = [note('C', 0, 4, 36, dotted), tone('G', 4, 12, "<type>quarter</type>")];
    assert!(notes(score(&stopped)).starts_with("G4@0+1 G4@3+1 "), "{}", notes(score(&stopped)));
}

#[test]
fn a_tie_may_change_its_spelling_but_not_its_pitch() {
    let inside = format!(
        "{START}{}{}{}",
        note('C', 1, 5, 4, "<tie type=\"start\"/>"),
        note('D', -1, 5, 4, "<tie type=\"stop\"/><tie type=\"start\"/>"),
        note('D', 0, 5, 8, "<tie type=\"stop\"/>")
    );
    assert_eq!(notes(partwise(&[&inside])), "C#5@0+2 D5@2+2");
}

#[test]
fn a_tie_goes_on_in_a_chord() {
    let chord = |step, more: &str| note(step, 0, 5, 8, more).replace("<note>", "<note><chord/>");
    let (start, stop) = ("<tie type=\"start\"/>", "<tie type=\"stop\"/>");
    // C alone, then below E: one C of four quarters. Then G over E tied to E alone: the E was a lower tone.
    let first = format!("{START}{}{}{}", note('C', 0, 5, 8, start), note('C', 0, 5, 8, stop), chord('E', ""));
    let second = format!("{}{}{}", note('E', 0, 5, 8, start), chord('G', ""), note('E', 0, 5, 8, stop));
    let part = read(partwise(&[&first, &second])).unwrap().part;
    let shown: Vec<_> =
        part.notes.iter().map(|n| (n.written.ascii(), n.duration.to_string(), n.chord.clone())).collect();
    let expected = [("C5", "4/1", vec![]), ("E5", "2/1", vec![]), ("G5", "2/1", vec![76])];
    assert_eq!(shown, expected.map(|(name, value, chord)| (name.to_owned(), value.to_owned(), chord)));
}

#[test]
fn meters_and_beats() {
    let meter = |time: &str| START.replace("<beats>4</beats><beat-type>4</beat-type>", time);
    let beats = |time: &str| {
        let part = read(partwise(&[&format!("{}{}", meter(time), note('C', 0, 4, 6, "") + &note('C', 0, 4, 6, ""))]))
            .unwrap()
            .part;
        (part.measures[0].meter.count, part.measures[0].meter.unit, part.beat_of(&part.notes[1]).to_string())
    };
    assert_eq!(beats("<beats>6</beats><beat-type>8</beat-type>"), (6, 8, "2/1".into()));
    assert_eq!(beats("<beats>2</beats><beat-type>2</beat-type>"), (2, 2, "7/4".into()));
    assert_eq!(beats("<beats>3+2</beats><beat-type>8</beat-type>"), (5, 8, "4/1".into()));
    assert_eq!(
        beats("<beats>3</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>"),
        (9, 8, "2/1".into())
    );
}

#[test]
fn tempo_marks_in_words_and_numbers() {
    let mark = |text: &str| {
        let direction = format!(
            "<direction><direction-type><metronome><beat-unit>half</beat-unit><per-minute>{text}</per-minute>\
             </metronome></direction-type></direction>"
        );
        let part = read(partwise(&[&format!("{START}{direction}{}", note('C', 0, 4, 16, ""))])).unwrap().part;
        part.tempo_given.then(|| 60e6 / part.tempo.micros_per_quarter(part.notes[0].onset))
    };
    assert_eq!(mark("60"), Some(120.0));
    assert_eq!(mark("ca. 60-66"), Some(120.0));
    assert_eq!(mark("lively"), None);
}

#[test]
fn unpitched_parts_have_nothing_to_judge() {
    let drum = "<note><unpitched/><duration>16</duration></note>";
    let error = read(partwise(&[&format!("{START}{drum}")])).unwrap_err().to_string();
    assert!(error.contains("P1") && error.contains("pitch"), "{error}");
}

#[test]
fn parts_by_identifier_name_number_and_piece() {
    let part = |id: &str, step| {
        format!("<part id=\"{id}\"><measure number=\"1\">{START}{}</measure></part>", note(step, 0, 4, 16, ""))
    };
    let score = format!(
        "<score-partwise><part-list><score-part id=\"P1\"><part-name>Flute</part-name></score-part><score-part id=\"P2\">\
         <part-name>Clarinet 1</part-name></score-part><score-part id=\"P3\"><part-name>Clarinet 2</part-name></score-part>\
         </part-list>{}{}{}</score-partwise>",
        part("P1", 'C'),
        part("P2", 'D'),
        part("P3", 'E')
    );
    let read = |asked: &str| {
        let choice = Choice { part: Some(asked.into()), ..Choice::default() };
        read_exercise(score.as_bytes(), &choice)
            .map(|exercise| exercise.part.name.id)
            .map_err(|error| error.to_string())
    };
    for (asked, id) in [("P2", "P2"), ("flute", "P1"), ("3", "P3"), ("net 1", "P2")] {
        assert_eq!(read(asked).as_deref(), Ok(id));
    }
    for asked in ["clarinet", "oboe", "4", "0", ""] {
        let error = read(asked).unwrap_err();
        assert!(error.contains("P1 (Flute), P2 (Clarinet 1), P3 (Clarinet 2)"), "{error}");
    }
}

#[test]
fn mistakes_are_refused_with_their_place() {
    let wrong = [
        (note('H', 0, 4, 16, ""), "\"H\""),
        (note('C', 0, 4, 16, "").replace("<octave>4", "<octave>x"), "octave"),
        (note('C', 0, 4, 16, "").replace(">16<", ">-16<"), "-16"),
        (note('C', 0, 4, 16, "").replace("<duration>16</duration>", ""), "no duration"),
        (note('C', 9, 4, 16, ""), "alter"),
        (note('C', 0, 4, 16, "").replace(">16<", ">9999999999999<"), "duration"),
        ("<backup/>".to_owned(), "backup"),
        ("<attributes><divisions>-4</divisions></attributes>".to_owned(), "divisions"),
        ("<attributes><transpose><chromatic>x</chromatic></transpose></attributes>".to_owned(), "chromatic"),
    ];
    for (inside, problem) in wrong {
        let error = read(partwise(&[&format!("{START}{}", note('C', 0, 4, 16, "")), &inside])).unwrap_err().to_string();
        assert!(error.contains("measure 2 (line 4, column ") && error.contains(problem), "{inside}\n{error}");
    }
}

#[test]
fn forgotten_divisions_are_told_by_the_first_type() {
    let no_divisions = START.replace("<divisions>4</divisions>", "");
    let typed = format!("{no_divisions}{}", note('C', 0, 4, 6, "<type>half</type>"));
    let exercise = read(partwise(&[&typed])).unwrap();
    assert_eq!(exercise.part.notes[0].duration.to_string(), "2/1");
    assert!(exercise.notices.iter().any(|notice| notice.contains("divisions")));
    let error = read(partwise(&[&format!("{no_divisions}{}", note('C', 0, 4, 6, ""))])).unwrap_err().to_string();
    assert!(error.contains("measure 1") && error.contains("divisions"), "{error}");
}
