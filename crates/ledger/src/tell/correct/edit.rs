//! Cells of an entry, one after the other: each shown as the import files have it, and set where it is asked for.

use crate::ask::label;
use crate::ask::lot;
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::facts::LabelKind;
use crate::tell;
use record::event::{Change, JointRef, LotRef, PersonRef, SlipRef, WpsRef};
use record::id::WpsId;
use record::time::{self, Shift};
use record::{Stated, When, Zone};

/// A thing as a body names it: what was typed, and what that means.
pub(super) trait Named: Sized {
    /// The thing that a text means.
    fn find(reading: &Reading<'_>, typed: &str) -> Result<Self>;
    /// What was typed.
    fn label(&self) -> String;
    /// What it means.
    fn identity(&self) -> String;
    /// Whether both mean the same.
    fn same(&self, other: &Self) -> bool {
        self.identity() == other.identity()
    }
}

macro_rules! named {
    ($($thing:ident: $label:ident, $identity:ident, $find:expr;)*) => {$(
        impl Named for $thing {
            fn find(reading: &Reading<'_>, typed: &str) -> Result<Self> {
                $find(reading, typed)
            }
            fn label(&self) -> String {
                self.$label.clone()
            }
            fn identity(&self) -> String {
                self.$identity.to_string()
            }
        }
    )*};
}

named! {
    PersonRef: badge, person, tell::person_ref;
    LotRef: label, lot, lot_named;
    SlipRef: number, slip, tell::slip_ref;
    JointRef: number, joint, tell::joint_ref;
    WpsRef: number, wps, procedure_named;
}

fn lot_named(reading: &Reading<'_>, typed: &str) -> Result<LotRef> {
    Ok(LotRef { label: typed.to_owned(), lot: lot::one(reading, typed)?.id })
}

fn procedure_named(reading: &Reading<'_>, typed: &str) -> Result<WpsRef> {
    let id = label::one(reading, LabelKind::Wps, "WPS", typed)?;
    Ok(WpsRef { number: typed.to_owned(), wps: WpsId::from_bytes(id) })
}

/// One walk over the cells of an entry.
pub(super) struct Edit<'r, 'c> {
    pub(super) reading: &'r Reading<'c>,
    pub(super) zone: Zone,
    pub(super) shifts: Vec<Shift>,
    /// What is asked for and not set yet: field and cell.
    wanted: Vec<(String, String)>,
    /// Names of the cells seen so far.
    fields: Vec<&'static str>,
    /// Cells that changed.
    changes: Vec<Change>,
}

/// The silence that a cell stands for, in any case of its letters.
fn silence<T>(cell: &str) -> Option<Stated<T>> {
    Stated::silence(&cell.to_ascii_lowercase())
}

/// The error of a cell that cannot be taken.
pub(super) fn not_understood(field: &str, why: impl std::fmt::Display, next: &str) -> Error {
    Error::NotUnderstood {
        message: format!("--set {field} was not understood: {why}"),
        next: next.to_owned(),
    }
}

const AS_IN_FILES: &str = "write the value as the cell of the import files";

impl<'r, 'c> Edit<'r, 'c> {
    /// Begins with what is asked for: fields with their cells, each once.
    pub(super) fn begin(reading: &'r Reading<'c>, set: &[(String, String)]) -> Result<Self> {
        let mut wanted: Vec<(String, String)> = Vec::with_capacity(set.len());
        for (field, cell) in set {
            let field = field.trim().to_ascii_lowercase().replace([' ', '-'], "_");
            if wanted.iter().any(|(f, _)| *f == field) {
                return Err(not_understood(&field, "it is given twice", "give every field once"));
            }
            wanted.push((field, cell.trim_matches([' ', '\t', '\r', '\n']).to_owned()));
        }
        Ok(Self {
            reading,
            zone: reading.zone(),
            shifts: reading.shifts()?,
            wanted,
            fields: Vec::new(),
            changes: Vec::new(),
        })
    }

    /// Ends it: the changes, or the error of a field that the entry has not got.
    pub(super) fn end(self) -> Result<Vec<Change>> {
        let Some((field, _)) = self.wanted.first() else {
            return Ok(self.changes);
        };
        let near = self
            .fields
            .iter()
            .map(|f| (strsim::damerau_levenshtein(f, field), *f))
            .filter(|(edits, f)| *edits * 3 <= f.len().max(3))
            .min()
            .map_or(String::new(), |(_, near)| format!("; did you mean {near}?"));
        Err(Error::NotUnderstood {
            message: format!("the entry has no field {field:?}{near}"),
            next: format!("its fields are {}", self.fields.join(", ")),
        })
    }

    /// Whether anything was changed so far.
    pub(super) fn changed(&self, field: &str) -> bool {
        self.changes.iter().any(|c| c.field == field)
    }

    /// The cell asked for, if one is; it counts as set from here on.
    pub(super) fn asked(&mut self, field: &'static str) -> Option<String> {
        self.fields.push(field);
        let at = self.wanted.iter().position(|(f, _)| f == field)?;
        Some(self.wanted.remove(at).1)
    }

    /// Notes a change.
    pub(super) fn note(&mut self, field: &'static str, from: String, to: String) {
        self.changes.push(Change { field: field.into(), from, to });
    }

    /// Puts a value in the place of another if they are not the same.
    fn put<T>(
        &mut self,
        field: &'static str,
        value: &mut T,
        new: T,
        same: impl Fn(&T, &T) -> bool,
        cell: impl Fn(&T) -> String,
        identity: impl Fn(&T) -> String,
    ) {
        if same(value, &new) {
            return;
        }
        let (mut from, mut to) = (cell(value), cell(&new));
        if from == to {
            // One label that meant another thing then: only the identities tell them apart.
            (from, to) = (identity(value), identity(&new));
        }
        self.note(field, from, to);
        *value = new;
    }

    /// A value that must be there.
    pub(super) fn needed<T: PartialEq>(
        &mut self,
        field: &'static str,
        value: &mut T,
        cell: impl Fn(&T) -> String,
        read: impl FnOnce(&Self, &str) -> Result<T>,
    ) -> Result<()> {
        self.needed_same(field, value, PartialEq::eq, &cell, &cell, read)
    }

    fn needed_same<T>(
        &mut self,
        field: &'static str,
        value: &mut T,
        same: impl Fn(&T, &T) -> bool,
        cell: impl Fn(&T) -> String,
        identity: impl Fn(&T) -> String,
        read: impl FnOnce(&Self, &str) -> Result<T>,
    ) -> Result<()> {
        let Some(typed) = self.asked(field) else {
            return Ok(());
        };
        if silence::<()>(&typed).is_some() {
            return Err(not_understood(field, "a value is needed", AS_IN_FILES));
        }
        let new = read(self, &typed)?;
        self.put(field, value, new, same, cell, identity);
        Ok(())
    }

    /// A value, or why there is none.
    pub(super) fn stated<T: PartialEq>(
        &mut self,
        field: &'static str,
        value: &mut Stated<T>,
        cell: impl Fn(&T) -> String,
        read: impl FnOnce(&Self, &str) -> Result<T>,
    ) -> Result<()> {
        self.stated_same(field, value, PartialEq::eq, &cell, &cell, read)
    }

    fn stated_same<T>(
        &mut self,
        field: &'static str,
        value: &mut Stated<T>,
        same: impl Fn(&T, &T) -> bool,
        cell: impl Fn(&T) -> String,
        identity: impl Fn(&T) -> String,
        read: impl FnOnce(&Self, &str) -> Result<T>,
    ) -> Result<()> {
        let Some(typed) = self.asked(field) else {
            return Ok(());
        };
        let new = match silence(&typed) {
            Some(silence) => silence,
            None => Stated::Value(read(self, &typed)?),
        };
        let same = |a: &Stated<T>, b: &Stated<T>| match (a.value(), b.value()) {
            (Some(a), Some(b)) => same(a, b),
            // Two silences are the same if they are called the same.
            (None, None) => a.as_ref().map(|_| "").cell() == b.as_ref().map(|_| "").cell(),
            (Some(_), None) | (None, Some(_)) => false,
        };
        let shown = |value: &Stated<T>, show: &dyn Fn(&T) -> String| value.as_ref().map(show).cell();
        self.put(field, value, new, same, |v| shown(v, &cell), |v| shown(v, &identity));
        Ok(())
    }

    /// A number or name that must be there.
    pub(super) fn label(&mut self, field: &'static str, value: &mut String) -> Result<()> {
        self.needed(field, value, Clone::clone, |_, typed| tell::text(&format!("--set {field}"), typed))
    }

    /// A reason: it may be left out only where it was never needed.
    pub(super) fn remark(&mut self, field: &'static str, value: &mut String, needed: bool) -> Result<()> {
        let Some(typed) = self.asked(field) else {
            return Ok(());
        };
        let new = if typed.is_empty() && !needed {
            String::new()
        } else {
            tell::remark(&format!("--set {field}"), &typed)?
        };
        self.put(field, value, new, |a, b| a == b, Clone::clone, Clone::clone);
        Ok(())
    }

    /// A label or short text, or why there is none.
    pub(super) fn text(&mut self, field: &'static str, value: &mut Stated<String>) -> Result<()> {
        self.stated(field, value, Clone::clone, |_, typed| tell::text(&format!("--set {field}"), typed))
    }

    /// One word of a list, or why there is none.
    pub(super) fn word<T: Copy + PartialEq>(
        &mut self,
        field: &'static str,
        value: &mut Stated<T>,
        words: &[T],
        word: fn(T) -> &'static str,
    ) -> Result<()> {
        self.stated(
            field,
            value,
            |v| word(*v).to_owned(),
            |_, typed| {
                words.iter().copied().find(|w| word(*w).eq_ignore_ascii_case(typed)).ok_or_else(|| {
                    let all: Vec<_> = words.iter().map(|w| word(*w)).collect();
                    not_understood(
                        field,
                        format!("{typed:?} is none of its words"),
                        &format!("write one of: {}", all.join(", ")),
                    )
                })
            },
        )
    }

    /// Yes or no; an empty cell is `empty`, where that is allowed.
    pub(super) fn yes_or_no(
        &mut self,
        field: &'static str,
        value: &mut bool,
        empty: Option<bool>,
    ) -> Result<()> {
        let Some(typed) = self.asked(field) else {
            return Ok(());
        };
        let new = if typed.eq_ignore_ascii_case("yes") {
            Some(true)
        } else if typed.eq_ignore_ascii_case("no") {
            Some(false)
        } else if typed.is_empty() {
            empty
        } else {
            None
        };
        let new = new.ok_or_else(|| {
            not_understood(field, format!("{typed:?} is neither yes nor no"), "write yes or no")
        })?;
        let cell = |v: &bool| if *v { "yes".to_owned() } else { "no".to_owned() };
        self.put(field, value, new, |a, b| a == b, cell, cell);
        Ok(())
    }

    /// A claimed time; `shifts` are those of the shop for a weld's times, else none.
    pub(super) fn needed_time(
        &mut self,
        field: &'static str,
        value: &mut When,
        with_shifts: bool,
    ) -> Result<()> {
        self.needed_same(field, value, same_time, time_cell, time_interval, |edit, typed| {
            edit.read_time(field, typed, with_shifts)
        })
    }

    /// A claimed time, or why there is none.
    pub(super) fn time(
        &mut self,
        field: &'static str,
        value: &mut Stated<When>,
        with_shifts: bool,
    ) -> Result<()> {
        self.stated_same(field, value, same_time, time_cell, time_interval, |edit, typed| {
            edit.read_time(field, typed, with_shifts)
        })
    }

    fn read_time(&self, field: &str, typed: &str, with_shifts: bool) -> Result<When> {
        let shifts = if with_shifts { self.shifts.as_slice() } else { &[] };
        time::read(typed, self.zone, shifts)
            .map_err(|e| not_understood(field, e, &format!("the shop's zone is {}", self.zone.name())))
    }

    /// A quantity, or why there is none.
    pub(super) fn quantity(
        &mut self,
        field: &'static str,
        value: &mut Stated<filler::Quantity>,
    ) -> Result<()> {
        self.stated(field, value, ToString::to_string, |_, typed| {
            filler::Quantity::parse(typed).map_err(|e| not_understood(field, e, AS_IN_FILES))
        })
    }

    /// A mass in grams, kept in milligrams, or why there is none.
    pub(super) fn grams(&mut self, field: &'static str, value: &mut Stated<i64>) -> Result<()> {
        self.stated(
            field,
            value,
            |mg| grams(*mg),
            |_, typed| filler::grams_to_mg(typed).map_err(|e| not_understood(field, e, AS_IN_FILES)),
        )
    }

    /// A count, or why there is none.
    pub(super) fn count(&mut self, field: &'static str, value: &mut Stated<i64>) -> Result<()> {
        self.stated(field, value, ToString::to_string, |_, typed| {
            let digits = typed.bytes().all(|b| b.is_ascii_digit());
            let count = digits.then(|| typed.parse::<i64>().ok()).flatten();
            count.filter(|n| *n <= filler::MAX_INTEGER).ok_or_else(|| {
                not_understood(field, format!("{typed:?} is not a count"), "write a whole number from 0")
            })
        })
    }

    /// A process, or why there is none.
    pub(super) fn process(&mut self, field: &'static str, value: &mut Stated<filler::Process>) -> Result<()> {
        self.stated(field, value, ToString::to_string, |_, typed| read_process(field, typed))
    }

    /// A thing that must be named.
    pub(super) fn named<T: Named>(&mut self, field: &'static str, value: &mut T) -> Result<()> {
        self.needed_same(field, value, T::same, T::label, T::identity, |edit, typed| {
            T::find(edit.reading, typed)
        })
    }

    /// A thing, or why none is named.
    pub(super) fn stated_named<T: Named>(
        &mut self,
        field: &'static str,
        value: &mut Stated<T>,
    ) -> Result<()> {
        self.stated_same(field, value, T::same, T::label, T::identity, |edit, typed| {
            T::find(edit.reading, typed)
        })
    }

    /// Things, each once; at least one where one must be named.
    pub(super) fn named_list<T: Named>(
        &mut self,
        field: &'static str,
        value: &mut Vec<T>,
        needed: bool,
    ) -> Result<()> {
        let Some(items) = self.list(field, needed)? else {
            return Ok(());
        };
        let mut new: Vec<T> = Vec::with_capacity(items.len());
        for item in items {
            let thing = T::find(self.reading, &item)?;
            if !new.iter().any(|other| other.same(&thing)) {
                new.push(thing);
            }
        }
        let same = |a: &Vec<T>, b: &Vec<T>| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.same(b));
        let cell = |things: &Vec<T>| joined(things.iter().map(T::label));
        let identity = |things: &Vec<T>| joined(things.iter().map(T::identity));
        self.put(field, value, new, same, cell, identity);
        Ok(())
    }

    /// A list of values, empty where nothing is named.
    pub(super) fn items<T: PartialEq>(
        &mut self,
        field: &'static str,
        value: &mut Vec<T>,
        cell: impl Fn(&T) -> String,
        read: impl Fn(&str) -> Result<T>,
    ) -> Result<()> {
        let Some(items) = self.list(field, false)? else {
            return Ok(());
        };
        let new = items.iter().map(|item| read(item)).collect::<Result<Vec<_>>>()?;
        let cells = |values: &Vec<T>| joined(values.iter().map(&cell));
        self.put(field, value, new, PartialEq::eq, cells, cells);
        Ok(())
    }

    /// The items of a list asked for, if one is, each once.
    pub(super) fn list(&mut self, field: &'static str, needed: bool) -> Result<Option<Vec<String>>> {
        let Some(typed) = self.asked(field) else {
            return Ok(None);
        };
        let items = if silence::<()>(&typed).is_some() { Vec::new() } else { split(field, &typed)? };
        if items.is_empty() && needed {
            return Err(not_understood(field, "a value is needed", AS_IN_FILES));
        }
        Ok(Some(items))
    }

    /// Heats: named, or why none is.
    pub(super) fn heats(&mut self, heats: &mut Vec<String>, stated: &mut Stated<String>) -> Result<()> {
        let field = "heats";
        let Some(typed) = self.asked(field) else {
            return Ok(());
        };
        let new = match silence::<String>(&typed) {
            Some(silence) => (Vec::new(), silence),
            None => (split(field, &typed)?, Stated::NotAsked),
        };
        let cell = |(heats, stated): &(Vec<String>, Stated<String>)| {
            if heats.is_empty() { stated.cell() } else { joined(heats.iter().cloned()) }
        };
        let mut value = (std::mem::take(heats), std::mem::take(stated));
        self.put(field, &mut value, new, PartialEq::eq, cell, cell);
        (*heats, *stated) = value;
        Ok(())
    }
}

/// A process as typed.
pub(super) fn read_process(field: &str, typed: &str) -> Result<filler::Process> {
    filler::Process::parse(&tell::text(&format!("--set {field}"), typed)?)
        .map_err(|e| not_understood(field, e, AS_IN_FILES))
}

fn split(field: &str, typed: &str) -> Result<Vec<String>> {
    let mut items: Vec<String> = Vec::new();
    for item in typed.split(';').map(str::trim).filter(|item| !item.is_empty()) {
        if silence::<()>(item).is_some() {
            return Err(not_understood(
                field,
                format!("{item:?} stands for a whole cell, not for one of a list"),
                AS_IN_FILES,
            ));
        }
        let item = tell::text(&format!("--set {field}"), item)?;
        if !items.contains(&item) {
            items.push(item);
        }
    }
    Ok(items)
}

fn joined(items: impl Iterator<Item = String>) -> String {
    items.collect::<Vec<_>>().join(";")
}

fn same_time(a: &When, b: &When) -> bool {
    (a.from, a.to) == (b.from, b.to)
}

/// A time as typed; the clock's own where nothing was typed.
pub(super) fn time_cell(when: &When) -> String {
    if when.text.is_empty() { when.from.to_string() } else { when.text.clone() }
}

fn time_interval(when: &When) -> String {
    format!("{} to {}", when.from, when.to)
}

/// Milligrams as decimal grams, without zeros at the end; what reads them gives back the same.
pub(super) fn grams(mg: i64) -> String {
    let (whole, rest) = (mg / 1000, (mg % 1000).abs());
    if rest == 0 {
        return whole.to_string();
    }
    format!("{whole}.{rest:03}").trim_end_matches('0').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grams_read_back() {
        for (mg, text) in
            [(0, "0"), (14_200, "14.2"), (31_967, "31.967"), (5, "0.005"), (1_000, "1"), (10_010, "10.01")]
        {
            assert_eq!(grams(mg), text);
            assert_eq!(filler::grams_to_mg(text), Ok(mg));
        }
    }

    #[test]
    fn lists_hold_each_once_and_no_silence() {
        assert_eq!(split("heats", " 7K2214 ; 51207;7K2214;").unwrap(), ["7K2214", "51207"]);
        assert!(split("heats", "7K2214;unknown").is_err());
    }
}
