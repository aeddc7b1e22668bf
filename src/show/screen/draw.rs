//! The screen as rows: a pure function of what is shown and the size of the window.

use super::super::letters::{large, spaced};
use super::super::phrases::and;
use super::tally::Counts;
use super::{Lane, Screen, Take};
use crate::judge::Count;
use crate::listen::port_stem;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// The size that everything is made for; a smaller window loses large letters first, then findings.
pub(super) const SIZE: (usize, usize) = (80, 24);
/// The log has at least so many rows.
const LEAST_LOG: usize = 4;
/// Keys for one row.
const KEYS: &str = "a again  n next  d discard  r retake  x absent  s later  u undo  q quit";

/// How a row looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Tone {
    #[default]
    Plain,
    /// A name.
    Strong,
    /// Headings and keys.
    Heading,
}

/// One row, no wider than the window.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Row {
    pub(super) text: String,
    pub(super) tone: Tone,
}

/// How a name is written above its lane.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Name {
    /// In block letters.
    Large,
    /// Spaced out, in one row.
    Spaced,
    /// In the heading alone.
    Small,
}

/// How much of each lane is shown.
#[derive(Debug, Clone, Copy)]
struct Detail {
    name: Name,
    found: usize,
}

impl Screen {
    /// The rows of a window, exactly `height` of them.
    pub(super) fn draw(&mut self, width: usize, height: usize) -> Vec<Row> {
        let width = width.min(SIZE.0);
        let mut rows = vec![self.title(width)];
        let detail = self.detail(width, height);
        for place in 0..self.lanes.len() {
            rows.extend(self.lane(place, width, detail));
        }
        // Title, keys and the heading of the log stay whatever happens.
        rows.truncate(height.saturating_sub(2));
        let room = height.saturating_sub(rows.len() + 2);
        self.page = room.max(1);
        self.back = self.back.min(self.lines.len().saturating_sub(self.page));
        let end = self.lines.len() - self.back;
        let shown = &self.lines[end.saturating_sub(room)..end];
        rows.push(row(Tone::Heading, rule(&self.log_heading(shown.len(), end), width)));
        rows.extend(shown.iter().map(|line| row(Tone::Plain, line.clone())));
        rows.resize(height.saturating_sub(1), row(Tone::Plain, String::new()));
        rows.push(row(Tone::Heading, self.keys()));
        for row in &mut rows {
            row.text = cut(&self.spelled(&row.text), width);
            if self.ascii {
                row.text = row.text.replace(CUT, "~");
            }
        }
        rows
    }

    fn title(&self, width: usize) -> Row {
        let moment = &self.moment;
        let left = width.saturating_sub(moment.width() + 1);
        let said = if self.notice.is_empty() { &self.plan.exercise } else { &self.notice };
        row(Tone::Heading, format!("{} {moment}", filled(said, left)))
    }

    /// As much of each lane as leaves room for the log.
    fn detail(&self, width: usize, height: usize) -> Detail {
        let room = height.saturating_sub(3 + LEAST_LOG);
        use Name::{Large, Small, Spaced};
        let all = [(Large, 3), (Large, 2), (Large, 1), (Spaced, 2), (Spaced, 1), (Spaced, 0), (Small, 1), (Small, 0)];
        let all = all.map(|(name, found)| Detail { name, found });
        let least = all[all.len() - 1];
        let rows =
            |detail: Detail| (0..self.lanes.len()).map(|place| self.lane_height(place, width, detail)).sum::<usize>();
        all.into_iter().find(|&detail| rows(detail) <= room).unwrap_or(least)
    }

    fn lane_height(&self, place: usize, width: usize, detail: Detail) -> usize {
        2 + self.name_rows(&self.lanes[place], width, detail).len() + detail.found
    }

    fn lane(&self, place: usize, width: usize, detail: Detail) -> Vec<Row> {
        let lane = &self.lanes[place];
        let mut rows = vec![row(Tone::Heading, self.who(place, width))];
        rows.extend(self.name_rows(lane, width, detail).into_iter().map(|text| row(Tone::Strong, text)));
        rows.push(row(Tone::Plain, lane.take.as_ref().map_or(String::new(), |take| self.numbers(lane, take))));
        let found: Vec<&String> = lane.take.iter().flat_map(|take| take.found.iter().map(|(_, text)| text)).collect();
        let newest = found.len().saturating_sub(detail.found);
        rows.extend(found[newest..].iter().map(|text| row(Tone::Plain, format!("  {text}"))));
        rows.resize(self.lane_height(place, width, detail), row(Tone::Plain, String::new()));
        rows
    }

    /// `1 Wind Controller: Mia, flute, take 1, then Olek, Ines and 3 more`.
    fn who(&self, place: usize, width: usize) -> String {
        let lane = &self.lanes[place];
        let mark = if self.chosen == Some(place) { ">" } else { "" };
        let number = if self.lanes.len() > 1 { format!("{mark}{} ", place + 1) } else { String::new() };
        let on = format!("{number}{}", port_stem(&lane.port));
        let Some(turn) = lane.turn else { return rule(&format!("{on}: nobody"), width) };
        let face = self.faces.get(turn.player);
        let name = face.map_or("", |face| face.player.as_str());
        let instrument = face.and_then(|face| face.instrument.as_deref());
        let instrument = instrument.map_or(String::new(), |instrument| format!(", {instrument}"));
        let mut waiting: Vec<String> =
            lane.waiting.iter().take(2).map(|&player| self.plan.name(player).to_owned()).collect();
        if lane.waiting.len() > waiting.len() {
            waiting.push(format!("{} more", lane.waiting.len() - waiting.len()));
        }
        let then = if waiting.is_empty() { String::new() } else { format!(", then {}", and(&waiting)) };
        rule(&format!("{on}: {name}{instrument}, take {}{then}", turn.take), width)
    }

    fn name_rows(&self, lane: &Lane, width: usize, detail: Detail) -> Vec<String> {
        let Some(name) = lane.turn.map(|turn| self.plan.name(turn.player)) else { return Vec::new() };
        match detail.name {
            Name::Large => large(name, width).rows(),
            Name::Spaced => vec![spaced(name, width)],
            Name::Small => Vec::new(),
        }
    }

    /// `m3  pitches 5 of 5  changed 1 of 1  releases 1 of 2  entrances 4 of 5`.
    fn numbers(&self, lane: &Lane, take: &Take) -> String {
        let is_over = take.counts.is_some();
        let Counts { pitches, changed, releases, entrances } = take.counts.unwrap_or_else(|| take.tally.counts());
        let whose = if is_over || lane.turn != Some(take.turn) {
            format!("{}, take {}: ", self.plan.name(take.turn.player), take.turn.take)
        } else if take.measure.is_empty() {
            String::new()
        } else {
            format!("measure {}: ", take.measure)
        };
        let counts = [("pitches", pitches), ("changed", changed), ("releases", releases), ("entrances", entrances)];
        let cells = counts.map(|(what, Count { good, of })| match of {
            0 => format!("{what} -"),
            _ => format!("{what} {good}/{of}"),
        });
        format!("{whose}{}", cells.join("  "))
    }

    fn log_heading(&self, shown: usize, end: usize) -> String {
        let all = self.lines.len();
        if shown < all { format!("log, lines {} to {end} of {all}, PgUp PgDn", end - shown + 1) } else { "log".into() }
    }

    fn keys(&self) -> String {
        match self.chosen {
            Some(lane) => format!("Controller {}: d discard  r retake  x absent  s later  Esc none", lane + 1),
            None if self.lanes.len() > 1 => format!("{KEYS} 1-{} lane", self.lanes.len().min(9)),
            None => KEYS.into(),
        }
    }
}

fn row(tone: Tone, text: String) -> Row {
    Row { text, tone }
}

/// A heading with a line to the edge.
fn rule(heading: &str, width: usize) -> String {
    let heading = cut(heading, width);
    match width.saturating_sub(heading.width() + 1) {
        0 => heading,
        rest => format!("{heading} {}", "─".repeat(rest)),
    }
}

/// Text in exactly so many columns.
fn filled(text: &str, width: usize) -> String {
    let text = cut(text, width);
    format!("{text}{}", " ".repeat(width.saturating_sub(text.width())))
}

/// Stands for what is cut off.
const CUT: char = '…';

/// Text in at most so many columns.
fn cut(text: &str, width: usize) -> String {
    if text.width() <= width {
        return text.trim_end().to_owned();
    }
    let mut kept = String::new();
    let mut columns = 1;
    for letter in text.chars() {
        columns += letter.width().unwrap_or(0);
        if columns > width {
            break;
        }
        kept.push(letter);
    }
    kept.push(CUT);
    kept
}
