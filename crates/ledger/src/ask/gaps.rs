//! What is missing: the completeness report.

mod numbering;

pub use numbering::{Explained, Numbering, Run};

use super::certificate::FiledCertificate;
use super::finding::weld::Evidence;
use super::joint_trace::{self, Record};
use super::lot::Lot;
use super::reading::{Joint, Reading};
use super::slip::SlipAndLot;
use super::whole_book::{Held, WholeBook};
use crate::error::{Error, Result};
use crate::facts;
use crate::log::Place;
use filler::classification::folded;
use record::event::{JointWelded, Level};
use record::id::{JointId, LotId, SlipId};
use record::{EntryId, Instant};
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::rc::Rc;
use trace::{Certainty, Id};

/// Everything that is missing, in the book or in one job.
#[derive(Clone, Debug)]
pub struct Gaps {
    /// The job asked about; none for the whole book.
    pub job: Option<String>,
    /// How many joints were looked at.
    pub joints: usize,
    /// How many of them do not say to what they are to be traced, and were judged as to be traced to the class.
    pub without_level: usize,
    /// Joints of which the metal is not known as far as it must be, by number.
    pub joints_without_lot: Vec<JointWithoutLot>,
    /// Joints that no weld record names, by number.
    pub joints_without_weld_record: Vec<Rc<Joint>>,
    /// Lots with neither a certificate number on a receipt nor a filed certificate, by code.
    pub lots_without_certificate: Vec<LotWithoutCertificate>,
    /// Filed certificates that are about no lot, by number. Those of no lot at all belong to no job.
    pub certificates_without_lot: Vec<FiledCertificate>,
    /// Certificate numbers on receipts for which no paper is filed, by number.
    pub certificates_without_paper: Vec<CertificateWithoutPaper>,
    /// Slips that are open, the longest first.
    pub open_slips: Vec<SlipAndLot>,
    /// Rows of slip numbers; none for a job, because a pad serves all jobs.
    pub slip_numbers: Option<SlipNumbers>,
}

/// A joint of which the metal is not known as far as it must be.
#[derive(Clone, Debug)]
pub struct JointWithoutLot {
    /// The joint.
    pub joint: Rc<Joint>,
    /// To what it was judged.
    pub judged: Level,
    /// The weld records at fault, by start, then in record order.
    pub welds: Vec<WeldWithoutLot>,
}

/// A weld record of which the metal is not known as far as it must be.
#[derive(Clone, Debug)]
pub struct WeldWithoutLot {
    /// The entry.
    pub entry: EntryId,
    /// What was recorded.
    pub record: Rc<JointWelded>,
    /// The closed interval it covers.
    pub covers: (Instant, Instant),
    /// How certain the sources are.
    pub certainty: Certainty,
    /// The distinct lots of its sources.
    pub lots: Vec<Rc<Lot>>,
    /// What is missing.
    pub lacks: Lack,
}

/// What a weld record lacks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Lack {
    /// Nothing was in the welder's custody.
    Source,
    /// The lot or slip named was not in the welder's custody.
    Agreement,
    /// A spot check read a mark that no source has.
    MarkOfASource,
    /// Readings of its metal reject the class of every source.
    MetalOfASource,
    /// It can be one of several lots.
    OneLot,
    /// It can be of several classifications; as printed.
    OneClass(Vec<String>),
    /// The classification of these lots is not known; their codes.
    KnownClass(Vec<String>),
}

/// A lot without certificate.
#[derive(Clone, Debug)]
pub struct LotWithoutCertificate {
    /// The lot.
    pub lot: Rc<Lot>,
    /// Numbers of the slips that it was issued on, in byte order; empty if it never left the crib.
    pub slips: Vec<String>,
}

/// A certificate number without paper.
#[derive(Clone, Debug)]
pub struct CertificateWithoutPaper {
    /// The number.
    pub number: String,
    /// Lots whose receipts have it and for which no paper of it is filed.
    pub lots: Vec<Rc<Lot>>,
    /// Whether paper of that number is filed, for other lots or none.
    pub filed_for_others: bool,
}

/// The rows of slip numbers in the book.
#[derive(Clone, Debug)]
pub struct SlipNumbers {
    /// The rows, by prefix.
    pub rows: Vec<Numbering>,
    /// How many slips have a number that does not end in digits, and so belongs to no row.
    pub of_no_row: u64,
}

impl Reading<'_> {
    /// What is missing in the book, or in one job.
    ///
    /// # Errors
    /// [`Error::NotFound`] when no joint is of that job.
    pub fn gaps(&self, job: Option<&str>) -> Result<Gaps> {
        let mut joints = joints(self)?;
        if let Some(job) = job {
            let job = job.trim();
            let jobs: BTreeSet<String> =
                joints.iter().filter_map(|j| j.declared.job.value().cloned()).collect();
            if !jobs.contains(job) {
                return Err(Error::NotFound { what: "job", label: job.to_owned(), near: near(&jobs, job) });
            }
            joints.retain(|j| j.declared.job.value().is_some_and(|of| of == job));
        }
        let held = Held::read(self)?;
        let whole = WholeBook::new(&held);
        let mut seen = Seen::default();
        let records = weld_records(self)?;
        let mut gaps = Gaps {
            job: job.map(|j| j.trim().to_owned()),
            joints: joints.len(),
            without_level: joints.iter().filter(|j| j.declared.level.value().is_none()).count(),
            joints_without_lot: Vec::new(),
            joints_without_weld_record: Vec::new(),
            lots_without_certificate: Vec::new(),
            certificates_without_lot: Vec::new(),
            certificates_without_paper: Vec::new(),
            open_slips: Vec::new(),
            slip_numbers: None,
        };
        for joint in &joints {
            let Some(records) = records.get(&joint.id) else {
                gaps.joints_without_weld_record.push(Rc::clone(joint));
                continue;
            };
            let judged = joint.declared.level.value().copied().unwrap_or(Level::Class);
            let mut welds = Vec::new();
            for record in records {
                let Some(weld) = of_weld(self, &whole, joint, record, judged, &mut seen)? else {
                    continue;
                };
                // What was cut out is in the joint no longer, whatever it was.
                if joint_trace::cut_out(&self.cut_outs(joint.id)?, &record.record).by().is_none() {
                    welds.push(weld);
                }
            }
            if !welds.is_empty() {
                gaps.joints_without_lot.push(JointWithoutLot { joint: Rc::clone(joint), judged, welds });
            }
        }
        // Of a job, only the lots and slips that can be in it.
        let within = job.is_some().then_some(&seen);
        let lots = lots(self, within)?;
        gaps.lots_without_certificate = lots_without_certificate(self, &whole, &lots)?;
        certificates(self, &lots, within.is_none(), &mut gaps)?;
        gaps.open_slips = open_slips(self, &whole, within, &joints)?;
        if job.is_none() {
            gaps.slip_numbers = Some(slip_numbers(self)?);
        }
        Ok(gaps)
    }
}

/// What weld records can have used.
#[derive(Default)]
struct Seen {
    lots: HashSet<LotId>,
    slips: HashSet<Id>,
}

/// Every joint that stands, by number, then identity.
fn joints(reading: &Reading<'_>) -> Result<Vec<Rc<Joint>>> {
    let ids = reading.standing_things("SELECT joint, place FROM fact_joint", [])?;
    let mut joints =
        ids.into_iter().map(|id| reading.joint(JointId::from_bytes(id))).collect::<Result<Vec<_>>>()?;
    joints.sort_by(|a, b| (&a.declared.number, a.id).cmp(&(&b.declared.number, b.id)));
    Ok(joints)
}

/// Every weld record that stands, by joint; of a joint by start, then in record order.
fn weld_records(reading: &Reading<'_>) -> Result<HashMap<JointId, Vec<Rc<Record>>>> {
    let mut records: HashMap<JointId, Vec<Rc<Record>>> = HashMap::new();
    for place in reading.standing_places("SELECT place FROM fact_weld", [])? {
        let record = Rc::new(Record::read(reading, place)?);
        for joint in record.joints() {
            records.entry(joint).or_default().push(Rc::clone(&record));
        }
    }
    for of_joint in records.values_mut() {
        of_joint.sort_by_key(|r| (r.record.covers().0, r.order));
    }
    Ok(records)
}

/// What a weld record lacks at a joint, if anything.
fn of_weld(
    reading: &Reading<'_>,
    whole: &WholeBook<'_>,
    joint: &Joint,
    found: &Record,
    judged: Level,
    seen: &mut Seen,
) -> Result<Option<WeldWithoutLot>> {
    let record = &found.record;
    let weld = joint_trace::to_trace(reading, found.order, record, joint.id)?;
    let answer = whole.answer(reading, &weld)?;
    let mut lots: Vec<Rc<Lot>> = Vec::new();
    for id in &answer.sources {
        let lot = reading.lot(LotId::from_number(whole.slip(*id)?.0.lot))?;
        if !lots.iter().any(|l| l.id == lot.id) {
            lots.push(lot);
        }
    }
    // A lot or slip that is named and was not held is as much a part of the question as those that were.
    let mut named: Vec<Rc<Lot>> = Vec::new();
    if let Some(lot) = record.lot.value() {
        named.push(reading.lot(lot.lot)?);
    }
    if let Some(slip) = record.slip.value() {
        named.push(reading.lot(reading.slip(slip.slip)?.lot)?);
    }
    for id in answer.sources.iter().chain(&answer.others).chain(&answer.flux) {
        seen.slips.insert(*id);
        seen.lots.insert(LotId::from_number(whole.slip(*id)?.0.lot));
    }
    seen.lots.extend(named.iter().map(|l| l.id));
    seen.slips.extend(weld.named.slip);
    let lacks = match judged {
        Level::Lot => lacks_lot(answer.certainty, Evidence::against(&answer.reasons), lots.len()),
        Level::Class => lacks_class(answer.certainty, Evidence::against(&answer.reasons), &lots, &named),
    };
    Ok(lacks.map(|lacks| WeldWithoutLot {
        entry: found.entry,
        record: Rc::clone(record),
        covers: record.covers(),
        certainty: answer.certainty,
        lots,
        lacks,
    }))
}

/// What is lacking where one lot must be known: recorded or by custody, and one.
fn lacks_lot(certainty: Certainty, evidence: Option<Evidence>, lots: usize) -> Option<Lack> {
    match certainty {
        Certainty::NoFiller => None,
        Certainty::Recorded | Certainty::ByCustody if lots == 1 => None,
        Certainty::Recorded | Certainty::ByCustody | Certainty::OneOf => Some(Lack::OneLot),
        Certainty::Unknown => Some(Lack::Source),
        Certainty::Contradicted => Some(match evidence {
            Some(Evidence::Mark) => Lack::MarkOfASource,
            Some(Evidence::Reading) => Lack::MetalOfASource,
            None => Lack::Agreement,
        }),
    }
}

/// What is lacking where the classification must be known: the same of every lot that it can be.
fn lacks_class(
    certainty: Certainty,
    evidence: Option<Evidence>,
    lots: &[Rc<Lot>],
    named: &[Rc<Lot>],
) -> Option<Lack> {
    match certainty {
        Certainty::NoFiller => return None,
        // A mark that was read and that no source has, or metal of none of their classes: the class is in question
        // whatever the sources are.
        Certainty::Contradicted if evidence == Some(Evidence::Mark) => return Some(Lack::MarkOfASource),
        Certainty::Contradicted if evidence == Some(Evidence::Reading) => return Some(Lack::MetalOfASource),
        Certainty::Contradicted if lots.is_empty() => return Some(Lack::Agreement),
        Certainty::Unknown => return Some(Lack::Source),
        Certainty::Recorded | Certainty::ByCustody | Certainty::OneOf | Certainty::Contradicted => {}
    }
    // Named and not held: it is the one or the other, so both must be of one class.
    let also = if certainty == Certainty::Contradicted { named } else { &[] };
    let mut not_known = Vec::new();
    let mut classes: BTreeMap<String, String> = BTreeMap::new();
    let mut specs: BTreeSet<String> = BTreeSet::new();
    for lot in lots.iter().chain(also) {
        let r = &lot.received;
        match r.classification.value() {
            None => not_known.push(r.code.clone()),
            Some(class) => {
                let spec = r.spec.value().map(|s| folded(s));
                specs.extend(spec);
                classes.insert(folded(class), class.clone());
            }
        }
    }
    if !not_known.is_empty() {
        not_known.dedup();
        return Some(Lack::KnownClass(not_known));
    }
    match (classes.len(), specs.len()) {
        (0, _) => Some(Lack::Source),
        (1, 0 | 1) => None,
        // The same class of two specifications is two classifications.
        (1, _) => Some(Lack::OneClass(printed(lots, also))),
        _ => Some(Lack::OneClass(classes.into_values().collect())),
    }
}

/// Specification and class of lots as printed, each once.
fn printed(lots: &[Rc<Lot>], also: &[Rc<Lot>]) -> Vec<String> {
    let printed: BTreeSet<String> = lots
        .iter()
        .chain(also)
        .map(|l| format!("{} {}", l.received.spec.cell(), l.received.classification.cell()).trim().to_owned())
        .collect();
    printed.into_iter().collect()
}

/// Every lot that stands, by code; or those that can be in certain welds.
fn lots(reading: &Reading<'_>, within: Option<&Seen>) -> Result<Vec<Rc<Lot>>> {
    let ids = reading.standing_things("SELECT lot, place FROM fact_lot", [])?;
    let ids = ids.into_iter().map(LotId::from_bytes);
    let mut lots = ids
        .filter(|id| within.is_none_or(|seen| seen.lots.contains(id)))
        .map(|id| reading.lot(id))
        .collect::<Result<Vec<_>>>()?;
    lots.sort_by(|a, b| (&a.received.code, a.id).cmp(&(&b.received.code, b.id)));
    Ok(lots)
}

fn lots_without_certificate(
    reading: &Reading<'_>,
    whole: &WholeBook<'_>,
    lots: &[Rc<Lot>],
) -> Result<Vec<LotWithoutCertificate>> {
    let mut without: Vec<LotWithoutCertificate> = lots
        .iter()
        .filter(|lot| lot.receipt_certificates().is_empty() && lot.filed.is_empty())
        .map(|lot| LotWithoutCertificate { lot: Rc::clone(lot), slips: Vec::new() })
        .collect();
    if without.is_empty() {
        return Ok(without);
    }
    let mut slips: HashMap<Id, Vec<String>> = HashMap::new();
    for (slip, _) in whole.slips() {
        // What was handed over left the crib on the slip before.
        if reading.slip(SlipId::from_number(slip.id))?.parent.is_none() {
            slips.entry(slip.lot).or_default().push(slip.number.clone());
        }
    }
    for gap in &mut without {
        gap.slips = slips.remove(&gap.lot.id.number()).unwrap_or_default();
        gap.slips.sort();
    }
    Ok(without)
}

/// Papers without lot, and numbers without paper.
fn certificates(reading: &Reading<'_>, lots: &[Rc<Lot>], whole_book: bool, gaps: &mut Gaps) -> Result<()> {
    let filed = reading.filed_certificates()?;
    let numbers: HashSet<&str> = filed.iter().map(|c| c.filed.certificate.as_str()).collect();
    // A paper that was filed for no lot and then again for one is about that one.
    let with_lot: HashSet<(&str, &str)> = filed
        .iter()
        .filter(|c| !c.lots.is_empty())
        .map(|c| (c.filed.certificate.as_str(), c.filed.sha256.as_str()))
        .collect();
    if whole_book {
        gaps.certificates_without_lot = filed
            .iter()
            .filter(|c| !with_lot.contains(&(c.filed.certificate.as_str(), c.filed.sha256.as_str())))
            .cloned()
            .collect();
    }
    let mut without: BTreeMap<&str, Vec<Rc<Lot>>> = BTreeMap::new();
    for lot in lots {
        for number in lot.receipt_certificates() {
            if !lot.filed.iter().any(|f| f == number) {
                without.entry(number).or_default().push(Rc::clone(lot));
            }
        }
    }
    gaps.certificates_without_paper = without
        .into_iter()
        .map(|(number, lots)| CertificateWithoutPaper {
            number: number.to_owned(),
            lots,
            filed_for_others: numbers.contains(number),
        })
        .collect();
    Ok(())
}

/// Open slips by issue, then number; of a job those that can be in its welds, and those that were asked for its joints.
fn open_slips(
    reading: &Reading<'_>,
    whole: &WholeBook<'_>,
    within: Option<&Seen>,
    joints: &[Rc<Joint>],
) -> Result<Vec<SlipAndLot>> {
    let of_job: HashSet<JointId> = joints.iter().map(|j| j.id).collect();
    let mut open = Vec::new();
    for (slip, custody) in whole.slips() {
        if custody.to.is_some() {
            continue;
        }
        let view = reading.slip_and_lot(SlipId::from_number(slip.id))?;
        let wanted = within.is_none_or(|seen| {
            seen.slips.contains(&slip.id) || view.slip.joints.iter().any(|j| of_job.contains(&j.joint))
        });
        if wanted {
            open.push(view);
        }
    }
    open.sort_by(|a, b| {
        (a.custody.from, &a.slip.number, a.slip.id).cmp(&(b.custody.from, &b.slip.number, b.slip.id))
    });
    Ok(open)
}

/// The rows of slip numbers. A number of a slip that was voided, or corrected to another, is explained.
fn slip_numbers(reading: &Reading<'_>) -> Result<SlipNumbers> {
    let mut statement =
        reading.conn().prepare_cached("SELECT label, thing, place FROM fact_label WHERE kind = 'slip'")?;
    let mut rows = statement.query([])?;
    let mut numbers = Vec::new();
    while let Some(row) = rows.next()? {
        let number: String = row.get(0)?;
        let explained = if reading.stands(Place(row.get(2)?)) {
            None
        } else {
            let slip = reading.slip(SlipId::from_bytes(row.get(1)?))?;
            Some(if slip.void { "voided".to_owned() } else { format!("corrected to {}", slip.number) })
        };
        numbers.push((number, explained));
    }
    let own = |number: &str, running: u64| {
        i64::try_from(running).is_ok_and(|running| facts::slip_number(running) == number)
    };
    let (rows, of_no_row) = numbering::rows(numbers, own);
    Ok(SlipNumbers { rows, of_no_row })
}

/// Jobs that are nearly this one: part of it, or it part of them, or one or two characters away.
fn near(jobs: &BTreeSet<String>, job: &str) -> Vec<String> {
    let folded = job.to_lowercase();
    let is_near = |other: &&String| {
        let other = other.to_lowercase();
        (!folded.is_empty() && (other.contains(&folded) || folded.contains(&other)))
            || strsim::damerau_levenshtein(&other, &folded) <= 2
    };
    jobs.iter().filter(is_near).take(6).cloned().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tell::init::Opening;
    use crate::{Acting, Ledger};
    use filler::{ProductForm, Quantity};
    use record::event::{
        CertificateFiled, Change, EntryCorrected, EntryVoided, Event, LotReceived, LotRef, PersonRef,
        Replacement, RodIssued,
    };
    use record::person::Role;
    use record::{Stated, When, Zone};
    use uuid::Uuid;

    const NOON: i64 = 1_772_452_800;

    struct Book {
        _dir: tempfile::TempDir,
        ledger: Ledger,
        welder: PersonRef,
    }

    fn acting() -> Acting {
        Acting { badge: "A-1".into(), now: Instant(NOON + 3600), dry_run: false, overriding: None }
    }

    fn at(second: i64) -> When {
        When::now(Instant(NOON + second))
    }

    fn lot(n: u128, certificate: Stated<String>) -> Event {
        Event::LotReceived(LotReceived {
            at: at(-100),
            certificate,
            certificate_type: Stated::NotAsked,
            classification: Stated::Value("ER70S-2".into()),
            code: format!("L-{n}"),
            form: Stated::Value(ProductForm::CutLength),
            heats: Vec::new(),
            heats_stated: Stated::NotAsked,
            imported: None,
            lot: LotId(Uuid::from_u128(n)),
            maker: Stated::NotAsked,
            maker_lot: Stated::NotAsked,
            marking: Stated::NotAsked,
            piece: None,
            quantity: Stated::NotAsked,
            size: Stated::NotAsked,
            spec: Stated::Value("A5.18".into()),
            surface: Stated::NotAsked,
        })
    }

    fn certificate(number: &str, sha256: &str, lots: &[u128]) -> Event {
        Event::CertificateFiled(CertificateFiled {
            at: at(0),
            bytes: 3,
            certificate: number.into(),
            certificate_type: Stated::NotAsked,
            file: "a.pdf".into(),
            lots: lots
                .iter()
                .map(|n| LotRef { label: format!("L-{n}"), lot: LotId(Uuid::from_u128(*n)) })
                .collect(),
            sha256: sha256.into(),
        })
    }

    impl Book {
        fn new() -> Self {
            let dir = tempfile::tempdir().unwrap();
            let path = dir.path().join("shop.rodbook");
            let opening = Opening {
                station: "crib".into(),
                shop: String::new(),
                zone: Zone::named("UTC").unwrap(),
                shifts: Vec::new(),
                name: Some("Ebba Stonefeather".into()),
                roles: vec![Role::Attendant],
            };
            Ledger::init(&path, dir.path(), &acting(), &opening).unwrap();
            let mut ledger = Ledger::open_for_writing(&path, dir.path()).unwrap();
            let person = ledger.enroll(&acting(), "W-1", "Marit Oldervane", &[Role::Welder]).unwrap().value;
            Self { _dir: dir, ledger, welder: PersonRef { badge: "W-1".into(), person } }
        }

        fn tell(&mut self, event: &Event) -> EntryId {
            self.ledger.write(&acting(), |writing| writing.append(event)).unwrap().value.id
        }

        fn issue(&self, n: u128, number: &str) -> RodIssued {
            RodIssued {
                at: at(-50),
                due: Stated::NotAsked,
                holder: self.welder.clone(),
                imported: None,
                issued_by: Stated::NotAsked,
                joints: Vec::new(),
                lot: LotRef { label: "L-1".into(), lot: LotId(Uuid::from_u128(1)) },
                number: number.into(),
                overridden: None,
                quantity: Stated::Value(Quantity::parse("24 rods").unwrap()),
                quiver: Stated::NotAsked,
                slip: SlipId(Uuid::from_u128(1000 + n)),
            }
        }

        fn void(&mut self, entry: EntryId) -> EntryId {
            self.tell(&Event::EntryVoided(EntryVoided { voids: entry, why: "typed twice".into() }))
        }

        fn gaps(&self) -> Gaps {
            self.ledger.ask(|reading| reading.gaps(None)).unwrap()
        }
    }

    #[test]
    fn struck_numbers_are_explained() {
        let mut book = Book::new();
        book.tell(&lot(1, Stated::NotAsked));
        let mut entries = Vec::new();
        for (n, number) in ["S-00001", "S-00002", "S-00003", "S-00006"].into_iter().enumerate() {
            let issue = book.issue(n as u128, number);
            entries.push(book.tell(&Event::RodIssued(issue)));
        }
        let row = |book: &Book| book.gaps().slip_numbers.unwrap().rows.remove(0);
        assert_eq!((row(&book).missing_count(), row(&book).explained.len()), (2, 0));
        // Voided: explained. Voided and the void voided: there again.
        let void = book.void(entries[1]);
        let explained = |number: &str, why: &str| Explained { number: number.into(), why: why.into() };
        assert_eq!(row(&book).explained, [explained("S-00002", "voided")]);
        book.void(void);
        assert_eq!(row(&book).explained, []);
        // Corrected to a number that was missing.
        let right = Event::RodIssued(book.issue(2, "S-00005"));
        book.tell(&Event::EntryCorrected(EntryCorrected {
            changes: vec![Change { field: "slip".into(), from: "S-00003".into(), to: "S-00005".into() }],
            corrects: entries[2],
            replacement: Replacement { body: right.body().unwrap(), kind: right.kind().to_owned() },
            why: "read the wrong line".into(),
        }));
        let row = row(&book);
        assert_eq!(row.explained, [explained("S-00003", "corrected to S-00005")]);
        assert_eq!(row.missing, [Run { first: "S-00004".into(), last: "S-00004".into(), count: 1 }]);
        assert_eq!(book.gaps().open_slips.len(), 4);
    }

    #[test]
    fn struck_papers_and_lots_count_for_nothing() {
        let mut book = Book::new();
        let receipt = book.tell(&lot(1, Stated::Value("C-1".into())));
        book.tell(&lot(2, Stated::Unknown));
        let without_paper = |book: &Book| -> Vec<String> {
            book.gaps().certificates_without_paper.into_iter().map(|g| g.number).collect()
        };
        let without_certificate = |book: &Book| -> Vec<String> {
            let gaps = book.gaps().lots_without_certificate;
            gaps.into_iter().map(|g| g.lot.received.code.clone()).collect()
        };
        assert_eq!(without_paper(&book), ["C-1"]);
        assert_eq!(without_certificate(&book), ["L-2"]);
        let paper = book.tell(&certificate("C-1", "aa", &[1, 2]));
        assert_eq!((without_paper(&book).len(), without_certificate(&book).len()), (0, 0));
        book.void(paper);
        assert_eq!(without_paper(&book), ["C-1"]);
        assert_eq!(without_certificate(&book), ["L-2"], "unknown is no certificate");
        // For another lot only: said so.
        book.tell(&certificate("C-1", "aa", &[2]));
        assert!(book.gaps().certificates_without_paper[0].filed_for_others);
        // The only lot of a paper was voided: the paper is about no lot, and the lot has no gaps any more.
        book.tell(&certificate("C-9", "bb", &[1]));
        assert!(book.gaps().certificates_without_lot.is_empty());
        book.void(receipt);
        let gaps = book.gaps();
        assert_eq!(gaps.certificates_without_lot.len(), 1);
        assert_eq!(gaps.certificates_without_lot[0].filed.certificate, "C-9");
        assert!(gaps.certificates_without_paper.is_empty());
    }
}
