//! The key check card: one page for the stand or the projector. Find your key, your changed note, how it is fingered,
//! and say the count of the hold to watch.

use super::diagram;
use super::fit::{Block, Fit, TALL_ROOM, WIDE_ROOM};
use super::grid::{Cell, Kind, Row, rows};
use super::{SheetOrWhy, who, words};
use crate::instrument::{self, Press};
use crate::prepare::{ChangedNote, KeySection, Sheet};
use crate::show::key_check::signature;
use crate::show::wrapped;
use crate::theory::{Key, Pitch, Rank};
use askama::Template;
use std::io::{self, Write};

/// Measures that a hold's count shows: it may go over barlines.
const MOST_MEASURES: usize = 3;

#[derive(Template)]
#[template(config = "config/askama.toml", path = "card.html")]
pub(super) struct Card<'a> {
    title: &'a str,
    concert: String,
    groups: Vec<Group>,
    /// For a screen of 16 to 9, and for 4 to 3 and paper.
    wide: Fit,
    tall: Fit,
    hold: Option<Hold>,
}

/// Everybody with one written key.
struct Group {
    key: Key,
    signature: String,
    changed: Vec<Named>,
    players: Vec<Player>,
}

/// A changed note of the group.
struct Named {
    name: String,
    rank: &'static str,
}

/// Instruments that finger the primary changed note alike.
struct Player {
    names: Vec<String>,
    /// The changed note in the octave of the part, where it is the same for all of them.
    pitch: Option<String>,
    /// Its usual fingerings.
    ways: Vec<Way>,
}

#[derive(PartialEq)]
struct Way {
    /// SVG made by [`diagram::drawn`]: escaped there; and how many times wider than high it is.
    drawing: Option<(String, f64)>,
    text: String,
    /// The drawing says it all.
    is_holes: bool,
}

/// The longest note before a rest, with the count of its measures.
struct Hold {
    sentence: String,
    measures: Vec<Vec<Cell>>,
}

/// The card of these sheets; `None` if none of them has a key.
pub(super) fn card<'a>(title: &'a str, sheets: &[SheetOrWhy]) -> Option<Card<'a>> {
    let sheets: Vec<&Sheet> = sheets.iter().filter_map(SheetOrWhy::sheet).collect();
    let concert = sheets.first()?.sections.first()?.concert.to_string();
    let mut groups: Vec<Group> = Vec::new();
    for sheet in &sheets {
        let Some(section) = sheet.sections.first() else { continue };
        let place = groups.iter().position(|group| group.key == section.written).unwrap_or_else(|| {
            groups.push(Group::new(section));
            groups.len() - 1
        });
        groups[place].add(sheet, section);
    }
    let blocks: Vec<Vec<Block>> =
        groups.iter().map(|group| group.players.iter().map(Player::block).collect()).collect();
    let (wide, tall) = (Fit::new(&blocks, WIDE_ROOM), Fit::new(&blocks, TALL_ROOM));
    Some(Card { title, concert, groups, wide, tall, hold: sheets.iter().find_map(|sheet| hold(sheet)) })
}

impl Card<'_> {
    /// The heights of all groups together and of the lowest, and the size of the letters, for the style of the page.
    fn size(&self) -> String {
        let size = |name: &str, fit: &Fit| {
            let Fit { letters, .. } = fit;
            format!("--{name}:{:.2};--{name}-lowest:{:.2};--{name}-letters:{letters:.2}", fit.height(), fit.lowest())
        };
        format!("{};{}", size("wide", &self.wide), size("tall", &self.tall))
    }

    /// The height and columns of a group.
    fn set(&self, group: &usize) -> String {
        let set = |name: &str, fit: &Fit| {
            let (columns, height) = fit.groups.get(*group).copied().unwrap_or((1, 1.0));
            format!("--{name}-n:{height:.2};--{name}-columns:{columns}")
        };
        format!("{};{}", set("wide", &self.wide), set("tall", &self.tall))
    }
}

impl Group {
    fn new(section: &KeySection) -> Group {
        let ranked = section.changed.iter().filter(|changed| changed.changed.rank != Rank::Other);
        let named = |changed: &ChangedNote| Named {
            name: words::changed_name(changed),
            rank: words::rank(changed.changed.rank),
        };
        Group {
            key: section.written,
            signature: signature(section.written),
            changed: ranked.map(named).collect(),
            players: Vec::new(),
        }
    }

    fn add(&mut self, sheet: &Sheet, section: &KeySection) {
        let fingered = section.changed.first().and_then(|primary| primary.fingered.first());
        let pitch = fingered.map(|fingered| words::with_sign(fingered.written));
        let ways = fingered.map(|fingered| drawn(sheet, fingered.written, &fingered.ways)).unwrap_or_default();
        let name = who(sheet);
        match self.players.iter_mut().find(|player| player.ways == ways) {
            Some(player) => {
                player.pitch = player.pitch.take().filter(|own| Some(own) == pitch.as_ref());
                if !player.names.contains(&name) {
                    player.names.push(name);
                }
            }
            None => self.players.push(Player { names: vec![name], pitch, ways }),
        }
    }
}

impl Player {
    /// What it needs on the page.
    fn block(&self) -> Block {
        let way = |way: &Way| {
            let text = if way.is_holes { String::new() } else { way.text.clone() };
            (way.drawing.as_ref().map(|(_, width)| *width), text)
        };
        let names = self.names.join(", ");
        let pitch = self.pitch.as_ref().map(|pitch| format!(" {pitch}")).unwrap_or_default();
        Block { names: names + &pitch, ways: self.ways.iter().map(way).collect() }
    }
}

fn drawn(sheet: &Sheet, pitch: Pitch, ways: &[instrument::Way]) -> Vec<Way> {
    let way = |way: &instrument::Way| Way {
        drawing: diagram::drawn(&way.press),
        text: words::named(way, way.press.short()),
        is_holes: matches!(way.press, Press::Holes(_)),
    };
    let mut ways: Vec<Way> = words::usual_ways(ways).map(way).collect();
    if ways.is_empty() {
        ways.push(Way { drawing: None, text: words::no_fingering(sheet, pitch).into(), is_holes: false });
    }
    ways
}

/// The longest note that is let go before a rest, the first of several.
fn hold(sheet: &Sheet) -> Option<Hold> {
    let longest = sheet
        .releases
        .iter()
        .filter(|release| release.on.is_some() && !release.fermata)
        .max_by(|a, b| a.beats.cmp(&b.beats).then(b.note.cmp(&a.note)))?;
    let (last, word) = longest.on.as_ref()?;
    let first = sheet.part.notes[longest.note].measure;
    let (name, beats) = (words::label(&sheet.part, first), words::beat_count(longest.beats));
    let is_meant = |row: &Row| (first..=*last).contains(&row.first);
    Some(Hold {
        sentence: format!("Measure {name}: hold {beats}, off on {word}."),
        measures: rows(sheet).into_iter().filter(is_meant).map(|row| row.cells).take(MOST_MEASURES).collect(),
    })
}

/// The card for the console.
pub(super) fn write(out: &mut dyn Write, card: &Card) -> io::Result<()> {
    let sentence = |text: &str, out: &mut dyn Write| -> io::Result<()> {
        wrapped(text, 80, "    ").iter().try_for_each(|line| writeln!(out, "{line}"))
    };
    sentence(&format!("KEY CHECK · {} · concert {}", card.title, card.concert), out)?;
    for group in &card.groups {
        let changed: Vec<String> = group.changed.iter().map(|it| format!("{} ({})", it.name, it.rank)).collect();
        let changed = if changed.is_empty() { "none".into() } else { changed.join(", ") };
        writeln!(out, "\n{}: {}", group.key, group.signature)?;
        writeln!(out, "  CHANGED NOTE  {changed}")?;
        for player in &group.players {
            let ways: Vec<&str> = player.ways.iter().map(|way| way.text.as_str()).collect();
            let pitch = player.pitch.as_ref().map(|pitch| format!(" {pitch}")).unwrap_or_default();
            let names = player.names.join(", ");
            let line = if ways.is_empty() { names } else { format!("{names}{pitch}: {}", ways.join(" or ")) };
            sentence(&format!("  {line}"), out)?;
        }
    }
    let Some(hold) = &card.hold else { return writeln!(out, "\nNo note is held up to a rest.") };
    writeln!(out, "\n{}", hold.sentence)?;
    for cells in hold.measures.iter().flat_map(|cells| cells.chunks(12)) {
        let line =
            |text: fn(&Cell) -> &str| -> String { cells.iter().map(|cell| format!("{:<6}", text(cell))).collect() };
        writeln!(out, "  {}", line(|cell| &cell.spoken).trim_end())?;
        writeln!(out, "  {}", line(|cell| cell.kind.action()).trim_end())?;
    }
    Ok(())
}
