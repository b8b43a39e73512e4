//! What leaves the book as files: the lot-to-joint list, its manifest, the record and its signed heads.

// clippy.toml allows these inside #[test] functions only; the helpers here are test code too.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::print_stderr)]

use filler::{Process, ProductForm, Quantity};
use ledger::ask::reading::Reading;
use ledger::export::{self, Exported, LotJoint};
use ledger::tell::declare::JointRequest;
use ledger::tell::give_back::ReturnRequest;
use ledger::tell::hand_over::HandOverRequest;
use ledger::tell::init::Opening;
use ledger::tell::issue::IssueRequest;
use ledger::tell::receive::ReceiveRequest;
use ledger::tell::spot_check::SpotCheckRequest;
use ledger::tell::weld::WeldRequest;
use ledger::{Acting, Ledger};
use record::event::{Condition, Event, Mark};
use record::person::Role;
use record::tree::Frontier;
use record::{Instant, Stated, When, Zone};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

/// The columns, in the order that other programs rely on.
const COLUMNS: &str = "job,joint,cycle,pass,drawing,drawing_revision,wps,wps_revision,process,welder,welded_from,\
                       welded_to,spec,classification,size,form,maker,maker_lot,heats,lot,certificate,certificate_type,\
                       slip,issued_at,returned_at,certainty,of,named_lot,named_slip,least_g,most_g,mark,late_entry,\
                       entry,findings,finding_codes,struck";

const EXCHANGE: LotJoint = LotJoint { for_spreadsheet: false, names: false };

struct Shop {
    dir: tempfile::TempDir,
    ledger: Ledger,
    now: &'static str,
    /// Ids of the weld records, as they were told.
    welds: Vec<String>,
}

fn when(text: &str) -> When {
    record::time::read(text, Zone::named("Pacific/Auckland").unwrap(), &[]).unwrap()
}

fn rods(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

fn some(text: &str) -> Option<String> {
    Some(text.to_owned())
}

impl Shop {
    fn new() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("shop.rodbook");
        let acting = acting("2026-03-01T00:00:00Z");
        let opening = Opening {
            station: "crib".into(),
            shop: "Well-head shop".into(),
            zone: Zone::named("Pacific/Auckland").unwrap(),
            shifts: Vec::new(),
            name: some("Ruta Fenbridge"),
            roles: vec![Role::Attendant, Role::Inspector],
        };
        Ledger::init(&path, dir.path(), &acting, &opening).unwrap();
        let mut ledger = Ledger::open_for_writing(&path, dir.path()).unwrap();
        for (badge, name) in
            [("W-1", "Marit Oldervane"), ("W-2", "Teo Brandrake"), ("W-3", "Dália Quenmarsh")]
        {
            ledger.enroll(&acting, badge, name, &[Role::Welder]).unwrap();
        }
        Self { dir, ledger, now: "2026-03-02T12:00:00Z", welds: Vec::new() }
    }

    fn acting(&self) -> Acting {
        acting(self.now)
    }

    fn joint(&mut self, number: &str, describe: impl FnOnce(&mut JointRequest)) {
        let mut request = JointRequest { number: number.into(), ..JointRequest::default() };
        describe(&mut request);
        self.ledger.declare_joint(&self.acting(), &request).unwrap();
    }

    fn receive(&mut self, code: &str, describe: impl FnOnce(&mut ReceiveRequest)) {
        let mut request = ReceiveRequest {
            values: ledger::tell::certificate_read::ValuesTyped::default(),
            code: code.into(),
            form: Stated::Value(ProductForm::CutLength),
            at: Some(when("2026-03-01T00:00:00Z")),
            ..ReceiveRequest::default()
        };
        describe(&mut request);
        self.ledger.receive(&self.acting(), &request).unwrap();
        self.ledger.release(&self.acting(), code, None, Some(&when("2026-03-01T01:00:00Z"))).unwrap();
    }

    fn issue(&mut self, lot: &str, holder: &str, slip: &str, at: &str) {
        let request = IssueRequest {
            lot: lot.into(),
            holder: holder.into(),
            quantity: rods("24 rods"),
            joints: Vec::new(),
            quiver: None,
            number: some(slip),
            due: None,
            at: Some(when(at)),
        };
        self.ledger.issue(&self.acting(), &request).unwrap();
    }

    fn give_back(&mut self, slip: &str, at: &str) {
        let request = ReturnRequest {
            slip: slip.into(),
            quantity: rods("2 rods"),
            stubs: None,
            condition: Condition::Marked,
            more: false,
            at: Some(when(at)),
        };
        self.ledger.give_back(&self.acting(), &request).unwrap();
    }

    fn weld(&mut self, joint: &str, welder: &str, from: &str, describe: impl FnOnce(&mut WeldRequest)) {
        let mut request = WeldRequest {
            arc: record::event::Arc::default(),
            joint: joint.into(),
            also: Vec::new(),
            welder: welder.into(),
            pass: None,
            cycle: None,
            process: Some(Process::Gtaw),
            lot: None,
            slip: None,
            filler: true,
            used: None,
            from: Some(when(from)),
            to: None,
            mark: None,
            finished: false,
        };
        describe(&mut request);
        let done = self.ledger.weld(&self.acting(), &request).unwrap();
        self.welds.push(done.entries[0].id.to_string());
    }

    fn list(&self, options: LotJoint) -> (Exported, Vec<u8>) {
        list(&self.ledger, options)
    }

    /// The list with the ids of weld records replaced by `weld-1` and so on: they are hashes and differ each time.
    fn masked(&self, options: LotJoint) -> String {
        let mut text = String::from_utf8(self.list(options).1).unwrap();
        for (n, id) in self.welds.iter().enumerate() {
            text = text.replace(id, &format!("weld-{}", n + 1));
        }
        // What is left are ids of findings: they differ from station to station, their codes do not.
        let masked: Vec<String> = text
            .split_inclusive([',', ';', '\r', '\n'])
            .map(|part| {
                let cell = part.trim_end_matches([',', ';', '\r', '\n']);
                let id = cell.len() == 64 && cell.bytes().all(|b| b.is_ascii_hexdigit());
                if id { part.replace(cell, "finding") } else { part.to_owned() }
            })
            .collect();
        masked.concat()
    }
}

fn acting(now: &str) -> Acting {
    Acting { badge: "I-1".into(), now: Instant::parse(now).unwrap(), dry_run: false, overriding: None }
}

fn list(ledger: &Ledger, options: LotJoint) -> (Exported, Vec<u8>) {
    let mut bytes = Vec::new();
    let exported =
        ledger.ask(|reading| reading.export_lot_joint(&options, &mut bytes, &mut |_, _| {})).unwrap();
    (exported, bytes)
}

fn rows(bytes: &[u8]) -> Vec<HashMap<String, String>> {
    csv::Reader::from_reader(bytes).deserialize().collect::<Result<_, _>>().unwrap()
}

fn sha256(bytes: &[u8]) -> String {
    hex::encode(Sha256::digest(bytes))
}

/// One shop with a weld of every certainty, a joint without welds, a weld of two joints, and all four silences.
fn small_shop() -> Shop {
    let mut shop = Shop::new();
    shop.receive("L-0101", |lot| {
        lot.maker = some("Tarvemire Wire");
        lot.maker_lot = some("4117-B");
        lot.heats = vec!["7K2214".into(), "004417".into()];
        lot.spec = some("A5.18");
        lot.classification = some("ER70S-2");
        lot.size = some("3/32 in x 36 in");
        lot.certificate = some("TW-26-0388");
        lot.certificate_type = some("3.1");
    });
    // Not asked, not applicable, unknown, illegible; a comma and quotes for the quoting.
    shop.receive("L-0102", |lot| {
        lot.maker = some("Quennisford, \"Q\" works");
        lot.maker_lot = some("illegible");
        lot.spec = some("A5.18");
        lot.classification = some("ER70S-6");
        lot.size = some("unknown");
        lot.certificate = some("n/a");
    });
    shop.receive("L-0103", |lot| {
        lot.form = Stated::Value(ProductForm::Covered);
        lot.spec = some("A5.1");
        lot.classification = some("E7018-1 H4R");
    });
    for (number, job) in [("J-01", "30-118"), ("J-02", "30-118"), ("J-03", "30-118"), ("J-04", "30-118")] {
        shop.joint(number, |joint| {
            joint.job = some(job);
            joint.drawing = some("WH-7-101");
            joint.drawing_revision = some("B");
        });
    }
    shop.joint("J-05", |joint| {
        joint.job = some("n/a");
        joint.drawing = some("unknown");
        joint.drawing_revision = some("illegible");
    });
    // Declared out of order: the list is sorted.
    for number in ["J-10", "J-09", "J-08", "J-07", "J-06", "J-1"] {
        shop.joint(number, |_| {});
    }
    shop.issue("L-0101", "W-1", "S-1", "2026-03-02T08:00:00Z");
    shop.issue("L-0103", "W-1", "S-2", "2026-03-02T08:05:00Z");
    shop.issue("L-0102", "W-2", "S-3", "2026-03-02T08:10:00Z");
    shop.issue("L-0101", "W-2", "S-4", "2026-03-02T08:20:00Z");

    // By custody: the covered electrode does not suit GTAW. The cap was written down before the root.
    shop.weld("J-01", "W-1", "2026-03-02T10:00:00Z", |weld| {
        weld.pass = some("cap");
        weld.process = Some(Process::Smaw);
        weld.to = Some(when("2026-03-02T10:45:00Z"));
    });
    shop.weld("J-01", "W-1", "2026-03-02T09:00:00Z", |weld| {
        weld.pass = some("root");
        weld.to = Some(when("2026-03-02T09:30:00Z"));
        weld.mark = Some(Mark::Read);
    });
    // Recorded: the lot is named, and the other lot in hand is not a source.
    shop.weld("J-02", "W-2", "2026-03-02T09:00:00Z", |weld| weld.lot = some("L-0101"));
    // One of two lots.
    shop.weld("J-03", "W-2", "2026-03-02T10:00:00Z", |weld| weld.mark = Some(Mark::NotLooked));
    // Contradicted: the slip named was in other hands.
    shop.weld("J-04", "W-1", "2026-03-02T11:00:00Z", |weld| weld.slip = some("S-3"));
    // Unknown: nothing in hand. Autogenous: nothing needed.
    shop.weld("J-05", "W-3", "2026-03-02T11:00:00Z", |weld| weld.cycle = some("tack"));
    shop.weld("J-05", "W-3", "2026-03-02T11:30:00Z", |weld| weld.filler = false);
    // Contradicted by what an inspector read.
    shop.weld("J-06", "W-1", "2026-03-02T11:40:00Z", |weld| weld.lot = some("L-0101"));
    let check = SpotCheckRequest {
        joint: "J-06".into(),
        welder: "W-1".into(),
        legible: true,
        reads: some("ER308L"),
        at: Some(when("2026-03-02T11:40:00Z")),
    };
    shop.ledger.spot_check(&shop.acting(), &check).unwrap();
    shop.give_back("S-1", "2026-03-02T11:50:00Z");
    // Nothing is left of the covered electrodes either.
    shop.ledger.clear(&shop.acting(), "W-1", Some(&when("2026-03-02T11:55:00Z"))).unwrap();

    // Two joints at once, after a hand-over, on a local day, written down too late, mark not readable.
    shop.now = "2026-03-05T12:00:00Z";
    let over = HandOverRequest {
        slip: "S-4".into(),
        to: "W-3".into(),
        quantity: rods("10 rods"),
        closes: true,
        number: some("S-5"),
        at: Some(when("2026-03-03T01:00:00Z")),
    };
    shop.ledger.hand_over(&shop.acting(), &over).unwrap();
    shop.weld("J-08", "W-3", "2026-03-03", |weld| {
        weld.also = vec!["J-07".into()];
        weld.cycle = some("R1");
        weld.pass = some("illegible");
        weld.process = None;
        weld.mark = Some(Mark::Unreadable);
    });
    shop
}

#[test]
fn every_column_of_a_small_shop() {
    let shop = small_shop();
    let masked = shop.masked(EXCHANGE);
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/export/lot-joint.csv");
    // The golden file has plain line feeds, so that no tool that touches line ends can break it.
    let expected = std::fs::read_to_string(&golden).unwrap().replace('\n', "\r\n");
    if std::env::var_os("RODBOOK_UPDATE_GOLDEN").is_some() {
        std::fs::write(&golden, masked.replace("\r\n", "\n")).unwrap();
        return;
    }
    assert_eq!(masked, expected);
    assert!(masked.ends_with("\r\n"));
    assert_eq!(masked.matches('\n').count(), masked.matches("\r\n").count(), "RFC 4180 line ends");
    assert_eq!(masked.lines().next(), Some(COLUMNS));
}

#[test]
fn certainty_and_sources_are_those_that_trace_gives() {
    let shop = small_shop();
    let (_, bytes) = shop.list(EXCHANGE);
    let lines = rows(&bytes);
    let seen: Vec<[&str; 5]> = lines
        .iter()
        .map(|line| ["joint", "certainty", "lot", "slip", "of"].map(|column| line[column].as_str()))
        .collect();
    assert_eq!(
        seen,
        [
            ["J-01", "by-custody", "L-0101", "S-1", "1"],
            ["J-01", "by-custody", "L-0103", "S-2", "1"],
            ["J-02", "recorded", "L-0101", "S-4", "1"],
            ["J-03", "one-of", "L-0102", "S-3", "2"],
            ["J-03", "one-of", "L-0101", "S-4", "2"],
            ["J-04", "contradicted", "L-0101", "S-1", "1"],
            ["J-05", "unknown", "", "", "0"],
            ["J-05", "no-filler", "", "", "0"],
            ["J-06", "contradicted", "L-0101", "S-1", "1"],
            ["J-07", "by-custody", "L-0101", "S-5", "1"],
            ["J-08", "by-custody", "L-0101", "S-5", "1"],
            ["J-09", "", "", "", ""],
            ["J-1", "", "", "", ""],
            ["J-10", "", "", "", ""],
        ]
    );
    let mut by_joint: BTreeMap<&str, Vec<&HashMap<String, String>>> = BTreeMap::new();
    for line in &lines {
        by_joint.entry(&line["joint"]).or_default().push(line);
    }
    for (joint, lines) in by_joint {
        let traced = shop.ledger.ask(|reading| reading.trace_joint(joint)).unwrap();
        let mut expected = Vec::new();
        for weld in &traced.welds {
            let certainty = weld.certainty.to_string();
            let entry = weld.entry.to_string();
            let lots = weld.lots().len().to_string();
            for source in &weld.sources {
                let ends = source.custody.to.map_or(String::new(), |to| to.to_string());
                expected.push([
                    entry.clone(),
                    certainty.clone(),
                    source.slip.number.clone(),
                    lots.clone(),
                    ends,
                ]);
            }
            if weld.sources.is_empty() {
                expected.push([entry, certainty, String::new(), lots, String::new()]);
            }
        }
        if expected.is_empty() {
            expected.push(Default::default());
        }
        let found: Vec<[String; 5]> = lines
            .iter()
            .map(|line| {
                ["entry", "certainty", "slip", "of", "returned_at"].map(|column| line[column].clone())
            })
            .collect();
        assert_eq!(found, expected, "{joint}");
    }
}

#[test]
fn rows_and_hash_are_those_of_the_file_and_the_bytes_repeat() {
    let shop = small_shop();
    for options in [EXCHANGE, LotJoint { for_spreadsheet: true, names: true }] {
        let (exported, bytes) = shop.list(options);
        assert_eq!(exported.sha256, sha256(&bytes));
        let mut reader = csv::Reader::from_reader(bytes.as_slice());
        assert_eq!(exported.rows, reader.records().count() as u64);
        assert_eq!(exported.rows, 14);
        assert_eq!(shop.list(options).1, bytes);
        let opened = Ledger::open(shop.ledger.path(), shop.dir.path()).unwrap();
        assert_eq!(list(&opened, options).1, bytes, "opened anew");
    }
    let mut steps = Vec::new();
    shop.ledger
        .ask(|reading| {
            reading
                .export_lot_joint(&EXCHANGE, &mut std::io::sink(), &mut |done, all| steps.push((done, all)))
        })
        .unwrap();
    assert_eq!((steps.first(), steps.last()), (Some(&(0, 11)), Some(&(11, 11))));
}

#[test]
fn names_are_a_column_at_the_end_and_only_on_request() {
    let shop = small_shop();
    assert!(!String::from_utf8(shop.list(EXCHANGE).1).unwrap().contains("Oldervane"));
    let (_, bytes) = shop.list(LotJoint { names: true, ..EXCHANGE });
    let text = String::from_utf8(bytes.clone()).unwrap();
    assert_eq!(text.lines().next().unwrap(), format!("{COLUMNS},welder_name"));
    for line in rows(&bytes) {
        let name = match line["welder"].as_str() {
            "W-1" => "Marit Oldervane",
            "W-2" => "Teo Brandrake",
            "W-3" => "Dália Quenmarsh",
            "" => "",
            other => panic!("{other}"),
        };
        assert_eq!(line["welder_name"], name);
    }
}

/// Texts that a spreadsheet runs as a formula or turns into a number or a date.
const HOSTILE: [(&str, &str); 9] = [
    ("joint", "=cmd"),
    ("job", "+1"),
    ("drawing", "-1"),
    ("drawing_revision", "@x"),
    ("lot", "00123E4"),
    ("maker_lot", "3-11"),
    ("maker", "＝x"),
    ("certificate", "1/2"),
    ("slip", "0417"),
];

fn hostile_shop() -> Shop {
    let text: HashMap<&str, &str> = HOSTILE.into_iter().collect();
    let mut shop = Shop::new();
    shop.receive(text["lot"], |lot| {
        lot.maker = some(text["maker"]);
        lot.maker_lot = some(text["maker_lot"]);
        lot.certificate = some(text["certificate"]);
        lot.heats = vec!["7K2214".into(), "=1+1".into()];
    });
    shop.joint(text["joint"], |joint| {
        joint.job = some(text["job"]);
        joint.drawing = some(text["drawing"]);
        joint.drawing_revision = some(text["drawing_revision"]);
    });
    shop.issue(text["lot"], "W-1", text["slip"], "2026-03-02T08:00:00Z");
    shop.weld(text["joint"], "W-1", "2026-03-02T09:00:00Z", |weld| {
        weld.process = Some(Process::parse("-arc").unwrap());
    });
    shop
}

#[test]
fn the_exchange_form_is_exact_and_the_spreadsheet_form_is_harmless() {
    let shop = hostile_shop();
    let (_, exact) = shop.list(EXCHANGE);
    assert!(exact.starts_with(b"job,"), "no byte order mark");
    let exact = rows(&exact).remove(0);
    let (_, bytes) = shop.list(LotJoint { for_spreadsheet: true, ..EXCHANGE });
    assert!(bytes.starts_with(&[0xEF, 0xBB, 0xBF]), "UTF-8 byte order mark");
    let header = String::from_utf8(bytes.clone()).unwrap();
    let header = header.strip_prefix('\u{FEFF}').unwrap().lines().next().unwrap();
    assert!(header.starts_with("\"spreadsheet_form: ") && header.ends_with(COLUMNS), "{header}");
    assert!(header.contains("apostrophe") && header.contains("exact"), "{header}");
    let sheet = rows(&bytes).remove(0);

    for (column, text) in HOSTILE {
        assert_eq!(exact[column], text, "{column}");
        assert_eq!(sheet[column], format!("'{text}"), "{column}");
    }
    assert_eq!((exact["process"].as_str(), sheet["process"].as_str()), ("-arc", "'-arc"));
    assert_eq!((exact["heats"].as_str(), sheet["heats"].as_str()), ("7K2214;=1+1", "7K2214;'=1+1"));
    for column in ["welder", "welded_from", "certainty", "of", "entry", "size"] {
        assert_eq!(sheet[column], exact[column], "{column}");
    }
    let (_, changed) = sheet.iter().find(|(column, _)| column.starts_with("spreadsheet_form")).unwrap();
    assert_eq!(
        changed,
        "job;joint;drawing;drawing_revision;process;maker;maker_lot;heats;lot;certificate;slip"
    );
}

fn manifest(ledger: &Ledger) -> (Exported, serde_json::Value, String) {
    ledger
        .ask(|reading| {
            let exported = reading.export_lot_joint(&EXCHANGE, &mut std::io::sink(), &mut |_, _| {}).unwrap();
            let now = Instant::parse("2026-03-06T00:00:00Z").unwrap();
            let text = export::manifest(reading, "list.csv", exported.rows, &exported.sha256, now).unwrap();
            Ok((exported, serde_json::from_str(&text).unwrap(), text))
        })
        .unwrap()
}

#[test]
fn a_manifest_says_what_the_list_covers_and_what_it_does_not_show() {
    let shop = small_shop();
    let (exported, manifest, text) = manifest(&shop.ledger);
    assert_eq!(manifest["schema"], "rodbook-manifest/1");
    assert_eq!(manifest["file"], "list.csv");
    assert_eq!(manifest["rows"], exported.rows);
    assert_eq!(manifest["sha256"], exported.sha256.as_str());
    assert_eq!(manifest["joints"], 11);
    assert_eq!(manifest["weld_records"], shop.welds.len());
    let station = &manifest["stations"][0];
    let head = shop.welds.last().unwrap();
    assert_eq!(station["name"], "crib");
    assert_eq!(station["head"], head.as_str(), "the last weld record is the last entry");
    let id = <[u8; 32]>::try_from(hex::decode(head).unwrap()).unwrap();
    assert_eq!(station["short"], record::short_id::short(&id));
    let lines = station["checkpoint"].as_str().unwrap().lines().collect::<Vec<_>>();
    assert_eq!(lines[0], format!("rodbook/{}", station["id"].as_str().unwrap()));
    assert_eq!(lines[1], station["entries"].to_string(), "the signed head covers every entry");
    for word in ["11 joints", "9 weld records"] {
        assert!(manifest["coverage"].as_str().unwrap().contains(word), "{word}: {}", manifest["coverage"]);
    }
    let not_shown = manifest["not_shown"].to_string();
    for word in ["left out", "rests on the people who typed it", "signed their entries, not this list"] {
        assert!(not_shown.contains(word), "{word}");
    }
    assert!(manifest["not_checked"].to_string().contains("least_g"));
    assert!(text.ends_with("}\n") && text.starts_with("{\n  \"schema\""), "{text}");
}

/// What an independent reader does with the two files: chains, ids, and each note against the root and the key.
fn check_record(lines: &[u8], notes: &str) -> BTreeMap<String, (u64, String)> {
    let mut heads: BTreeMap<String, (u64, String)> = BTreeMap::new();
    let mut keys: HashMap<String, [u8; 32]> = HashMap::new();
    let mut roots = HashMap::new();
    let mut frontier = Frontier::new();
    let mut current = String::new();
    for line in lines.strip_suffix(b"\n").unwrap().split(|byte| *byte == b'\n') {
        let entry = record::entry::decode(line).unwrap();
        let station = entry.header.station.to_string();
        if station != current {
            assert!(!heads.contains_key(&station), "the chain of a station is in one piece");
            frontier = Frontier::new();
            current.clone_from(&station);
        }
        let (seq, prev) = heads.get(&station).map_or((0, "0".repeat(64)), |(n, id)| (n + 1, id.clone()));
        assert_eq!((entry.header.seq, entry.header.prev.to_string()), (seq, prev));
        if let Event::StationOpened(opened) = &entry.event {
            let key = data_encoding::BASE64.decode(opened.key.as_bytes()).unwrap();
            keys.insert(station.clone(), key.try_into().unwrap());
        }
        let id = record::entry::id(line);
        frontier.append(id.0);
        roots.insert((station.clone(), seq + 1), frontier.root());
        heads.insert(station, (seq, id.to_string()));
    }
    let mut covered: HashMap<String, u64> = HashMap::new();
    for note in notes
        .split("\n\nrodbook/")
        .enumerate()
        .map(|(n, part)| if n == 0 { part.to_owned() } else { format!("rodbook/{part}") })
    {
        let note = if note.ends_with('\n') { note } else { format!("{note}\n") };
        let station = note[8..72].to_owned();
        let checkpoint = record::checkpoint::open(&note, &keys[&station]).unwrap();
        assert_eq!(Some(&checkpoint.root), roots.get(&(station.clone(), checkpoint.size)));
        let before = covered.insert(station, checkpoint.size);
        assert!(before < Some(checkpoint.size), "oldest first");
    }
    for (station, (seq, _)) in &heads {
        assert_eq!(covered.get(station), Some(&(seq + 1)), "the newest note covers the whole chain");
    }
    heads
}

fn record_files(ledger: &Ledger) -> (Vec<u8>, String) {
    let (mut lines, mut notes) = (Vec::new(), Vec::new());
    ledger
        .ask(|reading: &Reading<'_>| {
            let exported = export::export_record(reading, &mut lines)?;
            assert_eq!(exported.sha256, sha256(&lines));
            assert_eq!(exported.rows, lines.iter().filter(|byte| **byte == b'\n').count() as u64);
            let exported = export::export_checkpoints(reading, &mut notes)?;
            assert_eq!(exported.sha256, sha256(&notes));
            let text = std::str::from_utf8(&notes).unwrap();
            assert_eq!(exported.rows, text.matches("\u{2014} rodbook/").count() as u64);
            Ok(())
        })
        .unwrap();
    (lines, String::from_utf8(notes).unwrap())
}

/// Runs the verifier that is handed out with the format. `cargo xtask venv` makes the interpreter.
fn verify_elsewhere(dir: &Path, lines: &[u8], notes: &str) {
    let workspace = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let python = std::env::var_os("RODBOOK_TEST_PYTHON")
        .map_or_else(|| workspace.join("target/oracles/bin/python"), PathBuf::from);
    let (record, checkpoints) = (dir.join("record.jsonl"), dir.join("notes.txt"));
    std::fs::write(&record, lines).unwrap();
    std::fs::write(&checkpoints, notes).unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/verify.py");
    let output = std::process::Command::new(&python)
        .arg(script)
        .args([&record, &checkpoints])
        .output()
        .unwrap_or_else(|e| panic!("{}: {e}; make it with `cargo xtask venv`", python.display()));
    let said = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(said.contains("Sound"), "{said}");
}

#[test]
fn the_record_leaves_as_it_was_hashed() {
    let shop = small_shop();
    let (lines, notes) = record_files(&shop.ledger);
    let heads = check_record(&lines, &notes);
    let (seq, id) = heads.values().next().unwrap();
    assert_eq!(id, shop.welds.last().unwrap());
    assert!(*seq > 30);
    assert!(notes.matches("\n\nrodbook/").count() >= 2, "heads of several days are kept: {notes}");
    verify_elsewhere(shop.dir.path(), &lines, &notes);
}

/// A successor station that continues a copy of the shop's book.
fn successor(shop: &Shop) -> (PathBuf, Ledger) {
    let path = shop.dir.path().join("restored.rodbook");
    let acting = acting("2026-03-06T00:00:00Z");
    Ledger::restore(&path, shop.dir.path(), &acting, shop.ledger.path(), "crib 2").unwrap();
    let ledger = Ledger::open_for_writing(&path, shop.dir.path()).unwrap();
    (path, ledger)
}

#[test]
fn a_copy_continued_by_another_station_gives_the_same_list() {
    let shop = small_shop();
    let (path, ledger) = successor(&shop);
    assert_eq!(list(&ledger, EXCHANGE), shop.list(EXCHANGE));
    drop(ledger);

    // The same book with the stations' local numbers the other way round, as if they had arrived in another order.
    let renumbered = shop.dir.path().join("renumbered.rodbook");
    std::fs::copy(&path, &renumbered).unwrap();
    let raw = rusqlite::Connection::open(&renumbered).unwrap();
    raw.execute_batch(
        "PRAGMA foreign_keys = OFF;
         DROP TRIGGER entry_no_update; DROP TRIGGER entry_dense;
         UPDATE entry SET place = place + (2 << 40) WHERE place >> 40 = 1;
         UPDATE checkpoint SET place = place + (2 << 40) WHERE place >> 40 = 1;
         UPDATE person_name SET place = place + (2 << 40) WHERE place >> 40 = 1;
         UPDATE tree_edge SET station = 3 WHERE station = 1;
         UPDATE station SET no = 3 WHERE no = 1;",
    )
    .unwrap();
    drop(raw);
    let mut other = Ledger::open_for_writing(&renumbered, shop.dir.path()).unwrap();
    other.rebuild(&mut |_, _| {}).unwrap();
    let ledger = Ledger::open(&path, shop.dir.path()).unwrap();
    let with_names = LotJoint { names: true, ..EXCHANGE };
    assert_eq!(list(&other, with_names), list(&ledger, with_names));
    assert_eq!(manifest(&other).2, manifest(&ledger).2);
    let (lines, notes) = record_files(&ledger);
    assert_eq!(record_files(&other), (lines.clone(), notes.clone()));

    assert_eq!(check_record(&lines, &notes).len(), 2);
    let stations = manifest(&ledger).1["stations"].clone();
    let names: Vec<&str> = stations.as_array().unwrap().iter().map(|s| s["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["crib", "crib 2"], "by the clock of the opening entry");
    verify_elsewhere(shop.dir.path(), &lines, &notes);
}

#[test]
fn a_full_disk_is_an_error() {
    struct Full;
    impl std::io::Write for Full {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::ErrorKind::StorageFull.into())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let shop = small_shop();
    for error in [
        shop.ledger.ask(|r| r.export_lot_joint(&EXCHANGE, &mut Full, &mut |_, _| {})).unwrap_err(),
        shop.ledger.ask(|r| export::export_record(r, &mut Full)).unwrap_err(),
        shop.ledger.ask(|r| export::export_checkpoints(r, &mut Full)).unwrap_err(),
    ] {
        let ledger::Error::Io { source, doing } = &error else { panic!("{error}") };
        assert_eq!(source.kind(), std::io::ErrorKind::StorageFull, "{doing}");
    }
}
