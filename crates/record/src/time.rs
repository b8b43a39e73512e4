//! Time as people claim it, and as the record keeps it.
//!
//! A claim is kept twice: the text as typed, and the UTC interval it stands for. Where the text leaves the time
//! open the interval widens: a bare date is the whole local day, an hour that the clocks repeat is both, a
//! fraction of a second widens to whole seconds. Order in the record never comes from here.

use chrono::{
    DateTime, Datelike as _, NaiveDate, NaiveDateTime, TimeDelta, TimeZone as _, Timelike as _, Utc,
};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use std::fmt;

/// A moment in UTC, in whole seconds since 1970-01-01T00:00:00Z. Written `2026-03-02T13:30:00Z`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Instant(pub i64);

/// First and last year that a claimed time may name.
const YEARS: std::ops::RangeInclusive<i32> = 1900..=2199;

impl Instant {
    /// Reads exactly the form that is written, nothing else.
    pub fn parse(text: &str) -> Option<Self> {
        // By hand: every entry has several of these, and a general date parser costs more than hashing the entry.
        let bytes: &[u8; 20] = text.as_bytes().try_into().ok()?;
        let number = |range: std::ops::Range<usize>| {
            bytes
                .get(range)?
                .iter()
                .try_fold(0_u32, |n, b| b.is_ascii_digit().then(|| n * 10 + u32::from(b - b'0')))
        };
        let separators = [(4, b'-'), (7, b'-'), (10, b'T'), (13, b':'), (16, b':'), (19, b'Z')];
        if separators.iter().any(|(at, mark)| bytes.get(*at) != Some(mark)) {
            return None;
        }
        let date =
            NaiveDate::from_ymd_opt(i32::try_from(number(0..4)?).ok()?, number(5..7)?, number(8..10)?)?;
        let time = date.and_hms_opt(number(11..13)?, number(14..16)?, number(17..19)?)?;
        Some(Self(time.and_utc().timestamp()))
    }
}

impl fmt::Display for Instant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match DateTime::<Utc>::from_timestamp(self.0, 0) {
            Some(t) if (0..=9999).contains(&t.year()) => {
                let [year, month, day] = [t.year().unsigned_abs(), t.month(), t.day()];
                let [hour, minute, second] = [t.hour(), t.minute(), t.second()];
                write!(f, "{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}Z")
            }
            _ => write!(f, "second {}", self.0),
        }
    }
}

impl Serialize for Instant {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Instant {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = std::borrow::Cow::<'de, str>::deserialize(d)?;
        Self::parse(&text).ok_or_else(|| de::Error::custom("not a time of the form 2026-03-02T13:30:00Z"))
    }
}

/// A claimed time: as typed, and the closed UTC interval it stands for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct When {
    /// First second it can have been.
    pub from: Instant,
    /// As typed; empty where the clock of the station was taken because nothing was typed.
    pub text: String,
    /// Last second it can have been.
    pub to: Instant,
}

impl When {
    /// The clock's own time, because nothing was typed.
    pub fn now(now: Instant) -> Self {
        Self { from: now, text: String::new(), to: now }
    }
}

/// A working shift, in local time of day. An end that is not after the start lies on the next day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shift {
    /// Start, `HH:MM`.
    pub from: String,
    /// End, `HH:MM`.
    pub to: String,
}

impl Shift {
    /// Reads `06:00-14:30`.
    ///
    /// # Errors
    /// When it is not two times of day.
    pub fn parse(text: &str) -> Result<Self, TimeError> {
        let bad = || TimeError::Shift { text: text.to_owned() };
        let (from, to) = text.split_once('-').ok_or_else(bad)?;
        let (from, to) = (from.trim(), to.trim());
        minutes(from).ok_or_else(bad)?;
        minutes(to).ok_or_else(bad)?;
        Ok(Self { from: from.to_owned(), to: to.to_owned() })
    }

    /// Minutes from the midnight before the shift begins to its end.
    fn end_minutes(&self) -> Option<i64> {
        let (from, to) = (minutes(&self.from)?, minutes(&self.to)?);
        Some(if to <= from { to + 24 * 60 } else { to })
    }
}

/// Minutes since midnight of `HH:MM`.
fn minutes(text: &str) -> Option<i64> {
    let (h, m) = text.split_once(':')?;
    if h.len() != 2 || m.len() != 2 || !text.bytes().all(|b| b.is_ascii_digit() || b == b':') {
        return None;
    }
    let (h, m): (i64, i64) = (h.parse().ok()?, m.parse().ok()?);
    (h < 24 && m < 60).then_some(h * 60 + m)
}

/// A civil time zone, by its name in the time-zone database.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Zone(chrono_tz::Tz);

impl Zone {
    /// The zone of that name.
    ///
    /// # Errors
    /// When the time-zone database has no such name.
    pub fn named(name: &str) -> Result<Self, TimeError> {
        name.parse().map(Self).map_err(|_| TimeError::Zone { name: name.to_owned() })
    }

    /// The zone's name.
    pub fn name(self) -> &'static str {
        self.0.name()
    }

    /// `2026-03-02 14:30` in this zone.
    pub fn local(self, instant: Instant) -> String {
        self.format(instant, "%Y-%m-%d %H:%M")
    }

    /// `2026-03-02 14:30 NZDT` in this zone.
    pub fn local_with_zone(self, instant: Instant) -> String {
        self.format(instant, "%Y-%m-%d %H:%M %Z")
    }

    fn format(self, instant: Instant, pattern: &str) -> String {
        match DateTime::<Utc>::from_timestamp(instant.0, 0) {
            Some(t) => t.with_timezone(&self.0).format(pattern).to_string(),
            None => instant.to_string(),
        }
    }

    /// The seconds a local time can have been: none where the clocks skip it, first and last where they repeat it.
    fn seconds(self, local: NaiveDateTime) -> Option<(i64, i64)> {
        let found = self.0.from_local_datetime(&local);
        Some((found.earliest()?.timestamp(), found.latest()?.timestamp()))
    }

    /// First second of a local time or, where the clocks skip it, of the first local time after it.
    fn second_at_or_after(self, local: NaiveDateTime, last: bool) -> Option<i64> {
        (0..=48).find_map(|quarters| {
            let (first, latest) =
                self.seconds(local.checked_add_signed(TimeDelta::minutes(15 * quarters))?)?;
            Some(if last { latest } else { first })
        })
    }

    /// The local day as a closed interval.
    fn day(self, date: NaiveDate) -> Option<(i64, i64)> {
        let start = self.second_at_or_after(date.and_hms_opt(0, 0, 0)?, false)?;
        let next = self.second_at_or_after(date.succ_opt()?.and_hms_opt(0, 0, 0)?, false)?;
        Some((start, next - 1))
    }

    /// A shift that begins at this moment, as a closed interval; none where it begins at another time of day.
    pub fn shift_from(self, start: Instant, shift: &Shift) -> Option<(Instant, Instant)> {
        let local = DateTime::<Utc>::from_timestamp(start.0, 0)?.with_timezone(&self.0).naive_local();
        let midnight = local.date().and_hms_opt(0, 0, 0)?;
        let into_the_day = local.signed_duration_since(midnight);
        if into_the_day != TimeDelta::minutes(minutes(&shift.from)?) {
            return None;
        }
        let end = midnight.checked_add_signed(TimeDelta::minutes(shift.end_minutes()?))?;
        Some((start, Instant(self.second_at_or_after(end, true)?.checked_sub(1)?)))
    }

    /// Last second of the last of `shifts` that begins on `date`.
    fn last_shift_end(self, date: NaiveDate, shifts: &[Shift]) -> Option<i64> {
        let end = shifts.iter().filter_map(Shift::end_minutes).max()?;
        let local = date.and_hms_opt(0, 0, 0)?.checked_add_signed(TimeDelta::minutes(end))?;
        self.second_at_or_after(local, true)
    }
}

/// Why a time or a zone was not understood.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TimeError {
    /// Neither of the two forms.
    #[error(
        "{text:?} is not a time; write 2026-03-02 14:30 in the shop's zone, 2026-03-02T14:30:00+01:00, or a date alone"
    )]
    Form {
        /// As typed.
        text: String,
    },
    /// Understood, but no clock of that zone ever showed it.
    #[error("{text:?} does not exist in {zone}: the clocks were put forward over it")]
    Skipped {
        /// As typed.
        text: String,
        /// The shop's zone.
        zone: String,
    },
    /// Outside any plausible shop.
    #[error("{text:?} is outside the years 1900 to 2199")]
    Years {
        /// As typed.
        text: String,
    },
    /// An unknown zone.
    #[error("no time zone is named {name:?}; use a name like Pacific/Auckland or UTC")]
    Zone {
        /// As typed.
        name: String,
    },
    /// Not a shift.
    #[error("{text:?} is not a shift; write 06:00-14:30")]
    Shift {
        /// As typed.
        text: String,
    },
}

/// Reads a claimed time. With `shifts` (a weld's times) a bare date lasts to the end of the last shift that
/// begins on it, if that is later than the day's own end.
///
/// # Errors
/// When the text is no time, no clock showed it, or the year is implausible.
pub fn read(text: &str, zone: Zone, shifts: &[Shift]) -> Result<When, TimeError> {
    let trimmed = text.trim();
    let form = || TimeError::Form { text: text.to_owned() };
    // Far too long to be a time; do not echo a whole file back.
    if trimmed.len() > 40 || !trimmed.is_ascii() {
        return Err(TimeError::Form { text: trimmed.chars().take(40).collect() });
    }
    let when = |from: i64, to: i64| When { from: Instant(from), text: trimmed.to_owned(), to: Instant(to) };
    let year_ok = |year: i32| {
        if YEARS.contains(&year) { Ok(()) } else { Err(TimeError::Years { text: trimmed.to_owned() }) }
    };
    let skipped = || TimeError::Skipped { text: trimmed.to_owned(), zone: zone.name().to_owned() };

    if let Some(date) = exact_date(trimmed) {
        year_ok(date.year())?;
        let (from, to) = zone.day(date).ok_or_else(skipped)?;
        let to = zone.last_shift_end(date, shifts).map_or(to, |end| end.max(to));
        return Ok(when(from, to));
    }
    let bytes = trimmed.as_bytes();
    // The form that nearly every time has, 2026-03-02 14:30, before the general way.
    if let (16, Some(b'T' | b't' | b' '), Some(date), Some(minute)) = (
        bytes.len(),
        bytes.get(10),
        trimmed.get(..10).and_then(exact_date),
        trimmed.get(11..).and_then(minutes),
    ) && let Some(local) =
        date.and_hms_opt(0, 0, 0).and_then(|t| t.checked_add_signed(TimeDelta::minutes(minute)))
    {
        year_ok(date.year())?;
        let (from, to) = zone.seconds(local).ok_or_else(skipped)?;
        return Ok(when(from, to));
    }
    if !(bytes.get(10).is_some_and(|b| matches!(b, b'T' | b't' | b' '))
        && exact_date(trimmed.get(..10).unwrap_or("")).is_some())
    {
        return Err(form());
    }
    let rfc = trimmed.replacen([' ', 't'], "T", 1);
    if let Ok(t) = DateTime::parse_from_rfc3339(&rfc) {
        year_ok(t.year())?;
        let second = t.timestamp();
        let fraction = i64::from(t.timestamp_subsec_nanos() > 0);
        return Ok(when(second, second + fraction));
    }
    let local = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S%.f"]
        .iter()
        .find_map(|pattern| NaiveDateTime::parse_from_str(&rfc, pattern).ok())
        .ok_or_else(form)?;
    year_ok(local.year())?;
    let fraction = i64::from(local.and_utc().timestamp_subsec_nanos() > 0);
    let (from, to) = zone.seconds(local).ok_or_else(skipped)?;
    Ok(when(from, to + fraction))
}

/// `YYYY-MM-DD` and nothing shorter or longer.
fn exact_date(text: &str) -> Option<NaiveDate> {
    let b = text.as_bytes();
    if b.len() != 10 || b.get(4) != Some(&b'-') || b.get(7) != Some(&b'-') {
        return None;
    }
    if !b.iter().enumerate().all(|(i, c)| i == 4 || i == 7 || c.is_ascii_digit()) {
        return None;
    }
    let number = |range: std::ops::Range<usize>| -> Option<u32> { text.get(range)?.parse().ok() };
    NaiveDate::from_ymd_opt(i32::try_from(number(0..4)?).ok()?, number(5..7)?, number(8..10)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn auckland() -> Zone {
        Zone::named("Pacific/Auckland").unwrap()
    }

    fn span(text: &str) -> (String, String) {
        let when = read(text, auckland(), &[]).unwrap();
        (when.from.to_string(), when.to.to_string())
    }

    #[test]
    fn local_and_offset_forms() {
        // 2026-03-02 is in daylight time, +13:00.
        assert_eq!(span("2026-03-02 14:30"), ("2026-03-02T01:30:00Z".into(), "2026-03-02T01:30:00Z".into()));
        assert_eq!(span("2026-03-02T14:30"), span("2026-03-02 14:30"));
        assert_eq!(span("2026-03-02T14:30:00+13:00"), span("2026-03-02 14:30"));
        assert_eq!(span("2026-03-02T01:30:00Z"), span("2026-03-02 14:30"));
        assert_eq!(
            span("2026-03-02 14:30:00.25"),
            ("2026-03-02T01:30:00Z".into(), "2026-03-02T01:30:01Z".into()),
            "a fraction widens outward"
        );
    }

    #[test]
    fn a_date_is_the_local_day_even_when_it_has_25_hours() {
        assert_eq!(span("2026-03-02"), ("2026-03-01T11:00:00Z".into(), "2026-03-02T10:59:59Z".into()));
        let when = read("2026-04-05", auckland(), &[]).unwrap();
        assert_eq!(when.to.0 - when.from.0 + 1, 25 * 3600, "clocks go back on 2026-04-05 in New Zealand");
    }

    #[test]
    fn a_weld_date_lasts_to_the_end_of_its_last_shift() {
        let night = [Shift::parse("06:00-14:00").unwrap(), Shift::parse("22:00-06:00").unwrap()];
        let when = read("2026-03-02", auckland(), &night).unwrap();
        assert_eq!(auckland().local(when.to), "2026-03-03 06:00");
        let day = [Shift::parse("06:00-14:00").unwrap()];
        assert_eq!(
            read("2026-03-02", auckland(), &day).unwrap().to,
            read("2026-03-02", auckland(), &[]).unwrap().to
        );
    }

    #[test]
    fn repeated_and_skipped_hours() {
        assert_eq!(span("2026-04-05 02:30"), ("2026-04-04T13:30:00Z".into(), "2026-04-04T14:30:00Z".into()));
        let error = read("2026-09-27 02:30", auckland(), &[]).unwrap_err();
        assert!(matches!(error, TimeError::Skipped { .. }), "{error}");
    }

    #[test]
    fn what_is_no_time() {
        for text in [
            "",
            "yesterday",
            "14:30",
            "2026-13-01",
            "2026-02-30",
            "2026-3-2",
            "02/03/2026",
            "2026-03-02 25:00",
            "2026-03-02 14",
            "1782-01-01",
            "2026-03-02 14:30 CET",
            "２０２６-03-02",
            "99999-01-01",
        ] {
            assert!(read(text, auckland(), &[]).is_err(), "{text}");
        }
    }

    #[test]
    fn instants_have_one_spelling() {
        let t = Instant::parse("2026-03-02T01:30:00Z").unwrap();
        assert_eq!(t.to_string(), "2026-03-02T01:30:00Z");
        for text in [
            "2026-03-02T01:30:00+00:00",
            "2026-03-02t01:30:00z",
            "2026-3-02T01:30:00Z",
            "2026-03-02T01:30:60Z",
        ] {
            assert_eq!(Instant::parse(text), None, "{text}");
        }
    }

    #[test]
    fn instants_agree_with_a_general_date_parser() {
        for n in 0..20_000_i64 {
            let second = -2_208_988_800 + n * 361_927;
            let text = Instant(second).to_string();
            let general = DateTime::parse_from_rfc3339(&text).unwrap();
            assert_eq!(general.timestamp(), second);
            assert_eq!(general.to_utc().format("%Y-%m-%dT%H:%M:%SZ").to_string(), text);
            assert_eq!(Instant::parse(&text), Some(Instant(second)));
        }
        assert_eq!(Instant::parse("2026-02-29T00:00:00Z"), None);
        assert_eq!(Instant::parse("2026-02-28T24:00:00Z"), None);
    }

    #[test]
    fn a_shift_begins_at_its_time_of_day() {
        let zone = Zone::named("Pacific/Auckland").unwrap();
        let night = Shift::parse("22:00-06:00").unwrap();
        let at = |text| read(text, zone, &[]).unwrap().from;
        // The clocks go back on 5 April 2026 at 3:00: the night has nine hours.
        let (from, to) = zone.shift_from(at("2026-04-04 22:00"), &night).unwrap();
        assert_eq!(to.0 + 1 - from.0, 9 * 3600);
        let (from, to) = zone.shift_from(at("2026-04-07 22:00"), &night).unwrap();
        assert_eq!((from, to.0 + 1), (at("2026-04-07 22:00"), at("2026-04-08 06:00").0));
        assert_eq!(zone.shift_from(at("2026-04-07 22:01"), &night), None);
    }

    #[test]
    fn shifts() {
        for text in ["6:00-14:00", "06:00", "24:00-06:00", "06:60-07:00", ""] {
            assert!(Shift::parse(text).is_err(), "{text}");
        }
    }
}
