//! Days and times for people, in the computer's own time zone.

use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

/// In the computer's zone; none outside the years -9999 to 9999.
fn local(us: i64) -> Option<ZonedDateTime> {
    Timestamp::from_microsecond(us).ok().map(|time| time.to_zoned_datetime(TimeZone::system()))
}

/// A day, `2026-03-04`, of microseconds since 1970.
pub fn day(us: i64) -> String {
    local(us).map_or_else(|| "an unknown day".into(), |time| time.date().to_string())
}

/// A day in other words (strftime), as `%-d %B %Y`.
pub(super) fn day_as(us: i64, format: &str) -> String {
    local(us).map_or_else(|| "an unknown day".into(), |time| time.strftime(format).to_string())
}

/// A time, `2026-03-04 15:06 CET`, of microseconds since 1970.
pub fn moment(us: i64) -> String {
    local(us).map_or_else(|| "an unknown time".into(), |time| time.strftime("%Y-%m-%d %H:%M %Z").to_string())
}

/// A time for programs, RFC 3339 with its offset; null where there is none.
pub(super) fn stamp(us: i64) -> Option<String> {
    local(us).map(|time| time.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string())
}

/// What the zone is called, `Europe/Berlin`.
pub(super) fn zone() -> String {
    TimeZone::system().iana_name().unwrap_or("the computer's clock").to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of `date -u -d @SECONDS` (GNU coreutils); the zone is set by the tests of the command.
    #[test]
    fn times_for_people() {
        for (seconds, expected) in [
            (0, "1970-01-01 00:00 UTC"),
            (951_827_696, "2000-02-29 12:34 UTC"),
            (1_700_000_000, "2023-11-14 22:13 UTC"),
            (4_107_542_399, "2100-02-28 23:59 UTC"),
            (4_107_542_400, "2100-03-01 00:00 UTC"),
        ] {
            let time = Timestamp::from_microsecond(seconds * 1_000_000).unwrap().to_zoned_datetime(TimeZone::UTC);
            assert_eq!(time.strftime("%Y-%m-%d %H:%M %Z").to_string(), expected);
        }
        assert_eq!(day(i64::MAX), "an unknown day");
    }
}
