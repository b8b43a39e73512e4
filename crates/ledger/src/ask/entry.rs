//! One entry of the record: by what people call it, and in one line.

use super::reading::Reading;
use crate::error::{Error, Result};
use crate::log::{self, Place, entry_at};
use filler::Quantity;
use record::event::{Event, JointRef, ReadOn, WireFoundUnmarked};
use record::{EntryId, Instant, Stated, short_id};

/// Fewest characters of an id that are taken for its beginning.
const FEWEST: usize = 8;
/// How many entries of one beginning are listed.
const LISTED: usize = 12;
/// Characters of a short id, without dashes, and bits of each.
const SHORT_LENGTH: usize = 16;
const SHORT_BITS: usize = 5;

/// An entry as it stands in the record.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Its id.
    pub id: EntryId,
    /// What it says; of a correction, what it says anew.
    pub event: Event,
    /// Kind of the entry itself: of a correction, that.
    pub kind: String,
    /// Badge of who wrote it.
    pub by: String,
    /// When the station says that it was written.
    pub recorded: Instant,
}

/// The entry at a place.
pub(crate) fn at(reading: &Reading<'_>, place: Place) -> Result<Entry> {
    let entry = entry_at(reading.conn(), place)?;
    Ok(Entry {
        id: reading.id(place)?,
        kind: entry.event.kind().to_owned(),
        by: entry.header.by,
        recorded: entry.header.time,
        event: entry.event.effect(),
    })
}

/// The find of unmarked wire that a text means, and where its entry stands.
pub(crate) fn find_of_wire(reading: &Reading<'_>, typed: &str) -> Result<(Place, WireFoundUnmarked)> {
    let place = find(reading, typed)?;
    let Event::WireFoundUnmarked(wire) = reading.event(place)? else {
        return Err(Error::NotUnderstood {
            message: format!("the entry {typed} is no find of unmarked wire"),
            next: "the id of a find is on its receipt, and in: rodbook findings".into(),
        });
    };
    Ok((place, wire))
}

/// The one entry that a text means: an id or its beginning in hexadecimal digits, a short id or its beginning, or a
/// sequence number of the station that writes in this book.
pub(crate) fn find(reading: &Reading<'_>, typed: &str) -> Result<Place> {
    let typed = typed.trim();
    let mut found: Vec<Place> = Vec::new();
    let mut understood = false;
    if !typed.is_empty()
        && typed.bytes().all(|b| b.is_ascii_digit())
        && let Ok(seq) = typed.parse::<u64>()
    {
        understood = true;
        if let Ok(place) = Place::new(log::own_station(reading.conn())?.no, seq) {
            let there: bool = reading
                .conn()
                .prepare_cached("SELECT EXISTS (SELECT 1 FROM entry WHERE place = ?1)")?
                .query_row([place.0], |row| row.get(0))?;
            found.extend(there.then_some(place));
        }
    }
    for (first, last) in [hexadecimal(typed), short(typed)].into_iter().flatten() {
        understood = true;
        let mut statement = reading
            .conn()
            .prepare_cached("SELECT place FROM entry WHERE id BETWEEN ?1 AND ?2 ORDER BY id LIMIT ?3")?;
        let places = statement
            .query_map((first.as_slice(), last.as_slice(), LISTED as i64), |row| row.get(0).map(Place))?
            .collect::<rusqlite::Result<Vec<_>>>()?;
        for place in places {
            if !found.contains(&place) {
                found.push(place);
            }
        }
    }
    match found.as_slice() {
        [one] => Ok(*one),
        [] if understood => Err(Error::NotFound { what: "entry", label: typed.to_owned(), near: Vec::new() }),
        [] => Err(Error::NotUnderstood {
            message: format!("{typed:?} does not name an entry"),
            next: format!(
                "copy the short id from a receipt or a page (its first {FEWEST} characters do), or give the \
                 sequence number of the entry"
            ),
        }),
        several => Err(Error::Ambiguous {
            what: "entry",
            label: typed.to_owned(),
            meanings: several
                .iter()
                .map(|place| {
                    let entry = at(reading, *place)?;
                    Ok((short_id::short(&entry.id.0), line(&entry.event)))
                })
                .collect::<Result<_>>()?,
        }),
    }
}

type Ids = ([u8; 32], [u8; 32]);

/// First and last id that begin with these hexadecimal digits.
fn hexadecimal(typed: &str) -> Option<Ids> {
    let digits = typed.len();
    if !(FEWEST..=64).contains(&digits) || !typed.bytes().all(|b| b.is_ascii_hexdigit()) {
        return None;
    }
    let end = |fill: char| {
        let text: String = typed.chars().chain(std::iter::repeat_n(fill, 64 - digits)).collect();
        <[u8; 32]>::try_from(hex::decode(text).ok()?).ok()
    };
    Some((end('0')?, end('f')?))
}

/// First and last id whose short id begins so.
fn short(typed: &str) -> Option<Ids> {
    let digits: String = typed.chars().filter(|c| *c != '-' && !c.is_whitespace()).collect();
    let length = digits.chars().count();
    if !(FEWEST..=SHORT_LENGTH).contains(&length) {
        return None;
    }
    let end = |fill: char, rest: u8| {
        let text: String = digits.chars().chain(std::iter::repeat_n(fill, SHORT_LENGTH - length)).collect();
        let first = short_id::parse(&text)?;
        let mut id = [rest; 32];
        id.iter_mut().zip(first).for_each(|(to, from)| *to = from);
        Some(id)
    };
    // Sixteen digits of five bits are the first ten bytes exactly.
    debug_assert_eq!(SHORT_LENGTH * SHORT_BITS, 80);
    Some((end('0', 0)?, end('Z', 0xff)?))
}

/// What an entry is about, in a few words: `slip S-00001`.
#[must_use]
pub fn thing(event: &Event) -> String {
    parts(event).0
}

/// What an entry says in one line: `slip S-00001: 24 rods of R-1028 to W-12`.
#[must_use]
pub fn line(event: &Event) -> String {
    let (thing, says) = parts(event);
    if says.is_empty() { thing } else { format!("{thing}: {says}") }
}

fn much(quantity: &Stated<Quantity>) -> String {
    quantity.value().map_or_else(|| "an unstated quantity".to_owned(), Quantity::to_string)
}

fn numbers(joints: &[JointRef]) -> String {
    joints.iter().map(|j| j.number.as_str()).collect::<Vec<_>>().join(", ")
}

/// What an instrument was held against.
fn read_on(on: &ReadOn) -> String {
    match on {
        ReadOn::Find(entry) => format!("found wire {}", short_id::short(&entry.0)),
        ReadOn::Joint { joint, welder } => format!("a rod of {} at {}", welder.badge, joint.number),
        ReadOn::Lot(lot) => format!("lot {}", lot.label),
        ReadOn::Slip(slip) => format!("slip {}", slip.number),
        ReadOn::WeldMetal(joint) => format!("weld metal of {}", joint.number),
    }
}

/// What it is about, and what it says of it.
fn parts(event: &Event) -> (String, String) {
    match event {
        Event::StationOpened(e) => (format!("station {}", e.name), "opened".into()),
        Event::ShiftsDeclared(e) => {
            let shifts: Vec<String> = e.shifts.iter().map(|s| format!("{}-{}", s.from, s.to)).collect();
            ("shifts".into(), shifts.join(", "))
        }
        Event::PersonEnrolled(e) => {
            let roles: Vec<&str> = e.roles.iter().map(|r| r.word()).collect();
            (format!("person {}", e.badge), format!("enrolled as {}", roles.join(", ")))
        }
        Event::WelderQualified(e) => (format!("qualification of {}", e.welder.badge), e.process.cell()),
        Event::WpsDeclared(e) => (format!("WPS {}", e.number), e.revision.cell()),
        Event::JointDeclared(e) => (format!("joint {}", e.number), e.job.cell()),
        Event::LotReceived(e) => (format!("lot {}", e.code), format!("receipt of {}", much(&e.quantity))),
        Event::LotReleased(e) => (format!("release of lot {}", e.lot.label), e.why.clone()),
        Event::LotHeld(e) => (format!("hold of lot {}", e.lot.label), e.why.clone()),
        Event::LotRejected(e) => (format!("rejection of lot {}", e.lot.label), e.why.clone()),
        Event::LotRecalled(e) => (format!("recall of lot {}", e.lot.label), e.why.clone()),
        Event::CertificateFiled(e) => (format!("certificate {}", e.certificate), format!("file {}", e.file)),
        Event::CertificateRead(e) => {
            (format!("certificate check of lot {}", e.lot.label), e.judged.verdict.replace('-', " "))
        }
        Event::MetalRead(e) => (format!("reading on {}", read_on(&e.on)), super::metal::said(&e.reading)),
        Event::TableLoaded(e) => {
            (format!("table {}", e.name), format!("limits of {}, {}", e.spec, e.edition))
        }
        Event::TableSignedOff(e) => {
            (format!("sign-off of table {}", e.table), format!("compared with {}", e.against))
        }
        Event::RodIssued(e) => (
            format!("slip {}", e.number),
            format!("{} of {} to {}", much(&e.quantity), e.lot.label, e.holder.badge),
        ),
        Event::RodReturned(e) => {
            let condition = e.condition.value().map_or(String::new(), |c| format!(", {}", c.word()));
            (format!("return on slip {}", e.slip.number), format!("{}{condition}", much(&e.quantity)))
        }
        Event::RodHandedOver(e) => (
            format!("hand-over from slip {} to slip {}", e.slip.number, e.new_slip.number),
            format!("{} to {}", much(&e.quantity), e.to.badge),
        ),
        Event::WelderCleared(e) => (format!("clearing of {}", e.welder.badge), "nothing is left".into()),
        Event::RodScrapped(e) => {
            let from = match &e.slip {
                Some(from) => format!("slip {}", from.slip.number),
                None => format!("lot {}", e.lot.label),
            };
            (format!("scrapping from {from}"), format!("{}, {}", much(&e.quantity), e.why))
        }
        Event::SlipReprinted(e) => (format!("reprint of slip {}", e.slip.number), e.why.clone()),
        Event::JointWelded(e) => {
            let pass = e.pass.value().map_or(String::new(), |p| format!(", {p}"));
            (format!("weld record of {} at {}{pass}", e.welder.badge, numbers(&e.joints)), String::new())
        }
        Event::MarkSpotChecked(e) => {
            let seen = match (e.legible, e.reads.value()) {
                (true, Some(reads)) => format!("read {reads}"),
                (true, None) => "legible".into(),
                (false, _) => "not legible".into(),
            };
            (format!("spot check of {} at {}", e.welder.badge, e.joint.number), seen)
        }
        Event::WireFoundUnmarked(e) => (format!("unmarked wire found at {}", e.place), much(&e.quantity)),
        Event::FindingDisposed(e) => {
            (format!("disposition of a finding {}", e.code), e.disposition.word().into())
        }
        Event::NoteWritten(e) => (format!("note about {}", e.label), e.text.clone()),
        Event::EntryCorrected(e) => {
            let (thing, says) = parts(&e.event());
            (format!("correction of {thing}"), says)
        }
        Event::EntryVoided(e) => (format!("void of entry {}", short_id::short(&e.voids.0)), e.why.clone()),
        Event::FilesImported(e) => {
            let files: Vec<&str> = e.files.iter().map(|f| f.name.as_str()).collect();
            ("import".into(), files.join(", "))
        }
        Event::NotUnderstood(e) => (format!("entry of the kind {}", e.kind), String::new()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_is_no_id() {
        for typed in ["", "abc", "1234567", "8S68-JX", "xyzxyzxyz-uuu", "S-00001-S-00001-S-00001"] {
            assert_eq!((hexadecimal(typed), short(typed)), (None, None), "{typed}");
        }
        assert_eq!(short("U000-0000"), None, "no such digit");
    }

    proptest! {
        /// Every beginning of an id that people may type finds a range with the id in it, and no wider than it says.
        #[test]
        fn a_beginning_covers_its_id(id: [u8; 32], length in FEWEST..65_usize, dashes: bool, upper: bool) {
            let inside = |(first, last): Ids| first <= id && id <= last;
            let hex: String = hex::encode(id).chars().take(length).collect();
            let typed = if upper { hex.to_uppercase() } else { hex };
            prop_assert!(hexadecimal(&typed).is_some_and(inside));
            if length == 64 {
                prop_assert_eq!(hexadecimal(&typed), Some((id, id)));
            }
            let whole = short_id::short(&id);
            let mut typed = String::new();
            for c in whole.chars() {
                if typed.chars().filter(|c| *c != '-').count() == length.min(SHORT_LENGTH) {
                    break;
                }
                typed.push(c);
            }
            let typed = if dashes { typed } else { typed.replace('-', "") };
            let typed = if upper { typed } else { typed.to_lowercase() };
            let (first, last) = short(&typed).unwrap();
            prop_assert!(first <= id && id <= last);
            let kept = typed.chars().filter(|c| *c != '-').count() * SHORT_BITS;
            let same = (0..256).take_while(|bit| (first[bit / 8] ^ last[bit / 8]) >> (7 - bit % 8) & 1 == 0);
            prop_assert_eq!(same.count(), kept);
        }

        #[test]
        fn any_text_is_looked_at(typed: String) {
            let _ = (hexadecimal(&typed), short(&typed));
        }
    }
}
