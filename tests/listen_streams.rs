//! Timed streams through the built program: siblings of the cases in `tests/data/cases/live-*`, which
//! `tests/cases.rs` runs, and what is no stream.

#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use assert_cmd::Command;
use serde_json::Value;

/// (pitch, begins, ends) in seconds.
type Note = (i64, f64, f64);

fn run(text: &[u8], arguments: &[&str]) -> (Option<i32>, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("stream.json");
    std::fs::write(&path, text).unwrap();
    let output = Command::cargo_bin("restward").unwrap().arg("clean").arg(&path).args(arguments).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code(), text(output.stdout), text(output.stderr))
}

fn clean(stream: &str) -> Vec<Note> {
    let (status, out, error) = run(stream.as_bytes(), &["--json"]);
    assert_eq!(status, Some(0), "{error}");
    let listing: Value = serde_json::from_str(&out).unwrap();
    let number = |note: &Value, name: &str| note[name].as_f64().unwrap();
    let note = |note: &Value| (note["midi"].as_i64().unwrap(), number(note, "on_s"), number(note, "off_s"));
    listing["notes"].as_array().unwrap().iter().map(note).collect()
}

#[track_caller]
fn check(stream: &str, expected: &[Note]) {
    let found = clean(stream);
    let is_near = |a: f64, b: f64| (a - b).abs() < 1e-6;
    let is_same = found.len() == expected.len()
        && found.iter().zip(expected).all(|(a, b)| a.0 == b.0 && is_near(a.1, b.1) && is_near(a.2, b.2));
    assert!(is_same, "expected {expected:?}, found {found:?}");
}

/// Channel mode messages 120 and 123 to 127 end the notes of their channel (MIDI 1.0 Detailed Specification,
/// "Channel Mode Messages"); reset all controllers (121) and local control (122) do not.
#[test]
fn mode_messages() {
    for (mode, end) in [(120, 1.0), (121, 2.0), (122, 2.0), (123, 1.0), (124, 1.0), (125, 1.0), (126, 1.0), (127, 1.0)]
    {
        let stream = format!(
            "[[0.5,[147,60,80]],[0.51,[147,67,80]],[0.6,[148,40,80]],[1,[179,{mode},0]],[2,[131,60,0]],[2,[131,67,0]],[3,[132,40,0]]]"
        );
        check(&stream, &[(60, 0.5, end), (67, 0.51, end), (40, 0.6, 3.0)]);
    }
}

/// System reset ends all notes of the port and forgets half a message; the other port plays on.
#[test]
fn system_reset() {
    check(
        r#"[[0.5,[144,60,80],{"port":1}],[0.5,[144,72,80],{"port":2}],[1,[144,61,255],{"port":1}],
            [1.1,[80],{"port":1}],[1.2,[62,80],{"port":1}],[2,[128,72,0],{"port":2}]]"#,
        &[(60, 0.5, 1.0), (72, 0.5, 2.0)],
    );
}

/// A chord of notes begun together, never ended one by one, is a chord; so is one that overlaps for long.
#[test]
fn chords_are_no_lost_note_offs() {
    check("[[0.5,[144,60,80]],[0.515,[144,64,80]],[2,[176,123,0]]]", &[(60, 0.5, 2.0), (64, 0.515, 2.0)]);
    check(
        "[[0.5,[144,60,80]],[0.57,[144,64,80]],[0.65,[144,67,80]],[2,[176,120,0]],[2.5,[144,62,80]],[3,[128,62,0]]]",
        &[(60, 0.5, 2.0), (64, 0.57, 2.0), (67, 0.65, 2.0), (62, 2.5, 3.0)],
    );
    // A controller that only ends its phrases.
    check(
        "[[0.5,[144,60,80]],[1,[144,64,80]],[1.5,[144,67,80]],[2,[176,123,0]]]",
        &[(60, 0.5, 1.0), (64, 1.0, 1.5), (67, 1.5, 2.0)],
    );
    // The line is heard twice: that it holds notes over others is known from the second overlap for the first as well.
    check(
        "[[0.5,[144,48,80]],[1,[144,60,80]],[1.5,[128,60,0]],[2,[128,48,0]],[3,[144,50,80]],[3.5,[144,62,80]],
          [4,[128,62,0]],[5,[144,50,80]],[6,[128,50,0]]]",
        &[(48, 0.5, 2.0), (60, 1.0, 1.5), (50, 3.0, 5.0), (62, 3.5, 4.0), (50, 5.0, 6.0)],
    );
}

/// Two note-offs lost in one line, one of them at its end; the last note lasts to the end of the stream.
#[test]
fn lost_note_offs() {
    check(
        "[[0.5,[144,60,80]],[1,[144,62,80]],[1.4,[128,62,0]],[1.5,[144,64,80]],[2,[144,65,80]],[2.4,[128,65,0]],
          [2.5,[144,67,80]],[3.5,[176,2,0]]]",
        &[(60, 0.5, 1.0), (62, 1.0, 1.4), (64, 1.5, 2.0), (65, 2.0, 2.4), (67, 2.5, 3.5)],
    );
    // The same pitch again.
    check("[[0.5,[144,60,80]],[1,[144,60,80]],[1.5,[128,60,0]]]", &[(60, 0.5, 1.0), (60, 1.0, 1.5)]);
    // A glitch does not end the note before it, the note after it does.
    check(
        "[[0.5,[144,60,80]],[1,[144,70,80]],[1.01,[128,70,0]],[1.011,[144,62,80]],[1.5,[128,62,0]]]",
        &[(60, 0.5, 1.011), (62, 1.011, 1.5)],
    );
}

/// Glitches: several in a row, with gaps, before and after silence; at the very limits.
#[test]
fn glitches() {
    let around = |middle: &str| format!("[[0.5,[144,60,80]],[1,[128,60,0]],{middle},[2,[144,62,80]],[2.5,[128,62,0]]]");
    let outer = [(60, 0.5, 1.0), (62, 2.0, 2.5)];
    check(&around("[1,[144,72,80]],[1.02,[128,72,0]],[1.021,[144,74,80]],[1.04,[144,74,0]]"), &outer);
    check(&around("[1.3,[144,72,80]],[1.329,[128,72,0]]"), &outer);
    check(&around("[1.98,[144,72,80]],[1.999,[128,72,0]]"), &outer);
    check(&around("[1.3,[144,72,80]],[1.36,[128,72,0]]"), &[outer[0], (72, 1.3, 1.36), outer[1]]);
    // Within a note: the note goes on.
    check("[[0.5,[144,60,80]],[1,[144,61,80]],[1.02,[128,61,0]],[1.5,[128,60,0]]]", &[(60, 0.5, 1.5)]);
    // Short notes that stand first or last are not between two others.
    check("[[0.5,[144,60,80]],[0.52,[128,60,0]]]", &[(60, 0.5, 0.52)]);
    check("[[0.5,[144,60,80]],[1,[128,60,0]],[2,[144,62,80]],[2.02,[128,62,0]]]", &[(60, 0.5, 1.0), (62, 2.0, 2.02)]);
}

/// A pad that only ever sends 20 ms means all of them.
#[test]
fn short_strokes_of_a_pad() {
    let strokes: Vec<Note> = (1..10).map(|n| (60 + n % 3, n as f64 / 4.0, n as f64 / 4.0 + 0.02)).collect();
    let message = |&(midi, on, off): &Note| format!("[{on},[153,{midi},90]],[{off},[137,{midi},0]]");
    let stream: Vec<String> = strokes.iter().map(message).collect();
    check(&format!("[{}]", stream.join(",")), &strokes);
}

/// A bounce in three pieces; a bounce without note-offs; a dip of breath of 39 ms; a repetition after 60 ms.
#[test]
fn bounces_and_dips() {
    check(
        "[[0.5,[144,60,80]],[0.502,[128,60,0]],[0.504,[144,60,80]],[0.507,[128,60,0]],[0.51,[144,60,80]],[1,[128,60,0]]]",
        &[(60, 0.5, 1.0)],
    );
    check("[[0.5,[144,60,80]],[0.503,[144,60,80]],[1,[128,60,0]],[1.001,[128,60,0]]]", &[(60, 0.5, 1.0)]);
    check("[[0.5,[144,60,80]],[1,[128,60,0]],[1.039,[144,60,80]],[1.5,[128,60,0]]]", &[(60, 0.5, 1.5)]);
    check("[[0.5,[144,60,80]],[1,[128,60,0]],[1.06,[144,60,80]],[1.5,[128,60,0]]]", &[(60, 0.5, 1.0), (60, 1.06, 1.5)]);
}

/// A sequencer that sends the note-on before the note-off of the same pitch in the same instant.
#[test]
fn repeated_notes_without_a_gap() {
    check("[[0.5,[144,60,80]],[1,[144,60,80]],[1,[128,60,0]],[1.5,[128,60,0]]]", &[(60, 0.5, 1.0), (60, 1.0, 1.5)]);
}

/// Active sensing counts for its port only; any byte keeps the line alive; exactly 0.33 s is not too long.
#[test]
fn active_sensing() {
    check(
        r#"[[0,[254],{"port":1}],[0.1,[144,60,80],{"port":1}],[0.1,[144,72,80],{"port":2}],[0.4,[248],{"port":1}],
            [0.73,[254],{"port":1}],[3,[254],{"port":1}],[3,[128,72,0],{"port":2}]]"#,
        &[(60, 0.1, 1.03), (72, 0.1, 3.0)],
    );
    check("[[0.1,[144,60,80]],[3,[128,60,0]]]", &[(60, 0.1, 3.0)]);
}

/// Running status does not outlive a pulled cable; a second pull does nothing.
#[test]
fn unplugged() {
    check(
        r#"[[0.5,[144,60,80]],[0.9,[144]],[1,"disconnect"],[1.1,"disconnect"],[2,"connect"],[2.1,[62,80]],
            [3,[145,64,80]],[4,[64,0]]]"#,
        &[(60, 0.5, 1.0), (64, 3.0, 4.0)],
    );
}

/// Time stamps: small steps back, a clock that starts again, a zero long ago, before zero.
#[test]
fn time_stamps() {
    check(
        "[[10,[144,60,80]],[11,[128,60,0]],[10.95,[144,62,80]],[12,[128,62,0]],[3,[144,64,80]],[3.5,[128,64,0]]]",
        &[(60, 10.0, 11.0), (62, 11.0, 12.0), (64, 12.0, 12.5)],
    );
    check("[[1700000000.25,[144,60,80]],[1700000001,[128,60,0]]]", &[(60, 1_700_000_000.25, 1_700_000_001.0)]);
    check("[[-2,[144,60,80]],[-1.5,[128,60,0]]]", &[(60, -2.0, -1.5)]);
}

/// Note-on with velocity 0 is a note-off (MIDI 1.0 Detailed Specification, "Note-On"); pitches 0 and 127, channel 16.
#[test]
fn the_ends_of_the_ranges() {
    check("[[0.5,[159,0,127]],[1,[159,0,0]],[1.1,[159,127,1]],[2,[143,127,127]]]", &[(0, 0.5, 1.0), (127, 1.1, 2.0)]);
}

#[test]
fn nothing_at_all() {
    check("[]", &[]);
    check("[[0.5,[]],[1,[248]],[2,[128,60,0]]]", &[]);
    assert_eq!(run(b"[]", &[]).1, "No notes.\n");
}

/// The line is named, and the file, and what a stream looks like.
#[test]
fn what_is_no_stream() {
    let deep = "[".repeat(100_000);
    for (text, place) in [
        ("{\"hello\": [1, 2, 3]}", "line 1"),
        ("[\n[0.5, [144, 60, 80]],\n[1.0, [144, 60, 256]]\n]", "line 3"),
        ("[\n[0.5, [144, 60, -1]]]", "line 2"),
        ("[[0.5, [144, 60.5, 80]]]", "line 1"),
        ("[[\"0.5\", [144, 60, 80]]]", "line 1"),
        ("[[null, [144, 60, 80]]]", "line 1"),
        ("[\n\n[NaN, [144, 60, 80]]]", "line 3"),
        ("[[1e300, [144, 60, 80]]]", "line 1"),
        ("[[1e999, [144, 60, 80]]]", "line 1"),
        ("[[0.5]]", "line 1"),
        ("[[]]", "line 1"),
        ("[[0.5, \"unplugged\"]]", "line 1"),
        ("[[0.5, {\"bytes\": []}]]", "line 1"),
        ("[[0.5, [144], {\"port\": \"first\"}]]", "line 1"),
        ("[[0.5, [144], {\"port\": -1}]]", "line 1"),
        ("[[0.5, [144], {}, 7]]", "line 1"),
        ("[[0.5, [144, 60, 80]],\n[1.0, [128, 60", "line 2"),
        ("[[0.5, [144, 60, 80]]] trailing", "line 1"),
        ("7", "line 1"),
        (deep.as_str(), "line 1"),
    ] {
        let (status, out, error) = run(text.as_bytes(), &["--json"]);
        let shown: String = text.chars().take(60).collect();
        assert_eq!((status, out.as_str()), (Some(1), ""), "{shown}: {error}");
        assert!(error.contains("stream.json: ") && error.contains(place), "{shown}: {error}");
        assert!(error.contains("a stream is a list of [seconds, [bytes]]"), "{shown}: {error}");
        assert_eq!(error.lines().count(), 1, "{error}");
    }
    let ports: Vec<String> = (0..65).map(|port| format!("[0, [248], {{\"port\": {port}}}]")).collect();
    let (status, _, error) = run(format!("[{}]", ports.join(",\n")).as_bytes(), &[]);
    assert!(status == Some(1) && error.contains("line 65") && error.contains("more than 64 ports"), "{error}");
    let (status, _, error) = run(b"[[0.5, [144, \xFF]]]", &[]);
    assert_eq!(status, Some(1), "{error}");
}

#[test]
fn a_byte_order_mark_is_no_matter() {
    let (status, out, _) = run(b"\xEF\xBB\xBF [[0.5,[144,60,80]],[1,[128,60,0]]]\r\n", &[]);
    assert_eq!(status, Some(0));
    let rows: Vec<&str> = out.lines().collect();
    assert_eq!(rows[0], "1 note. Times in seconds, pitches as sent.");
    assert_eq!(rows[3], "    1  C4      60       0.500       1.000     0.500");
    assert!(rows.iter().all(|row| row.chars().count() <= 80));
}
