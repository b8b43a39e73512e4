//! `lots.csv`: deliveries, and what a lot's label means.
//!
//! A label means every lot that has it as control code or as maker's lot number, in the files and in the book
//! together. A row of the same maker, maker's lot, classification, size and form as another is a further delivery.

use super::cells::{self, Cells};
use super::columns::{Column, lots as column};
use super::near::Near;
use super::repeats::Repeats;
use super::table::Table;
use super::{Import, recorded};
use crate::ask::reading::Reading;
use crate::ask::{label, lot};
use crate::error::Result;
use crate::facts::LabelKind;
use crate::tell::receive;
use filler::{Marking, ProductForm, Surface};
use record::Stated;
use record::event::{Event, LotReceived, LotRef, LotReleased};
use record::id::LotId;
use std::collections::HashMap;

/// A lot of the files, as far as its labels go.
#[derive(Debug)]
struct InFiles {
    code: String,
    maker: Option<String>,
    line: String,
}

/// What a label was found to mean.
#[derive(Clone, Debug)]
enum Meaning {
    One(LotId),
    Nothing,
    Several(String),
}

/// The lots of files and book, by what people call them.
#[derive(Debug, Default)]
pub(super) struct Lots {
    by_label: HashMap<Box<str>, Vec<LotId>>,
    by_identity: HashMap<String, LotId>,
    in_files: HashMap<LotId, InFiles>,
    told: HashMap<Box<str>, Meaning>,
    file_is_broken: bool,
    near: Near,
}

impl Lots {
    /// Says that `lots.csv` could not be read.
    pub(super) fn file_is_broken(&mut self) {
        self.file_is_broken = true;
    }

    fn add(&mut self, received: &LotReceived) {
        let id = received.lot;
        let labels = std::iter::once(&received.code).chain(received.maker_lot.value());
        for label in labels {
            let meant = self.by_label.entry(label.as_str().into()).or_default();
            if !meant.contains(&id) {
                meant.push(id);
            }
        }
        self.by_identity.entry(lot::identity(received)).or_insert(id);
        self.in_files.entry(id).or_insert_with(|| InFiles {
            code: received.code.clone(),
            maker: received.maker.value().cloned(),
            line: line(received),
        });
    }

    /// Notes the code of a row that cannot be taken, so that rows which name it are not refused for it as well.
    fn note(&mut self, cell: &str, id: LotId) {
        if let Ok(code) = cells::label(cell) {
            self.by_label.entry(code.as_ref().into()).or_insert_with(|| vec![id]);
            let (code, line) = (code.to_string(), code.to_string());
            self.in_files.insert(id, InFiles { code, maker: None, line });
        }
    }

    /// Lots that carry exactly this label.
    fn carrying(&self, book: &Reading<'_>, label: &str) -> Result<Vec<LotId>> {
        let mut lots = self.by_label.get(label).cloned().unwrap_or_default();
        for id in label::things(book, LabelKind::Lot, label)?.into_iter().map(LotId::from_bytes) {
            if !lots.contains(&id) {
                lots.push(id);
            }
        }
        Ok(lots)
    }

    /// Control code, maker and description of a lot.
    fn described(&self, book: &Reading<'_>, id: LotId) -> Result<(String, Option<String>, String)> {
        if let Some(lot) = self.in_files.get(&id) {
            return Ok((lot.code.clone(), lot.maker.clone(), lot.line.clone()));
        }
        let lot = lot::read(book, id)?;
        Ok((lot.received.code.clone(), lot.received.maker.value().cloned(), lot.line()))
    }

    /// Lots that a label means: as control code or maker's lot, as `MAKER:LABEL`, or as an identity in the book.
    fn meanings(&self, book: &Reading<'_>, typed: &str) -> Result<Vec<LotId>> {
        let found = self.carrying(book, typed)?;
        if !found.is_empty() {
            return Ok(found);
        }
        if label::as_identity(typed).is_some() {
            return Ok(lot::meanings(book, typed)?.into_iter().map(|l| l.id).collect());
        }
        // A maker's name may hold a colon, so every place is tried.
        for (at, _) in typed.match_indices(':') {
            let (maker, label) = (typed.get(..at).unwrap_or(""), typed.get(at + 1..).unwrap_or(""));
            let mut of_maker = Vec::new();
            for id in self.carrying(book, label)? {
                if self.described(book, id)?.1.as_deref() == Some(maker) {
                    of_maker.push(id);
                }
            }
            if !of_maker.is_empty() {
                return Ok(of_maker);
            }
        }
        Ok(Vec::new())
    }

    /// How several lots of one label can be told apart.
    fn told_apart(&self, book: &Reading<'_>, lots: &[LotId]) -> Result<String> {
        let mut told = Vec::with_capacity(lots.len());
        for id in lots {
            let (code, maker, line) = self.described(book, *id)?;
            let with_maker = maker.map(|maker| format!("{maker}:{code}"));
            let mut only = None;
            for candidate in std::iter::once(code).chain(with_maker) {
                if self.meanings(book, &candidate)?.len() == 1 {
                    only = Some(candidate);
                    break;
                }
            }
            told.push(match only {
                Some(label) => format!("write {label} for {line}"),
                None if self.in_files.contains_key(id) => {
                    format!("{line} has no label of its own: give it another control code in lots.csv")
                }
                None => format!("write {id} for {line}"),
            });
        }
        Ok(told.join("; "))
    }

    fn meaning(&mut self, book: &Reading<'_>, label: &str) -> Result<Meaning> {
        if let Some(meaning) = self.told.get(label) {
            return Ok(meaning.clone());
        }
        let meaning = match self.meanings(book, label)?.as_slice() {
            [] => Meaning::Nothing,
            [one] => Meaning::One(*one),
            several => Meaning::Several(self.told_apart(book, several)?),
        };
        // A file of a million wrong labels does not need a million answers kept.
        if self.told.len() < 100_000 {
            self.told.insert(label.into(), meaning.clone());
        }
        Ok(meaning)
    }

    /// The one lot that a label in a cell means; none, and the cell reported, where it does not mean one.
    fn resolve(
        &mut self,
        book: &Reading<'_>,
        cells: &mut Cells<'_, '_, '_>,
        column: Column,
        label: &str,
    ) -> Result<Option<LotId>> {
        if let Some(Meaning::One(lot)) = self.told.get(label) {
            return Ok(Some(*lot));
        }
        match self.meaning(book, label)? {
            Meaning::One(lot) => return Ok(Some(lot)),
            Meaning::Several(told_apart) => {
                cells.refuse(column, format!("the label means several lots: {told_apart}"));
            }
            Meaning::Nothing if self.file_is_broken => cells.give_up(),
            Meaning::Nothing => {
                let near = if cells.is_listed() {
                    let in_files = self.by_label.keys().map(|l| &**l);
                    self.near.told(book, LabelKind::Lot, label, in_files)?
                } else {
                    String::new()
                };
                cells.refuse(column, format!("neither lots.csv nor the book has a lot {label:?}{near}"));
            }
        }
        Ok(None)
    }

    /// The lot named by a cell that must name one.
    pub(super) fn needed(
        &mut self,
        book: &Reading<'_>,
        cells: &mut Cells<'_, '_, '_>,
        column: Column,
    ) -> Result<Option<LotRef>> {
        let Some(label) = cells.needed_label(column, "the label of the lot") else {
            return Ok(None);
        };
        let lot = self.resolve(book, cells, column, &label)?;
        Ok(lot.map(|lot| LotRef { label: label.into_owned(), lot }))
    }

    /// The lot named by a cell, or why none is named.
    pub(super) fn stated(
        &mut self,
        book: &Reading<'_>,
        cells: &mut Cells<'_, '_, '_>,
        column: Column,
    ) -> Result<Stated<LotRef>> {
        let label = match cells.label(column) {
            Stated::Value(label) => label,
            Stated::NotAsked => return Ok(Stated::NotAsked),
            Stated::NotApplicable => return Ok(Stated::NotApplicable),
            Stated::Unknown => return Ok(Stated::Unknown),
            Stated::Illegible => return Ok(Stated::Illegible),
        };
        let lot = self.resolve(book, cells, column, &label)?;
        Ok(Stated::from_option(lot.map(|lot| LotRef { label: label.into_owned(), lot })))
    }

    /// The control code of a lot, for messages.
    pub(super) fn code(&self, book: &Reading<'_>, id: LotId) -> Result<String> {
        Ok(self.described(book, id)?.0)
    }
}

/// Code, classification, maker and maker's lot in one line.
fn line(received: &LotReceived) -> String {
    let parts = [&received.classification, &received.maker, &received.maker_lot];
    std::iter::once(received.code.as_str())
        .chain(parts.into_iter().filter_map(|p| p.value()).map(String::as_str))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Makes entries of the rows.
pub(super) fn take(import: &mut Import<'_, '_>, table: &Table<'_>, step: &mut dyn FnMut()) -> Result<()> {
    let mut repeats = Repeats::default();
    table.for_each(import, |i| &mut i.bad, |import, row| {
        step();
        let book = import.book;
        let mut cells = Cells::new(row, &mut import.bad, import.zone);
        let new = LotId(import.ids.next()?);
        let Some(mut received) = read(&mut cells, new) else {
            import.lots.note(&row.cell(column::LOT), new);
            return Ok(());
        };
        let released = cells.time(column::RELEASED_AT, &[]);
        match of_identity(&import.lots, import.book, &received)? {
            Some((id, code)) if code == received.code => received.lot = id,
            Some((_, code)) => {
                cells.refuse(
                    column::LOT,
                    format!(
                        "maker, maker's lot, classification, size and form are those of lot {code}: that is one lot. \
                         Write {code} for a further delivery of it, or correct what differs"
                    ),
                );
                import.lots.note(&received.code, new);
                return Ok(());
            }
            None => {
                let others: Vec<LotId> = import.lots.carrying(book, &received.code)?;
                for other in others {
                    let (code, _, line) = import.lots.described(book, other)?;
                    if code == received.code {
                        import.warnings.push(format!(
                            "lots.csv: row {}: {} is the code of another lot too ({line}); the label means two lots",
                            row.number(),
                            received.code
                        ));
                    }
                }
            }
        }
        let sound = cells.are_sound();
        let imported = cells.imported();
        let code = received.code.clone();
        let before = if repeats.is_repeat(row.raw(), row.number()) {
            None
        } else {
            receipt_in_book(import, &received)?
        };
        received.lot = before.unwrap_or(received.lot);
        import.lots.add(&received);
        if !sound {
            return Ok(());
        }
        let lot = received.lot;
        if before.is_none() {
            import.append(Event::LotReceived(received))?;
        }
        let mut taken = before.is_none();
        if let Stated::Value(at) = released {
            let label = LotRef { label: code, lot };
            let event = Event::LotReleased(LotReleased { at, imported, lot: label, why: String::new() });
            let sql = "SELECT place FROM fact_lot_status WHERE lot = ?1 AND status = 'released'";
            if recorded::same(book, import.own, sql, [lot.bytes()], &event)?.is_none() {
                import.append(event)?;
                taken = true;
            }
        }
        if !taken {
            import.already_there += 1;
        }
        Ok(())
    })?;
    import.warnings.extend(repeats.warning(table.layout.file, "each was booked in as a delivery"));
    Ok(())
}

/// A row as a receipt of a lot of that identity; none where it has not got what every receipt needs.
fn read(cells: &mut Cells<'_, '_, '_>, lot: LotId) -> Option<LotReceived> {
    let code = cells.needed_label(column::LOT, "the control code of the lot");
    let maker = cells.text(column::MAKER);
    let maker_lot = cells.text(column::MAKER_LOT);
    let heats = cells.labels(column::HEATS);
    let spec = cells.text(column::SPEC);
    let classification = cells.text(column::CLASSIFICATION);
    let size = cells.size(column::SIZE);
    let form = cells.word(column::FORM, ProductForm::ALL, ProductForm::word);
    let surface = cells.word(column::SURFACE, Surface::ALL, Surface::word);
    let marking = cells.word(column::MARKING, Marking::ALL, Marking::word);
    let quantity = cells.quantity(column::QUANTITY);
    let declared = cells.stated(column::PIECE_G, |cell| match filler::grams_to_mg(cell) {
        Ok(0) => Err("a piece has some mass; leave the cell empty if it is not known".to_owned()),
        Ok(mg) => Ok(mg),
        Err(e) => Err(e.to_string()),
    });
    let certificate = cells.text(column::CERTIFICATE);
    let certificate_type = cells.text(column::CERTIFICATE_TYPE);
    let at = cells.needed_time(column::RECEIVED_AT, &[]);
    let piece = receive::piece_mass(declared.into_value(), &form, &size, &spec, &classification);
    let (heats, heats_stated) = match heats {
        Stated::Value(heats) => (heats, Stated::NotAsked),
        Stated::NotAsked => (Vec::new(), Stated::NotAsked),
        Stated::NotApplicable => (Vec::new(), Stated::NotApplicable),
        Stated::Unknown => (Vec::new(), Stated::Unknown),
        Stated::Illegible => (Vec::new(), Stated::Illegible),
    };
    Some(LotReceived {
        at: at?,
        certificate,
        certificate_type,
        classification,
        code: code?.into_owned(),
        form,
        heats,
        heats_stated,
        imported: cells.imported(),
        lot,
        maker,
        maker_lot,
        marking,
        piece,
        quantity,
        size,
        spec,
        surface,
    })
}

/// The lot of the same identity in the files or the book, with its control code.
fn of_identity(lots: &Lots, book: &Reading<'_>, received: &LotReceived) -> Result<Option<(LotId, String)>> {
    let id = match lots.by_identity.get(&lot::identity(received)) {
        Some(id) => Some(*id),
        None => receive::of_identity(book, received)?,
    };
    id.map(|id| Ok((id, lots.code(book, id)?))).transpose()
}

/// The lot of a receipt that the book has with every column the same.
fn receipt_in_book(import: &Import<'_, '_>, received: &LotReceived) -> Result<Option<LotId>> {
    let sql = "SELECT place FROM fact_lot WHERE lot = ?1 ORDER BY place";
    let event = Event::LotReceived(received.clone());
    for id in label::things(import.book, LabelKind::Lot, &received.code)? {
        if recorded::same(import.book, import.own, sql, [id], &event)?.is_some() {
            return Ok(Some(LotId::from_bytes(id)));
        }
    }
    Ok(None)
}
