//! Lines to tunes: the file header, and the tunes of a tunebook.
//!
//! ABC 2.1, 2.2: a tune begins with `X:`, its header ends with `K:`, an empty line ends it. Text between tunes is free
//! text. A file without any `X:` is one tune (10.5.1, deprecated). An empty line before the `K:` is overlooked.

use super::lines::{self, Kind, Line};
use super::strings::decoded;
use super::wrong;
use crate::exercise::PartName;
use crate::read::ReadError;

/// More tunes than any book has; keeps files made to be large small in memory.
const MOST_TUNES: usize = 50_000;

/// A file.
pub(super) struct Book<'a> {
    /// Fields and directives for all tunes.
    pub(super) header: Vec<Line<'a>>,
    /// At least one, unless the file holds no tune.
    pub(super) tunes: Vec<Tune<'a>>,
}

/// One tune.
pub(super) struct Tune<'a> {
    /// Its number (`X:`) as identifier, its first title as name.
    pub(super) name: PartName,
    /// Its fields up to the first `K:`, which is the last.
    pub(super) header: Vec<Line<'a>>,
    /// What follows.
    pub(super) body: Vec<Line<'a>>,
    /// The line of the file where something that looks like music stands after the empty line that ends the tune.
    pub(super) cut_off: Option<u32>,
    has_key: bool,
    /// The line before is the first title or goes on with it.
    in_title: bool,
}

enum Place {
    FileHeader,
    Tune,
    Between,
}

impl<'a> Book<'a> {
    /// The tunes of a text.
    pub(super) fn new(text: &'a str) -> Result<Book<'a>, ReadError> {
        let lines = lines::of(text);
        let mut book = Book { header: Vec::new(), tunes: Vec::new() };
        let mut place = Place::FileHeader;
        if !lines.iter().any(|line| line.kind == Kind::Field('X')) {
            book.tunes.push(Tune::new("1"));
            place = Place::Tune;
        }
        for line in lines {
            if line.kind == Kind::Field('X') {
                let (number, at) = line.value();
                if book.tunes.len() == MOST_TUNES {
                    return Err(wrong(
                        at,
                        "more tunes than any book has: save the one that you want in a file of its own",
                    ));
                }
                let place_in_book = (book.tunes.len() + 1).to_string();
                book.tunes.push(Tune::new(if number.is_empty() { &place_in_book } else { number }));
                place = Place::Tune;
                continue;
            }
            match (&place, book.tunes.last_mut()) {
                (Place::FileHeader, _) if line.kind != Kind::Empty => book.header.push(line),
                (Place::FileHeader, _) if !book.header.is_empty() => place = Place::Between,
                (Place::Tune, Some(tune)) if line.kind != Kind::Empty => tune.add(line),
                (Place::Tune, Some(tune)) if tune.has_key => place = Place::Between,
                (Place::Between, Some(tune)) if line.kind == Kind::Code && line.text.contains('|') => {
                    tune.cut_off = tune.cut_off.or(Some(line.number));
                }
                _ => {}
            }
        }
        Ok(book)
    }
}

impl<'a> Tune<'a> {
    fn new(number: &str) -> Tune<'a> {
        Tune {
            name: PartName { id: number.to_owned(), ..PartName::default() },
            header: Vec::new(),
            body: Vec::new(),
            cut_off: None,
            has_key: false,
            in_title: false,
        }
    }

    fn add(&mut self, line: Line<'a>) {
        if self.has_key {
            self.body.push(line);
            return;
        }
        let goes_on = self.in_title && line.kind == Kind::Continuation;
        self.in_title = goes_on || (line.kind == Kind::Field('T') && self.name.name.is_empty());
        match line.kind {
            Kind::Continuation if goes_on => self.name.name += &format!(" {}", decoded(line.value().0)),
            Kind::Field('T') if self.in_title => self.name.name = decoded(line.value().0),
            Kind::Field('K') => self.has_key = true,
            _ => {}
        }
        self.header.push(line);
    }

    /// Whether its header is complete.
    pub(super) fn has_key(&self) -> bool {
        self.has_key
    }

    /// Bytes of its lines.
    pub(super) fn size(&self) -> usize {
        self.header.iter().chain(&self.body).map(|line| line.text.len()).sum()
    }
}

/// Whether a text looks like ABC: a tune number or a key on a line of its own, or the mark of the format.
pub(in crate::read) fn is_abc(text: &str) -> bool {
    let begins = |line: &str| line.starts_with("X:") || line.starts_with("K:");
    text.starts_with("%abc") || text.split(['\n', '\r']).any(begins)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ABC 2.1, 2.2: file header, free text between tunes, tunes ended by an empty line.
    #[test]
    fn a_tunebook() {
        let text = "%abc-2.1\nM:4/4\n\nFree | text\n\nX:7\nT:One\nT:Uno\nK:C\nCD|\nEF|\n\nmore | text\nX:\nK:G\nG|";
        let book = Book::new(text).unwrap();
        assert_eq!(book.header.iter().map(|line| line.text).collect::<Vec<_>>(), ["M:4/4"]);
        let names: Vec<_> = book.tunes.iter().map(|tune| (tune.name.id.as_str(), tune.name.name.as_str())).collect();
        assert_eq!(names, [("7", "One"), ("2", "")]);
        assert_eq!(book.tunes[0].body.iter().map(|line| line.text).collect::<Vec<_>>(), ["CD|", "EF|"]);
        assert_eq!((book.tunes[0].cut_off, book.tunes[1].cut_off), (Some(13), None));
    }

    /// ABC 2.1, 10.5.1: the number may be missing where there is one tune.
    #[test]
    fn a_tune_without_a_number() {
        let book = Book::new("T:Line\n\nK:C\nCD|").unwrap();
        assert_eq!((book.tunes.len(), book.tunes[0].name.id.as_str(), book.tunes[0].body.len()), (1, "1", 1));
    }
}
