//! A moment in time, as GPX means it: UTC.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// A moment in UTC to the millisecond. Ordered by time.
///
/// Half the size of a nanosecond timestamp, which matters for millions of track points; no unit logs finer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(i64);

impl Instant {
    /// From milliseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub const fn from_unix_ms(ms: i64) -> Self {
        Self(ms)
    }

    /// From whole seconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub const fn from_unix_s(s: i64) -> Self {
        Self(s * 1000)
    }

    /// Milliseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub const fn unix_ms(self) -> i64 {
        self.0
    }

    /// Seconds from `earlier` to `self`; negative when `earlier` is later.
    #[must_use]
    pub fn seconds_since(self, earlier: Self) -> f64 {
        (self.0 - earlier.0) as f64 / 1000.0
    }

    /// The same moment moved by whole seconds, saturating at the ends of the range.
    #[must_use]
    pub const fn plus_s(self, seconds: i64) -> Self {
        Self(self.0.saturating_add(seconds.saturating_mul(1000)))
    }

    /// The local calendar date in a zone; `None` outside the years -9999 to 9999.
    #[must_use]
    pub fn local_date(self, zone: &TimeZone) -> Option<Date> {
        Some(zone.to_datetime(self.timestamp()?).date())
    }

    /// As `jiff` holds it; `None` outside the years -9999 to 9999.
    #[must_use]
    pub fn timestamp(self) -> Option<Timestamp> {
        Timestamp::from_millisecond(self.0).ok()
    }

    /// RFC 3339 in UTC, with milliseconds only where there are any: `2024-05-01T12:00:00Z`.
    #[must_use]
    pub fn rfc3339(self) -> String {
        self.timestamp().map_or_else(|| self.0.to_string(), |t| t.to_string())
    }
}

impl From<Timestamp> for Instant {
    fn from(t: Timestamp) -> Self {
        Self(t.as_millisecond())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn writes_rfc_3339_and_reads_the_local_date() {
        let t = Instant::from_unix_s(1_714_564_800); // 2024-05-01T12:00:00Z (RFC 3339 form)
        assert_eq!(t.rfc3339(), "2024-05-01T12:00:00Z");
        assert_eq!(Instant::from_unix_ms(t.unix_ms() + 123).rfc3339(), "2024-05-01T12:00:00.123Z");
        let west = TimeZone::get("America/Chicago").unwrap();
        assert_eq!(t.plus_s(-8 * 3600).local_date(&west).unwrap().to_string(), "2024-04-30");
    }
}
