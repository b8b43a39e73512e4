//! A shop as import files, and the demo shop's list of stories.

use anyhow::{Context as _, Result};

use super::ZONE;
use super::book::{Book, Named, ScrapOf, SlipKey};
use super::stories::{Stories, Story};

/// Files by name.
pub(super) type Files = Vec<(&'static str, Vec<u8>)>;

/// All import files of a shop.
pub(super) fn imports(book: &Book) -> Result<Files> {
    let shop = book.shop;
    Ok(vec![
        (
            "people.csv",
            table(&["badge", "name", "roles"], shop.people.iter().map(|p| [p.badge, p.name, p.roles]))?,
        ),
        (
            "qualifications.csv",
            table(&["welder", "process", "f_number", "backing", "qualified_on"], shop.qualifications.iter())?,
        ),
        (
            "wps.csv",
            table(
                &["wps", "revision", "process", "spec", "classifications", "sizes", "f_number", "backing"],
                shop.wps.iter(),
            )?,
        ),
        ("joints.csv", joints(book)?),
        ("lots.csv", lots(book)?),
        ("issues.csv", issues(book)?),
        ("returns.csv", returns(book)?),
        ("hand_overs.csv", hand_overs(book)?),
        ("welds.csv", welds(book)?),
        ("spot_checks.csv", spot_checks(book)?),
        ("found_wire.csv", found_wire(book)?),
        ("scraps.csv", scraps(book)?),
    ])
}

/// Statuses of lots after their release.
pub(super) fn statuses(rows: &[[&'static str; 5]]) -> Result<Vec<u8>> {
    table(&["lot", "status", "at", "by", "why"], rows.iter())
}

/// The findings that a shop must show.
pub(super) fn planted(lines: &[[String; 9]]) -> Result<Vec<u8>> {
    let header = ["code", "severity", "cause", "joint", "lot", "slip", "welder", "mishap", "story"];
    table(&header, lines.iter())
}

fn table<R, C>(header: &[&str], rows: impl Iterator<Item = R>) -> Result<Vec<u8>>
where
    R: IntoIterator<Item = C>,
    C: AsRef<[u8]>,
{
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(header)?;
    for row in rows {
        writer.write_record(row)?;
    }
    writer.into_inner().context("the table was not completed")
}

fn optional(value: Option<impl ToString>) -> String {
    value.map_or_else(String::new, |v| v.to_string())
}

fn number(book: &Book, key: SlipKey) -> Result<String> {
    Ok(book.slip(key)?.number.clone())
}

fn joints(book: &Book) -> Result<Vec<u8>> {
    let header = [
        "joint",
        "job",
        "drawing",
        "drawing_revision",
        "wps",
        "level",
        "needed_g",
        "needed_u_g",
        "finished_at",
    ];
    table(
        &header,
        book.joints.iter().map(|j| {
            [
                j.name.clone(),
                j.job.to_owned(),
                j.drawing.clone(),
                j.revision.to_owned(),
                j.wps.to_owned(),
                j.level.to_owned(),
                optional(j.needed_g.map(|(needed, _)| needed)),
                optional(j.needed_g.map(|(_, u)| u)),
                optional(j.finished_at),
            ]
        }),
    )
}

fn lots(book: &Book) -> Result<Vec<u8>> {
    let header = [
        "lot",
        "maker",
        "maker_lot",
        "heats",
        "spec",
        "classification",
        "size",
        "form",
        "surface",
        "marking",
        "quantity",
        "piece_g",
        "certificate",
        "certificate_type",
        "received_at",
        "released_at",
    ];
    table(
        &header,
        book.shop.lots.iter().map(|l| {
            [
                l.code,
                l.maker,
                l.maker_lot,
                l.heats,
                l.spec,
                l.classification,
                l.size,
                l.form,
                l.surface,
                l.marking,
                l.quantity,
                l.piece_g,
                l.certificate,
                l.certificate_type,
                l.received_at,
                l.released_at,
            ]
        }),
    )
}

fn issues(book: &Book) -> Result<Vec<u8>> {
    let header =
        ["slip", "lot", "welder", "quantity", "issued_at", "issued_by", "joints", "quiver", "due_at"];
    table(
        &header,
        book.issued().into_iter().map(|s| {
            [
                s.number.clone(),
                s.lot.code.to_owned(),
                s.welder.to_owned(),
                s.quantity.to_string(),
                s.at.to_string(),
                s.by.to_owned(),
                s.joints.clone(),
                s.quiver.to_owned(),
                optional(s.due),
            ]
        }),
    )
}

fn returns(book: &Book) -> Result<Vec<u8>> {
    let mut rows = Vec::new();
    for r in book.returns_in_order() {
        rows.push([
            number(book, r.slip)?,
            r.quantity.to_string(),
            optional(r.stubs),
            if r.quantity.is_zero() { "n/a" } else { r.condition }.to_owned(),
            r.closes.to_owned(),
            r.at.to_string(),
            r.by.to_owned(),
        ]);
    }
    let header = ["slip", "quantity", "stubs", "condition", "closes", "returned_at", "received_by"];
    table(&header, rows.iter())
}

fn hand_overs(book: &Book) -> Result<Vec<u8>> {
    let mut rows = Vec::new();
    for (h, to) in book.handed_over()? {
        rows.push([
            number(book, h.from)?,
            to.number.clone(),
            to.welder.to_owned(),
            to.quantity.to_string(),
            h.closes.to_owned(),
            to.at.to_string(),
            to.by.to_owned(),
        ]);
    }
    table(&["slip", "new_slip", "to_welder", "quantity", "closes", "at", "by"], rows.iter())
}

fn welds(book: &Book) -> Result<Vec<u8>> {
    let mut rows = Vec::new();
    for w in book.welds_in_order() {
        let (lot, slip) = match w.named {
            Named::Nothing => ("", String::new()),
            Named::Lot(lot) => (lot, String::new()),
            Named::Slip(slip) => ("", number(book, slip)?),
            Named::Both(lot, slip) => (lot, number(book, slip)?),
        };
        rows.push([
            w.joint.clone(),
            w.cycle.to_owned(),
            w.pass.to_owned(),
            w.process.to_owned(),
            w.filler.to_owned(),
            w.welder.to_owned(),
            lot.to_owned(),
            slip,
            optional(w.used),
            w.from.to_string(),
            optional(w.to),
            w.mark.to_owned(),
            w.by.to_owned(),
        ]);
    }
    let header = [
        "joint",
        "cycle",
        "pass",
        "process",
        "filler",
        "welder",
        "lot",
        "slip",
        "used",
        "from",
        "to",
        "mark",
        "recorded_by",
    ];
    table(&header, rows.iter())
}

fn spot_checks(book: &Book) -> Result<Vec<u8>> {
    table(
        &["joint", "welder", "at", "by", "legible", "reads"],
        book.checks_in_order().map(|c| {
            [
                c.joint.clone(),
                c.welder.to_owned(),
                c.at.to_string(),
                c.by.to_owned(),
                c.legible.to_owned(),
                c.reads.to_owned(),
            ]
        }),
    )
}

fn found_wire(book: &Book) -> Result<Vec<u8>> {
    table(
        &["found_at", "place", "by", "welder", "quantity", "joints"],
        book.found.iter().map(|f| {
            [
                f.at.to_string(),
                f.place.to_owned(),
                f.by.to_owned(),
                f.welder.to_owned(),
                f.quantity.to_string(),
                f.joints.to_owned(),
            ]
        }),
    )
}

fn scraps(book: &Book) -> Result<Vec<u8>> {
    let mut scraps: Vec<_> = book.scraps.iter().collect();
    scraps.sort_by_key(|s| s.at.minute());
    let mut rows = Vec::new();
    for s in scraps {
        let (slip, lot) = match s.of {
            ScrapOf::Slip(slip) => (number(book, slip)?, ""),
            ScrapOf::Lot(lot) => (String::new(), lot),
        };
        rows.push([
            slip,
            lot.to_owned(),
            s.quantity.to_string(),
            s.why.to_owned(),
            s.at.to_string(),
            s.by.to_owned(),
        ]);
    }
    table(&["slip", "lot", "quantity", "why", "scrapped_at", "by"], rows.iter())
}

/// STORIES.md.
pub(super) fn told(book: &Book, stories: &Stories, planted: usize) -> Result<Vec<u8>> {
    let mut text = format!(
        "# Stories of the demo shop\n\n\
         April to June 2026 at an invented shop, Vessilmoor Wellhead Piping, that builds well-head piping for\n\
         geothermal fields. Zone {ZONE}, shifts 06:00 to 14:30 and 14:30 to 23:00. People, makers, jobs and numbers are\n\
         invented. Written by `cargo xtask demo-shop`.\n\n\
         `planted.csv` lists the {planted} findings that the shop must show, and it shows no others: everything that is\n\
         not told here is routine, and quiet. `cause` is the file and row of the entry that makes the finding, the header\n\
         being row 1. Two stories are quiet by that list, because they are questions of qualification and exposure.\n\
         `../quiet-shop` is a second shop, of which the list is empty; its `statuses.csv` has what no import file has a\n\
         place for: two lots put on hold, one released again, one rejected.\n\n\
         In April six welders work. W-14 and W-16 leave on the 30th, six others come.\n\n"
    );
    for (letter, story) in ('a'..).zip(&stories.told) {
        text.push_str(&format!("## ({letter}) {}: {}\n\n", story.title, story.joints));
        text.push_str(&format!("{}\n\n", filled(book, story, story.happened)?));
        text.push_str(&format!("Answer: {}\n\n", filled(book, story, story.answer)?));
    }
    for (title, stories) in [("Also in April", &stories.also), ("May and June", &stories.later)] {
        text.push_str(&format!("## {title}\n\n"));
        for story in stories {
            text.push_str(&format!(
                "- **{}** ({}). {} Answer: {}\n",
                story.title,
                story.joints,
                filled(book, story, story.happened)?,
                filled(book, story, story.answer)?
            ));
        }
        text.push('\n');
    }
    while text.ends_with("\n\n") {
        text.pop();
    }
    Ok(text.into_bytes())
}

fn filled(book: &Book, story: &Story, text: &str) -> Result<String> {
    let mut text = text.to_owned();
    for (n, key) in story.slips.iter().enumerate() {
        text = text.replace(&format!("{{{n}}}"), &number(book, *key)?);
    }
    Ok(text)
}
