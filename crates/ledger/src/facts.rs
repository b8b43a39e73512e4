//! From an entry to its facts: one place, no rules, no look at any other fact.

use crate::error::Result;
use crate::log::Place;
use filler::Quantity;
use record::event::{Condition, Event, ReadOn, Subject};
use record::id::{EntryId, LotId, PersonId, SlipId};
use record::number::{look_alike_key, search_key};
use record::{Stated, When};
use rusqlite::{CachedStatement, Connection, ToSql, params};

/// What a label can be a label of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LabelKind {
    /// A lot, by control code or maker's lot number.
    Lot,
    /// A heat.
    Heat,
    /// A certificate.
    Certificate,
    /// A slip, open or closed.
    Slip,
    /// A joint.
    Joint,
    /// A person, by badge.
    Badge,
    /// A welding procedure specification.
    Wps,
}

impl LabelKind {
    pub(crate) fn word(self) -> &'static str {
        match self {
            LabelKind::Lot => "lot",
            LabelKind::Heat => "heat",
            LabelKind::Certificate => "certificate",
            LabelKind::Slip => "slip",
            LabelKind::Joint => "joint",
            LabelKind::Badge => "badge",
            LabelKind::Wps => "wps",
        }
    }
}

/// The beginning of a slip, whichever entry says it.
struct Begun<'e> {
    slip: SlipId,
    number: &'e str,
    lot: LotId,
    holder: PersonId,
    parent: Option<SlipId>,
    at: &'e When,
    quantity: &'e Stated<Quantity>,
}

/// Metal that leaves a slip, whichever entry says it.
struct Left<'e> {
    slip: SlipId,
    lot: LotId,
    holder: PersonId,
    way: &'static str,
    closes: bool,
    credited: bool,
    at: &'e When,
    quantity: &'e Stated<Quantity>,
}

/// The statements that make facts, prepared once for a transaction.
pub(crate) struct Facts<'c> {
    conn: &'c Connection,
    entry: Option<CachedStatement<'c>>,
    label: CachedStatement<'c>,
    slip: CachedStatement<'c>,
    out: CachedStatement<'c>,
    span: CachedStatement<'c>,
    weld: CachedStatement<'c>,
    weld_joint: CachedStatement<'c>,
}

impl<'c> Facts<'c> {
    /// Prepares them.
    pub(crate) fn prepare(conn: &'c Connection) -> Result<Self> {
        let mut this = Self::prepare_without_log(conn)?;
        this.entry =
            Some(conn.prepare_cached("INSERT INTO entry (place, id, clock, line) VALUES (?1, ?2, ?3, ?4)")?);
        Ok(this)
    }

    /// Prepares those that a database of facts alone has.
    pub(crate) fn prepare_without_log(conn: &'c Connection) -> Result<Self> {
        Ok(Self {
            conn,
            entry: None,
            label: conn
                .prepare_cached("INSERT OR IGNORE INTO fact_label (kind, key, label, thing, place) VALUES (?1, ?2, ?3, ?4, ?5)")?,
            slip: conn.prepare_cached(
                "INSERT INTO fact_slip (place, slip, lot, holder, parent, issued_from, issued_to, pieces, mg, running)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
            )?,
            out: conn.prepare_cached(
                "INSERT INTO fact_out (place, slip, lot, holder, way, closes, credited, at_from, at_to, pieces, mg)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
            )?,
            span: conn.prepare_cached(
                "INSERT INTO fact_span (holder, slip, issued_from, closed_to) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (holder, slip) DO UPDATE SET
                   issued_from = min(ifnull(issued_from, excluded.issued_from), ifnull(excluded.issued_from, issued_from)),
                   closed_to = max(ifnull(closed_to, excluded.closed_to), ifnull(excluded.closed_to, closed_to))",
            )?,
            weld: conn.prepare_cached(
                "INSERT INTO fact_weld (place, welder, at_from, at_to, lot, slip) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?,
            weld_joint: conn.prepare_cached("INSERT OR IGNORE INTO fact_weld_joint (joint, place) VALUES (?1, ?2)")?,
        })
    }

    /// Writes the log row.
    pub(crate) fn insert_entry(&mut self, place: Place, id: &EntryId, clock: i64, line: &[u8]) -> Result<()> {
        if let Some(statement) = &mut self.entry {
            statement.execute(params![place.0, id.0.as_slice(), clock, line])?;
        }
        Ok(())
    }

    /// Makes the facts of one entry.
    pub(crate) fn apply(&mut self, place: Place, event: &Event) -> Result<()> {
        let at = place.0;
        match event {
            Event::StationOpened(e) => {
                let follows = e.predecessor.as_ref().map(|p| p.station.0);
                self.insert(
                    "INSERT INTO fact_station (place, name, shop, zone, follows) VALUES (?1, ?2, ?3, ?4, ?5)",
                    &[&at, &e.name, &e.shop, &e.zone, &follows],
                )?;
            }
            Event::ShiftsDeclared(_) => self.insert("INSERT INTO fact_shifts (place) VALUES (?1)", &[&at])?,
            Event::PersonEnrolled(e) => {
                let person = e.person.bytes();
                self.insert("INSERT INTO fact_person (place, person) VALUES (?1, ?2)", &[&at, &person])?;
                self.label(LabelKind::Badge, &e.badge, &person, place)?;
            }
            Event::WelderQualified(e) => {
                let welder = e.welder.person.bytes();
                self.insert(
                    "INSERT INTO fact_qualification (place, welder) VALUES (?1, ?2)",
                    &[&at, &welder],
                )?;
            }
            Event::WpsDeclared(e) => {
                let wps = e.wps.bytes();
                self.insert("INSERT INTO fact_wps (place, wps) VALUES (?1, ?2)", &[&at, &wps])?;
                self.label(LabelKind::Wps, &e.number, &wps, place)?;
            }
            Event::JointDeclared(e) => {
                let joint = e.joint.bytes();
                let needed_mg = e.needed_mg.value();
                self.insert(
                    "INSERT INTO fact_joint (place, joint, needed_mg) VALUES (?1, ?2, ?3)",
                    &[&at, &joint, &needed_mg],
                )?;
                self.label(LabelKind::Joint, &e.number, &joint, place)?;
            }
            Event::LotReceived(e) => {
                let lot = e.lot.bytes();
                let (pieces, mg) = amount(&e.quantity);
                self.insert(
                    "INSERT INTO fact_lot (place, lot, identity, at_from, pieces, mg) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                    &[&at, &lot, &crate::ask::lot::identity(e), &e.at.from.0, &pieces, &mg],
                )?;
                self.number(LabelKind::Lot, &e.code, &lot, place)?;
                for maker_lot in e.maker_lot.value().into_iter().filter(|m| **m != e.code) {
                    self.number(LabelKind::Lot, maker_lot, &lot, place)?;
                }
                for heat in &e.heats {
                    self.number(LabelKind::Heat, heat, &lot, place)?;
                }
                if let Some(certificate) = e.certificate.value() {
                    self.number(LabelKind::Certificate, certificate, &lot, place)?;
                }
            }
            Event::LotReleased(e) => self.lot_status(place, &e.lot.lot.bytes(), "released", &e.at)?,
            Event::LotHeld(e) => self.lot_status(place, &e.lot.lot.bytes(), "held", &e.at)?,
            Event::LotRejected(e) => self.lot_status(place, &e.lot.lot.bytes(), "rejected", &e.at)?,
            Event::LotRecalled(e) => self.lot_status(place, &e.lot.lot.bytes(), "recalled", &e.at)?,
            Event::CertificateFiled(e) => {
                self.insert(
                    "INSERT INTO fact_certificate (place, sha256) VALUES (?1, ?2)",
                    &[&at, &e.sha256],
                )?;
                for lot in &e.lots {
                    self.number(LabelKind::Certificate, &e.certificate, &lot.lot.bytes(), place)?;
                }
            }
            Event::CertificateRead(e) => {
                let lot = e.lot.lot.bytes();
                self.insert("INSERT INTO fact_certificate_read (place, lot) VALUES (?1, ?2)", &[&at, &lot])?;
                if let Some(certificate) = e.certificate.value() {
                    self.number(LabelKind::Certificate, certificate, &lot, place)?;
                }
            }
            Event::MetalRead(e) => {
                let (thing, welder) = match &e.on {
                    ReadOn::Find(entry) => (entry.0.to_vec(), None),
                    ReadOn::Joint { joint, welder } => {
                        (joint.joint.bytes().to_vec(), Some(welder.person.bytes()))
                    }
                    ReadOn::Lot(lot) => (lot.lot.bytes().to_vec(), None),
                    ReadOn::Slip(slip) => (slip.slip.bytes().to_vec(), None),
                    ReadOn::WeldMetal(joint) => (joint.joint.bytes().to_vec(), None),
                };
                self.insert(
                    "INSERT INTO fact_metal_read (place, thing, welder, at_from, at_to) VALUES (?1, ?2, ?3, ?4, ?5)",
                    &[&at, &thing, &welder, &e.at.from.0, &e.at.to.0],
                )?;
            }
            Event::TableLoaded(e) => {
                self.insert(
                    "INSERT INTO fact_table (place, spec, sha256) VALUES (?1, ?2, ?3)",
                    &[&at, &e.spec, &e.sha256],
                )?;
            }
            Event::TableSignedOff(e) => {
                self.insert(
                    "INSERT INTO fact_table_signed (place, spec, sha256) VALUES (?1, ?2, ?3)",
                    &[&at, &e.spec, &e.sha256],
                )?;
            }
            Event::RodIssued(e) => self.begins(
                place,
                Begun {
                    slip: e.slip,
                    number: &e.number,
                    lot: e.lot.lot,
                    holder: e.holder.person,
                    parent: None,
                    at: &e.at,
                    quantity: &e.quantity,
                },
            )?,
            Event::RodReturned(e) => self.leaves(
                place,
                Left {
                    slip: e.slip.slip,
                    lot: e.lot,
                    holder: e.holder,
                    way: "returned",
                    closes: e.closes,
                    credited: e.condition.value() == Some(&Condition::Marked),
                    at: &e.at,
                    quantity: &e.quantity,
                },
            )?,
            Event::RodHandedOver(e) => {
                self.leaves(
                    place,
                    Left {
                        slip: e.slip.slip,
                        lot: e.lot,
                        holder: e.from,
                        way: "handed-over",
                        closes: e.closes,
                        credited: false,
                        at: &e.at,
                        quantity: &e.quantity,
                    },
                )?;
                self.begins(
                    place,
                    Begun {
                        slip: e.new_slip.slip,
                        number: &e.new_slip.number,
                        lot: e.lot,
                        holder: e.to.person,
                        parent: Some(e.slip.slip),
                        at: &e.at,
                        quantity: &e.quantity,
                    },
                )?;
            }
            Event::WelderCleared(e) => {
                self.insert(
                    "INSERT INTO fact_clear (place, welder, at_from, at_to) VALUES (?1, ?2, ?3, ?4)",
                    &[&at, &e.welder.person.bytes(), &e.at.from.0, &e.at.to.0],
                )?;
            }
            Event::RodScrapped(e) => match &e.slip {
                Some(from) => self.leaves(
                    place,
                    Left {
                        slip: from.slip.slip,
                        lot: e.lot.lot,
                        holder: from.holder,
                        way: "scrapped",
                        closes: from.closes,
                        credited: false,
                        at: &e.at,
                        quantity: &e.quantity,
                    },
                )?,
                None => {
                    let (pieces, mg) = amount(&e.quantity);
                    self.insert(
                        "INSERT INTO fact_scrap (place, lot, pieces, mg) VALUES (?1, ?2, ?3, ?4)",
                        &[&at, &e.lot.lot.bytes(), &pieces, &mg],
                    )?;
                }
            },
            Event::SlipReprinted(e) => {
                let slip = e.slip.slip.bytes();
                self.insert("INSERT INTO fact_reprint (place, slip) VALUES (?1, ?2)", &[&at, &slip])?;
            }
            Event::WireFoundUnmarked(e) => {
                let welder = e.welder.value().map(|w| w.person.bytes());
                self.insert(
                    "INSERT INTO fact_unmarked (place, welder, at_from, at_to) VALUES (?1, ?2, ?3, ?4)",
                    &[&at, &welder, &e.at.from.0, &e.at.to.0],
                )?;
                for joint in &e.joints {
                    self.insert(
                        "INSERT OR IGNORE INTO fact_unmarked_joint (joint, place) VALUES (?1, ?2)",
                        &[&joint.joint.bytes(), &at],
                    )?;
                }
            }
            Event::FindingDisposed(e) => {
                self.insert(
                    "INSERT INTO fact_disposition (place, finding, re_marked) VALUES (?1, ?2, ?3)",
                    &[&at, e.finding.bytes(), &e.lot.value().map(|l| l.lot.bytes())],
                )?;
            }
            Event::NoteWritten(e) => {
                let thing: Vec<u8> = match e.about {
                    Subject::Entry(id) => id.0.to_vec(),
                    Subject::Joint(id) => id.bytes().to_vec(),
                    Subject::Lot(id) => id.bytes().to_vec(),
                    Subject::Person(id) => id.bytes().to_vec(),
                    Subject::Slip(id) => id.bytes().to_vec(),
                };
                self.insert("INSERT INTO fact_note (place, thing) VALUES (?1, ?2)", &[&at, &thing])?;
            }
            Event::EntryCorrected(e) => {
                self.strikes(place, &e.corrects, false)?;
                // What holds instead makes its facts here, as if this entry had said it.
                self.apply(place, &e.event())?;
            }
            Event::EntryVoided(e) => self.strikes(place, &e.voids, true)?,
            Event::JointWelded(e) => {
                let (from, to) = e.covers();
                self.weld.execute(params![
                    at,
                    e.welder.person.bytes(),
                    from.0,
                    to.0,
                    e.lot.value().map(|l| l.lot.bytes()),
                    e.slip.value().map(|s| s.slip.bytes())
                ])?;
                for joint in &e.joints {
                    self.weld_joint.execute(params![joint.joint.bytes(), at])?;
                }
            }
            Event::MarkSpotChecked(e) => {
                self.insert(
                    "INSERT INTO fact_spot_check (place, joint, welder, at_from, at_to) VALUES (?1, ?2, ?3, ?4, ?5)",
                    &[&at, &e.joint.joint.bytes(), &e.welder.person.bytes(), &e.at.from.0, &e.at.to.0],
                )?;
            }
            Event::FilesImported(e) => {
                for file in &e.files {
                    self.insert(
                        "INSERT OR IGNORE INTO fact_file (place, name, sha256) VALUES (?1, ?2, ?3)",
                        &[&at, &file.name, &file.sha256],
                    )?;
                }
            }
            Event::NotUnderstood(e) => {
                self.insert(
                    "INSERT INTO fact_not_understood (place, kind) VALUES (?1, ?2)",
                    &[&at, &e.kind],
                )?;
            }
        }
        Ok(())
    }

    fn insert(&self, sql: &str, values: &[&dyn ToSql]) -> Result<()> {
        self.conn.prepare_cached(sql)?.execute(values)?;
        Ok(())
    }

    /// A slip begins, and with it the holder's custody.
    fn begins(&mut self, place: Place, begun: Begun<'_>) -> Result<()> {
        let (slip, holder) = (begun.slip.bytes(), begun.holder.bytes());
        let (pieces, mg) = amount(begun.quantity);
        self.slip.execute(params![
            place.0,
            slip,
            begun.lot.bytes(),
            holder,
            begun.parent.map(SlipId::bytes),
            begun.at.from.0,
            begun.at.to.0,
            pieces,
            mg,
            running(begun.number)
        ])?;
        self.span.execute(params![holder, slip, begun.at.from.0, None::<i64>])?;
        self.label(LabelKind::Slip, begun.number, &slip, place)
    }

    /// Metal leaves a slip.
    fn leaves(&mut self, place: Place, left: Left<'_>) -> Result<()> {
        let (slip, holder) = (left.slip.bytes(), left.holder.bytes());
        let (pieces, mg) = amount(left.quantity);
        self.out.execute(params![
            place.0,
            slip,
            left.lot.bytes(),
            holder,
            left.way,
            left.closes,
            left.credited,
            left.at.from.0,
            left.at.to.0,
            pieces,
            mg
        ])?;
        if left.closes {
            self.span.execute(params![holder, slip, None::<i64>, left.at.to.0])?;
        }
        Ok(())
    }

    fn strikes(&self, place: Place, target: &EntryId, void: bool) -> Result<()> {
        self.insert(
            "INSERT INTO fact_correction (place, target, void) VALUES (?1, ?2, ?3)",
            &[&place.0, &target.0.as_slice(), &void],
        )
    }

    fn lot_status(&self, place: Place, lot: &[u8; 16], status: &str, at: &When) -> Result<()> {
        self.insert(
            "INSERT INTO fact_lot_status (place, lot, status, at_from, at_to) VALUES (?1, ?2, ?3, ?4, ?5)",
            &[&place.0, lot, &status, &at.from.0, &at.to.0],
        )
    }

    fn label(&mut self, kind: LabelKind, label: &str, thing: &[u8; 16], place: Place) -> Result<()> {
        self.label.execute(params![kind.word(), search_key(label), label, thing, place.0])?;
        Ok(())
    }

    /// A label that is also compared by look.
    fn number(&mut self, kind: LabelKind, label: &str, thing: &[u8; 16], place: Place) -> Result<()> {
        self.label(kind, label, thing, place)?;
        self.insert(
            "INSERT OR IGNORE INTO fact_look_alike (kind, look, label, place) VALUES (?1, ?2, ?3, ?4)",
            &[&kind.word(), &look_alike_key(&search_key(label)), &label, &place.0],
        )
    }
}

/// The slip number that this program gives for a running number.
pub(crate) fn slip_number(running: i64) -> String {
    format!("S-{running:05}")
}

/// The greatest running number: a number typed by hand beyond it does not move the next one.
const MOST_RUNNING: i64 = 999_999_999_999;

/// The running number of a slip number, if it is one that this program gives.
fn running(number: &str) -> Option<i64> {
    let running = number.strip_prefix("S-")?.parse().ok().filter(|n| (1..=MOST_RUNNING).contains(n))?;
    (slip_number(running) == number).then_some(running)
}

/// Pieces or milligrams of a quantity as stated.
fn amount(quantity: &Stated<Quantity>) -> (Option<i64>, Option<i64>) {
    quantity.value().map_or((None, None), |q| (q.pieces(), q.milligrams()))
}
