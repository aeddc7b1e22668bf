//! Files of rubrics: what is refused, and in which line.

use super::super::Rubric;

const BUILT_IN: &str = include_str!("../../../config/rubric.toml");

/// The line of the built-in file in which a text stands for the first time.
fn line_of(text: &str) -> usize {
    BUILT_IN.lines().position(|line| line.contains(text)).unwrap() + 1
}

#[test]
fn the_built_in_rubric_is_read() {
    let rubric = Rubric::built_in().unwrap();
    let ids: Vec<&str> = rubric.rows.iter().map(|row| row.id.as_str()).collect();
    assert_eq!(ids, ["notes", "key", "value", "rhythm", "tone", "posture", "articulation", "dynamics"]);
    assert_eq!(rubric.words(&rubric.rows[4], 1), "the sound breaks off or is mostly air");
    assert_eq!(rubric.words(&rubric.rows[0], 3), "secure", "a row without words has those of the steps");
}

#[test]
fn what_cannot_be_a_rubric_is_refused_with_its_line() {
    let step_2 = line_of("name = \"on the way\"") - 1;
    let row_1 = line_of("id = \"notes\"") - 1;
    for (from, to, line, says) in [
        ("takes_count = \"best\"", "takes_count = \"luckiest\"", line_of("takes_count = "), "luckiest"),
        ("takes_count = \"best\"", "takes_count = ", line_of("takes_count = "), ""),
        ("# takes_at_most = 3", "takes_at_most = 0", line_of("takes_at_most"), "1 or more"),
        ("least_weight = 50", "least_weight = 101", line_of("least_weight = 50"), "0 to 100"),
        ("least_weight = 50", "least_weight = 300", line_of("least_weight = 50"), "300"),
        ("least_weight = 50", "least_wait = 50", line_of("least_weight = 50"), "least_wait"),
        ("from = 70\nworth", "from = 0\nworth", step_2, "above the one before"),
        ("from = 70\nworth", "from = 101\nworth", step_2, "above the one before"),
        ("worth = 75", "worth = 40", step_2, "worth less"),
        ("id = \"notes\"", "id = \"right notes\"", row_1, "lower-case"),
        ("id = \"key\"", "id = \"notes\"", line_of("id = \"key\"") - 1, "two rows"),
        (
            "weight = 2\nleast_notes = 8\n\n[[row]]\nid = \"key\"",
            "weight = 0\n\n[[row]]\nid = \"key\"",
            row_1,
            "weight = 0",
        ),
        ("title = \"Right notes\"", "title = \" \"", row_1, "name is missing"),
        (
            "    \"one loudness all through\",\n",
            "",
            line_of("id = \"dynamics\"") - 1,
            "3 entries, and there are 4 steps",
        ),
        ("below_step = 3", "below_step = 5", line_of("below_step = 3"), "steps are 1 to 4"),
        ("# lifts_to_step = 3", "lifts_to_step = 0", line_of("lifts_to_step"), "no step 0"),
    ] {
        assert!(BUILT_IN.contains(from), "{from}");
        let error = Rubric::parse(&BUILT_IN.replacen(from, to, 1)).unwrap_err();
        assert_eq!(error.line, line, "{from}: {error}");
        assert!(error.what.contains(says), "{from}: {error}");
    }
    assert!(Rubric::parse("").is_err());
    assert!(Rubric::parse("\u{0}").is_err());
}
