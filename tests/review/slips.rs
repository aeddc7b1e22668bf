//! Slips: a child's words, two halves of a page, commands that run.

use super::band::{FIRST_US, Fault, band, book, keep, review};
use assert_cmd::Command;
use restward::show::review::slips;

/// What stands on each slip, without tags.
fn texts(page: &str) -> Vec<String> {
    let body = page.split_once("</style>").unwrap().1;
    let slips = body.split("<section class=\"slip\">").skip(1);
    slips
        .map(|slip| {
            let mut text = String::new();
            let mut is_tag = false;
            for letter in slip.chars() {
                match letter {
                    '<' => is_tag = true,
                    '>' => {
                        is_tag = false;
                        text.push('\n');
                    }
                    _ if !is_tag => text.push(letter),
                    _ => {}
                }
            }
            let lines: Vec<&str> = text.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
            lines.join("\n")
        })
        .collect()
}

#[test]
fn slips_read_as_they_were_looked_at() {
    let (_folder, mut book) = book();
    band(&mut book);
    let page = slips(&review(&mut book, &[])).unwrap();
    insta::assert_snapshot!(texts(&page).join("\n----\n"));
    assert_eq!(page.matches("class=\"page\"").count(), 3, "five slips on three pages");
    assert!(!page.contains("<b>Max"));
}

/// For the player there are no numbers but those of measures, counts and days: no percent, no "3 of 4", no place.
#[test]
fn no_slip_has_a_bare_number() {
    let (_folder, mut book) = book();
    band(&mut book);
    for slip in texts(&slips(&review(&mut book, &[])).unwrap()) {
        // The first line is the name.
        for line in slip.lines().skip(1).filter(|line| !line.starts_with("For the director")) {
            assert!(!line.contains('%') && !line.contains('/'), "{line}");
            let words: Vec<&str> = line.split(' ').collect();
            let numbered = |pair: &[&str]| pair[0].chars().all(|letter| letter.is_ascii_digit()) && pair[1] == "of";
            assert!(!words.windows(2).any(numbered), "{line}");
        }
    }
}

/// Each command for the director is one that restward takes, as it stands there.
#[test]
fn the_commands_run() {
    let (_folder, mut book) = book();
    let takes: [(&str, &[(usize, Fault)]); 4] = [
        ("alto-sax", &[(3, Fault::Off(1)), (11, Fault::Off(1))]),
        ("tuba", &[(3, Fault::Held(0.5)), (8, Fault::Held(0.5))]),
        ("horn", &[(13, Fault::Held(0.2)), (14, Fault::Held(0.2))]),
        ("flute", &[(3, Fault::Held(1.32))]),
    ];
    for (instrument, faults) in takes {
        keep(&mut book, (instrument, instrument, "all"), FIRST_US, faults);
    }
    let page = slips(&review(&mut book, &[])).unwrap();
    let texts = texts(&page).join("\n").replace("&#34;", "\"");
    assert!(
        texts.contains(" -o drill-alto-sax-F.musicxml") && texts.contains(" -o drill-horn-hold.musicxml"),
        "{texts}"
    );
    let commands: Vec<&str> =
        texts.lines().filter_map(|line| line.strip_prefix("For the director: restward ")).collect();
    assert_eq!(commands.len(), 4, "{texts}");
    // All in one folder: none writes over the drill of another one.
    let folder = tempfile::tempdir().unwrap();
    for command in &commands {
        Command::cargo_bin("restward").unwrap().current_dir(&folder).args(command.split(' ')).assert().success();
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), commands.len());
}

/// Who played nothing, or something else, is told so kindly, and nothing else is said.
#[test]
fn silence_and_another_piece_are_told_kindly() {
    let (_folder, mut book) = book();
    book.player_or_new("Pia").unwrap();
    let all: Vec<_> = (0..20).map(|note| (note, Fault::Missed)).collect();
    keep(&mut book, ("Tom", "flute", "flutes"), FIRST_US, &all);
    for slip in texts(&slips(&review(&mut book, &[])).unwrap()) {
        assert!(slip.contains("We have not heard you play"), "{slip}");
        assert!(!slip.contains("went well"), "{slip}");
    }
}
