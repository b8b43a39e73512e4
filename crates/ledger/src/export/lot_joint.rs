//! The lot-to-joint list: which lot, heat and certificate is in which weld, and how certain that is.
//!
//! One line per joint, weld record and source. A weld record without sources has one line, and so has a joint without
//! weld records: what is missing must be seen. Sorted by joint number in byte order (then job, then identity), then
//! weld start, then the order of the record, then as the sources of a weld are sorted.

use super::spreadsheet::{self, Content};
use super::{Exported, Hashing, writing};
use crate::ask::corrections::Struck;
use crate::ask::finding::late::LATE_SECONDS;
use crate::ask::finding::{Finding, closed_and_sorted};
use crate::ask::findings;
use crate::ask::joint_trace::{self, Record};
use crate::ask::lot::Lot;
use crate::ask::reading::{Joint, Reading};
use crate::ask::whole_book::{Held, WholeBook};
use crate::error::{Error, Result};
use ::record::event::{Event, LotReceived};
use ::record::id::{EntryId, JointId, LotId, SlipId};
use ::record::{Instant, Stated};
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::io::Write;
use trace::{Certainty, Custody, Id};

/// How the list is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LotJoint {
    /// For a spreadsheet: see [`spreadsheet`]. Else exact.
    pub for_spreadsheet: bool,
    /// With people's names, in columns after the others.
    pub names: bool,
}

/// Columns that this program does not fill yet, with what an empty cell in them says.
pub const NOT_FILLED: &[(&str, &str)] =
    &[("least_g, most_g", "not checked: bounds on the mass of each lot in a weld are not computed")];

macro_rules! columns {
    ($($name:ident: $content:ident,)*) => {
        /// The columns of every list, in their order.
        pub const COLUMNS: &[&str] = &[$(stringify!($name)),*];

        const CONTENTS: &[Content] = &[$(Content::$content),*];

        /// One line of the list.
        #[derive(Clone, Debug, Default)]
        struct Line {
            $($name: String,)*
        }

        impl Line {
            fn cells(&self) -> impl Iterator<Item = &str> {
                [$(self.$name.as_str()),*].into_iter()
            }

            #[cfg(test)]
            fn cells_mut(&mut self) -> impl Iterator<Item = &mut String> {
                [$(&mut self.$name),*].into_iter()
            }
        }
    };
}

columns! {
    job: Label,
    joint: Label,
    cycle: Label,
    pass: Label,
    drawing: Label,
    drawing_revision: Label,
    wps: Label,
    wps_revision: Label,
    process: Label,
    welder: Label,
    welded_from: Plain,
    welded_to: Plain,
    spec: Label,
    classification: Label,
    size: Label,
    form: Plain,
    maker: Label,
    maker_lot: Label,
    heats: Label,
    lot: Label,
    certificate: Label,
    certificate_type: Label,
    slip: Label,
    issued_at: Plain,
    returned_at: Plain,
    certainty: Plain,
    of: Plain,
    named_lot: Label,
    named_slip: Label,
    least_g: Plain,
    most_g: Plain,
    mark: Plain,
    late_entry: Plain,
    entry: Label,
    findings: Plain,
    finding_codes: Plain,
    struck: Label,
}

/// The column that `names` adds.
pub const WELDER_NAME: &str = "welder_name";

impl Reading<'_> {
    /// Writes the lot-to-joint list of the whole book as CSV (RFC 4180). `progress` is told joints done and joints in
    /// all.
    ///
    /// # Errors
    /// When the book cannot be read, or `out` takes no more.
    pub fn export_lot_joint(
        &self,
        options: &LotJoint,
        out: &mut dyn Write,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Result<Exported> {
        let mut sheet = Sheet::begin(*options, out)?;
        let held = Held::read(self)?;
        let whole = WholeBook::new(&held);
        let findings = Touching::read(self, &whole)?;
        let joints = joints(self)?;
        for (done, joint) in joints.iter().enumerate() {
            if done % 256 == 0 {
                progress(done as u64, joints.len() as u64);
            }
            lines_of_joint(self, &whole, &findings, joint, &mut sheet)?;
        }
        progress(joints.len() as u64, joints.len() as u64);
        sheet.end()
    }
}

/// Every joint of the book, in the order of the list.
fn joints(reading: &Reading<'_>) -> Result<Vec<(String, String, JointId)>> {
    // A joint that a weld record names and no entry describes is an error further on, not a gap in the list.
    let mut statement = reading
        .conn()
        .prepare_cached("SELECT joint FROM fact_joint UNION SELECT joint FROM fact_weld_joint")?;
    let ids = statement
        .query_map([], |row| row.get(0).map(JointId::from_bytes))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut joints = Vec::with_capacity(ids.len());
    for id in ids {
        let joint = reading.joint(id)?;
        // A joint that never was has no line, unless something says all the same that it was welded.
        if joint.void && weld_records(reading, id)?.is_empty() {
            continue;
        }
        joints.push((joint.declared.number.clone(), joint.declared.job.cell(), id));
    }
    joints.sort_unstable();
    Ok(joints)
}

/// All lines of one joint.
fn lines_of_joint(
    reading: &Reading<'_>,
    whole: &WholeBook<'_>,
    findings: &Touching,
    (_, _, id): &(String, String, JointId),
    sheet: &mut Sheet<'_>,
) -> Result<()> {
    let joint = reading.joint(*id)?;
    let start = of_joint(reading, &joint)?;
    let records = weld_records(reading, *id)?;
    let at_joint = findings.at_joint(*id);
    let struck = reading.struck_at_joint(*id)?;
    let declared = plain(reading, &struck.declared);
    // Weld records that are void, or at another joint now, have no line of their own.
    let mut gone = plain(reading, &struck.gone);
    if records.is_empty() {
        let line = Line { struck: joined([declared, gone]), ..start };
        return sheet.write(&line.with_findings(at_joint), None);
    }
    for found in &records {
        let weld = joint_trace::to_trace(reading, found.order, &found.record, *id)?;
        let answer = whole.answer(reading, &weld)?;
        let sources = answer.sources.iter().map(|id| whole.slip(*id)).collect::<Result<Vec<_>>>()?;
        let lots: BTreeSet<Id> = sources.iter().map(|(slip, _)| slip.lot).collect();
        let name =
            if sheet.options.names { reading.person(found.record.welder.person)?.name.clone() } else { None };
        let line = of_weld(start.clone(), found, answer.certainty, lots.len());
        let mut touching_weld = at_joint.clone();
        touching_weld.extend(findings.of_entry(reading.origin_id(found.place)?));
        let of_weld = plain(reading, struck.of_weld(found.entry));
        if sources.is_empty() {
            let struck = joined([of_weld, declared.clone(), std::mem::take(&mut gone)]);
            sheet.write(&Line { struck, ..line }.with_findings(touching_weld), name.as_deref())?;
            continue;
        }
        for (slip, custody) in sources {
            let lot = reading.lot(LotId::from_number(slip.lot))?;
            let of_slip = plain(reading, &reading.slip(SlipId::from_number(slip.id))?.struck);
            let of_lot = plain(reading, &lot.struck);
            let struck =
                joined([of_weld.clone(), of_slip, of_lot, declared.clone(), std::mem::take(&mut gone)]);
            let mut touching = touching_weld.clone();
            touching.extend(findings.of_source(reading, SlipId::from_number(slip.id), &lot)?);
            let line = of_source(line.clone(), &lot.received, slip, custody);
            sheet.write(&Line { struck, ..line }.with_findings(touching), name.as_deref())?;
        }
    }
    Ok(())
}

/// What was struck, in one cell.
fn plain(reading: &Reading<'_>, struck: &[Struck]) -> String {
    joined(struck.iter().map(|s| s.plain(reading.zone())))
}

/// The parts of a cell that say something.
fn joined(parts: impl IntoIterator<Item = String>) -> String {
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("; ")
}

/// What every line of a joint begins with.
fn of_joint(reading: &Reading<'_>, joint: &Joint) -> Result<Line> {
    let mut wps = Vec::new();
    let mut revisions = Vec::new();
    for named in &joint.declared.wps {
        let declared = reading.wps(named.wps)?;
        wps.push(declared.number.clone());
        revisions.push(declared.revision.cell());
    }
    let declared = &joint.declared;
    Ok(Line {
        job: declared.job.cell(),
        joint: declared.number.clone(),
        drawing: declared.drawing.cell(),
        drawing_revision: declared.drawing_revision.cell(),
        wps: wps.join(";"),
        // As many parts as there are procedures, so that each keeps its place.
        wps_revision: revisions.join(";"),
        ..Line::default()
    })
}

/// What a weld record adds.
fn of_weld(line: Line, found: &Record, certainty: Certainty, lots: usize) -> Line {
    let (record, covers) = (&found.record, found.record.covers());
    let late = record.imported.is_none() && found.recorded.0.saturating_sub(covers.1.0) > LATE_SECONDS;
    Line {
        // Nobody says of an ordinary weld that it is the original one; the other cycles are always named.
        cycle: match &record.cycle {
            Stated::NotAsked => "original".into(),
            Stated::Value(_) | Stated::NotApplicable | Stated::Unknown | Stated::Illegible => {
                record.cycle.cell()
            }
        },
        pass: record.pass.cell(),
        process: record.process.cell(),
        welder: record.welder.badge.clone(),
        welded_from: covers.0.to_string(),
        welded_to: covers.1.to_string(),
        certainty: certainty.to_string(),
        of: lots.to_string(),
        named_lot: record.lot.clone().map(|lot| lot.label).cell(),
        named_slip: record.slip.clone().map(|slip| slip.number).cell(),
        mark: record.mark.clone().map(::record::event::Mark::word).cell(),
        late_entry: if late { "yes".into() } else { "no".into() },
        entry: found.entry.to_string(),
        ..line
    }
}

/// What a source adds.
fn of_source(line: Line, lot: &LotReceived, slip: &trace::Slip, custody: Custody) -> Line {
    Line {
        spec: lot.spec.cell(),
        classification: lot.classification.cell(),
        size: lot.size.cell(),
        form: lot.form.cell(),
        maker: lot.maker.cell(),
        maker_lot: lot.maker_lot.cell(),
        heats: if lot.heats.is_empty() { lot.heats_stated.cell() } else { lot.heats.join(";") },
        lot: lot.code.clone(),
        certificate: lot.certificate.cell(),
        certificate_type: lot.certificate_type.cell(),
        slip: slip.number.clone(),
        issued_at: Instant(slip.issued.from).to_string(),
        returned_at: custody.to.map_or(String::new(), |to| Instant(to).to_string()),
        ..line
    }
}

/// The open findings of the book, by what they touch. `slip-overdue` is not among them: it depends on the day, and the
/// list is the same on every day.
struct Touching {
    findings: Vec<Finding>,
    by_entry: BTreeMap<EntryId, Vec<usize>>,
    by_joint: HashMap<JointId, BTreeSet<usize>>,
}

impl Touching {
    fn read(reading: &Reading<'_>, whole: &WholeBook<'_>) -> Result<Self> {
        let found = findings::in_whole_book(reading, whole, Instant(i64::MIN))?;
        let mut findings = closed_and_sorted(reading, found)?;
        findings.retain(Finding::is_open);
        let mut by_entry: BTreeMap<EntryId, Vec<usize>> = BTreeMap::new();
        let mut by_joint: HashMap<JointId, BTreeSet<usize>> = HashMap::new();
        for (index, finding) in findings.iter().enumerate() {
            let mut of_weld = false;
            for entry in &finding.entries {
                by_entry.entry(*entry).or_default().push(index);
                let place = reading.place_of(*entry)?;
                of_weld |= match place {
                    Some(place) => matches!(reading.event(place)?, Event::JointWelded(_)),
                    None => false,
                };
            }
            // What a weld record makes stands on its own lines.
            for joint in finding.joints.iter().filter(|_| !of_weld) {
                by_joint.entry(*joint).or_default().insert(index);
            }
        }
        Ok(Self { findings, by_entry, by_joint })
    }

    fn of_entry(&self, entry: EntryId) -> impl Iterator<Item = usize> {
        self.by_entry.get(&entry).into_iter().flatten().copied()
    }

    /// Those of a joint that no weld record makes.
    fn at_joint(&self, joint: JointId) -> Found<'_> {
        Found { of: self, indexes: self.by_joint.get(&joint).cloned().unwrap_or_default() }
    }

    /// Those of a slip, of what left it, and of its lot's receipts.
    fn of_source(&self, reading: &Reading<'_>, slip: SlipId, lot: &Lot) -> Result<Vec<usize>> {
        let slip = reading.slip(slip)?;
        let mut entries = vec![reading.origin_id(slip.place)?];
        for out in &slip.outs {
            entries.push(reading.origin_id(out.place)?);
        }
        for place in reading.standing_places("SELECT place FROM fact_lot WHERE lot = ?1", [lot.id.bytes()])? {
            entries.push(reading.origin_id(place)?);
        }
        Ok(entries.into_iter().flat_map(|entry| self.of_entry(entry)).collect())
    }
}

/// The findings of one line, in the order of the list: severity, code, id.
#[derive(Clone)]
struct Found<'t> {
    of: &'t Touching,
    indexes: BTreeSet<usize>,
}

impl Found<'_> {
    fn extend(&mut self, more: impl IntoIterator<Item = usize>) {
        self.indexes.extend(more);
    }

    fn joined(&self, cell: impl Fn(&Finding) -> String) -> String {
        let cells: Vec<String> =
            self.indexes.iter().filter_map(|i| self.of.findings.get(*i)).map(cell).collect();
        cells.join(";")
    }
}

impl Line {
    /// The line with its findings.
    fn with_findings(self, found: Found<'_>) -> Self {
        Self {
            findings: found.joined(|f| f.id.to_string()),
            finding_codes: found.joined(|f| f.code.word().to_owned()),
            ..self
        }
    }
}

/// The weld records of a joint, by start and then in the order of the record. Not kept: an export goes through all.
fn weld_records(reading: &Reading<'_>, joint: JointId) -> Result<Vec<Record>> {
    let places =
        reading.standing_places("SELECT place FROM fact_weld_joint WHERE joint = ?1", [joint.bytes()])?;
    let mut records =
        places.into_iter().map(|place| Record::read(reading, place)).collect::<Result<Vec<_>>>()?;
    records.sort_by_key(|found| (found.record.covers().0, found.order));
    Ok(records)
}

/// The file being written.
struct Sheet<'w> {
    csv: csv::Writer<Hashing<'w>>,
    options: LotJoint,
    rows: u64,
}

impl<'w> Sheet<'w> {
    /// Writes the header.
    fn begin(options: LotJoint, out: &'w mut dyn Write) -> Result<Self> {
        let mut out = Hashing::new(out);
        if options.for_spreadsheet {
            out.write_all(spreadsheet::BYTE_ORDER_MARK).map_err(failed)?;
        }
        // RFC 4180: lines end with CR LF.
        let csv = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
        let mut this = Self { csv, options, rows: 0 };
        let form = options.for_spreadsheet.then_some(spreadsheet::HEADER);
        let names = options.names.then_some(WELDER_NAME);
        this.csv
            .write_record(form.into_iter().chain(COLUMNS.iter().copied()).chain(names))
            .map_err(csv_failed)?;
        Ok(this)
    }

    /// Writes one line.
    fn write(&mut self, line: &Line, welder_name: Option<&str>) -> Result<()> {
        let name = self.options.names.then(|| welder_name.unwrap_or_default());
        let cells = line.cells().chain(name);
        if self.options.for_spreadsheet {
            let contents = CONTENTS.iter().copied().chain(std::iter::repeat(Content::Label));
            let neutral: Vec<_> =
                cells.zip(contents).map(|(cell, c)| spreadsheet::neutral(cell, c)).collect();
            let columns = COLUMNS.iter().copied().chain([WELDER_NAME]);
            let changed: Vec<&str> = columns
                .zip(&neutral)
                .filter(|(_, cell)| matches!(cell, Cow::Owned(_)))
                .map(|(column, _)| column)
                .collect();
            let changed = changed.join(";");
            let all = std::iter::once(changed.as_str()).chain(neutral.iter().map(|cell| &**cell));
            self.csv.write_record(all).map_err(csv_failed)?;
        } else {
            self.csv.write_record(cells).map_err(csv_failed)?;
        }
        self.rows += 1;
        Ok(())
    }

    fn end(mut self) -> Result<Exported> {
        self.csv.flush().map_err(failed)?;
        let rows = self.rows;
        let out = self.csv.into_inner().map_err(|e| failed(e.into_error()))?;
        Ok(out.done(rows))
    }
}

fn failed(error: std::io::Error) -> Error {
    writing("the lot-to-joint list")(error)
}

fn csv_failed(error: csv::Error) -> Error {
    failed(error.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tell::init::Opening;
    use crate::{Acting, Ledger};
    use ::record::event::JointWelded;
    use ::record::event::{
        Imported, JointDeclared, JointRef, LotRef, PersonRef, RodIssued, SlipRef, WpsDeclared, WpsRef,
    };
    use ::record::id::WpsId;
    use ::record::person::Role;
    use ::record::{When, Zone};
    use filler::Process;
    use filler::{ProductForm, Quantity};
    use proptest::prelude::*;

    const NOON: i64 = 1_772_452_800;

    /// A book with one welder, a lot and its open slip, to which `more` adds.
    fn list(
        options: LotJoint,
        more: impl FnOnce(&PersonRef, LotId) -> Vec<Event>,
    ) -> Vec<HashMap<String, String>> {
        let bytes = try_list(options, more).unwrap();
        csv::Reader::from_reader(bytes.as_slice()).deserialize().collect::<Result<_, _>>().unwrap()
    }

    fn try_list(options: LotJoint, more: impl FnOnce(&PersonRef, LotId) -> Vec<Event>) -> Result<Vec<u8>> {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("shop.rodbook");
        let acting =
            Acting { badge: "A-1".into(), now: Instant(NOON + 48 * 3600), dry_run: false, overriding: None };
        let opening = Opening {
            station: "crib".into(),
            shop: String::new(),
            zone: Zone::named("UTC").unwrap(),
            shifts: Vec::new(),
            name: Some("Ebba Stonefeather".into()),
            roles: vec![Role::Attendant],
        };
        Ledger::init(&path, dir.path(), &acting, &opening).unwrap();
        let mut ledger = Ledger::open_for_writing(&path, dir.path()).unwrap();
        let person = ledger.enroll(&acting, "W-1", "Marit Oldervane", &[Role::Welder]).unwrap().value;
        let welder = PersonRef { badge: "W-1".into(), person };
        let lot = LotId(uuid::Uuid::from_u128(1));
        let mut events = vec![
            Event::LotReceived(LotReceived {
                at: at(-100),
                certificate: Stated::Illegible,
                certificate_type: Stated::Unknown,
                classification: Stated::Value("ER70S-2".into()),
                code: "L-1".into(),
                form: Stated::Value(ProductForm::CutLength),
                heats: Vec::new(),
                heats_stated: Stated::Illegible,
                imported: None,
                lot,
                maker: Stated::NotApplicable,
                maker_lot: Stated::NotAsked,
                marking: Stated::NotAsked,
                piece: None,
                quantity: Stated::NotAsked,
                size: Stated::NotAsked,
                spec: Stated::Unknown,
                surface: Stated::NotAsked,
            }),
            Event::RodIssued(RodIssued {
                at: at(-50),
                due: Stated::NotAsked,
                holder: welder.clone(),
                imported: None,
                issued_by: Stated::NotAsked,
                joints: Vec::new(),
                lot: LotRef { label: "L-1".into(), lot },
                number: "S-1".into(),
                overridden: None,
                quantity: Stated::Value(Quantity::parse("24 rods").unwrap()),
                quiver: Stated::NotAsked,
                slip: SlipId(uuid::Uuid::from_u128(2)),
            }),
        ];
        events.extend(more(&welder, lot));
        ledger
            .write(&acting, |writing| {
                for event in &events {
                    writing.append(event)?;
                }
                Ok(())
            })
            .unwrap();
        let mut bytes = Vec::new();
        ledger.ask(|reading| reading.export_lot_joint(&options, &mut bytes, &mut |_, _| {}))?;
        Ok(bytes)
    }

    fn at(second: i64) -> When {
        When::now(Instant(NOON + second))
    }

    fn joint(number: &str, wps: &[(&str, WpsId)]) -> (JointRef, Event) {
        let id = number.bytes().fold(0x100, |n, byte| n * 0x100 + u128::from(byte));
        let id = JointId(uuid::Uuid::from_u128(id));
        let declared = JointDeclared {
            asked: Stated::NotAsked,
            worked_out: Stated::NotAsked,
            drawing: Stated::NotAsked,
            drawing_revision: Stated::NotAsked,
            finished_at: Stated::NotAsked,
            imported: None,
            job: Stated::NotAsked,
            joint: id,
            level: Stated::NotAsked,
            needed_mg: Stated::NotAsked,
            needed_u_mg: Stated::NotAsked,
            number: number.into(),
            wps: wps.iter().map(|(number, wps)| WpsRef { number: (*number).into(), wps: *wps }).collect(),
        };
        (JointRef { joint: id, number: number.into() }, declared.into())
    }

    fn weld(joint: &JointRef, welder: &PersonRef) -> JointWelded {
        JointWelded {
            arc: Stated::NotAsked,
            cycle: Stated::NotAsked,
            filler: true,
            finished: false,
            from: at(0),
            imported: None,
            joints: vec![joint.clone()],
            lot: Stated::NotAsked,
            mark: Stated::NotAsked,
            overridden: None,
            pass: Stated::NotAsked,
            process: Stated::NotAsked,
            recorded_by: Stated::NotAsked,
            slip: Stated::NotAsked,
            to: Stated::Value(at(600)),
            used: Stated::NotAsked,
            welder: welder.clone(),
        }
    }

    fn procedure(id: WpsId, number: &str, revision: Stated<String>, process: Process) -> Event {
        WpsDeclared {
            heat_input: Stated::NotAsked,
            backing: Stated::NotAsked,
            classifications: Vec::new(),
            f_numbers: Vec::new(),
            imported: None,
            number: number.into(),
            processes: vec![process],
            revision,
            sizes: Vec::new(),
            specs: Vec::new(),
            wps: id,
        }
        .into()
    }

    #[test]
    fn procedures_and_the_silences_that_only_files_hold() {
        let (one, two) = (WpsId(uuid::Uuid::from_u128(7)), WpsId(uuid::Uuid::from_u128(8)));
        let lines = list(LotJoint::default(), |welder, _| {
            let (j1, declared) = joint("J-1", &[("WPS-1", one), ("WPS-2", two)]);
            let mut silent = weld(&j1, welder);
            silent.cycle = Stated::Unknown;
            silent.pass = Stated::Illegible;
            silent.process = Stated::Unknown;
            silent.lot = Stated::Illegible;
            silent.slip = Stated::NotApplicable;
            silent.mark = Stated::NotApplicable;
            vec![
                procedure(one, "WPS-1", Stated::Value("3".into()), Process::Gtaw),
                procedure(two, "WPS-2", Stated::Unknown, Process::Smaw),
                declared,
                silent.into(),
            ]
        });
        let [line] = lines.as_slice() else { panic!("{lines:?}") };
        for (column, cell) in [
            ("wps", "WPS-1;WPS-2"),
            ("wps_revision", "3;unknown"),
            ("cycle", "unknown"),
            ("pass", "illegible"),
            ("process", "unknown"),
            ("named_lot", "illegible"),
            ("named_slip", "n/a"),
            ("mark", "n/a"),
            ("heats", "illegible"),
            ("maker", "n/a"),
            ("maker_lot", ""),
            ("spec", "unknown"),
            ("certificate", "illegible"),
            ("certificate_type", "unknown"),
            // Nothing is named, GTAW of WPS-1 suits cut length, and the slip is open.
            ("certainty", "by-custody"),
            ("slip", "S-1"),
            ("returned_at", ""),
        ] {
            assert_eq!(line.get(column).map(String::as_str), Some(cell), "{column}");
        }
    }

    #[test]
    fn the_processes_of_the_procedures_filter_where_the_record_has_none() {
        let wps = WpsId(uuid::Uuid::from_u128(7));
        let lines = list(LotJoint::default(), |welder, _| {
            let (j1, declared) = joint("J-1", &[("WPS-1", wps)]);
            vec![procedure(wps, "WPS-1", Stated::NotAsked, Process::Smaw), declared, weld(&j1, welder).into()]
        });
        assert_eq!(lines[0]["certainty"], "unknown", "cut length is no source of a SMAW weld");
        assert_eq!(lines[0]["wps_revision"], "");
        assert_eq!(lines[0]["of"], "0");
    }

    #[test]
    fn an_imported_weld_record_is_not_late_and_a_day_is_not_late() {
        let lines = list(LotJoint::default(), |welder, _| {
            // Written 48 hours after noon.
            let day = 24 * 3600;
            let mut events = Vec::new();
            for (number, ends, imported) in
                [("J-1", 0, false), ("J-2", 0, true), ("J-3", day, false), ("J-4", day - 1, false)]
            {
                let (j, declared) = joint(number, &[]);
                let mut record = weld(&j, welder);
                record.to = Stated::Value(at(ends));
                record.imported = imported.then(|| Imported { file: "welds.csv".into(), row: 2 });
                events.extend([declared, record.into()]);
            }
            events
        });
        let late: Vec<(&str, &str)> =
            lines.iter().map(|line| (line["joint"].as_str(), line["late_entry"].as_str())).collect();
        assert_eq!(late, [("J-1", "yes"), ("J-2", "no"), ("J-3", "no"), ("J-4", "yes")]);
    }

    #[test]
    fn a_weld_record_at_a_joint_that_nothing_describes_is_not_left_out() {
        let error = try_list(LotJoint::default(), |welder, _| {
            let (nowhere, _) = joint("J-9", &[]);
            vec![weld(&nowhere, welder).into()]
        })
        .unwrap_err();
        assert!(matches!(&error, Error::Damaged(why) if why.contains("no entry describes")), "{error}");
    }

    #[test]
    fn two_slips_of_one_lot_are_two_lines_and_one_lot() {
        let lines = list(LotJoint::default(), |welder, lot| {
            let (j1, declared) = joint("J-1", &[]);
            let second = RodIssued {
                at: at(-40),
                due: Stated::NotAsked,
                holder: welder.clone(),
                imported: None,
                issued_by: Stated::NotAsked,
                joints: Vec::new(),
                lot: LotRef { label: "L-1".into(), lot },
                number: "S-0".into(),
                overridden: None,
                quantity: Stated::NotAsked,
                quiver: Stated::NotAsked,
                slip: SlipId(uuid::Uuid::from_u128(3)),
            };
            let mut record = weld(&j1, welder);
            record.slip =
                Stated::Value(SlipRef { number: "S-0".into(), slip: SlipId(uuid::Uuid::from_u128(3)) });
            record.from = at(10);
            vec![declared, second.into(), weld(&j1, welder).into(), record.into()]
        });
        let seen: Vec<(&str, &str, &str)> = lines
            .iter()
            .map(|line| (line["certainty"].as_str(), line["slip"].as_str(), line["of"].as_str()))
            .collect();
        assert_eq!(
            seen,
            [("by-custody", "S-1", "1"), ("by-custody", "S-0", "1"), ("recorded", "S-0", "1")],
            "by issue, not by number"
        );
    }

    fn sheet(options: LotJoint, lines: &[(Line, String)]) -> (Exported, Vec<u8>) {
        let mut bytes = Vec::new();
        let mut sheet = Sheet::begin(options, &mut bytes).unwrap();
        for (line, name) in lines {
            sheet.write(line, Some(name)).unwrap();
        }
        (sheet.end().unwrap(), bytes)
    }

    /// Lines of arbitrary text, the hostile sort more often than chance would have it.
    fn lines() -> impl Strategy<Value = Vec<(Line, String)>> {
        let cell = prop_oneof![
            ".*",
            "[=+@'\",;\r\n\t \u{FF1D}\u{FF20}x1-]{0,8}",
            "[0-9]{1,6}[-/.:eE]?[0-9]{0,4}",
            Just("\u{FEFF}=1".to_owned()),
        ];
        let line = proptest::collection::vec(cell, COLUMNS.len() + 1).prop_map(|mut cells| {
            let name = cells.pop().unwrap();
            let mut line = Line::default();
            line.set(cells);
            (line, name)
        });
        proptest::collection::vec(line, 0..4)
    }

    impl Line {
        fn set(&mut self, cells: Vec<String>) {
            let mut cells = cells.into_iter();
            for cell in self.cells_mut() {
                *cell = cells.next().unwrap();
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn the_exchange_form_reads_back_as_it_was(lines in lines()) {
            let (exported, bytes) = sheet(LotJoint { for_spreadsheet: false, names: true }, &lines);
            prop_assert_eq!(exported.rows, lines.len() as u64);
            let read: Vec<Vec<String>> = csv::Reader::from_reader(bytes.as_slice())
                .records()
                .map(|row| row.unwrap().iter().map(str::to_owned).collect())
                .collect();
            let written: Vec<Vec<String>> = lines
                .iter()
                .map(|(line, name)| line.cells().chain([name.as_str()]).map(str::to_owned).collect())
                .collect();
            prop_assert_eq!(read, written);
        }

        #[test]
        fn the_spreadsheet_form_is_harmless_and_can_be_undone(lines in lines()) {
            let (_, bytes) = sheet(LotJoint { for_spreadsheet: true, names: true }, &lines);
            let mut reader = csv::Reader::from_reader(bytes.strip_prefix(spreadsheet::BYTE_ORDER_MARK).unwrap());
            let columns: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
            for (row, (line, name)) in reader.records().zip(&lines) {
                let row = row.unwrap();
                let changed: Vec<&str> = row[0].split(';').filter(|c| !c.is_empty()).collect();
                let exact = line.cells().chain([name.as_str()]);
                for ((column, cell), exact) in columns.iter().zip(&row).skip(1).zip(exact) {
                    let first = cell.trim_start().chars().next();
                    prop_assert!(!first.is_some_and(|c| "=+-@＝＋－＠".contains(c)), "{:?}", cell);
                    prop_assert_eq!(changed.contains(&column.as_str()), cell != exact, "{:?} {:?}", column, cell);
                    // Nothing but apostrophes was put in.
                    let mut rest = exact.chars().peekable();
                    for c in cell.chars() {
                        if rest.peek() == Some(&c) {
                            rest.next();
                        } else {
                            prop_assert_eq!(c, '\'');
                        }
                    }
                    prop_assert_eq!(rest.next(), None);
                }
            }
        }
    }
}
