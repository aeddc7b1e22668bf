//! The chunks of a file.

use super::event::{Event, track};
use super::{Message, SmfError};

/// A Standard MIDI File, read.
#[derive(Debug, Clone)]
pub(crate) struct File {
    /// What a tick is.
    pub(crate) division: Division,
    /// The tracks in order, each in order of time.
    pub(crate) tracks: Vec<Vec<Event>>,
    /// For each track the tick where it ends.
    pub(crate) ends: Vec<u64>,
    /// What was forgiven, one plain sentence each.
    pub(crate) notices: Vec<String>,
}

/// What a tick is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Division {
    /// So many ticks to the quarter note, 1..=32767.
    PerQuarter(u16),
    /// Time code: frames a second (24, 25, 29 for 30 drop-frame, 30) and ticks a frame.
    TimeCode {
        /// As in the header, without its sign.
        frames: u8,
        /// Ticks to the frame.
        ticks: u8,
    },
}

/// More events than an hour of breath data at 400 a second, with all that is played to it. What is read takes some hundred
/// bytes an event in memory, of which a file can hold one in each two bytes.
const MOST_EVENTS: usize = 1_600_000;

impl File {
    /// Reads a file of format 0 or 1, bare or in a RIFF wrapper. Unknown chunks and longer headers are
    /// skipped; a missing end of track is forgiven if all events are whole; a file cut off is refused.
    pub(crate) fn parse(bytes: &[u8]) -> Result<File, SmfError> {
        let start = unwrapped(bytes)?;
        let mut chunks = Chunks { bytes, at: start };
        let header = chunks.next()?.filter(|chunk| chunk.id == *b"MThd").ok_or(SmfError::NoHeader { byte: start })?;
        let [a, b, c, d, e, f, ..] = *header.data else {
            return Err(SmfError::CutOff { byte: header.start + header.data.len(), what: "the header" });
        };
        let (format, promised) = (u16::from_be_bytes([a, b]), usize::from(u16::from_be_bytes([c, d])));
        if format > 1 {
            return Err(SmfError::Format { format });
        }
        let mut file = File { division: division([e, f])?, tracks: vec![], ends: vec![], notices: vec![] };
        let mut left = MOST_EVENTS;
        while let Some(chunk) = chunks.next_track(file.tracks.len() >= promised)? {
            let track = track(chunk.data, chunk.start, left)?;
            left -= track.events.len();
            if chunk.is_cut_off && !track.has_end {
                return Err(SmfError::CutOff { byte: bytes.len(), what: "a track" });
            }
            if !track.has_end && !chunk.data.is_empty() {
                let number = file.tracks.len() + 1;
                file.notices.push(format!("Track {number} has no end-of-track event; all its events are whole."));
            }
            file.tracks.push(track.events);
            file.ends.push(track.end);
        }
        if file.tracks.len() < promised.max(1) {
            return Err(SmfError::TracksMissing {
                byte: bytes.len(),
                found: file.tracks.len(),
                promised: promised.max(1),
            });
        }
        Ok(file)
    }

    /// The tempo changes of all tracks, in order of time: (tick, microseconds a quarter). A tempo of
    /// senseless length or value is left out; of two at one tick the last in the file counts.
    pub(crate) fn tempos(&self) -> Vec<(u64, u32)> {
        let events = self.tracks.iter().flatten();
        let mut tempos: Vec<(u64, u32)> = events
            .filter_map(|event| match &event.message {
                Message::Meta { kind: 0x51, data } => match *data.as_slice() {
                    [a, b, c] => Some((event.tick, u32::from_be_bytes([0, a, b, c]))),
                    _ => None,
                },
                _ => None,
            })
            .filter(|&(_, tempo)| tempo > 0)
            .collect();
        tempos.sort_by_key(|&(tick, _)| tick);
        tempos
    }
}

fn division(bytes: [u8; 2]) -> Result<Division, SmfError> {
    let [high, low] = bytes;
    if high < 0x80 {
        let ticks = u16::from_be_bytes(bytes);
        return if ticks == 0 { Err(SmfError::Division) } else { Ok(Division::PerQuarter(ticks)) };
    }
    let frames = high.wrapping_neg();
    if low == 0 || !matches!(frames, 24 | 25 | 29 | 30) {
        return Err(SmfError::Division);
    }
    Ok(Division::TimeCode { frames, ticks: low })
}

/// Where the MIDI file begins: 0, or inside the `data` chunk of a RIFF file of kind `RMID` (RP-029).
fn unwrapped(bytes: &[u8]) -> Result<usize, SmfError> {
    if !bytes.starts_with(b"RIFF") {
        return Ok(0);
    }
    if bytes.get(8..12) != Some(b"RMID") {
        return Err(SmfError::NoHeader { byte: 8 });
    }
    let mut at = 12;
    while let Some(header) = bytes.get(at..at + 8) {
        if header.starts_with(b"data") {
            return Ok(at + 8);
        }
        let length = header.iter().skip(4).rev().fold(0usize, |length, &byte| length << 8 | usize::from(byte));
        // RIFF chunks are padded to an even length.
        at = at.saturating_add(8 + length + length % 2).min(bytes.len());
    }
    Err(SmfError::NoHeader { byte: bytes.len() })
}

struct Chunk<'a> {
    id: [u8; 4],
    data: &'a [u8],
    /// Where the data stand in the file.
    start: usize,
    /// It says that it is longer than the file.
    is_cut_off: bool,
}

struct Chunks<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Chunks<'a> {
    /// The next chunk; `None` at the end of the file.
    fn next(&mut self) -> Result<Option<Chunk<'a>>, SmfError> {
        let rest = self.bytes.get(self.at..).unwrap_or_default();
        if rest.is_empty() {
            return Ok(None);
        }
        let [a, b, c, d, e, f, g, h, data @ ..] = rest else {
            return Err(SmfError::CutOff { byte: self.bytes.len(), what: "the header of a chunk" });
        };
        let id = [*a, *b, *c, *d];
        if !id.iter().all(|byte| (0x20..0x7F).contains(byte)) {
            let what = "events outside of any track, where a chunk should begin";
            return Err(SmfError::Damaged { byte: self.at, what });
        }
        let length = u32::from_be_bytes([*e, *f, *g, *h]) as usize;
        let start = self.at + 8;
        self.at = start.saturating_add(length);
        Ok(Some(Chunk { id, data: &data[..length.min(data.len())], start, is_cut_off: length > data.len() }))
    }

    /// The next track, other chunks skipped. Once all promised tracks are there, what follows may be anything.
    fn next_track(&mut self, are_all_there: bool) -> Result<Option<Chunk<'a>>, SmfError> {
        loop {
            match self.next() {
                Ok(Some(chunk)) if chunk.id == *b"MTrk" => return Ok(Some(chunk)),
                Ok(Some(_)) => {}
                Ok(None) => return Ok(None),
                Err(error) => {
                    // Padding of a wrapper is no error; events left outside of their track are.
                    let rest = self.bytes.get(self.at..).unwrap_or_default();
                    return if are_all_there && rest.iter().all(|&byte| byte == 0) { Ok(None) } else { Err(error) };
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use midly::TrackEventKind;

    /// midly 0.5 reads the simulated takes the same: ticks, channel messages, meta events.
    #[test]
    fn reads_takes_as_midly_does() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/takes");
        let paths = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        let takes: Vec<_> = paths.filter(|path| path.extension().is_some_and(|ending| ending == "mid")).collect();
        assert!(takes.len() >= 60);
        for path in takes {
            let bytes = std::fs::read(&path).unwrap();
            let (ours, theirs) = (File::parse(&bytes).unwrap(), midly::Smf::parse(&bytes).unwrap());
            assert_eq!(Division::PerQuarter(ticks(theirs.header.timing)), ours.division);
            assert_eq!(ours.tracks.len(), theirs.tracks.len());
            for (ours, theirs) in ours.tracks.iter().zip(&theirs.tracks) {
                let mut tick = 0;
                // midly keeps the end of track as an event.
                let mut ours = ours.iter();
                for event in theirs {
                    tick += u64::from(event.delta.as_int());
                    match event.kind {
                        TrackEventKind::Meta(midly::MetaMessage::EndOfTrack) => assert_eq!(ours.next(), None),
                        TrackEventKind::Midi { channel, message } => {
                            let mut wire = Vec::new();
                            midly::live::LiveEvent::Midi { channel, message }.write_std(&mut wire).unwrap();
                            let event = ours.next().unwrap();
                            assert_eq!((event.tick, event.message.wire()), (tick, Some(wire)));
                        }
                        _ => {
                            let event = ours.next().unwrap();
                            assert!(event.tick == tick && event.message.wire().is_none());
                        }
                    }
                }
            }
        }
    }

    fn ticks(timing: midly::Timing) -> u16 {
        match timing {
            midly::Timing::Metrical(ticks) => ticks.as_int(),
            midly::Timing::Timecode(..) => panic!("the takes count in quarters"),
        }
    }
}
