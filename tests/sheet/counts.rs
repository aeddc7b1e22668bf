//! The spoken count, against worked examples (common practice, no source).

use super::score;
use restward::prepare::{MeasureCount, State, count};

/// One measure: its words, under each `X` where a note begins, `-` where it goes on, `.` for silence; `!` after it where
/// a release falls.
fn counted(time: (u8, u8), measures: &[&str]) -> Vec<String> {
    let exercise = score::read(time, measures);
    count(&exercise.part).0.iter().map(line).collect()
}

fn line(measure: &MeasureCount) -> String {
    let words = measure.counts.iter().map(|count| {
        let state = match count.state {
            State::Begins(_) => 'X',
            State::Sounds(_) => '-',
            State::Rest => '.',
        };
        let release = if count.releases.is_some() { "!" } else { "" };
        format!("{}{state}{release}", count.spoken)
    });
    words.collect::<Vec<_>>().join(" ")
}

#[test]
fn beats_by_number() {
    assert_eq!(counted((4, 4), &["C4:3 r:1"]), ["1X 2- 3- 4.!"]);
    assert_eq!(counted((3, 4), &["C4:1 D4:1 r:1"]), ["1X 2X 3.!"]);
    assert_eq!(counted((4, 4), &["C4:4", "r:4"]), ["1X 2- 3- 4-", "1.! 2. 3. 4."]);
}

#[test]
fn halves_are_counted_in_the_whole_measure() {
    assert_eq!(counted((4, 4), &["C4:1 D4:1/2 E4:1/2 F4:2"]), ["1X &- 2X &X 3X &- 4- &-"]);
    assert_eq!(counted((4, 4), &["C4:3/2 D4:1/2 E4:1 r:1"]), ["1X &- 2- &X 3X &- 4.! &."]);
    assert_eq!(counted((2, 4), &["C4:3/2 r:1/2"]), ["1X &- 2- &.!"]);
}

#[test]
fn quarters_of_a_beat_only_where_they_stand() {
    assert_eq!(counted((2, 4), &["C4:1/4 D4:1/4 E4:1/2 F4:1"]), ["1X eX &X a- 2X &-"]);
    assert_eq!(counted((2, 4), &["C4:3/4 D4:1/4 r:1"]), ["1X e- &- aX 2.! &."]);
}

#[test]
fn triplets_and_compound_meters() {
    assert_eq!(counted((2, 4), &["C4:1/3 D4:1/3 E4:1/3 F4:1"]), ["1X laX liX 2X"]);
    // Triplet quarters over two beats.
    assert_eq!(counted((2, 4), &["C4:2/3 D4:2/3 E4:2/3"]), ["1X la- liX 2- laX li-"]);
    assert_eq!(counted((6, 8), &["C4:3/2 r:3/2"]), ["1X 2.!"]);
    assert_eq!(counted((6, 8), &["C4:1 D4:1/2 E4:3/2"]), ["1X la- liX 2X la- li-"]);
    assert_eq!(counted((9, 8), &["C4:1/4 D4:1/4 E4:1 F4:3"]), ["1X taX laX ta- li- ta- 2X la- li- 3- la- li-"]);
    assert_eq!(counted((12, 8), &["C4:9/2 r:3/2"]), ["1X 2- 3- 4.!"]);
    assert_eq!(counted((3, 8), &["C4:1/2 D4:1"]), ["1X 2X 3-"]);
}

/// Cut time: the half note is the beat.
#[test]
fn cut_time() {
    assert_eq!(counted((2, 2), &["C4:2 D4:2"]), ["1X 2X"]);
    assert_eq!(counted((2, 2), &["C4:1 D4:1 E4:1 r:1"]), ["1X &X 2X &.!"]);
    assert_eq!(counted((2, 2), &["C4:1/2 D4:1/2 E4:1 F4:2"]), ["1X eX &X a- 2X &-"]);
}

#[test]
fn meters_of_five_and_seven() {
    assert_eq!(counted((5, 4), &["C4:3 D4:2"]), ["1X 2- 3- 4X 5-"]);
    assert_eq!(counted((7, 8), &["C4:1 D4:1 E4:3/2"]), ["1X 2- 3X 4- 5X 6- 7-"]);
}

/// A quarter before 4/4 is the fourth beat; three eighths before it begin on the "&" of three.
#[test]
fn pickups_count_to_the_barline() {
    assert_eq!(counted((4, 4), &["pickup C4:1", "D4:3 r:1"]), ["4X", "1X 2- 3- 4.!"]);
    assert_eq!(counted((4, 4), &["pickup C4:1/2 D4:1/2 E4:1/2", "F4:4"])[0], "&X 4X &X");
    assert_eq!(counted((6, 8), &["pickup C4:1/2", "D4:3"])[0], "liX");
}

#[test]
fn ties_go_on_over_the_barline() {
    assert_eq!(counted((4, 4), &["C4:2 D4:2~", "D4:1 r:3"]), ["1X 2- 3X 4-", "1- 2.! 3. 4."]);
}

/// Values that nobody says still have their place.
#[test]
fn values_too_short_to_say() {
    assert_eq!(counted((1, 4), &["C4:1/8 D4:7/8"]), ["1X ·X e- ·- &- ·- a- ·-"]);
    assert_eq!(counted((1, 4), &["C4:1/5 D4:1/5 E4:1/5 F4:1/5 G4:1/5"]), ["1X ·X ·X ·X ·X"]);
}

/// Staccato notes are not held to a point.
#[test]
fn staccato_has_no_release() {
    assert_eq!(counted((2, 4), &["C4:1. r:1"]), ["1X 2."]);
}

#[test]
fn releases_by_measure_and_word() {
    let exercise = score::read((4, 4), &["C4:3 r:1", "D4:5/2 r:3/2", "E4:4", "r:4", "F4:3^ r:1", "G4:4"]);
    let (_, releases) = count(&exercise.part);
    let told: Vec<String> = releases
        .iter()
        .map(|release| {
            let on = release
                .on
                .as_ref()
                .map(|(measure, word)| format!("m{} {word}", exercise.part.measures[*measure].label));
            let fermata = if release.fermata { " fermata" } else { "" };
            format!("{}: {} after {}{fermata}", release.note, on.unwrap_or("end".into()), release.beats)
        })
        .collect();
    assert_eq!(
        told,
        [
            "0: m1 4 after 3/1",
            "1: m2 & after 5/2",
            "2: m4 1 after 4/1",
            "3: m5 4 after 3/1 fermata",
            "4: end after 4/1"
        ]
    );
}

/// Repeated measures of the page stand there once.
#[test]
fn repeats_are_counted_once() {
    let xml = score::xml("Flute", None, &[(0, 0)], (2, 4), &["C4:1 r:1", "D4:2"]);
    let repeated = xml.replacen(
        "</measure></part>",
        "<barline location=\"right\"><repeat direction=\"backward\"/></barline></measure></part>",
        1,
    );
    let exercise = restward::read::read_exercise(repeated.as_bytes(), &Default::default()).unwrap();
    assert_eq!(exercise.part.measures.len(), 4);
    let (measures, releases) = count(&exercise.part);
    assert_eq!(measures.iter().map(line).collect::<Vec<_>>(), ["1X 2.!", "1X 2-"]);
    // The D before the repeat is followed by the C again; it is the last note only the second time.
    assert_eq!(releases.len(), 1);
}

/// Values as they fill a beat, and longer ones: (text, in twelfths of a quarter).
const FIGURES: [(&[&str], i64); 9] = [
    (&["1/4", "1/4", "1/2"], 12),
    (&["3/4", "1/4"], 12),
    (&["1/3", "1/3", "1/3"], 12),
    (&["1/2", "1/2"], 12),
    (&["1"], 12),
    (&["3/2", "1/2"], 24),
    (&["2"], 24),
    (&["2/3", "2/3", "2/3"], 24),
    (&["3"], 36),
];

proptest::proptest! {
    /// Whatever stands in a measure: each note begins on a word of its own, each release before a rest has its word, and
    /// the words stand in order.
    #[test]
    fn every_note_and_release_has_its_word(figures in proptest::collection::vec((0usize..9, 0u8..4), 1..24)) {
        let mut measures = vec![String::new()];
        let mut filled = 0;
        for (figure, rest) in figures {
            let (values, length) = FIGURES[figure];
            if filled + length > 48 {
                // The rest of the measure is silent.
                *measures.last_mut().unwrap() += &format!(" r:{}/12", 48 - filled);
                measures.push(String::new());
                filled = 0;
            }
            for (place, value) in values.iter().enumerate() {
                let pitch = if rest == 0 && place + 1 == values.len() { "r" } else { "C5" };
                *measures.last_mut().unwrap() += &format!(" {pitch}:{value}");
            }
            filled = (filled + length) % 48;
            if filled == 0 {
                measures.push(String::new());
            }
        }
        measures.retain(|measure| measure.contains("C5"));
        proptest::prop_assume!(!measures.is_empty());
        let texts: Vec<&str> = measures.iter().map(String::as_str).collect();
        let exercise = score::read((4, 4), &texts);
        let (counted, releases) = count(&exercise.part);
        let words = || counted.iter().flat_map(|measure| &measure.counts);
        let begun: Vec<usize> =
            words().filter_map(|count| if let State::Begins(note) = count.state { Some(note) } else { None }).collect();
        proptest::prop_assert_eq!(begun, (0..exercise.part.notes.len()).collect::<Vec<_>>());
        for measure in &counted {
            proptest::prop_assert!(measure.counts.is_sorted_by(|a, b| a.at < b.at));
        }
        for release in &releases {
            let is_last = release.note + 1 == exercise.part.notes.len();
            proptest::prop_assert!(release.on.is_some() || is_last);
        }
        let rests = exercise.part.notes.windows(2).filter(|pair| pair[1].onset > pair[0].end()).count();
        proptest::prop_assert!(releases.len() == rests + 1);
    }
}
