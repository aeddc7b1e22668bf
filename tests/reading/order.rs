//! Repeats, endings, jumps. Common practice, no source, and the MusicXML 4.0 reference on `repeat`, `ending` and `sound`.

use crate::score::{START, letters, note, partwise, read, whole_notes};

const OPEN: &str = r#"<barline location="left"><repeat direction="forward"/></barline>"#;
const CLOSE: &str = r#"<barline location="right"><repeat direction="backward"/></barline>"#;
const FIRST: &str = r#"<barline location="left"><ending number="1" type="start"/></barline>"#;
const FIRST_END: &str =
    r#"<barline location="right"><ending number="1" type="stop"/><repeat direction="backward"/></barline>"#;
const SECOND: &str = r#"<barline location="left"><ending number="2" type="start"/></barline>"#;
const SECOND_END: &str = r#"<barline location="right"><ending number="2" type="discontinue"/></barline>"#;
const SEGNO: &str = r#"<direction><direction-type><segno/></direction-type><sound segno="segno"/></direction>"#;
const DS: &str =
    r#"<direction><direction-type><words>D.S. al Coda</words></direction-type><sound dalsegno="segno"/></direction>"#;
const TO_CODA: &str = r#"<sound tocoda="coda"/>"#;
const CODA: &str = r#"<sound coda="coda"/>"#;
const DC: &str = r#"<sound dacapo="yes"/>"#;
const FINE: &str = r#"<sound fine="yes"/>"#;

#[test]
fn repeats_without_a_forward_sign_go_back_to_the_last_repeat() {
    assert_eq!(letters(whole_notes(&[('A', "", ""), ('B', "", CLOSE), ('C', "", CLOSE), ('D', "", "")])), "ABABCCD");
}

#[test]
fn repeats_inside_repeats() {
    let score = [('A', OPEN, ""), ('B', OPEN, CLOSE), ('C', "", CLOSE), ('D', "", "")];
    assert_eq!(letters(whole_notes(&score)), "ABBCABBCD");
}

#[test]
fn endings_for_several_passes() {
    let first = r#"<barline location="left"><ending number="1, 2" type="start"/></barline>"#;
    let third = r#"<barline location="left"><ending number="3" type="start"/></barline>"#;
    let score = [('A', "", ""), ('B', first, FIRST_END), ('C', third, SECOND_END), ('D', "", "")];
    assert_eq!(letters(whole_notes(&score)), "ABABACD");
}

#[test]
fn three_endings_and_a_second_group() {
    let second_end =
        r#"<barline location="right"><ending number="2" type="stop"/><repeat direction="backward"/></barline>"#;
    let third = r#"<barline location="left"><ending number="3" type="start"/></barline>"#;
    let score = [
        ('A', OPEN, ""),
        ('B', FIRST, FIRST_END),
        ('C', SECOND, second_end),
        ('D', third, SECOND_END),
        ('E', OPEN, ""),
        ('F', FIRST, FIRST_END),
        ('G', SECOND, SECOND_END),
    ];
    assert_eq!(letters(whole_notes(&score)), "ABACADEFEG");
}

#[test]
fn an_ending_of_two_measures() {
    let score = [
        ('A', "", ""),
        ('B', FIRST, ""),
        ('C', "", FIRST_END),
        ('D', SECOND, ""),
        ('E', "", SECOND_END),
        ('F', "", ""),
    ];
    assert_eq!(letters(whole_notes(&score)), "ABCADEF");
}

#[test]
fn an_ending_that_only_stops() {
    // As in the corpus that music21 10.5 ships, haydn/opus74no1/movement3: the first ending's start is missing.
    let stop = r#"<barline location="right"><ending number="" type="stop"/><repeat direction="backward"/></barline>"#;
    assert_eq!(letters(whole_notes(&[('A', "", ""), ('B', "", stop), ('C', SECOND, SECOND_END)])), "ABAC");
}

#[test]
fn a_repeat_at_the_left_of_the_next_measure() {
    let close = r#"<barline location="left"><repeat direction="backward"/></barline>"#;
    assert_eq!(letters(whole_notes(&[('A', "", ""), ('B', close, "")])), "AAB");
}

#[test]
fn a_repeat_sign_in_the_middle_of_a_measure_divides_it() {
    let sign = |direction| format!(r#"<barline location="middle"><repeat direction="{direction}"/></barline>"#);
    let half = |step| note(step, 0, 4, 8, "");
    let score = partwise(&[
        &format!("{START}{}{}{}", half('A'), sign("forward"), half('B')),
        &format!("{}{}{}", half('C'), sign("backward"), half('D')),
    ]);
    assert_eq!(crate::score::notes(&score), "A4@0+2 B4@2+2 C4@4+2 B4@6+2 C4@8+2 D4@10+2");
    let labels: String = read(&score).unwrap().part.measures.iter().map(|measure| measure.label.clone()).collect();
    assert_eq!(labels, "112122");
}

#[test]
fn dal_segno_al_coda() {
    let score = [('A', "", ""), ('B', SEGNO, ""), ('C', "", TO_CODA), ('D', "", DS), ('E', CODA, "")];
    assert_eq!(letters(whole_notes(&score)), "ABCDBCE");
}

#[test]
fn dal_segno_al_fine_wherever_the_sound_stands() {
    let jump = r#"<sound dalsegno="segno"/>"#;
    let score = [('A', "", ""), ('B', SEGNO, ""), ('C', FINE, ""), ('D', jump, "")];
    assert_eq!(letters(whole_notes(&score)), "ABCDBC");
}

#[test]
fn a_segno_on_a_barline() {
    let segno = r#"<barline location="left" segno="s"><segno/></barline>"#;
    let jump = r#"<sound dalsegno="s"/>"#;
    assert_eq!(letters(whole_notes(&[('A', "", ""), ('B', segno, FINE), ('C', "", jump)])), "ABCB");
}

#[test]
fn after_a_da_capo_the_last_ending_and_no_repeats() {
    let score = [('A', "", ""), ('B', FIRST, FIRST_END), ('C', SECOND, &format!("{SECOND_END}{FINE}")), ('D', "", DC)];
    assert_eq!(letters(whole_notes(&score)), "ABACDAC");
}

#[test]
fn a_repeat_that_counts_after_the_jump() {
    let close = r#"<barline location="right"><repeat direction="backward" after-jump="yes"/></barline>"#;
    assert_eq!(letters(whole_notes(&[('A', "", close), ('B', "", FINE), ('C', "", DC)])), "AABCAAB");
}

#[test]
fn the_repeats_of_a_measure_come_before_its_jump() {
    let score = [('A', "", FINE), ('B', "", &format!("{CLOSE}{DC}") as &str)];
    assert_eq!(letters(whole_notes(&score)), "ABABA");
}

#[test]
fn a_jump_to_a_coda_that_is_not_there_changes_nothing() {
    assert_eq!(letters(whole_notes(&[('A', "", TO_CODA), ('B', "", DC), ('C', "", "")])), "ABABC");
}

#[test]
fn signs_of_the_top_part_count_for_all() {
    let top = format!("{START}{}{CLOSE}", note('C', 0, 5, 16, ""));
    let score = partwise(&[&top]).replace(
        "</part></score-partwise>",
        &format!(
            "</part><part id=\"P2\"><measure number=\"1\">{START}{}</measure></part></score-partwise>",
            note('E', 0, 4, 16, "")
        ),
    );
    let choice = restward::read::Choice { part: Some("P2".into()), ..Default::default() };
    let part = restward::read::read_exercise(score.as_bytes(), &choice).unwrap().part;
    assert_eq!(part.notes.iter().map(|note| note.written.ascii()).collect::<String>(), "E4E4");
}

#[test]
fn ties_into_a_second_ending_and_back_to_a_repeat() {
    let tied = |step, tie: &str| note(step, 0, 4, 16, &format!("<tie type=\"{tie}\"/>"));
    let score = partwise(&[
        &format!("{START}{}", note('A', 0, 4, 16, "")),
        &tied('C', "start"),
        &format!("{FIRST}{}{FIRST_END}", tied('C', "stop")),
        &format!("{SECOND}{}{SECOND_END}", tied('C', "stop")),
    ]);
    assert_eq!(crate::score::notes(score), "A4@0+4 C4@4+8 A4@12+4 C4@16+8");
}

#[test]
fn endless_signs_are_refused() {
    let times = r#"<barline location="right"><repeat direction="backward" times="4000000000"/></barline>"#;
    let error = read(whole_notes(&[('A', "", times)])).unwrap_err();
    assert!(error.to_string().contains("repeat"), "{error}");
}

#[test]
fn a_jump_goes_back_to_the_tempo_of_its_target() {
    let fast = r#"<sound tempo="120"/>"#;
    let slow = r#"<sound tempo="60"/>"#;
    let part = read(whole_notes(&[('A', fast, ""), ('B', "", FINE), ('C', slow, DC)])).unwrap().part;
    let tempos: Vec<f64> = part.notes.iter().map(|note| part.tempo.micros_per_quarter(note.onset) / 1000.0).collect();
    assert_eq!(tempos, [500.0, 500.0, 1000.0, 500.0, 500.0]);
}
