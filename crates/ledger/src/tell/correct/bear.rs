//! What the record cannot bear: everything that the rules of the counter have against what is touched, as it stands.

use super::named::void_ones;
use super::touched::Touched;
use crate::ask::lot::{self, Lot};
use crate::ask::reading::Reading;
use crate::ask::slip::{self, Leaving, Slip, Way};
use crate::ask::{entry, where_used};
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::log::Place;
use crate::tell::issue;
use filler::{Quantity, Unit};
use record::event::{Event, LotReceived, RodIssued};
use record::id::{JointId, LotId, PersonId, SlipId, WpsId};
use record::number::search_key;
use record::rules::amend::{self, Act, Trouble};
use record::rules::lot_status::{LotStatus, after_receipt};
use record::rules::{self, Balance, give_back};
use record::{Instant, Refusal, When, short_id};
use rusqlite::params;
use std::collections::BTreeSet;
use trace::Clear;

/// How many entries that name a thing are listed.
const LISTED: usize = 6;

/// What is amended, as it stands before or after.
#[derive(Clone, Debug)]
pub(super) struct Amended<'a> {
    /// What is done.
    pub(super) act: Act,
    /// Short id of the entry that it is done to.
    pub(super) entry: &'a str,
    /// The entry that stands, if one does: before, what is to be amended; after, what holds in its place.
    pub(super) stands: Option<(Place, Event)>,
    /// The machine's clock.
    pub(super) now: Instant,
}

/// Everything that speaks against the record as far as it is touched.
pub(super) fn troubles(
    reading: &Reading<'_>,
    touched: &Touched,
    amended: &Amended<'_>,
) -> Result<Vec<Trouble>> {
    let mut found = Found { reading, amended, troubles: Vec::new() };
    if let Some((place, event)) = &amended.stands {
        found.of_event(*place, event)?;
    }
    let mut slips = touched.slips.clone();
    for welder in &touched.cleared {
        slips.extend(slips_of(reading, *welder)?);
    }
    for id in slips {
        found.of_slip(id)?;
    }
    for id in &touched.receipts {
        found.of_receipts(*id)?;
    }
    for id in &touched.lots {
        found.of_crib(*id)?;
    }
    for (kind, number, thing) in &touched.labels {
        found.of_label(*kind, number, *thing)?;
    }
    Ok(found.troubles)
}

struct Found<'f, 'c> {
    reading: &'f Reading<'c>,
    amended: &'f Amended<'f>,
    troubles: Vec<Trouble>,
}

impl Found<'_, '_> {
    fn add(&mut self, about: &[u8], depth: i64, refusal: Refusal) {
        let mut key = [0; 32];
        key.iter_mut().zip(about).for_each(|(to, from)| *to = *from);
        let refusal = amend::said_of(self.amended.act, self.amended.entry, refusal);
        self.troubles.push(Trouble { about: key, depth, refusal });
    }

    /// What the rule of its own verb says of the entry itself.
    fn of_event(&mut self, place: Place, event: &Event) -> Result<()> {
        for (id, refusal) in void_ones(self.reading, event)? {
            self.add(&id, 0, refusal);
        }
        let mut about = self.reading.origin_id(place)?.0;
        let (now, zone) = (self.amended.now, self.reading.zone());
        let against = if let Event::RodIssued(e) = event {
            // What was set aside for one lot was not for another.
            about.iter_mut().zip(e.lot.lot.bytes()).for_each(|(to, lot)| *to ^= lot);
            self.of_issue(e)?
        } else if let Event::JointWelded(e) = event {
            rules::weld::decide(&e.from, e.to.value(), now, zone)
        } else if let Event::RodHandedOver(e) = event {
            if from_itself(self.reading, e.slip.slip, e.new_slip.slip)? {
                vec![amend::from_itself(&e.slip.number, &e.new_slip.number)]
            } else {
                Vec::new()
            }
        } else {
            let claimed = claimed(event);
            claimed
                .and_then(|(what, at)| rules::not_in_future(what, at, now, zone).err())
                .into_iter()
                .collect()
        };
        // What stands again was judged when it was written; only what has changed since can stand in its way.
        let again = self.amended.act == Act::Void;
        for refusal in against {
            if !again || refusal.code == "slip-from-itself" {
                self.add(&about, 0, refusal);
            }
        }
        Ok(())
    }

    /// The issue as the window would have judged it, but for what is in the crib: that is looked at for the lot.
    fn of_issue(&self, e: &RodIssued) -> Result<Vec<Refusal>> {
        let reading = self.reading;
        let lot = reading.lot(e.lot.lot)?;
        let status = status_at(reading, lot.id, &e.at)?;
        let (quantity, in_crib) = match e.quantity.value() {
            Some(quantity) => (*quantity, before_it(lot::in_crib(reading, &lot)?, quantity, &lot)),
            None => (nothing()?, Balance::NotKnown),
        };
        let state = rules::issue::State {
            lot: &lot.received.code,
            status: &status,
            received: Some(lot.first_received()),
            in_crib,
            put_aside: lot::put_aside(reading, &lot)?,
            void: lot.void,
            joints_that_need_its_number: issue::need_its_number(reading, &lot, &e.joints)?,
            papers_not_as_asked: issue::papers_not_as_asked(reading, &lot, &e.joints)?,
            piece_mg: lot
                .received
                .quantity
                .value()
                .filter(|_| quantity.is_mass())
                .map_or_else(|| lot.piece_mg_for(&quantity), |received| lot.piece_mg_for(received)),
            // That is looked at for the slip.
            number_taken: false,
            zone: reading.zone(),
        };
        let due = e.due.value();
        let mut against = rules::issue::decide(&state, &quantity, &e.number, &e.at, due, self.amended.now);
        against.retain(|r| {
            // What never was is said of everything that is named. How much less than nothing is in the crib is counted for the lot.
            !matches!(r.code, "more-than-in-crib" | "lot-void")
                && (e.quantity.value().is_some() || r.code != "nothing-to-issue")
        });
        Ok(against)
    }

    fn of_slip(&mut self, id: SlipId) -> Result<()> {
        let reading = self.reading;
        let slip = reading.slip(id)?;
        if slip.void {
            if !slip.outs.is_empty() {
                let refusal = self.of_void_slip(&slip)?;
                self.add(&id.bytes(), 0, refusal);
            }
            return Ok(());
        }
        if taken(reading, LabelKind::Slip, &slip.number, id.bytes())? {
            self.add(&id.bytes(), 0, amend::number_taken("slip", &slip.number));
        }
        let lot = reading.lot(slip.lot)?;
        let clears = reading.clears(slip.holder.person)?;
        for (at, out) in slip.outs.iter().enumerate() {
            let with = upto(&slip, at.saturating_add(1));
            let depth = match with.left(&lot) {
                Balance::Pieces(n) | Balance::Milligrams(n) => n.min(0).saturating_neg(),
                Balance::NotKnown => 0,
            };
            let before = upto(&slip, at);
            let closed = self.closed_before(&before, &lot, &clears, out)?;
            let about = reading.origin_id(out.place)?.0;
            for refusal in against_leaving(&before, &lot, out, closed, self.amended.now, reading)? {
                let depth = if refusal.code == "more-than-out" { depth } else { 0 };
                self.add(&about, depth, refusal);
            }
        }
        Ok(())
    }

    /// Since when a slip was closed, and by what, when something left it: by what was in the record already, and no later
    /// than it. What is written down or happens later does not stand in its way.
    fn closed_before(
        &self,
        before: &Slip,
        lot: &Lot,
        clears: &[Clear],
        out: &Leaving,
    ) -> Result<Option<(Instant, String)>> {
        let order = self.reading.order(out.place)?;
        let mut known = before.clone();
        let mut outs = Vec::with_capacity(known.outs.len());
        for earlier in known.outs.drain(..) {
            if self.reading.order(earlier.place)? < order {
                outs.push(earlier);
            }
        }
        known.outs = outs;
        let clears: Vec<Clear> = clears.iter().filter(|clear| clear.order < order).cloned().collect();
        let custody = slip::custody(&known, &known.to_trace(lot), &clears);
        Ok(custody
            .to
            .filter(|to| *to <= out.at().to)
            .map(|to| (to, custody.closed_by.clone().unwrap_or_default())))
    }

    /// Metal leaves a slip that never was.
    fn of_void_slip(&self, slip: &Slip) -> Result<Refusal> {
        let amended_leaves = self
            .amended
            .stands
            .as_ref()
            .is_some_and(|(place, _)| slip.outs.iter().any(|out| out.place == *place));
        if amended_leaves {
            return Ok(amend::slip_void("nothing can have left it", &slip.number));
        }
        let mut followers = Vec::new();
        followers_of(self.reading, slip, &mut followers, &mut BTreeSet::new())?;
        Ok(amend::has_followers(self.amended.entry, &slip.number, &followers))
    }

    fn of_receipts(&mut self, id: LotId) -> Result<()> {
        let reading = self.reading;
        let lot = reading.lot(id)?;
        if lot.void {
            let mut users = Vec::new();
            for sql in [
                "SELECT place FROM fact_slip WHERE lot = ?1 ORDER BY place",
                "SELECT place FROM fact_scrap WHERE lot = ?1 ORDER BY place",
                "SELECT place FROM fact_weld WHERE lot = ?1 ORDER BY place",
                "SELECT place FROM fact_disposition WHERE re_marked = ?1 ORDER BY place",
            ] {
                users.extend(reading.standing_places(sql, [id.bytes()])?);
            }
            return self.in_use(&id.bytes(), &format!("lot {}", lot.received.code), &users);
        }
        for refusal in another_lot(reading, &lot.received, self.amended.entry)? {
            self.add(&id.bytes(), 0, refusal);
        }
        let received = Some(lot.first_received());
        for slip in where_used::slips_of_lot(reading, id)? {
            let slip = reading.slip(slip)?;
            if slip.parent.is_none() {
                let what = format!("the issue of slip {}", slip.number);
                if let Err(refusal) = after_receipt(&what, &slip.issued, received, reading.zone()) {
                    self.add(&slip.id.bytes(), 0, refusal);
                }
            }
        }
        let places = reading.standing_places(
            "SELECT place FROM fact_lot_status WHERE lot = ?1 ORDER BY place",
            [id.bytes()],
        )?;
        for place in places {
            let event = reading.event(place)?;
            let what = format!("the {}", entry::thing(&event));
            let (at, _) = lot::status_said(event)?;
            if let Err(refusal) = after_receipt(&what, &at, received, reading.zone()) {
                let about = reading.origin_id(place)?.0;
                self.add(&about, 0, refusal);
            }
        }
        Ok(())
    }

    fn of_crib(&mut self, id: LotId) -> Result<()> {
        let lot = self.reading.lot(id)?;
        let in_crib = lot::in_crib(self.reading, &lot)?;
        // A lot without a receipt is in use or not; its crib is no question.
        if !lot.void
            && let Some((depth, refusal)) = amend::less_than_nothing(&lot.received.code, in_crib)
        {
            self.add(&id.bytes(), depth, refusal);
        }
        Ok(())
    }

    fn of_label(&mut self, kind: LabelKind, number: &str, thing: [u8; 16]) -> Result<()> {
        let (what, sql) = match kind {
            LabelKind::Joint => ("joint", "SELECT place FROM fact_joint WHERE joint = ?1 ORDER BY place"),
            LabelKind::Wps => ("WPS", "SELECT place FROM fact_wps WHERE wps = ?1 ORDER BY place"),
            LabelKind::Badge => ("person", "SELECT place FROM fact_person WHERE person = ?1 ORDER BY place"),
            LabelKind::Lot | LabelKind::Heat | LabelKind::Certificate | LabelKind::Slip => return Ok(()),
        };
        let reading = self.reading;
        if reading.standing_places(sql, [thing])?.is_empty() {
            let users = naming(reading, kind, thing)?;
            return self.in_use(&thing, &format!("{what} {number}"), &users);
        }
        let carries = carries(reading, kind, number, thing)?;
        if carries && taken(reading, kind, number, thing)? {
            self.add(&thing, 0, amend::number_taken(what, number));
        }
        Ok(())
    }

    fn in_use(&mut self, about: &[u8], thing: &str, users: &[Place]) -> Result<()> {
        if users.is_empty() {
            return Ok(());
        }
        let listed =
            users.iter().take(LISTED).map(|place| told(self.reading, *place)).collect::<Result<Vec<_>>>()?;
        let more = users.len().saturating_sub(LISTED);
        self.add(about, 0, amend::is_in_use(self.amended.entry, thing, &listed, more));
        Ok(())
    }
}

/// Short id of an entry, and what it says.
pub(super) fn told(reading: &Reading<'_>, place: Place) -> Result<(String, String)> {
    Ok((short_id::short(&reading.id(place)?.0), entry::line(&reading.event(place)?)))
}

/// The claimed time of an entry whose own verb refuses one that has not come yet.
fn claimed(event: &Event) -> Option<(&'static str, &When)> {
    match event {
        Event::LotReceived(e) => Some(("the receipt", &e.at)),
        Event::LotReleased(e) => Some(("the release", &e.at)),
        Event::LotHeld(e) => Some(("the hold", &e.at)),
        Event::LotRejected(e) => Some(("the rejection", &e.at)),
        Event::LotRecalled(e) => Some(("the recall", &e.at)),
        Event::WelderCleared(e) => Some(("the clearing", &e.at)),
        Event::MarkSpotChecked(e) => Some(("the spot check", &e.at)),
        Event::WireFoundUnmarked(e) => Some(("the find", &e.at)),
        Event::RodScrapped(e) => Some(("the scrapping", &e.at)),
        Event::CertificateRead(e) => Some(("the certificate check", &e.at)),
        Event::MetalRead(e) => Some(("the reading", &e.at)),
        Event::TableLoaded(e) => Some(("the loading of the table", &e.at)),
        Event::TableSignedOff(e) => Some(("the sign-off", &e.at)),
        Event::StationOpened(_)
        | Event::ShiftsDeclared(_)
        | Event::PersonEnrolled(_)
        | Event::WelderQualified(_)
        | Event::WpsDeclared(_)
        | Event::JointDeclared(_)
        | Event::CertificateFiled(_)
        | Event::RodIssued(_)
        | Event::RodReturned(_)
        | Event::RodHandedOver(_)
        | Event::SlipReprinted(_)
        | Event::JointWelded(_)
        | Event::FindingDisposed(_)
        | Event::NoteWritten(_)
        | Event::EntryCorrected(_)
        | Event::EntryVoided(_)
        | Event::FilesImported(_)
        | Event::NotUnderstood(_) => None,
    }
}

/// The status of a lot at a moment: what the last entry says whose claim begins no later than the moment ends.
fn status_at(reading: &Reading<'_>, lot: LotId, at: &When) -> Result<LotStatus> {
    let mut statuses = lot::statuses(reading, lot)?;
    // Sorting is stable: what is claimed for the same moment stays in the order of the record.
    statuses.sort_by_key(|(when, _)| when.from);
    Ok(statuses
        .into_iter()
        .rfind(|(when, _)| when.from <= at.to)
        .map_or(LotStatus::Unreleased, |(_, status)| status))
}

/// No metal, for what leaves without an amount that was written down.
fn nothing() -> Result<Quantity> {
    Quantity::new(0, 0, Unit::Pieces).map_err(|e| Error::Damaged(e.to_string()))
}

/// What was in the crib apart from a quantity that left it.
fn before_it(in_crib: Balance, quantity: &Quantity, lot: &Lot) -> Balance {
    let sum = match in_crib {
        Balance::Pieces(n) => quantity.pieces().and_then(|q| n.checked_add(q)).map(Balance::Pieces),
        Balance::Milligrams(n) => {
            lot.mass_mg(quantity).and_then(|q| n.checked_add(q)).map(Balance::Milligrams)
        }
        Balance::NotKnown => None,
    };
    sum.unwrap_or(Balance::NotKnown)
}

/// The slip with the first so many of what left it.
fn upto(slip: &Slip, outs: usize) -> Slip {
    let mut slip = slip.clone();
    slip.outs.truncate(outs);
    slip
}

/// What the window would have said to metal leaving the slip.
fn against_leaving(
    before: &Slip,
    lot: &Lot,
    out: &Leaving,
    closed: Option<(Instant, String)>,
    now: Instant,
    reading: &Reading<'_>,
) -> Result<Vec<Refusal>> {
    let stated = out.quantity().value();
    let quantity = match stated {
        Some(quantity) => *quantity,
        None => nothing()?,
    };
    let state = give_back::State {
        slip: &before.number,
        issued: before.issued.from,
        closed,
        out: before.left(lot),
        // A mass taken from counted pieces is compared by the mass of the slip's own pieces.
        piece_mg: lot.piece_mg_for(if quantity.is_mass() {
            before.quantity.value().unwrap_or(&quantity)
        } else {
            &quantity
        }),
        zone: reading.zone(),
    };
    let mut against = match &out.way {
        Way::Returned(e) => give_back::decide(&state, &quantity, &e.at, now),
        Way::HandedOver(e) => {
            let same_holder = e.to.person == before.holder.person;
            // The number is looked at for the new slip.
            rules::hand_over::decide(&state, &quantity, &e.new_slip.number, false, same_holder, &e.at, now)
        }
        Way::Scrapped(e) => amend::leaving(&state, &quantity, &e.at, now, "the scrapping"),
    };
    against.retain(|r| stated.is_some() || r.code != "nothing-to-issue");
    Ok(against)
}

/// Whether a slip comes, by however many hands, from a slip that comes from it.
fn from_itself(reading: &Reading<'_>, slip: SlipId, new_slip: SlipId) -> Result<bool> {
    let mut seen = BTreeSet::new();
    let mut at = Some(slip);
    while let Some(id) = at {
        if id == new_slip {
            return Ok(true);
        }
        if !seen.insert(id) {
            return Ok(false);
        }
        at = reading.slip(id)?.parent.as_ref().map(|(parent, _)| *parent);
    }
    Ok(false)
}

/// Entries by which metal left a slip, and the slips that were handed over from it, in the order to void them.
fn followers_of(
    reading: &Reading<'_>,
    slip: &Slip,
    followers: &mut Vec<(String, String)>,
    seen: &mut BTreeSet<SlipId>,
) -> Result<()> {
    if !seen.insert(slip.id) {
        return Ok(());
    }
    for out in slip.outs.iter().rev() {
        if let Way::HandedOver(e) = &out.way {
            followers_of(reading, &*reading.slip(e.new_slip.slip)?, followers, seen)?;
        }
        followers.push(told(reading, out.place)?);
    }
    Ok(())
}

/// Slips of a holder.
fn slips_of(reading: &Reading<'_>, holder: PersonId) -> Result<Vec<SlipId>> {
    let mut statement =
        reading.conn().prepare_cached("SELECT slip, place FROM fact_slip WHERE holder = ?1")?;
    let rows = statement
        .query_map([holder.bytes()], |row| Ok((SlipId::from_bytes(row.get(0)?), Place(row.get(1)?))))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    Ok(rows.into_iter().filter(|(_, place)| reading.stands(*place)).map(|(slip, _)| slip).collect())
}

/// The refusal of a receipt that makes its lot the same as another.
fn another_lot(reading: &Reading<'_>, received: &LotReceived, entry: &str) -> Result<Vec<Refusal>> {
    let mut statement = reading
        .conn()
        .prepare_cached("SELECT place, lot FROM fact_lot WHERE identity = ?1 ORDER BY place")?;
    let mut rows = statement.query([lot::identity(received)])?;
    while let Some(row) = rows.next()? {
        let other = LotId::from_bytes(row.get(1)?);
        if other != received.lot && reading.stands(Place(row.get(0)?)) {
            let code = &reading.lot(other)?.received.code;
            let other = if *code == received.code { other.to_string() } else { code.clone() };
            return Ok(vec![amend::is_another_lot(entry, &received.code, &other)]);
        }
    }
    Ok(Vec::new())
}

fn things_of(reading: &Reading<'_>, kind: LabelKind, number: &str) -> Result<BTreeSet<[u8; 16]>> {
    let mut statement = reading
        .conn()
        .prepare_cached("SELECT thing, place FROM fact_label WHERE kind = ?1 AND key = ?2 AND label = ?3")?;
    let rows = statement
        .query_map(params![kind.word(), search_key(number), number], |row| {
            Ok((row.get(0)?, Place(row.get(1)?)))
        })?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    Ok(rows.into_iter().filter(|(_, place)| reading.stands(*place)).map(|(thing, _)| thing).collect())
}

/// Whether an entry that stands gives the number to another thing.
fn taken(reading: &Reading<'_>, kind: LabelKind, number: &str, thing: [u8; 16]) -> Result<bool> {
    Ok(things_of(reading, kind, number)?.iter().any(|other| *other != thing))
}

/// Whether an entry that stands gives the number to the thing.
fn carries(reading: &Reading<'_>, kind: LabelKind, number: &str, thing: [u8; 16]) -> Result<bool> {
    Ok(things_of(reading, kind, number)?.contains(&thing))
}

/// Entries that stand and name a joint, procedure or person, apart from those that describe it; and what a person
/// wrote, standing or not.
fn naming(reading: &Reading<'_>, kind: LabelKind, thing: [u8; 16]) -> Result<Vec<Place>> {
    let text = uuid::Uuid::from_bytes(thing).to_string();
    let places = reading
        .places("SELECT place FROM entry WHERE instr(line, ?1) > 0 ORDER BY place", [text.as_bytes()])?;
    let mut naming = Vec::new();
    for place in places {
        let event = reading.event(place)?;
        let describes = match kind {
            LabelKind::Joint => {
                matches!(&event, Event::JointDeclared(e) if e.joint == JointId::from_bytes(thing))
            }
            LabelKind::Wps => matches!(&event, Event::WpsDeclared(e) if e.wps == WpsId::from_bytes(thing)),
            LabelKind::Badge => {
                matches!(&event, Event::PersonEnrolled(e) if e.person == PersonId::from_bytes(thing))
            }
            LabelKind::Lot | LabelKind::Heat | LabelKind::Certificate | LabelKind::Slip => false,
        };
        let wrote = kind == LabelKind::Badge
            && crate::log::entry_at(reading.conn(), place)?.header.person
                == Some(PersonId::from_bytes(thing));
        if wrote || (!describes && reading.stands(place)) {
            naming.push(place);
        }
    }
    Ok(naming)
}
