//! Every finding of a take has its mark in the staff.

use super::band::{FIRST_US, Fault, book, keep, review};
use restward::judge::FlagKind;
use restward::show::engraver::Paper;
use restward::show::review::{engrave, pages};
use std::collections::BTreeSet;

/// The number of marks with this beginning of an identifier.
fn count(page: &str, id: &str) -> usize {
    page.matches(&format!("id=\"{id}\"")).count()
}

/// One take with every kind of flag; each has its mark once, each picture of a system is there once and shown by each take
/// that has marks in it.
#[test]
#[ignore = "needs restward-engrave, which tools/test builds"]
fn every_flag_has_its_mark() {
    let (_folder, mut book) = book();
    let faults = [
        (1, Fault::Off(12)),
        (2, Fault::Begun(0.7)),
        (3, Fault::Off(1)),
        (5, Fault::Off(-3)),
        (8, Fault::Held(0.5)),
        (9, Fault::Missed),
        (10, Fault::Missed),
        (12, Fault::Begun(-0.5)),
        (13, Fault::Held(0.3)),
        (19, Fault::Held(0.6)),
    ];
    let (take, report) = keep(&mut book, ("Ben", "trumpet", "brass"), FIRST_US, &faults);
    // F5 and C6 are two partials of the open trumpet: concert E♭5 for what is concert B♭5.
    let partial = [(12, Fault::Off(-7)), (3, Fault::Held(1.3))];
    let (second, of_second) = keep(&mut book, ("Ada", "trumpet", "brass"), FIRST_US, &partial);
    let kinds: BTreeSet<FlagKind> = report.flags.iter().chain(&of_second.flags).map(|flag| flag.kind).collect();
    assert_eq!(kinds.len(), 10, "every kind is there: {kinds:?}");
    let review = review(&mut book, &[]);
    let page = pages("Brass", &review, &engrave(&review, Paper::A4)).unwrap();
    assert!(!page.contains("No staves here"));
    for (take, report) in [(take, &report), (second, &of_second)] {
        for place in 0..report.flags.len() + report.close.len() {
            assert_eq!(count(&page, &format!("t{take}-f{place}")), 1, "{place}: {:?}", report.flags.get(place));
        }
    }
    let ids: Vec<&str> = page.split("id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let distinct: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(ids.len(), distinct.len(), "no identifier stands twice on the page");
    for used in page.split("<use href=\"#e").skip(1).filter_map(|rest| rest.split('"').next()) {
        assert_eq!(count(&page, &format!("e{used}")), 1, "{used}");
    }
    if let Some(folder) = std::env::var_os("RESTWARD_PAGES") {
        std::fs::write(std::path::Path::new(&folder).join("marks.html"), page).unwrap();
    }
}
