//! One read of the book, with what it has read so far.
//!
//! All details come from the hashed lines; the facts only say where to look.

use super::corrections::Corrections;
use super::held::Held;
use super::joint_trace::{self, CutOutRecord, Record, WeldTrace};
use super::lot::Lot;
use super::metal::MetalReading;
use super::slip::{Custody, Slip, SlipAndLot};
use super::{lot, slip};
use crate::error::{Error, Result};
use crate::log::{self, Place, event_at, id_and_clock};
use filler::limits::Tables;
use record::event::{Event, JointDeclared, WpsDeclared};
use record::id::{EntryId, JointId, LotId, PersonId, SlipId, WpsId};
use record::person::Role;
use record::rules::lot_status::LotStatus;
use record::{Instant, Zone};
use rusqlite::{Connection, OptionalExtension as _};
use std::cell::{OnceCell, RefCell};
use std::collections::{BTreeSet, HashMap};
use std::rc::Rc;
use trace::{Clear, Order};

/// An enrolled person.
#[derive(Clone, Debug)]
pub struct Person {
    /// Identity.
    pub id: PersonId,
    /// The badge they carry now.
    pub badge: String,
    /// What they may do.
    pub roles: Vec<Role>,
    /// Their name, unless it was erased.
    pub name: Option<String>,
}

/// A joint as last described.
#[derive(Clone, Debug)]
pub struct Joint {
    /// Identity.
    pub id: JointId,
    /// The newest description.
    pub declared: JointDeclared,
    /// Whether every description was voided: the joint never was.
    pub void: bool,
}

/// An entry, decoded once.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    /// Where it is in this file.
    pub(crate) place: Place,
    /// Its id.
    pub(crate) id: EntryId,
    /// Where it stands in the order of the record.
    pub(crate) order: Order,
    /// When the station says it was first written: what corrects it since does not make it late.
    pub(crate) recorded: Instant,
    /// What it says happened; of a correction, what holds instead.
    pub(crate) event: Event,
}

/// What a lot was, from which claimed time.
pub(crate) type Statuses = Vec<(record::When, LotStatus)>;

/// A read transaction's worth of answers.
pub struct Reading<'c> {
    conn: &'c Connection,
    zone: Zone,
    stations: HashMap<i64, [u8; 5]>,
    corrections: Corrections,
    lots: RefCell<HashMap<LotId, Rc<Lot>>>,
    slips: RefCell<HashMap<SlipId, Rc<Slip>>>,
    traced: RefCell<HashMap<SlipId, Rc<trace::Slip>>>,
    joints: RefCell<HashMap<JointId, Rc<Joint>>>,
    cut_outs: RefCell<HashMap<JointId, Rc<Vec<CutOutRecord>>>>,
    wps: RefCell<HashMap<WpsId, Rc<WpsDeclared>>>,
    people: RefCell<HashMap<PersonId, Rc<Person>>>,
    clears: RefCell<HashMap<PersonId, Rc<Vec<Clear>>>>,
    statuses: RefCell<HashMap<LotId, Rc<Statuses>>>,
    held: RefCell<HashMap<PersonId, Held>>,
    struck_closings: OnceCell<HashMap<PersonId, Vec<SlipId>>>,
    records: RefCell<HashMap<Place, Rc<Record>>>,
    weld_traces: RefCell<HashMap<(Place, JointId), Rc<WeldTrace>>>,
    filed: OnceCell<HashMap<LotId, Vec<String>>>,
    any_metal_read: OnceCell<bool>,
    limits: OnceCell<Rc<Tables>>,
    metal_reads: RefCell<HashMap<Vec<u8>, Rc<Vec<MetalReading>>>>,
}

impl<'c> Reading<'c> {
    /// Begins to read; the caller keeps the connection from changing underneath (a transaction).
    pub(crate) fn new(conn: &'c Connection) -> Result<Self> {
        let stations = log::stations(conn)?
            .into_iter()
            .map(|s| {
                let mut first = [0; 5];
                first.iter_mut().zip(s.id.0).for_each(|(to, from)| *to = from);
                (s.no, first)
            })
            .collect();
        let corrections = Corrections::read(conn, |place| order(conn, &stations, place))?;
        Ok(Self {
            conn,
            zone: zone(conn)?,
            stations,
            corrections,
            lots: RefCell::default(),
            slips: RefCell::default(),
            traced: RefCell::default(),
            joints: RefCell::default(),
            cut_outs: RefCell::default(),
            wps: RefCell::default(),
            people: RefCell::default(),
            clears: RefCell::default(),
            statuses: RefCell::default(),
            held: RefCell::default(),
            struck_closings: OnceCell::new(),
            records: RefCell::default(),
            weld_traces: RefCell::default(),
            filed: OnceCell::new(),
            any_metal_read: OnceCell::new(),
            limits: OnceCell::new(),
            metal_reads: RefCell::default(),
        })
    }

    /// Begins to read, or says that the book has no opening entry yet.
    pub(crate) fn new_or_empty(conn: &'c Connection) -> Result<Option<Self>> {
        let any: bool = conn.query_row("SELECT EXISTS (SELECT 1 FROM fact_station)", [], |row| row.get(0))?;
        if any { Self::new(conn).map(Some) } else { Ok(None) }
    }

    /// The tables that decide, if they were worked out.
    pub(super) fn limits_known(&self) -> Option<Rc<Tables>> {
        self.limits.get().cloned()
    }

    /// Keeps the tables that decide.
    pub(super) fn know_limits(&self, tables: Tables) -> Rc<Tables> {
        Rc::clone(self.limits.get_or_init(|| Rc::new(tables)))
    }

    /// Whether the book has any reading: most have none, and then nothing is looked for.
    pub(crate) fn any_metal_read(&self) -> Result<bool> {
        if let Some(any) = self.any_metal_read.get() {
            return Ok(*any);
        }
        let sql = "SELECT EXISTS (SELECT 1 FROM fact_metal_read)";
        let any = self.conn.query_row(sql, [], |row| row.get(0))?;
        Ok(*self.any_metal_read.get_or_init(|| any))
    }

    /// The readings on a thing, looked up once.
    pub(super) fn metal_cached(
        &self,
        thing: &[u8],
        read: impl FnOnce() -> Result<Vec<MetalReading>>,
    ) -> Result<Rc<Vec<MetalReading>>> {
        if let Some(known) = self.metal_reads.borrow().get(thing) {
            return Ok(Rc::clone(known));
        }
        let found = Rc::new(read()?);
        self.metal_reads.borrow_mut().insert(thing.to_vec(), Rc::clone(&found));
        Ok(found)
    }

    /// The connection.
    pub(crate) fn conn(&self) -> &'c Connection {
        self.conn
    }

    /// The shop's zone.
    pub fn zone(&self) -> Zone {
        self.zone
    }

    /// What the entry at a place says happened; of a correction, what holds instead.
    pub(crate) fn event(&self, place: Place) -> Result<Event> {
        event_at(self.conn, place)
    }

    /// Which entries stand.
    pub(crate) fn corrections(&self) -> &Corrections {
        &self.corrections
    }

    /// Whether an entry stands.
    pub(crate) fn stands(&self, place: Place) -> bool {
        self.corrections.stands(place)
    }

    /// The places that a query names, in its order, those that stand.
    pub(crate) fn standing_places(&self, sql: &str, values: impl rusqlite::Params) -> Result<Vec<Place>> {
        let mut statement = self.conn.prepare_cached(sql)?;
        let mut places = statement
            .query_map(values, |row| row.get(0).map(Place))?
            .collect::<rusqlite::Result<Vec<_>>>()?;
        places.retain(|place| self.stands(*place));
        Ok(places)
    }

    /// The things that a query names, each with the place of an entry: those of which an entry stands, each once, by
    /// identity.
    pub(crate) fn standing_things(
        &self,
        sql: &str,
        values: impl rusqlite::Params,
    ) -> Result<BTreeSet<[u8; 16]>> {
        let mut statement = self.conn.prepare_cached(sql)?;
        let mut rows = statement.query(values)?;
        let mut things = BTreeSet::new();
        while let Some(row) = rows.next()? {
            if self.stands(Place(row.get(1)?)) {
                things.insert(row.get(0)?);
            }
        }
        Ok(things)
    }

    /// The places that a query names, in its order, standing or not.
    pub(crate) fn places(&self, sql: &str, values: impl rusqlite::Params) -> Result<Vec<Place>> {
        let mut statement = self.conn.prepare_cached(sql)?;
        let places = statement
            .query_map(values, |row| row.get(0).map(Place))?
            .collect::<rusqlite::Result<Vec<_>>>()?;
        Ok(places)
    }

    /// The entry at a place in one look.
    pub(crate) fn found(&self, place: Place) -> Result<Found> {
        let mut statement = self.conn.prepare_cached("SELECT id, clock, line FROM entry WHERE place = ?1")?;
        let mut rows = statement.query([place.0])?;
        let Some(row) = rows.next()? else {
            return Err(log::not_there(place));
        };
        let id = EntryId(row.get(0)?);
        let clock = row.get::<_, i64>(1)?.unsigned_abs();
        let line = row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?;
        let entry = record::entry::decode_trusted(line)?;
        let origin = self.corrections.origin(place);
        let (order, recorded) = if origin == place {
            (order_at(&self.stations, place, clock), entry.header.time)
        } else {
            (self.order(origin)?, self.first_recorded(place)?)
        };
        Ok(Found { place, id, order, recorded, event: entry.event.effect() })
    }

    /// The entries at these places, in the order of the record.
    pub(crate) fn found_all(&self, places: impl IntoIterator<Item = Place>) -> Result<Vec<Found>> {
        let mut found = places.into_iter().map(|place| self.found(place)).collect::<Result<Vec<_>>>()?;
        found.sort_by_key(|found| (found.order, found.place));
        Ok(found)
    }

    /// The id of the entry at a place.
    pub(crate) fn id(&self, place: Place) -> Result<EntryId> {
        Ok(id_and_clock(self.conn, place)?.0)
    }

    /// Where an entry stands in the order of the record: clock, then station, then sequence number. A correction
    /// stands where the entry stood that it corrects.
    pub(crate) fn order(&self, place: Place) -> Result<Order> {
        order(self.conn, &self.stations, self.corrections.origin(place))
    }

    /// The id by which an entry is known for good: that of the first of its chain of corrections.
    pub(crate) fn origin_id(&self, place: Place) -> Result<EntryId> {
        self.id(self.corrections.origin(place))
    }

    /// Where the entry of an id is, if it is in this book.
    pub(crate) fn place_of(&self, id: EntryId) -> Result<Option<Place>> {
        self.conn
            .prepare_cached("SELECT place FROM entry WHERE id = ?1")?
            .query_row([id.0.as_slice()], |row| row.get(0).map(Place))
            .optional()
            .map_err(Error::from)
    }

    /// Places with their order, sorted by it.
    pub(crate) fn ordered(&self, places: Vec<Place>) -> Result<Vec<(Order, Place)>> {
        let mut ordered = places.into_iter().map(|p| Ok((self.order(p)?, p))).collect::<Result<Vec<_>>>()?;
        ordered.sort_unstable();
        Ok(ordered)
    }

    /// Place of the newest of the places that a query names and that stand; of all, where none stands.
    fn newest(&self, sql: &str, id: [u8; 16]) -> Result<Option<Place>> {
        let (places, _) = self.corrections.standing(self.places(sql, [id])?);
        if let [one] = places.as_slice() {
            return Ok(Some(*one));
        }
        Ok(self.ordered(places)?.last().map(|(_, place)| *place))
    }

    /// A lot.
    pub fn lot(&self, id: LotId) -> Result<Rc<Lot>> {
        cached(&self.lots, id, || lot::read(self, id))
    }

    /// Every status of a lot that stands, in the order of the record.
    pub(crate) fn statuses(&self, id: LotId) -> Result<Rc<Statuses>> {
        cached(&self.statuses, id, || lot::statuses(self, id))
    }

    /// Numbers of the certificates that are filed for a lot, in byte order.
    pub(crate) fn filed_numbers(&self, lot: LotId) -> Result<Vec<String>> {
        if self.filed.get().is_none() {
            // Nobody else sets it while this is read.
            let _ = self.filed.set(super::certificate::numbers_by_lot(self)?);
        }
        Ok(self.filed.get().and_then(|f| f.get(&lot)).cloned().unwrap_or_default())
    }

    /// A slip.
    pub fn slip(&self, id: SlipId) -> Result<Rc<Slip>> {
        cached(&self.slips, id, || slip::read(self, id))
    }

    /// A slip as the pure computation wants it.
    pub(crate) fn traced(&self, id: SlipId) -> Result<Rc<trace::Slip>> {
        cached(&self.traced, id, || {
            let slip = self.slip(id)?;
            Ok(slip.to_trace(&*self.lot(slip.lot)?))
        })
    }

    /// A slip with its lot and where it stands.
    pub fn slip_and_lot(&self, id: SlipId) -> Result<SlipAndLot> {
        let slip = self.slip(id)?;
        let lot = self.lot(slip.lot)?;
        let custody = self.custody(&slip)?;
        Ok(SlipAndLot { slip, lot, custody })
    }

    /// Where a slip stands.
    pub(crate) fn custody(&self, slip: &Slip) -> Result<Custody> {
        let clears = self.clears(slip.holder.person)?;
        Ok(slip::custody(slip, &*self.traced(slip.id)?, &clears))
    }

    /// A joint.
    pub fn joint(&self, id: JointId) -> Result<Rc<Joint>> {
        cached(&self.joints, id, || {
            let place = self.newest("SELECT place FROM fact_joint WHERE joint = ?1", id.bytes())?;
            let void = place.is_some_and(|p| !self.stands(p));
            match place.map(|p| self.event(p)).transpose()? {
                Some(Event::JointDeclared(declared)) => Ok(Joint { id, declared, void }),
                _ => Err(Error::Damaged(format!("a fact names joint {id}, which no entry describes"))),
            }
        })
    }

    /// The records of a joint that say that it was cut out.
    pub(crate) fn cut_outs(&self, joint: JointId) -> Result<Rc<Vec<CutOutRecord>>> {
        cached(&self.cut_outs, joint, || joint_trace::cut_outs(self, joint))
    }

    /// The weld record at a place.
    pub(crate) fn record(&self, place: Place) -> Result<Rc<Record>> {
        cached(&self.records, place, || Record::read(self, place))
    }

    /// The trace of a weld record at one of its joints.
    pub(crate) fn weld_trace(&self, found: &Record, joint: JointId) -> Result<Rc<WeldTrace>> {
        cached(&self.weld_traces, (found.place, joint), || joint_trace::work_out(self, found, joint))
    }

    /// A WPS.
    pub fn wps(&self, id: WpsId) -> Result<Rc<WpsDeclared>> {
        cached(&self.wps, id, || {
            let place = self.newest("SELECT place FROM fact_wps WHERE wps = ?1", id.bytes())?;
            match place.map(|p| self.event(p)).transpose()? {
                Some(Event::WpsDeclared(declared)) => Ok(declared),
                _ => Err(Error::Damaged(format!("a fact names WPS {id}, which no entry describes"))),
            }
        })
    }

    /// A person.
    pub fn person(&self, id: PersonId) -> Result<Rc<Person>> {
        cached(&self.people, id, || {
            let newest = self.newest("SELECT place FROM fact_person WHERE person = ?1", id.bytes())?;
            let Some(place) = newest else {
                return Err(Error::Damaged(format!("a fact names person {id}, whom no entry enrols")));
            };
            let Event::PersonEnrolled(enrolled) = self.event(place)? else {
                return Err(Error::Damaged(format!("a fact names person {id}, whom no entry enrols")));
            };
            let name = self
                .conn
                .prepare_cached("SELECT name FROM person_name WHERE place = ?1")?
                .query_row([place.0], |row| row.get(0))
                .optional()?;
            Ok(Person { id, badge: enrolled.badge, roles: enrolled.roles, name })
        })
    }

    /// The shop's shifts as last declared; none if never.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn shifts(&self) -> Result<Vec<record::time::Shift>> {
        let places = self.standing_places("SELECT place FROM fact_shifts", [])?;
        match self.ordered(places)?.last() {
            Some((_, place)) => {
                let event = self.event(*place)?;
                if let Event::ShiftsDeclared(declared) = event {
                    Ok(declared.shifts)
                } else {
                    Err(Error::Damaged(format!("shifts come from an entry of kind {}", event.kind())))
                }
            }
            None => Ok(Vec::new()),
        }
    }

    /// Name of the shop and of the station that writes in this book.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn shop_and_station(&self) -> Result<(String, String)> {
        self.conn
            .query_row(
                "SELECT f.shop, f.name FROM fact_station f JOIN entry e ON e.place = f.place
                 ORDER BY e.clock DESC LIMIT 1",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .map_err(Error::from)
    }

    /// Kinds of entries that this program does not know, with how many have them.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn not_understood(&self) -> Result<Vec<(String, u64)>> {
        let mut statement = self
            .conn
            .prepare_cached("SELECT kind, count(*) FROM fact_not_understood GROUP BY kind ORDER BY kind")?;
        let rows = statement
            .query_map([], |row| Ok((row.get(0)?, row.get::<_, i64>(1)?.unsigned_abs())))?
            .collect::<rusqlite::Result<_>>()?;
        Ok(rows)
    }

    /// When a welder declared that nothing is left.
    pub(crate) fn clears(&self, welder: PersonId) -> Result<Rc<Vec<Clear>>> {
        cached(&self.clears, welder, || {
            let mut statement = self.conn.prepare_cached(
                "SELECT place, at_from, at_to FROM fact_clear WHERE welder = ?1 ORDER BY place",
            )?;
            let rows = statement
                .query_map([welder.bytes()], |row| {
                    Ok((Place(row.get(0)?), row.get::<_, i64>(1)?, row.get::<_, i64>(2)?))
                })?
                .collect::<rusqlite::Result<Vec<_>>>()?;
            rows.into_iter()
                .filter(|(place, ..)| self.stands(*place))
                .map(|(place, from, to)| {
                    Ok(Clear {
                        holder: welder.number(),
                        at: trace::Interval { from, to: to.max(from) },
                        order: self.order(place)?,
                    })
                })
                .collect()
        })
    }

    /// Reads what a holder had over a stretch of time, for the questions about parts of it that follow.
    pub(crate) fn look_ahead(&self, holder: PersonId, from: Instant, to: Instant) -> Result<()> {
        let read = self.held.borrow().get(&holder).is_some_and(|held| held.covers(from, to));
        if !read {
            let held = Held::read(self, holder, from, to)?;
            self.held.borrow_mut().insert(holder, held);
        }
        Ok(())
    }

    /// The slips of a holder of which a closing was struck: they may be open whatever else is written of them.
    pub(crate) fn slips_of_struck_closings(&self, holder: PersonId) -> Result<&[SlipId]> {
        if self.struck_closings.get().is_none() {
            let mut by_holder: HashMap<PersonId, Vec<SlipId>> = HashMap::new();
            let mut statement = self
                .conn
                .prepare_cached("SELECT holder, slip FROM fact_out WHERE place = ?1 AND closes = 1")?;
            for place in self.corrections.struck_places() {
                let row = statement.query_row([place.0], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
                if let Some((holder, slip)) = row {
                    let slips = by_holder.entry(PersonId::from_bytes(holder)).or_default();
                    slips.push(SlipId::from_bytes(slip));
                }
            }
            // Nothing else fills it meanwhile.
            let _ = self.struck_closings.set(by_holder);
        }
        let slips = self.struck_closings.get().and_then(|by_holder| by_holder.get(&holder));
        Ok(slips.map_or(&[], Vec::as_slice))
    }

    /// Slips of a holder whose custody may overlap the closed interval: a superset that leaves out only what is
    /// closed for certain before it.
    pub(crate) fn slips_held(&self, holder: PersonId, from: Instant, to: Instant) -> Result<Vec<SlipId>> {
        if let Some(held) = self.held.borrow().get(&holder).filter(|held| held.covers(from, to)) {
            return Ok(held.during(from, to));
        }
        Ok(Held::read(self, holder, from, to)?.during(from, to))
    }
}

/// Where an entry stands in the order of the record, corrections apart.
fn order(conn: &Connection, stations: &HashMap<i64, [u8; 5]>, place: Place) -> Result<Order> {
    let (_, clock) = id_and_clock(conn, place)?;
    Ok(order_at(stations, place, clock))
}

/// The order of an entry of a known clock.
fn order_at(stations: &HashMap<i64, [u8; 5]>, place: Place, clock: u64) -> Order {
    let station = stations.get(&place.station_no()).copied().unwrap_or_default();
    let station = station.iter().fold(0_u128, |n, byte| (n << 8) | u128::from(*byte));
    (u128::from(clock) << 80) | (station << 40) | u128::from(place.seq())
}

/// The zone of the shop: that of the newest station.
pub(crate) fn zone(conn: &Connection) -> Result<Zone> {
    let name: Option<String> = conn
        .prepare_cached(
            "SELECT f.zone FROM fact_station f JOIN entry e ON e.place = f.place ORDER BY e.clock DESC LIMIT 1",
        )?
        .query_row([], |row| row.get(0))
        .optional()?;
    let name = name.ok_or_else(|| Error::Damaged("the book has no opening entry".into()))?;
    Zone::named(&name).map_err(|e| Error::Damaged(e.to_string()))
}

fn cached<K: std::hash::Hash + Eq, V>(
    cache: &RefCell<HashMap<K, Rc<V>>>,
    key: K,
    read: impl FnOnce() -> Result<V>,
) -> Result<Rc<V>> {
    if let Some(found) = cache.borrow().get(&key) {
        return Ok(Rc::clone(found));
    }
    let value = Rc::new(read()?);
    cache.borrow_mut().insert(key, Rc::clone(&value));
    Ok(value)
}
