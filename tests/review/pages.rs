//! The page as a whole: what is in it, escaped, and nothing from outside.

use super::band::{self, DAY_US, FIRST_US, Fault, book, keep, no_staves};

fn page() -> String {
    let (_folder, mut book) = book();
    band::band(&mut book);
    band::page(&mut book, "The Lantern Hill Band", no_staves)
}

/// The page as a reader sees it: what stands in its elements, without styles.
fn words(page: &str) -> String {
    let page = roxmltree_ready(page);
    let document = roxmltree::Document::parse(&page).unwrap();
    let body = document.descendants().find(|node| node.has_tag_name("body")).unwrap();
    let mut lines: Vec<String> = Vec::new();
    for node in body.descendants().filter(|node| node.is_text()) {
        let text = node.text().unwrap_or_default().split_whitespace().collect::<Vec<_>>().join(" ");
        let is_block = node
            .parent()
            .is_some_and(|parent| ["p", "h1", "h2", "li", "caption", "title"].contains(&parent.tag_name().name()));
        let in_row = node.ancestors().find(|node| node.has_tag_name("tr"));
        let begins_row = in_row.is_some_and(|row| {
            row.descendants().find(|it| it.is_text() && !it.text().unwrap_or_default().trim().is_empty()) == Some(node)
        });
        if text.is_empty() {
            continue;
        }
        match lines.last_mut() {
            Some(line) if !is_block && !begins_row => {
                line.push_str(" | ");
                line.push_str(&text);
            }
            _ => lines.push(text),
        }
    }
    lines.join("\n")
}

/// HTML's void elements and doctype as XML has them, so that a strict reader checks the rest.
fn roxmltree_ready(page: &str) -> String {
    let page = page.replace("<!DOCTYPE html>", "");
    let void = |page: String, name: &str| {
        let tag = format!("<{name} ");
        let mut pieces = page.split(&tag);
        let mut out = pieces.next().unwrap().to_owned();
        for piece in pieces {
            let (attributes, rest) = piece.split_once('>').unwrap();
            out.push_str(&format!("<{name} {}/>{rest}", attributes.trim_end_matches('/')));
        }
        out
    };
    void(page, "meta")
}

#[test]
fn the_page_reads_as_it_was_looked_at() {
    insta::assert_snapshot!(words(&page()));
}

/// Names are text, whatever they are: the strict reader would stumble over a tag of theirs.
#[test]
fn names_are_escaped() {
    let page = page();
    assert!(page.contains("&#60;b&#62;Max &#38; &#34;Moritz&#34;&#60;/b&#62;"));
    assert!(!page.contains("<b>Max"));
    assert!(words(&page).contains("<b>Max & \"Moritz\"</b>"));
}

/// Nothing is fetched and nothing runs: no script, no address but names of namespaces, no image or style from elsewhere.
#[test]
fn the_page_needs_nothing_else() {
    let page = page().replace("http://www.w3.org/", "");
    for outside in ["<script", "http:", "https:", "<img", "<link", "url(", "@import", "javascript"] {
        assert!(!page.contains(outside), "{outside}");
    }
}

/// The section of a page with this heading.
fn table<'a>(words: &'a str, caption: &str) -> Vec<&'a str> {
    let lines = words.lines().skip_while(|line| *line != caption).skip(1);
    lines.take_while(|line| !line.starts_with("all players")).collect()
}

/// Alto saxophone and flute meet the same concert note under two names; counted by hand from what the band plays: Ines
/// misses 4, 3, 2, 1 of 4, the flute 2, 1, 0, 0.
#[test]
fn a_mixed_section_is_shown_at_concert_pitch() {
    let words = words(&page());
    let woodwinds = words.split_once("woodwinds").unwrap().1;
    let rows = table(woodwinds, "Changed notes, at concert pitch");
    assert!(rows[0].starts_with("A♭ | F♮ for alto saxophone"), "{rows:?}");
    assert_eq!(rows[1..], ["Ines | 6/16 | 6/16", "<b>Max & \"Moritz\"</b> | 13/16 | 13/16"]);
}

/// What was played on another instrument counts with the note that sounded.
#[test]
fn whoever_changes_the_instrument_stays_in_the_same_column() {
    let (_folder, mut book) = book();
    keep(&mut book, ("Ines", "alto-sax", "reeds"), FIRST_US, &[]);
    keep(&mut book, ("Ines", "clarinet", "reeds"), FIRST_US + DAY_US, &[(3, Fault::Off(1))]);
    let page = band::page(&mut book, "Reeds", no_staves);
    let words = words(&page);
    let rows = table(&words, "Changed notes, at concert pitch");
    assert!(rows[0].contains("B♭ for clarinet") && rows[0].contains("F♮ for alto saxophone"), "{rows:?}");
    assert_eq!(rows[1..], ["Ines | 7/8 | 7/8"]);
}

/// Nobody can hold a note on bells: that is said, and no cell looks as if nothing had been played.
#[test]
fn who_cannot_hold_a_note_is_not_judged_by_it() {
    let (_folder, mut book) = book();
    keep(&mut book, ("Jun", "bells", "winds"), FIRST_US, &[(3, Fault::Off(1))]);
    keep(&mut book, ("Ines", "flute", "winds"), FIRST_US + DAY_US, &[]);
    let page = band::page(&mut book, "Winds", no_staves);
    let words = words(&page);
    assert_eq!(
        table(&words, "Releases before a rest, by the length of the note")[1..],
        ["Ines | (3/3) | (3/3)", "Jun | not judged"]
    );
    assert_eq!(table(&words, "Changed notes, at concert pitch")[1..].len(), 2);
    assert_eq!(words.matches("not judged").count(), 2, "in the table, and for the day of the take: {words}");
}

/// Shown note by note are the latest take of each exercise and the one that most of the grade comes from.
#[test]
fn the_latest_take_and_the_one_that_counts_are_shown() {
    let (_folder, mut book) = book();
    let faults = [(8, Fault::Held(0.5))];
    let keep = |book: &mut _, day: i64| keep(book, ("Ines", "flute", "reeds"), FIRST_US + day * DAY_US, &faults).0;
    let takes: Vec<i64> = (0..4).map(|day| keep(&mut book, day)).collect();
    let shown = |review: restward::show::review::Review| -> Vec<(i64, String)> {
        let of = |it: &restward::show::review::Shown| (it.attempt.take, it.counts_for.join(","));
        review.players[0].takes.iter().map(of).collect()
    };
    assert_eq!(shown(band::review(&mut book, &[])), [(takes[3], String::new())]);
    assert_eq!(shown(band::review(&mut book, &[takes[1]])), [(takes[3], String::new()), (takes[1], "Rhythm".into())]);
}

#[test]
fn an_empty_book_makes_a_page() {
    let (_folder, mut book) = book();
    let page = band::page(&mut book, "Nobody", no_staves);
    assert!(words(&page).contains("no takes"));
}
