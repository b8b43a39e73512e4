//! One golden entry per kind: the exact bytes and their hash, for as long as the format lives.
//!
//! With `RODBOOK_UPDATE_GOLDEN=1` the files are written anew; a change of an existing line is a break of the format and
//! needs a new kind (`name/2`).

#![allow(clippy::unwrap_used)]

use filler::reading::{Reading, ReadingMethod, SurfaceState};
use filler::{Process, ProductForm, Quantity, Size, Surface};
use record::event::*;
use record::finding::{Code, FindingId};
use record::id::{EntryId, JointId, LotId, PersonId, SlipId, StationId, WpsId};
use record::person::Role;
use record::time::{Shift, When, read};
use record::{Event, Header, Instant, Stated, Zone, entry};
use std::path::PathBuf;
use uuid::Uuid;

fn uuid(n: u128) -> Uuid {
    Uuid::from_u128((0x0193_5f2e_8c00_7000_8000_0000_0000_0000_u128) + n)
}

fn at(text: &str) -> When {
    read(text, Zone::named("Pacific/Auckland").unwrap(), &[]).unwrap()
}

fn imported(file: &str, row: u64) -> Option<Imported> {
    Some(Imported { file: file.into(), row })
}

fn person(n: u128, badge: &str) -> PersonRef {
    PersonRef { badge: badge.into(), person: PersonId(uuid(n)) }
}

fn value(text: &str) -> Stated<String> {
    Stated::Value(text.into())
}

fn quantity(text: &str) -> Stated<Quantity> {
    Stated::Value(Quantity::parse(text).unwrap())
}

fn size(text: &str) -> PrintedSize {
    PrintedSize { size: Size::parse(text).unwrap(), text: text.into() }
}

/// One event of every kind, with every field in use in one of them.
fn samples() -> Vec<Event> {
    let slip = SlipRef { number: "26-0352".into(), slip: SlipId(uuid(30)) };
    let new_slip = SlipRef { number: "26-0360".into(), slip: SlipId(uuid(31)) };
    let lot = LotRef { label: "R-1082".into(), lot: LotId(uuid(20)) };
    let joint = JointRef { joint: JointId(uuid(40)), number: "M-107".into() };
    vec![
        StationOpened {
            key: "11qYAYKxCrfVS/7TyWQHOg7hcvPapiMlrwIaaPcHURo=".into(),
            name: "crib 1, second".into(),
            predecessor: Some(Predecessor { id: EntryId([7; 32]), seq: 41, station: StationId([9; 32]) }),
            shop: "Vessilmoor Wellhead Piping".into(),
            zone: "Pacific/Auckland".into(),
        }
        .into(),
        ShiftsDeclared {
            shifts: vec![Shift::parse("06:00-14:30").unwrap(), Shift::parse("22:00-06:00").unwrap()],
        }
        .into(),
        PersonEnrolled {
            badge: "W-12".into(),
            imported: imported("people.csv", 4),
            name_hash: record::person::name_hash(&[5; 32], "Tam Okoro-Lind"),
            person: PersonId(uuid(12)),
            roles: vec![Role::Welder, Role::Inspector],
        }
        .into(),
        WelderQualified {
            backing: Stated::Value(Backing::Without),
            f_number: value("6"),
            imported: None,
            process: Stated::Value(Process::Gtaw),
            qualified_on: Stated::Value(at("2025-12-04")),
            welder: person(12, "W-12"),
        }
        .into(),
        WpsDeclared {
            backing: Stated::Unknown,
            classifications: vec!["ER70S-2".into(), "E7018-1 H4R".into()],
            f_numbers: vec!["6".into(), "4".into()],
            heat_input: Stated::NotAsked,
            imported: None,
            number: "WPS-CS-01".into(),
            processes: vec![Process::Gtaw, Process::Other("GMAW-P".into())],
            revision: value("3"),
            sizes: vec![size("3/32 in"), size("2.4 mm")],
            specs: vec!["A5.18".into(), "A5.1".into()],
            wps: WpsId(uuid(50)),
        }
        .into(),
        JointDeclared {
            asked: Stated::NotAsked,
            drawing: value("WVM-07-107"),
            drawing_revision: Stated::Illegible,
            finished_at: Stated::Value(at("2026-04-07 18:05")),
            imported: imported("joints.csv", 8),
            job: value("WVM-07 wing-valve manifold"),
            joint: JointId(uuid(40)),
            level: Stated::Value(Level::Lot),
            needed_mg: Stated::Value(919_000),
            needed_u_mg: Stated::NotApplicable,
            number: "M-107".into(),
            worked_out: Stated::NotAsked,
            wps: vec![WpsRef { number: "WPS-CS-01".into(), wps: WpsId(uuid(50)) }],
        }
        .into(),
        LotReceived {
            at: at("2026-03-09 09:20"),
            certificate: value("TW-26-0388"),
            certificate_type: value("3.1"),
            classification: value("ER70S-6"),
            code: "R-1082".into(),
            form: Stated::Value(ProductForm::CutLength),
            heats: vec!["7K2214".into(), "7K2215".into()],
            heats_stated: Stated::NotAsked,
            imported: imported("lots.csv", 3),
            lot: LotId(uuid(20)),
            maker: value("Tarvemire Wire"),
            maker_lot: value("4117-B"),
            marking: Stated::Value(filler::Marking::Stamped),
            piece: Some(PieceMass {
                density_confidence: Some("common practice".into()),
                density_g_per_cm3: Some("7.85".into()),
                mg: 31_954,
                origin: PieceOrigin::Computed,
            }),
            quantity: quantity("200 lb"),
            size: Stated::Value(size("3/32 in x 36 in")),
            spec: value("A5.18"),
            surface: Stated::Value(Surface::CopperCoated),
        }
        .into(),
        LotReleased {
            at: at("2026-03-10"),
            imported: None,
            lot: lot.clone(),
            why: "certificate and label agree".into(),
        }
        .into(),
        LotHeld { at: at("2026-04-05 02:30"), lot: lot.clone(), why: "maker's letter\nheat 7K2214".into() }
            .into(),
        RodIssued {
            at: at("2026-04-07 14:02"),
            due: Stated::Value(at("2026-04-07 23:00")),
            holder: person(12, "W-12"),
            imported: None,
            issued_by: Stated::Value(person(1, "A-01")),
            joints: vec![joint.clone()],
            lot: lot.clone(),
            number: "26-0352".into(),
            overridden: Some(Override {
                rules: vec!["lot-not-released".into()],
                why: "trial piece only".into(),
            }),
            quantity: quantity("14 rods"),
            quiver: value("Q-7"),
            slip: SlipId(uuid(30)),
        }
        .into(),
        RodReturned {
            at: at("2026-04-07 22:50"),
            closes: true,
            condition: Stated::Value(Condition::Unmarked),
            holder: PersonId(uuid(12)),
            imported: imported("returns.csv", 17),
            lot: LotId(uuid(20)),
            overridden: None,
            quantity: quantity("2.50 kg"),
            received_by: Stated::Unknown,
            slip: slip.clone(),
            stubs: Stated::Value(11),
        }
        .into(),
        RodHandedOver {
            at: at("2026-04-07 14:26"),
            by: Stated::NotAsked,
            closes: false,
            from: PersonId(uuid(12)),
            imported: None,
            lot: LotId(uuid(20)),
            new_slip,
            overridden: None,
            quantity: quantity("10 rods"),
            slip: slip.clone(),
            to: person(14, "W-14"),
        }
        .into(),
        WelderCleared { at: at("2026-04-07 23:00"), welder: person(12, "W-12") }.into(),
        JointWelded {
            arc: Stated::NotAsked,
            cycle: value("R1"),
            filler: true,
            finished: true,
            from: at("2026-04-07 15:10"),
            imported: None,
            joints: vec![joint.clone()],
            lot: Stated::Value(lot.clone()),
            mark: Stated::Value(Mark::NotLooked),
            overridden: None,
            pass: value("root"),
            process: Stated::Value(Process::Gtaw),
            recorded_by: Stated::Value(person(1, "A-01")),
            slip: Stated::Value(slip.clone()),
            to: Stated::NotAsked,
            used: quantity("5 rods"),
            welder: person(12, "W-12"),
        }
        .into(),
        MarkSpotChecked {
            at: at("2026-04-07 15:20"),
            by: Stated::Value(person(21, "I-21")),
            imported: None,
            joint: joint.clone(),
            legible: true,
            reads: value("70S-6"),
            welder: person(12, "W-12"),
        }
        .into(),
        FilesImported {
            files: vec![ImportedFile {
                name: "issues.csv".into(),
                rows: 485,
                sha256: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855".into(),
            }],
        }
        .into(),
        LotRejected { at: at("2026-04-09 08:00"), lot: lot.clone(), why: "deposit out of limits".into() }
            .into(),
        LotRecalled { at: at("2026-04-09 10:15"), lot: lot.clone(), why: "maker's letter of 8 April".into() }
            .into(),
        CertificateFiled {
            at: at("2026-03-09 09:40"),
            bytes: 48_213,
            certificate: "TW-26-0388".into(),
            certificate_type: value("3.1"),
            file: "TW-26-0388.pdf".into(),
            lots: vec![lot.clone()],
            sha256: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855".into(),
        }
        .into(),
        RodScrapped {
            at: at("2026-04-08 07:10"),
            by: Stated::Value(person(1, "A-01")),
            imported: imported("scraps.csv", 2),
            lot: lot.clone(),
            overridden: None,
            quantity: quantity("2 rods"),
            slip: Some(ScrappedSlip { closes: false, holder: PersonId(uuid(12)), slip: slip.clone() }),
            why: "bent".into(),
        }
        .into(),
        SlipReprinted { at: at("2026-04-07 16:00"), slip: slip.clone(), why: "burnt".into() }.into(),
        WireFoundUnmarked {
            at: at("2026-04-07 21:30"),
            by: Stated::Value(person(21, "I-21")),
            imported: None,
            joints: vec![joint.clone()],
            place: "bay 3, bench 2".into(),
            quantity: quantity("2 rods"),
            welder: Stated::Value(person(12, "W-12")),
        }
        .into(),
        FindingDisposed {
            at: at("2026-04-09 11:00"),
            by: person(21, "I-21"),
            classification: Stated::NotAsked,
            code: "unmarked-wire".into(),
            disposition: Disposition::ReMarked,
            entries: vec![EntryId([1; 32])],
            finding: FindingId::of(Code::UnmarkedWire, &[EntryId([1; 32])]),
            lot: Stated::Value(lot.clone()),
            said: "2 rods found at bay 3, bench 2".into(),
            why: "one lot only since the check of 7 April".into(),
        }
        .into(),
        NoteWritten {
            about: Subject::Joint(JointId(uuid(40))),
            at: at("2026-04-09 11:05"),
            label: "M-107".into(),
            text: "root seen by the client".into(),
        }
        .into(),
        EntryCorrected {
            changes: vec![Change {
                field: "place".into(),
                from: "bay 2".into(),
                to: "bay 3, bench 2".into(),
            }],
            corrects: EntryId([2; 32]),
            replacement: Replacement {
                body: Event::from(WireFoundUnmarked {
                    at: at("2026-04-07 21:30"),
                    by: Stated::Unknown,
                    imported: None,
                    joints: vec![],
                    place: "bay 3, bench 2".into(),
                    quantity: Stated::NotAsked,
                    welder: Stated::NotApplicable,
                })
                .body()
                .unwrap(),
                kind: "wire.found_unmarked".into(),
            },
            why: "written down at the wrong bay".into(),
        }
        .into(),
        EntryVoided { voids: EntryId([3; 32]), why: "slip of another shop".into() }.into(),
        CertificateRead {
            analysis: texts(&[("C", "0.07"), ("Mn", "1.52"), ("Si", "0.86")]),
            asked: PapersAsked {
                certificate_type: value("3.1"),
                lot_class: value("S3"),
                schedule: Stated::NotAsked,
            },
            at: at("2026-03-09 09:45"),
            certificate: value("TW-26-0388"),
            certificate_type: value("3.1"),
            judged: Judged {
                notes: vec!["not reported: P, S, Cu".into()],
                table: "A5.18, edition 2005, built in".into(),
                verdict: "incomplete".into(),
            },
            lot: lot.clone(),
            lot_class: Stated::Illegible,
            product: value("wire"),
            schedule: Stated::NotAsked,
            strengths: texts(&[("tensile", "74 ksi")]),
            surface: Stated::Unknown,
        }
        .into(),
        MetalRead {
            at: at("2026-04-07 21:40"),
            by: Stated::Value(person(21, "I-21")),
            on: ReadOn::Find(EntryId([4; 32])),
            reading: Reading::parse(
                "Mn=1.55/0.12,Si=0.95/0.20,V=<0.01",
                Some("2"),
                Some("1 %"),
                ReadingMethod::Xrf,
                SurfaceState::Abraded,
            )
            .unwrap(),
            rejected: vec!["A5.18 ER70S-2".into()],
            tables: vec!["A5.18, edition 2005, built in".into()],
        }
        .into(),
        TableLoaded {
            at: at("2026-02-02 10:00"),
            edition: "2021".into(),
            limits: "spec,classification,element,min_pct,max_pct\nA5.18,ER70S-2,C,,0.07\n".into(),
            name: "our A5.18".into(),
            sha256: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855".into(),
            spec: "A5.18".into(),
        }
        .into(),
        TableSignedOff {
            against: "our copy of A5.18, 2021".into(),
            at: at("2026-02-02 11:00"),
            by: person(21, "I-21"),
            sha256: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855".into(),
            spec: "A5.18".into(),
            table: "our A5.18".into(),
        }
        .into(),
    ]
}

fn texts(pairs: &[(&str, &str)]) -> Vec<NamedText> {
    pairs.iter().map(|(name, value)| NamedText { name: (*name).into(), value: (*value).into() }).collect()
}

/// Bodies with the keys that kinds were given later. Without them the lines are those of [`samples`], byte for byte.
fn with_later_keys() -> Vec<(&'static str, Event)> {
    let mut later = Vec::new();
    for event in samples() {
        if let Event::WpsDeclared(mut e) = event {
            e.heat_input =
                Stated::Value(HeatInputLimit { convention: "qw-409.1-a".into(), most: "55 kJ/in".into() });
            later.push(("heat_input", e.into()));
        } else if let Event::JointDeclared(mut e) = event {
            e.asked = Stated::Value(PapersAsked {
                certificate_type: value("3.1"),
                lot_class: value("S3"),
                schedule: Stated::Unknown,
            });
            e.worked_out = Stated::Value(WorkedOut {
                inputs: texts(&[("groove", "single-v"), ("thickness", "6.02 mm")]),
                own_u_mg: 2_113,
                shared: vec![
                    SharedInput { input: "cap-height".into(), mg: 9_800 },
                    SharedInput { input: "root-face".into(), mg: -5_200 },
                ],
            });
            later.push(("worked_out", e.into()));
        } else if let Event::JointWelded(mut e) = event {
            e.arc = Stated::Value(Arc {
                amps: value("227"),
                travel: value("3.5 in/min"),
                volts: value("12"),
                ..Arc::default()
            });
            later.push(("arc", e.into()));
        }
    }
    later
}

fn header(seq: u64) -> Header {
    Header {
        station: StationId([0xAB; 32]),
        seq,
        prev: EntryId([0xCD; 32]),
        clock: seq + 1,
        seen: vec![],
        time: Instant::parse("2026-04-07T03:04:05Z").unwrap(),
        by: "A-01".into(),
        person: Some(PersonId(uuid(1))),
    }
}

#[test]
fn every_kind_has_its_golden_entry() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/entries");
    let samples = samples();
    let kinds: Vec<&str> = samples.iter().map(Event::kind).collect();
    assert_eq!(kinds, Event::KINDS, "one sample per kind, in the order of the list");
    let later = with_later_keys();
    let named = samples.iter().map(|event| (event.kind().to_owned(), event));
    let named = named.chain(later.iter().map(|(key, event)| (format!("{}.{key}", event.kind()), event)));
    for (seq, (name, event)) in named.enumerate() {
        let header = header(seq as u64);
        let line = entry::encode(&header, event).unwrap();
        let golden = format!("{}\n{}\n", String::from_utf8(line.clone()).unwrap(), entry::id(&line));
        let path = folder.join(format!("{name}.txt"));
        if std::env::var_os("RODBOOK_UPDATE_GOLDEN").is_some() {
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(&path, &golden).unwrap();
        }
        let stored = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        assert_eq!(stored, golden, "{}", event.kind());
        let back = entry::decode(&line).unwrap();
        assert_eq!(back.header, header);
        assert_eq!(&back.event, event, "reading back gives the same event");
        assert_eq!(entry::decode_trusted(&line).unwrap().event, *event);
    }
    let files = std::fs::read_dir(&folder).unwrap().count();
    assert_eq!(files, Event::KINDS.len() + later.len(), "no golden entry of a kind that is gone");
}

#[test]
fn a_kind_or_shape_of_a_newer_program_is_kept_as_it_is() {
    let header = header(0);
    for (kind, body) in [
        ("oven.read", serde_json::json!({ "celsius": 120 })),
        ("rod.issued/2", serde_json::json!({ "anything": [1, 2] })),
        ("rod.issued", serde_json::json!({ "not": "the shape" })),
        // One key more than this program knows may change what the rest means.
        ("slip.reprinted", {
            let mut body = Event::from(SlipReprinted {
                at: at("2026-04-07 16:00"),
                slip: SlipRef { number: "26-0352".into(), slip: SlipId(uuid(30)) },
                why: "burnt".into(),
            })
            .body()
            .unwrap();
            body["unless"] = true.into();
            body
        }),
    ] {
        let event = Event::from_parts(kind, &body);
        assert!(matches!(event, Event::NotUnderstood(_)), "{kind}");
        assert_eq!(event.kind(), kind);
        let line = entry::encode(&header, &event).unwrap();
        let back = entry::decode(&line).unwrap();
        assert_eq!(entry::encode(&back.header, &back.event).unwrap(), line, "byte for byte");
    }
}
