//! One read of the book, with what it has read so far.
//!
//! All details come from the hashed lines; the facts only say where to look.

use super::lot::Lot;
use super::slip::{Custody, Slip, SlipAndLot};
use super::{lot, slip};
use crate::error::{Error, Result};
use crate::log::{self, Place, entry_at, id_and_clock};
use record::event::{Event, JointDeclared, WpsDeclared};
use record::id::{EntryId, JointId, LotId, PersonId, SlipId, WpsId};
use record::person::Role;
use record::{Instant, Zone};
use rusqlite::{Connection, OptionalExtension as _};
use std::cell::RefCell;
use std::collections::{HashMap, HashSet};
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
}

/// A read transaction's worth of answers.
pub struct Reading<'c> {
    conn: &'c Connection,
    zone: Zone,
    stations: HashMap<i64, [u8; 5]>,
    lots: RefCell<HashMap<LotId, Rc<Lot>>>,
    slips: RefCell<HashMap<SlipId, Rc<Slip>>>,
    traced: RefCell<HashMap<SlipId, Rc<trace::Slip>>>,
    joints: RefCell<HashMap<JointId, Rc<Joint>>>,
    wps: RefCell<HashMap<WpsId, Rc<WpsDeclared>>>,
    people: RefCell<HashMap<PersonId, Rc<Person>>>,
    clears: RefCell<HashMap<PersonId, Rc<Vec<Clear>>>>,
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
        Ok(Self {
            conn,
            zone: zone(conn)?,
            stations,
            lots: RefCell::default(),
            slips: RefCell::default(),
            traced: RefCell::default(),
            joints: RefCell::default(),
            wps: RefCell::default(),
            people: RefCell::default(),
            clears: RefCell::default(),
        })
    }

    /// Begins to read, or says that the book has no opening entry yet.
    pub(crate) fn new_or_empty(conn: &'c Connection) -> Result<Option<Self>> {
        let any: bool = conn.query_row("SELECT EXISTS (SELECT 1 FROM fact_station)", [], |row| row.get(0))?;
        if any { Self::new(conn).map(Some) } else { Ok(None) }
    }

    /// The connection.
    pub(crate) fn conn(&self) -> &'c Connection {
        self.conn
    }

    /// The shop's zone.
    pub fn zone(&self) -> Zone {
        self.zone
    }

    /// The event at a place.
    pub(crate) fn event(&self, place: Place) -> Result<Event> {
        Ok(entry_at(self.conn, place)?.event)
    }

    /// The id of the entry at a place.
    pub(crate) fn id(&self, place: Place) -> Result<EntryId> {
        Ok(id_and_clock(self.conn, place)?.0)
    }

    /// Where an entry stands in the order of the record: clock, then station, then sequence number.
    pub(crate) fn order(&self, place: Place) -> Result<Order> {
        let (_, clock) = id_and_clock(self.conn, place)?;
        let station = self.stations.get(&place.station_no()).copied().unwrap_or_default();
        let station = station.iter().fold(0_u128, |n, byte| (n << 8) | u128::from(*byte));
        Ok((u128::from(clock) << 80) | (station << 40) | u128::from(place.seq()))
    }

    /// Places with their order, sorted by it.
    pub(crate) fn ordered(&self, places: Vec<Place>) -> Result<Vec<(Order, Place)>> {
        let mut ordered = places.into_iter().map(|p| Ok((self.order(p)?, p))).collect::<Result<Vec<_>>>()?;
        ordered.sort_unstable();
        Ok(ordered)
    }

    /// Place of the newest of the places that a query names.
    fn newest(&self, sql: &str, id: [u8; 16]) -> Result<Option<Place>> {
        let mut statement = self.conn.prepare_cached(sql)?;
        let places =
            statement.query_map([id], |row| row.get(0).map(Place))?.collect::<rusqlite::Result<Vec<_>>>()?;
        Ok(self.ordered(places)?.last().map(|(_, place)| *place))
    }

    /// A lot.
    pub fn lot(&self, id: LotId) -> Result<Rc<Lot>> {
        cached(&self.lots, id, || lot::read(self.conn, id))
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
            match place.map(|p| self.event(p)).transpose()? {
                Some(Event::JointDeclared(declared)) => Ok(Joint { id, declared }),
                _ => Err(Error::Damaged(format!("a fact names joint {id}, which no entry describes"))),
            }
        })
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
        let mut statement = self.conn.prepare_cached("SELECT place FROM fact_shifts")?;
        let places =
            statement.query_map([], |row| row.get(0).map(Place))?.collect::<rusqlite::Result<Vec<_>>>()?;
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

    /// Slips of a holder whose custody may overlap the closed interval: a superset that leaves out only what is
    /// closed for certain before it.
    pub(crate) fn slips_held(&self, holder: PersonId, from: Instant, to: Instant) -> Result<Vec<SlipId>> {
        // A `clear` before the interval closes everything issued before it, so nothing older needs a look.
        let oldest: i64 = self
            .clears(holder)?
            .iter()
            .filter(|c| c.at.to < from.0)
            .map(|c| c.at.from)
            .fold(i64::MIN, i64::max);
        // Two range reads and a set: looking into an index for each slip that the holder ever had costs ten times as much.
        let mut statement = self.conn.prepare_cached(
            "SELECT slip FROM fact_out WHERE holder = ?1 AND closes = 1 AND at_to >= ?3 AND at_to < ?2",
        )?;
        let closed: HashSet<[u8; 16]> = statement
            .query_map((holder.bytes(), from.0, oldest), |row| row.get(0))?
            .collect::<rusqlite::Result<_>>()?;
        let mut statement = self.conn.prepare_cached(
            "SELECT slip, issued_from FROM fact_slip WHERE holder = ?1 AND issued_from BETWEEN ?3 AND ?2
             ORDER BY issued_from, slip",
        )?;
        let mut rows = statement.query((holder.bytes(), to.0, oldest))?;
        let mut slips = Vec::new();
        while let Some(row) = rows.next()? {
            let slip: [u8; 16] = row.get(0)?;
            // What is issued later than it is closed is held at its issue.
            if row.get::<_, i64>(1)? >= from.0 || !closed.contains(&slip) {
                slips.push(SlipId::from_bytes(slip));
            }
        }
        Ok(slips)
    }
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
