//! What the book has already.

use crate::ask::reading::Reading;
use crate::error::Result;
use crate::log::Place;
use record::event::{Event, PieceOrigin};
use record::id::{LotId, SlipId};
use record::{Stated, When};
use rusqlite::Params;
use uuid::Uuid;

/// The places in this station's chain that the import itself writes: they are not what the book had before.
#[derive(Clone, Copy, Debug)]
pub(super) struct Own {
    first: Place,
}

impl Own {
    /// From the first place that the import can have written.
    pub(super) fn from(first: Place) -> Self {
        Self { first }
    }

    fn has(self, place: Place) -> bool {
        place.station_no() == self.first.station_no() && place >= self.first
    }
}

/// The entry among those at `sql`'s places that says the same as `event`, if the book had one before.
pub(super) fn same(
    book: &Reading<'_>,
    own: Own,
    sql: &str,
    params: impl Params,
    event: &Event,
) -> Result<Option<Place>> {
    let places = book.places(sql, params)?;
    let mut wanted = None;
    for place in places.into_iter().filter(|p| !own.has(*p)) {
        let wanted = wanted.get_or_insert_with(|| bare(event.clone()));
        if bare(book.event(place)?) == *wanted {
            return Ok(Some(place));
        }
    }
    Ok(None)
}

/// The newest of the entries at `sql`'s places, in the order of the record.
pub(super) fn newest_place(book: &Reading<'_>, sql: &str, params: impl Params) -> Result<Option<Place>> {
    let places = book.places(sql, params)?;
    if let [] | [_] = places.as_slice() {
        return Ok(places.first().copied());
    }
    // A correction stands where the entry stood that it corrects; of the two the place decides.
    let ordered = book.ordered(places)?;
    Ok(ordered.last().map(|(_, place)| *place))
}

/// Whether the newest of the entries about a thing says the same as `event`, or said it before it was corrected.
pub(super) fn newest_says(book: &Reading<'_>, sql: &str, thing: [u8; 16], event: &Event) -> Result<bool> {
    let newest = newest_place(book, sql, [thing])?;
    let Some(newest) = newest else {
        return Ok(false);
    };
    for place in [newest, book.corrections().origin(newest)] {
        if says_the_same(&book.event(place)?, event) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Whether two entries say the same.
pub(super) fn says_the_same(a: &Event, b: &Event) -> bool {
    bare(a.clone()) == bare(b.clone())
}

/// What an entry says, without where it came from, how its times and labels were typed, and the identity it gives.
fn bare(mut event: Event) -> Event {
    match &mut event {
        Event::PersonEnrolled(e) => e.imported = None,
        Event::WelderQualified(e) => {
            e.imported = None;
            untyped_stated(&mut e.qualified_on);
        }
        Event::WpsDeclared(e) => e.imported = None,
        Event::JointDeclared(e) => {
            e.imported = None;
            untyped_stated(&mut e.finished_at);
        }
        Event::LotReceived(e) => {
            e.imported = None;
            e.lot = LotId(Uuid::nil());
            e.at.text.clear();
            // A computed mass follows from the rest, by the table of that day.
            if e.piece.as_ref().is_some_and(|p| p.origin == PieceOrigin::Computed) {
                e.piece = None;
            }
        }
        Event::LotReleased(e) => {
            e.imported = None;
            e.lot.label.clear();
            e.at.text.clear();
        }
        Event::RodIssued(e) => {
            e.imported = None;
            e.overridden = None;
            e.slip = SlipId(Uuid::nil());
            e.lot.label.clear();
            e.at.text.clear();
            untyped_stated(&mut e.due);
        }
        Event::RodReturned(e) => {
            e.imported = None;
            e.overridden = None;
            e.at.text.clear();
        }
        Event::RodHandedOver(e) => {
            e.imported = None;
            e.overridden = None;
            e.new_slip.slip = SlipId(Uuid::nil());
            e.at.text.clear();
        }
        Event::JointWelded(e) => {
            e.imported = None;
            e.overridden = None;
            if let Stated::Value(lot) = &mut e.lot {
                lot.label.clear();
            }
            e.from.text.clear();
            untyped_stated(&mut e.to);
        }
        Event::MarkSpotChecked(e) => {
            e.imported = None;
            e.at.text.clear();
        }
        Event::RodScrapped(e) => {
            e.imported = None;
            e.overridden = None;
            e.lot.label.clear();
            e.at.text.clear();
        }
        Event::WireFoundUnmarked(e) => {
            e.imported = None;
            e.at.text.clear();
        }
        Event::StationOpened(_)
        | Event::ShiftsDeclared(_)
        | Event::LotHeld(_)
        | Event::LotRejected(_)
        | Event::LotRecalled(_)
        | Event::CertificateFiled(_)
        | Event::CertificateRead(_)
        | Event::MetalRead(_)
        | Event::TableLoaded(_)
        | Event::TableSignedOff(_)
        | Event::SlipReprinted(_)
        | Event::FindingDisposed(_)
        | Event::NoteWritten(_)
        | Event::EntryCorrected(_)
        | Event::EntryVoided(_)
        | Event::WelderCleared(_)
        | Event::FilesImported(_)
        | Event::NotUnderstood(_) => {}
    }
    event
}

fn untyped_stated(when: &mut Stated<When>) {
    if let Stated::Value(when) = when {
        when.text.clear();
    }
}
