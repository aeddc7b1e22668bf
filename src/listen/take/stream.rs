//! Timed MIDI bytes in JSON: a list of `[seconds, [bytes]]` in order of arrival; instead of bytes
//! `"disconnect"` or `"connect"`; in an optional third place `{"port": number, "name": text}`.
//!
//! In: text. Out: a [`Take`] without a click.

use super::steady::Steady;
use super::{Input, MOST_PORTS, Micros, Take, TakeProblem, Timed, What};
use crate::exercise::TempoMap;
use serde::Deserialize;
use serde::de::{self, Deserializer, IgnoredAny, SeqAccess, Visitor};
use std::fmt;

/// Times lie within 3,000 years: enough for any clock's zero, and sums stay far from the end of 64 bits.
const LATEST_SECONDS: f64 = 1e11;

/// Reads a stream.
pub(super) fn read(text: &[u8]) -> Result<Take, TakeProblem> {
    let entries: List = serde_json::from_slice(text).map_err(problem)?;
    let inputs = entries.0;
    let end = inputs.last().map_or(Micros(0), |last| last.at);
    let (tempo, notices) = (TempoMap::default(), Vec::new());
    Ok(Take { inputs, start: None, tempo, delay: None, end, resolution: Micros(1), notices })
}

fn problem(error: serde_json::Error) -> TakeProblem {
    let (line, column) = (error.line().max(1), error.column().max(1));
    let mut message = error.to_string();
    // The place is told before the message, not behind it.
    if let Some(place) = message.rfind(" at line ") {
        message.truncate(place);
    }
    TakeProblem::Stream { line, column, message }
}

/// The whole list, its times made steady.
struct List(Vec<Timed<Input>>);

impl<'de> Deserialize<'de> for List {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<List, D::Error> {
        deserializer.deserialize_seq(ListVisitor).map(List)
    }
}

struct ListVisitor;

impl<'de> Visitor<'de> for ListVisitor {
    type Value = Vec<Timed<Input>>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of timed messages")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Self::Value, A::Error> {
        let mut inputs = Vec::new();
        let mut clock = Steady::default();
        let mut ports = Vec::new();
        while let Some(Entry { at, what }) = list.next_element()? {
            if !ports.contains(&what.port) {
                if ports.len() == MOST_PORTS {
                    return Err(de::Error::custom(format!("more than {MOST_PORTS} ports, which no computer has")));
                }
                ports.push(what.port);
            }
            inputs.push(Timed { at: clock.time(at), what });
        }
        Ok(inputs)
    }
}

/// One arrival.
struct Entry {
    at: Micros,
    what: Input,
}

impl<'de> Deserialize<'de> for Entry {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Entry, D::Error> {
        deserializer.deserialize_seq(EntryVisitor)
    }
}

struct EntryVisitor;

impl<'de> Visitor<'de> for EntryVisitor {
    type Value = Entry;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("[seconds, [bytes]]")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut entry: A) -> Result<Entry, A::Error> {
        let seconds: f64 = entry.next_element()?.ok_or_else(|| de::Error::custom("a message without a time"))?;
        if !(-LATEST_SECONDS..=LATEST_SECONDS).contains(&seconds) {
            return Err(de::Error::custom(format!("a time of {seconds} seconds, which no clock shows")));
        }
        let Arrival(what) = entry.next_element()?.ok_or_else(|| de::Error::custom("a time without a message"))?;
        let port = entry.next_element::<Option<Port>>()?.flatten().map_or(0, |port| port.port);
        if entry.next_element::<IgnoredAny>()?.is_some() {
            return Err(de::Error::custom("more than a time, bytes and a port"));
        }
        Ok(Entry { at: Micros::from_seconds(seconds), what: Input { port, what } })
    }
}

/// Where it arrived. The name plays no part: two ports may share one.
#[derive(Deserialize)]
struct Port {
    #[serde(default)]
    port: u32,
}

/// Bytes, or a cable pulled or put back.
struct Arrival(What);

impl<'de> Deserialize<'de> for Arrival {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Arrival, D::Error> {
        deserializer.deserialize_any(ArrivalVisitor).map(Arrival)
    }
}

struct ArrivalVisitor;

impl<'de> Visitor<'de> for ArrivalVisitor {
    type Value = What;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of bytes, \"disconnect\" or \"connect\"")
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<What, E> {
        match text {
            "disconnect" => Ok(What::Disconnect),
            "connect" => Ok(What::Connect),
            _ => Err(E::invalid_value(de::Unexpected::Str(text), &self)),
        }
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<What, A::Error> {
        let mut bytes = Vec::new();
        while let Some(Byte(byte)) = list.next_element()? {
            bytes.push(byte);
        }
        Ok(What::Bytes(bytes))
    }
}

/// A whole number from 0 to 255.
struct Byte(u8);

impl<'de> Deserialize<'de> for Byte {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Byte, D::Error> {
        deserializer.deserialize_any(ByteVisitor).map(Byte)
    }
}

struct ByteVisitor;

impl Visitor<'_> for ByteVisitor {
    type Value = u8;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a byte, a whole number from 0 to 255")
    }

    fn visit_u64<E: de::Error>(self, number: u64) -> Result<u8, E> {
        u8::try_from(number).map_err(|_| E::invalid_value(de::Unexpected::Unsigned(number), &self))
    }
}
