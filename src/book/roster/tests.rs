#![allow(clippy::unwrap_used)] // a test that cannot go on fails

use super::*;

fn names(roster: &Roster) -> Vec<&str> {
    roster.entries.iter().map(|(_, entry)| entry.name.as_str()).collect()
}

/// é is E9 in Latin-1 (ISO 8859-1), C3 A9 in UTF-8, 00E9 in UTF-16 (The Unicode Standard).
#[test]
fn encodings_and_delimiters() {
    for delimiter in [',', ';', '\t'] {
        let text = format!("Name{delimiter}Instrument\r\nRenée{delimiter}Flöte\r\n");
        let utf16 = |big: bool, mark: &[u8]| {
            let units = text.encode_utf16().flat_map(|u| if big { u.to_be_bytes() } else { u.to_le_bytes() });
            mark.iter().copied().chain(units).collect::<Vec<u8>>()
        };
        let latin: Vec<u8> = text.chars().map(|letter| u8::try_from(u32::from(letter)).unwrap()).collect();
        for (bytes, guessed) in [
            (text.as_bytes().to_vec(), false),
            (format!("\u{feff}{text}").into_bytes(), false),
            (utf16(false, &[0xFF, 0xFE]), false),
            (utf16(true, &[0xFE, 0xFF]), false),
            (utf16(false, &[]), false),
            (utf16(true, &[]), false),
            (latin, true),
        ] {
            let roster = Roster::read(&bytes);
            assert_eq!(names(&roster), ["Renée"], "{roster:?}");
            assert_eq!(roster.entries[0].1.instrument.as_deref(), Some("flute"));
            assert_eq!((roster.notices.len(), roster.problems.len()), (usize::from(guessed), 0), "{roster:?}");
        }
    }
}

#[test]
fn columns_by_their_headings() {
    for (text, name) in [
        ("First Name,Last Name,Instrument\nInes,Novak,flute", "Ines Novak"),
        ("Nachname;Vorname;Instrument\nNovak;Ines;Querflöte", "Ines Novak"),
        ("Name;Vorname\nNovak;Ines", "Ines Novak"),
        ("sep=;\nSTUDENT;Room\n\"Novak, Ines\";12", "Novak, Ines"),
        ("id\tplayer\n7\tInes  N.", "Ines N."),
    ] {
        let roster = Roster::read(text.as_bytes());
        assert_eq!((names(&roster), roster.problems.len()), (vec![name], 0), "{text}: {roster:?}");
    }
    let roster = Roster::read(b"name,section,level,student id\nInes,Flutes,2nd year,17\nOlek,,third-year,\nMara,,9,");
    let entry = &roster.entries[0].1;
    assert_eq!(
        (entry.section.as_deref(), entry.level.as_deref(), entry.outside_id.as_deref()),
        (Some("Flutes"), Some("second-year"), Some("17"))
    );
    assert_eq!(roster.entries[1].1.level.as_deref(), Some("third-year"));
    assert!(roster.notices.iter().any(|notice| notice.contains("Line 4: Mara's level \"9\"")), "{roster:?}");
}

#[test]
fn what_is_wrong_is_said_with_its_line() {
    let text = "name,instrument,id\nInes,flute,1\n\nOlek,kazoo,2\nMara,,3\nINES,oboe,4\n,tuba,\nNils,horn,2\nA,b,c,d\n";
    let roster = Roster::read(text.as_bytes());
    for expected in ["Line 4: Olek plays \"kazoo\"", "Line 5: Mara has no instrument", "Line 7: nobody's name"] {
        assert!(roster.notices.iter().any(|notice| notice.contains(expected)), "{expected}: {roster:?}");
    }
    for expected in ["line 6: INES stands in line 2", "line 8: Nils has the id 2, which Olek has in line 4", "line 9: "]
    {
        assert!(roster.problems.iter().any(|problem| problem.contains(expected)), "{expected}: {roster:?}");
    }
    for (bytes, says) in [
        (&b""[..], "empty"),
        (b"\x50\x4B\x03\x04\0\0\0\0\x01\x02", "CSV"),
        (b"Ines,flute\nOlek,tuba\n", "line 1: no column"),
        (b"name,instrument\n", "no players"),
    ] {
        assert!(Roster::read(bytes).problems[0].contains(says), "{says}");
    }
}

/// Each text has the lost quotation mark in a line that is counted by hand.
#[test]
fn a_lost_quotation_mark_has_its_line() {
    for (text, line) in [
        ("name,instrument\nInes,flute\n\"Mara,flute\nNils,tuba\n", Some(3)),
        // The next quotation mark ends in the middle of a word: the one before is the lost one.
        ("name,instrument\n\"Mara,flute\n\"Novak, Nils\",tuba\n", Some(2)),
        ("sep=,\nname,instrument\n\nMara,\"flute\n", Some(4)),
        ("name,instrument\n\"Novak,\nInes\",flute\n\"Olek \"\"O\"\"\" ,tuba\n", None),
        ("name,instrument\nMara 5\",flute\n", None),
    ] {
        let roster = Roster::read(text.as_bytes());
        let said = roster.notices.iter().find(|notice| notice.contains("a quotation mark is opened"));
        let expected = line.map(|line| format!("Line {line}: "));
        assert_eq!(said.is_some(), expected.is_some(), "{text}: {roster:?}");
        assert!(expected.is_none_or(|expected| said.unwrap().starts_with(&expected)), "{text}: {said:?}");
    }
}

#[test]
fn an_extra_cell_is_told_with_the_sign_that_parts_cells() {
    for (text, sign) in [
        ("name,instrument\nNovak, Ines,flute\n", "a comma in it"),
        ("name;instrument\nNovak; Ines;flute\n", "a semicolon in it"),
        ("name\tinstrument\nNovak\tInes\tflute\n", "a tab in it"),
    ] {
        assert!(Roster::read(text.as_bytes()).problems[0].contains(sign), "{text}");
    }
}

#[test]
fn what_an_unknown_instrument_may_be_is_asked_only_where_it_is_near() {
    let text = "Name,Instr.\nInes,flutte\nOlek,Saxophone\nMara,Drums\nNils,kazoo\n";
    let roster = Roster::read(text.as_bytes());
    for expected in [
        "Line 2: Ines plays \"flutte\", which is no instrument that restward knows (did you mean flute?); entered",
        "Line 3: Olek plays \"Saxophone\", which is no instrument that restward knows (of its family restward knows \
         alto-sax, tenor-sax and bari-sax; if it is one of these, write that); entered",
        "knows (restward judges pitched instruments; of percussion it knows bells, xylophone and marimba); entered",
        "Line 5: Nils plays \"kazoo\", which is no instrument that restward knows; entered without one.",
        "Instruments that restward knows: flute, piccolo, ",
    ] {
        assert!(roster.notices.iter().any(|notice| notice.contains(expected)), "{expected}: {roster:?}");
    }
    assert!(Roster::read(b"name,Inst\nInes,flute\n").notices.is_empty());
}

#[test]
fn a_name_cannot_command_a_terminal() {
    let roster = Roster::read("name\n\"\u{1b}[2J\u{1b}]0;x\u{7}Ines\u{202e}\"\n".as_bytes());
    assert_eq!(names(&roster), ["[2J ]0;x Ines"]);
}
