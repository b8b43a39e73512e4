//! Wall-clock minutes of the quarter from April to June 2026 and how they are written.

use std::fmt;

/// Minutes on the shop's wall clock since 2026-04-01 00:00, as if no hour were repeated.
pub(super) type Minute = u32;

/// Minutes of a day.
pub(super) const DAY: Minute = 1440;
/// The repeated hour on the wall clock: 2026-04-05 02:00 up to, not including, 03:00.
pub(super) const REPEATED: std::ops::Range<Minute> = 4 * DAY + 120..4 * DAY + 180;

/// Days before 1 May and before 1 June, counted from 1 April.
pub(super) const MAY: u32 = 30;
pub(super) const JUNE: u32 = 61;

/// A minute of the quarter; days are counted on from 1 April, so that 1 May is `MAY + 1`.
pub(super) fn at(day: u32, hour: u32, minute: u32) -> Minute {
    (day - 1) * DAY + hour * 60 + minute
}

/// The day of a minute, counted on past 30 April.
pub(super) fn day_of(minute: Minute) -> u32 {
    minute / DAY + 1
}

/// A time as somebody wrote it down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stamp {
    /// Local to the shop: `2026-04-07 06:40`.
    Local(Minute),
    /// The day only: `2026-04-07`.
    Date(Minute),
    /// RFC 3339 with the offset in whole hours: `2026-04-07T06:40:00+12:00`.
    Offset(Minute, u32),
}

impl Stamp {
    /// The minute on the wall clock; of a date its start.
    pub(super) fn minute(self) -> Minute {
        match self {
            Stamp::Local(minute) | Stamp::Offset(minute, _) => minute,
            Stamp::Date(minute) => minute / DAY * DAY,
        }
    }

    /// With the offset in force. Not for the repeated hour, which has two.
    pub(super) fn with_offset(minute: Minute) -> Self {
        Stamp::Offset(minute, if minute < REPEATED.start { 13 } else { 12 })
    }
}

impl fmt::Display for Stamp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let minute = self.minute();
        let day = day_of(minute);
        let (month, day) = match day {
            0..=MAY => (4, day),
            31..=JUNE => (5, day - MAY),
            62..=91 => (6, day - JUNE),
            _ => (7, day - 91),
        };
        let (hour, minute) = (minute % DAY / 60, minute % 60);
        match self {
            Stamp::Local(_) => write!(f, "2026-{month:02}-{day:02} {hour:02}:{minute:02}"),
            Stamp::Date(_) => write!(f, "2026-{month:02}-{day:02}"),
            Stamp::Offset(_, offset) => {
                write!(f, "2026-{month:02}-{day:02}T{hour:02}:{minute:02}:00+{offset:02}:00")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minutes_are_written_as_people_write_them() {
        assert_eq!(Stamp::Local(at(7, 6, 40)).to_string(), "2026-04-07 06:40");
        assert_eq!(Stamp::Date(at(14, 15, 0)).to_string(), "2026-04-14");
        assert_eq!(Stamp::Local(at(30, 23, 59) + 1).to_string(), "2026-05-01 00:00");
        assert_eq!(Stamp::Local(at(MAY + 31, 8, 0)).to_string(), "2026-05-31 08:00");
        assert_eq!(Stamp::Local(at(JUNE + 1, 8, 0)).to_string(), "2026-06-01 08:00");
        assert_eq!(Stamp::Local(at(JUNE + 30, 23, 59) + 1).to_string(), "2026-07-01 00:00");
        assert_eq!(Stamp::with_offset(at(4, 9, 5)).to_string(), "2026-04-04T09:05:00+13:00");
        assert_eq!(Stamp::with_offset(at(6, 9, 5)).to_string(), "2026-04-06T09:05:00+12:00");
    }
}
