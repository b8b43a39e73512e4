//! Who held what when in the whole book, worked out once for questions about every weld record.

use super::reading::Reading;
use super::{joint_trace, metal};
use crate::error::{Error, Result};
use record::event::Event;
use record::id::{PersonId, SlipId};
use std::collections::{BTreeSet, HashMap};
use trace::{Answer, Clear, Custody, Holdings, Id, SpotCheck, Weld};

/// All slips, clears and spot checks of the book that stand.
pub(crate) struct Held {
    slips: Vec<trace::Slip>,
    clears: Vec<Clear>,
    checks: Vec<SpotCheck>,
}

impl Held {
    pub(crate) fn read(reading: &Reading<'_>) -> Result<Self> {
        let conn = reading.conn();
        let ids = reading.standing_things("SELECT slip, place FROM fact_slip", [])?;
        let slips = ids
            .into_iter()
            .map(|id| Ok((*reading.traced(SlipId::from_bytes(id))?).clone()))
            .collect::<Result<Vec<_>>>()?;
        let mut statement = conn.prepare_cached("SELECT DISTINCT welder FROM fact_clear")?;
        let welders = statement
            .query_map([], |row| row.get(0).map(PersonId::from_bytes))?
            .collect::<rusqlite::Result<Vec<_>>>()?;
        let mut clears = Vec::new();
        for welder in welders {
            clears.extend(reading.clears(welder)?.iter().cloned());
        }
        let mut checks = Vec::new();
        for place in reading.standing_places("SELECT place FROM fact_spot_check", [])? {
            if let Event::MarkSpotChecked(check) = reading.event(place)? {
                checks.push(joint_trace::check_to_trace(reading.order(place)?, &check));
            }
        }
        Ok(Self { slips, clears, checks })
    }
}

/// The custody of every slip.
pub(crate) struct WholeBook<'h> {
    pub(crate) holdings: Holdings<'h>,
    slips: HashMap<Id, (&'h trace::Slip, Custody)>,
}

impl<'h> WholeBook<'h> {
    pub(crate) fn new(held: &'h Held) -> Self {
        let holdings = Holdings::new(&held.slips, &held.clears, &held.checks);
        let holders: BTreeSet<Id> = held.slips.iter().map(|slip| slip.holder).collect();
        let slips = holders
            .into_iter()
            .flat_map(|holder| holdings.of(holder))
            .map(|(slip, custody)| (slip.id, (*slip, *custody)))
            .collect();
        Self { holdings, slips }
    }

    /// What can have fed a weld, held against the readings.
    pub(crate) fn answer(&self, reading: &Reading<'_>, weld: &Weld) -> Result<Answer> {
        Ok(metal::held_against(reading, weld, self.holdings.sources(weld))?.0)
    }

    /// A slip of the book and its custody.
    pub(crate) fn slip(&self, id: Id) -> Result<(&'h trace::Slip, Custody)> {
        self.slips.get(&id).copied().ok_or_else(|| {
            Error::Damaged(format!("slip {} is in no holder's hands", uuid::Uuid::from_u128(id)))
        })
    }

    /// Every slip with its custody, in no order.
    pub(crate) fn slips(&self) -> impl Iterator<Item = (&'h trace::Slip, Custody)> {
        self.slips.values().copied()
    }
}
