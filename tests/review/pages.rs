//! The page as a whole: what is in it, escaped, and nothing from outside.

use super::band::{DAY_US, FIRST_US, Fault, band, book, keep, review};
use restward::show::review::{Staves, pages};

fn page() -> String {
    let (_folder, mut book) = book();
    band(&mut book);
    let review = review(&mut book, &[]);
    pages("The Lantern Hill Band", &review, &Staves::missing(&review, "the engraver is not here")).unwrap()
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
    let rows = table(&words, "Changed notes, at concert pitch");
    assert!(rows[0].starts_with("A♭ | F♮ for alto saxophone"), "{rows:?}");
    assert_eq!(rows[1..], ["Ines | 6/16 | 6/16", "<b>Max & \"Moritz\"</b> | 13/16 | 13/16"]);
}

/// What was played on another instrument counts with the note that sounded.
#[test]
fn whoever_changes_the_instrument_stays_in_the_same_column() {
    let (_folder, mut book) = book();
    keep(&mut book, ("Ines", "alto-sax", "reeds"), FIRST_US, &[]);
    keep(&mut book, ("Ines", "clarinet", "reeds"), FIRST_US + DAY_US, &[(3, Fault::Off(1))]);
    let review = review(&mut book, &[]);
    let page = pages("Reeds", &review, &Staves::missing(&review, "none")).unwrap();
    let words = words(&page);
    let rows = table(&words, "Changed notes, at concert pitch");
    assert!(rows[0].contains("B♭ for clarinet") && rows[0].contains("F♮ for alto saxophone"), "{rows:?}");
    assert_eq!(rows[1..], ["Ines | 7/8 | 7/8"]);
}

#[test]
fn an_empty_book_makes_a_page() {
    let (_folder, mut book) = book();
    let review = review(&mut book, &[]);
    let page = pages("Nobody", &review, &Staves::missing(&review, "none")).unwrap();
    assert!(words(&page).contains("no takes"));
}
