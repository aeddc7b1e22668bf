//! Days and weeks of takes, in the time zone of whoever reads.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

/// The day on which something was, of microseconds since 1970; the first of January 1970 beyond the calendar.
pub(super) fn day(us: i64, zone: &TimeZone) -> Date {
    Timestamp::from_microsecond(us)
        .map_or(Date::constant(1970, 1, 1), |time| time.to_zoned_datetime(zone.clone()).date())
}

/// `4 Mar 2026`.
pub(super) fn named(day: Date) -> String {
    day.strftime("%-d %b %Y").to_string()
}

/// `4 Mar`.
pub(super) fn short(day: Date) -> String {
    day.strftime("%-d %b").to_string()
}

/// The Monday on or before a day: weeks begin on Monday (ISO 8601).
pub(super) fn monday(day: Date) -> Date {
    let since = i64::from(day.weekday().to_monday_zero_offset());
    day.checked_sub(since.days()).unwrap_or(day)
}

/// Days from one to another.
pub(super) fn days_between(from: Date, to: Date) -> i32 {
    from.until(to).map_or(0, |span| span.get_days())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `date -u -d @1772636760` is Wed Mar 4 2026, 15:06 UTC; `TZ=Asia/Tokyo date -d @1772636760` is the day after
    /// (GNU coreutils).
    #[test]
    fn days_are_those_of_the_reader() {
        let us = 1_772_636_760 * 1_000_000;
        let utc = day(us, &TimeZone::UTC);
        assert_eq!((named(utc), short(monday(utc))), ("4 Mar 2026".into(), "2 Mar".into()));
        let tokyo = TimeZone::fixed(jiff::tz::offset(9));
        assert_eq!(day(us, &tokyo), Date::constant(2026, 3, 5));
        assert_eq!(days_between(monday(utc), utc), 2);
        assert_eq!(monday(Date::constant(2026, 3, 1)), Date::constant(2026, 2, 23));
    }
}
