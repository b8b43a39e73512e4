//! Labels of people, joints, procedures and slips: what the files say they mean, and else the book.

use super::cells::Cells;
use super::columns::Column;
use super::near::Near;
use crate::ask::label;
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::facts::LabelKind;
use crate::log::Place;
use record::Stated;
use record::id::{LotId, PersonId, SlipId};
use std::collections::HashMap;

/// How many labels found in the book are kept at hand.
const KEPT: usize = 100_000;

/// What is known of a slip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct SlipKnown {
    /// Identity.
    pub(super) id: SlipId,
    /// Its lot and holder; none where the row that says so cannot be taken.
    pub(super) of: Option<(LotId, PersonId)>,
    /// Whether it was in the book before.
    pub(super) in_book: bool,
}

/// A thing named by one label.
pub(super) trait Named: Copy {
    /// The thing of an identity in the book.
    fn in_book(book: &Reading<'_>, id: [u8; 16]) -> Result<Option<Self>>;
}

macro_rules! named_by_identity {
    ($($id:path),*) => {$(
        impl Named for $id {
            fn in_book(_: &Reading<'_>, id: [u8; 16]) -> Result<Option<Self>> {
                Ok(Some(Self::from_bytes(id)))
            }
        }
    )*};
}
named_by_identity!(PersonId, record::id::JointId, record::id::WpsId);

impl Named for SlipKnown {
    fn in_book(book: &Reading<'_>, id: [u8; 16]) -> Result<Option<Self>> {
        let mut statement =
            book.conn().prepare_cached("SELECT place, lot, holder FROM fact_slip WHERE slip = ?1")?;
        let begun = statement
            .query_map([id], |row| {
                let of = (LotId::from_bytes(row.get(1)?), PersonId::from_bytes(row.get(2)?));
                Ok((Place(row.get(0)?), of))
            })?
            .collect::<rusqlite::Result<Vec<_>>>()?;
        let of = begun.iter().find(|(place, _)| book.stands(*place)).or_else(|| begun.last());
        Ok(of.map(|(_, of)| Self { id: SlipId::from_bytes(id), of: Some(*of), in_book: true }))
    }
}

/// What a label means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Meaning<T> {
    /// This.
    One(T),
    /// Nothing.
    Nothing,
    /// Several things of the book.
    Several,
}

/// The labels of one kind of thing.
#[derive(Debug)]
pub(super) struct Names<T> {
    kind: LabelKind,
    what: &'static str,
    file: &'static str,
    in_files: HashMap<Box<str>, T>,
    from_book: HashMap<Box<str>, T>,
    any_in_book: bool,
    file_is_broken: bool,
    near: Near,
}

impl<T: Named> Names<T> {
    /// None yet. `file` is where such things are described.
    pub(super) fn new(
        book: &Reading<'_>,
        kind: LabelKind,
        what: &'static str,
        file: &'static str,
    ) -> Result<Self> {
        let any_in_book = book.conn().query_row(
            "SELECT EXISTS (SELECT 1 FROM fact_label WHERE kind = ?1)",
            [kind.word()],
            |row| row.get(0),
        )?;
        Ok(Self {
            kind,
            what,
            file,
            in_files: HashMap::new(),
            from_book: HashMap::new(),
            any_in_book,
            file_is_broken: false,
            near: Near::default(),
        })
    }

    /// Says that the file of these things could not be read, so that a label that is not found may well be in it.
    pub(super) fn file_is_broken(&mut self) {
        self.file_is_broken = true;
    }

    /// Makes room.
    pub(super) fn reserve(&mut self, rows: u64) {
        self.in_files.reserve(usize::try_from(rows).unwrap_or(0));
    }

    /// A thing of the files.
    pub(super) fn add(&mut self, label: &str, thing: T) {
        self.in_files.insert(label.into(), thing);
    }

    /// The thing of that label in the files.
    pub(super) fn in_files(&self, label: &str) -> Option<T> {
        self.in_files.get(label).copied()
    }

    /// What a label means in the book.
    pub(super) fn in_book(&mut self, book: &Reading<'_>, label: &str) -> Result<Meaning<T>> {
        if !self.any_in_book {
            return Ok(Meaning::Nothing);
        }
        if let Some(thing) = self.from_book.get(label) {
            return Ok(Meaning::One(*thing));
        }
        Ok(match label::things(book, self.kind, label)?.as_slice() {
            [] => Meaning::Nothing,
            [id] => match T::in_book(book, *id)? {
                Some(thing) => {
                    if self.from_book.len() < KEPT {
                        self.from_book.insert(label.into(), thing);
                    }
                    Meaning::One(thing)
                }
                None => Meaning::Nothing,
            },
            [..] => Meaning::Several,
        })
    }

    /// What a label means, in the files or else in the book.
    pub(super) fn meaning(&mut self, book: &Reading<'_>, label: &str) -> Result<Meaning<T>> {
        match self.in_files(label) {
            Some(thing) => Ok(Meaning::One(thing)),
            None => self.in_book(book, label),
        }
    }

    /// The thing that a label in a cell means; none, and the cell reported, where it does not mean one thing.
    pub(super) fn resolve(
        &mut self,
        book: &Reading<'_>,
        cells: &mut Cells<'_, '_, '_>,
        column: Column,
        label: &str,
    ) -> Result<Option<T>> {
        match self.meaning(book, label)? {
            Meaning::One(thing) => return Ok(Some(thing)),
            Meaning::Nothing => match self.unknown(book, cells.is_listed(), label)? {
                Some(why) => cells.refuse(column, why),
                None => cells.give_up(),
            },
            Meaning::Several => {
                cells.refuse(column, format!("in the book {label:?} means several {}s", self.what));
            }
        }
        Ok(None)
    }

    /// What to say of a label that means nothing; none where it may be in a file that could not be read, which is
    /// reported itself. Near labels are looked for only if the message will be `listed`.
    pub(super) fn unknown(
        &mut self,
        book: &Reading<'_>,
        listed: bool,
        label: &str,
    ) -> Result<Option<String>> {
        if self.file_is_broken {
            return Ok(None);
        }
        let near = if listed {
            self.near.told(book, self.kind, label, self.in_files.keys().map(|l| &**l))?
        } else {
            String::new()
        };
        Ok(Some(format!("neither {} nor the book has a {} {label:?}{near}", self.file, self.what)))
    }

    /// The thing named by a cell that must name one, with the label as typed; `what` it is, for the message.
    pub(super) fn needed(
        &mut self,
        book: &Reading<'_>,
        cells: &mut Cells<'_, '_, '_>,
        column: Column,
        what: &str,
    ) -> Result<Option<(String, T)>> {
        let Some(label) = cells.needed_label(column, what) else {
            return Ok(None);
        };
        Ok(self.resolve(book, cells, column, &label)?.map(|thing| (label.into_owned(), thing)))
    }

    /// The thing named by a cell, with the label as typed, or why none is named.
    pub(super) fn stated(
        &mut self,
        book: &Reading<'_>,
        cells: &mut Cells<'_, '_, '_>,
        column: Column,
    ) -> Result<Stated<(String, T)>> {
        let label = match cells.label(column) {
            Stated::Value(label) => label,
            Stated::NotAsked => return Ok(Stated::NotAsked),
            Stated::NotApplicable => return Ok(Stated::NotApplicable),
            Stated::Unknown => return Ok(Stated::Unknown),
            Stated::Illegible => return Ok(Stated::Illegible),
        };
        let thing = self.resolve(book, cells, column, &label)?;
        Ok(Stated::from_option(thing.map(|thing| (label.into_owned(), thing))))
    }

    /// The things named by a list.
    pub(super) fn list(
        &mut self,
        book: &Reading<'_>,
        cells: &mut Cells<'_, '_, '_>,
        column: Column,
    ) -> Result<Vec<(String, T)>> {
        let labels = cells.labels(column).into_value().unwrap_or_default();
        let mut things = Vec::with_capacity(labels.len());
        for label in labels {
            if let Some(thing) = self.resolve(book, cells, column, &label)? {
                things.push((label, thing));
            }
        }
        Ok(things)
    }
}
