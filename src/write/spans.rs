//! One line out of the notes of a part: each ends where the next begins at the latest.

use crate::exercise::{FollowedBy, Part, Quarters};

/// A note in time, ended where the next begins.
pub(super) struct Span {
    /// Index of the note.
    pub(super) note: usize,
    pub(super) onset: Quarters,
    pub(super) end: Quarters,
    /// What begins together with it, sounding.
    pub(super) also: Vec<u8>,
}

/// The notes one after the other.
pub(super) struct Spans(Vec<Span>);

impl Spans {
    pub(super) fn new(part: &Part) -> Spans {
        let last = part.measures.last().map_or(Quarters::ZERO, |measure| measure.onset + measure.duration);
        let mut spans: Vec<Span> = Vec::with_capacity(part.notes.len());
        for note in &part.notes {
            if let Some(before) = spans.last_mut() {
                if before.onset == note.onset {
                    before.also.push(note.sounding);
                    continue;
                }
                // A gap that the reader took for none is none.
                let closes = part.notes.get(before.note).is_some_and(|note| note.followed_by == FollowedBy::Note);
                if before.end > note.onset || closes {
                    before.end = note.onset;
                }
            }
            spans.push(Span { note: note.index, onset: note.onset, end: note.end().min(last), also: Vec::new() });
        }
        Spans(spans)
    }

    /// Those that sound between two points.
    pub(super) fn between(&self, from: Quarters, to: Quarters) -> &[Span] {
        let first = self.0.partition_point(|span| span.end <= from);
        let last = self.0.partition_point(|span| span.onset < to);
        self.0.get(first..last).unwrap_or_default()
    }
}
