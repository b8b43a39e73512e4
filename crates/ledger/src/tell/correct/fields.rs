//! The fields of each kind of entry: those of the import file of that kind, by the names of its columns.

use super::edit::{Edit, grams, not_understood, read_process};
use crate::ask::heat_input;
use crate::error::{Error, Result};
use crate::tell::receive::{piece_mass, printed_size};
use crate::tell::{self, weld};
use filler::heat_input::Convention;
use filler::{Marking, ProductForm, Surface};
use record::event::{
    Arc, Backing, Condition, Event, HeatInputLimit, JointDeclared, JointWelded, Level, LotReceived, LotRef,
    Mark, MarkSpotChecked, PapersAsked, PieceMass, PieceOrigin, RodHandedOver, RodIssued, RodReturned,
    RodScrapped, ScrappedSlip, WelderQualified, WireFoundUnmarked, WpsDeclared,
};
use record::{Stated, When};

/// Sets what is asked for in an entry, and what follows from it in the same entry. False for a kind that has no fields.
pub(super) fn set(event: &mut Event, edit: &mut Edit<'_, '_>) -> Result<bool> {
    match event {
        Event::WelderQualified(e) => qualification(e, edit)?,
        Event::WpsDeclared(e) => procedure(e, edit)?,
        Event::JointDeclared(e) => joint(e, edit)?,
        Event::LotReceived(e) => receipt(e, edit)?,
        Event::LotReleased(e) => status(&mut e.at, &mut e.why, false, edit)?,
        Event::LotHeld(e) => status(&mut e.at, &mut e.why, true, edit)?,
        Event::LotRejected(e) => status(&mut e.at, &mut e.why, true, edit)?,
        Event::LotRecalled(e) => status(&mut e.at, &mut e.why, true, edit)?,
        Event::RodIssued(e) => issue(e, edit)?,
        Event::RodReturned(e) => give_back(e, edit)?,
        Event::RodHandedOver(e) => hand_over(e, edit)?,
        Event::WelderCleared(e) => {
            edit.needed_time("at", &mut e.at, false)?;
            edit.named("welder", &mut e.welder)?;
        }
        Event::JointWelded(e) => weld(e, edit)?,
        Event::MarkSpotChecked(e) => spot_check(e, edit)?,
        Event::RodScrapped(e) => scrap(e, edit)?,
        Event::WireFoundUnmarked(e) => found_wire(e, edit)?,
        Event::StationOpened(_)
        | Event::ShiftsDeclared(_)
        | Event::PersonEnrolled(_)
        | Event::CertificateFiled(_)
        | Event::CertificateRead(_)
        | Event::MetalRead(_)
        | Event::TableLoaded(_)
        | Event::TableSignedOff(_)
        | Event::SlipReprinted(_)
        | Event::FindingDisposed(_)
        | Event::NoteWritten(_)
        | Event::EntryCorrected(_)
        | Event::EntryVoided(_)
        | Event::FilesImported(_)
        | Event::NotUnderstood(_) => return Ok(false),
    }
    Ok(true)
}

const BACKINGS: &[Backing] = &[Backing::With, Backing::Without];

fn qualification(e: &mut WelderQualified, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.named("welder", &mut e.welder)?;
    edit.process("process", &mut e.process)?;
    edit.text("f_number", &mut e.f_number)?;
    edit.word("backing", &mut e.backing, BACKINGS, Backing::word)?;
    edit.time("qualified_on", &mut e.qualified_on, false)
}

fn procedure(e: &mut WpsDeclared, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.label("wps", &mut e.number)?;
    edit.text("revision", &mut e.revision)?;
    edit.items("process", &mut e.processes, ToString::to_string, |p| read_process("process", p))?;
    edit.items("spec", &mut e.specs, Clone::clone, |s| Ok(s.to_owned()))?;
    edit.items("classifications", &mut e.classifications, Clone::clone, |c| Ok(c.to_owned()))?;
    edit.items("sizes", &mut e.sizes, ToString::to_string, printed_size)?;
    edit.items("f_number", &mut e.f_numbers, Clone::clone, |f| Ok(f.to_owned()))?;
    edit.word("backing", &mut e.backing, BACKINGS, Backing::word)?;
    heat_input_limit(e, edit)
}

/// The limit of heat input and its convention: both, or neither.
fn heat_input_limit(e: &mut WpsDeclared, edit: &mut Edit<'_, '_>) -> Result<()> {
    let before = e.heat_input.value();
    let mut most = e.heat_input.as_ref().map(|limit| limit.most.clone());
    let mut convention = Stated::from_option(before.map(|limit| limit.convention.clone()));
    edit.text("heat_input_most", &mut most)?;
    edit.text("heat_input_convention", &mut convention)?;
    if !edit.changed("heat_input_most") && !edit.changed("heat_input_convention") {
        return Ok(());
    }
    let next = "set heat_input_most, e.g. \"55 kJ/in\", and heat_input_convention; or leave both empty";
    e.heat_input = match (most, convention) {
        (Stated::Value(most), Stated::Value(convention)) => {
            let word = Convention::parse(&convention)
                .map_err(|why| not_understood("heat_input_convention", why, next))?;
            filler::heat_input::HeatInputLimit::parse(word, &most)
                .map_err(|why| not_understood("heat_input_most", why, next))?;
            Stated::Value(HeatInputLimit { convention: word.word().to_owned(), most })
        }
        (Stated::Value(_), _) | (_, Stated::Value(_)) => {
            return Err(not_understood("heat_input_most", "a limit and its convention go together", next));
        }
        (silence, _) => silence.map(|most| HeatInputLimit { convention: String::new(), most }),
    };
    Ok(())
}

fn joint(e: &mut JointDeclared, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.label("joint", &mut e.number)?;
    edit.text("job", &mut e.job)?;
    edit.text("drawing", &mut e.drawing)?;
    edit.text("drawing_revision", &mut e.drawing_revision)?;
    edit.named_list("wps", &mut e.wps, false)?;
    edit.word("level", &mut e.level, &[Level::Class, Level::Lot], Level::word)?;
    edit.grams("needed_g", &mut e.needed_mg)?;
    edit.grams("needed_u_g", &mut e.needed_u_mg)?;
    if edit.changed("needed_g") || edit.changed("needed_u_g") {
        // What was worked out from the groove is not what is said now.
        e.worked_out = Stated::NotAsked;
    }
    asked(e, edit)?;
    edit.time("finished_at", &mut e.finished_at, false)
}

/// What the job asks of papers: its three fields, and not asked at all where none is left.
fn asked(e: &mut JointDeclared, edit: &mut Edit<'_, '_>) -> Result<()> {
    let mut papers = e.asked.value().cloned().unwrap_or_default();
    edit.text("asks_certificate_type", &mut papers.certificate_type)?;
    edit.text("asks_lot_class", &mut papers.lot_class)?;
    edit.text("asks_schedule", &mut papers.schedule)?;
    e.asked = if papers == PapersAsked::default() { Stated::NotAsked } else { Stated::Value(papers) };
    Ok(())
}

/// What was measured of the arc, and not asked at all where nothing is left.
fn arc(e: &mut JointWelded, edit: &mut Edit<'_, '_>) -> Result<()> {
    let mut arc = e.arc.value().cloned().unwrap_or_default();
    let mut controlled = arc.waveform_controlled;
    edit.text("volts", &mut arc.volts)?;
    edit.text("amps", &mut arc.amps)?;
    edit.text("travel", &mut arc.travel)?;
    edit.text("energy", &mut arc.energy)?;
    edit.text("length", &mut arc.length)?;
    edit.text("power", &mut arc.power)?;
    edit.yes_or_no("waveform_controlled", &mut controlled, Some(false))?;
    arc.waveform_controlled = controlled;
    if arc == Arc::default() {
        e.arc = Stated::NotAsked;
        return Ok(());
    }
    heat_input::check(&arc, e.process.value()).map_err(|(_, why)| {
        not_understood("volts", why, "write each with its unit, e.g. travel \"3.5 in/min\"")
    })?;
    e.arc = Stated::Value(arc);
    Ok(())
}

fn receipt(e: &mut LotReceived, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.label("lot", &mut e.code)?;
    edit.text("maker", &mut e.maker)?;
    edit.text("maker_lot", &mut e.maker_lot)?;
    edit.heats(&mut e.heats, &mut e.heats_stated)?;
    edit.text("spec", &mut e.spec)?;
    edit.text("classification", &mut e.classification)?;
    edit.stated("size", &mut e.size, ToString::to_string, |_, typed| printed_size(typed))?;
    edit.word("form", &mut e.form, ProductForm::ALL, ProductForm::word)?;
    edit.word("surface", &mut e.surface, Surface::ALL, Surface::word)?;
    edit.word("marking", &mut e.marking, Marking::ALL, Marking::word)?;
    edit.quantity("quantity", &mut e.quantity)?;
    piece(e, edit)?;
    edit.text("certificate", &mut e.certificate)?;
    edit.text("certificate_type", &mut e.certificate_type)?;
    edit.needed_time("received_at", &mut e.at, false)
}

/// The mass of one piece: as declared, else computed anew where what it is computed from has changed.
fn piece(e: &mut LotReceived, edit: &mut Edit<'_, '_>) -> Result<()> {
    let before = e.piece.clone();
    let declared = |piece: &Option<PieceMass>| {
        piece.as_ref().filter(|p| p.origin == PieceOrigin::Declared).map(|p| p.mg)
    };
    let asked = match edit.asked("piece_g") {
        None => None,
        Some(typed) => Some(match Stated::<()>::silence(&typed.to_ascii_lowercase()) {
            Some(_) => None,
            None => match filler::grams_to_mg(&typed) {
                Ok(0) => {
                    return Err(not_understood(
                        "piece_g",
                        "a piece has some mass",
                        "leave it empty if it is not known",
                    ));
                }
                Ok(mg) => Some(mg),
                Err(error) => {
                    return Err(not_understood("piece_g", error, "write the mass in grams, e.g. 33.6"));
                }
            },
        }),
    };
    let computed_from = ["spec", "classification", "size", "form"].iter().any(|field| edit.changed(field));
    if asked.is_none() && (!computed_from || declared(&before).is_some()) {
        return Ok(());
    }
    e.piece = piece_mass(asked.flatten(), &e.form, &e.size, &e.spec, &e.classification);
    if e.piece != before {
        let cell = |piece: &Option<PieceMass>| {
            piece.as_ref().map_or(String::new(), |p| match p.origin {
                PieceOrigin::Declared => grams(p.mg),
                PieceOrigin::Computed => format!("{} (computed)", grams(p.mg)),
            })
        };
        let (from, to) = (cell(&before), cell(&e.piece));
        if from != to {
            edit.note("piece_g", from, to);
        }
    }
    Ok(())
}

fn status(at: &mut When, why: &mut String, needed: bool, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.needed_time("at", at, false)?;
    edit.remark("why", why, needed)
}

fn issue(e: &mut RodIssued, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.label("slip", &mut e.number)?;
    edit.named("lot", &mut e.lot)?;
    edit.named("welder", &mut e.holder)?;
    edit.quantity("quantity", &mut e.quantity)?;
    edit.needed_time("issued_at", &mut e.at, false)?;
    edit.stated_named("issued_by", &mut e.issued_by)?;
    edit.named_list("joints", &mut e.joints, false)?;
    edit.text("quiver", &mut e.quiver)?;
    edit.time("due_at", &mut e.due, false)
}

const CONDITIONS: &[Condition] =
    &[Condition::Marked, Condition::Unmarked, Condition::Damaged, Condition::Wet];

fn give_back(e: &mut RodReturned, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.named("slip", &mut e.slip)?;
    edit.quantity("quantity", &mut e.quantity)?;
    edit.count("stubs", &mut e.stubs)?;
    edit.word("condition", &mut e.condition, CONDITIONS, Condition::word)?;
    edit.yes_or_no("closes", &mut e.closes, Some(true))?;
    edit.needed_time("returned_at", &mut e.at, false)?;
    edit.stated_named("received_by", &mut e.received_by)?;
    let slip = edit.reading.slip(e.slip.slip)?;
    (e.lot, e.holder) = (slip.lot, slip.holder.person);
    Ok(())
}

fn hand_over(e: &mut RodHandedOver, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.named("slip", &mut e.slip)?;
    edit.label("new_slip", &mut e.new_slip.number)?;
    edit.named("to_welder", &mut e.to)?;
    edit.quantity("quantity", &mut e.quantity)?;
    edit.yes_or_no("closes", &mut e.closes, Some(false))?;
    edit.needed_time("at", &mut e.at, false)?;
    edit.stated_named("by", &mut e.by)?;
    let slip = edit.reading.slip(e.slip.slip)?;
    (e.lot, e.from) = (slip.lot, slip.holder.person);
    Ok(())
}

fn weld(e: &mut JointWelded, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.named_list("joint", &mut e.joints, true)?;
    edit.text("cycle", &mut e.cycle)?;
    edit.text("pass", &mut e.pass)?;
    edit.process("process", &mut e.process)?;
    edit.yes_or_no("filler", &mut e.filler, Some(true))?;
    edit.named("welder", &mut e.welder)?;
    edit.stated_named("lot", &mut e.lot)?;
    edit.stated_named("slip", &mut e.slip)?;
    edit.quantity("used", &mut e.used)?;
    edit.needed_time("from", &mut e.from, true)?;
    edit.time("to", &mut e.to, true)?;
    edit.word("mark", &mut e.mark, &[Mark::Read, Mark::Unreadable, Mark::NotLooked], Mark::word)?;
    edit.stated_named("recorded_by", &mut e.recorded_by)?;
    // No column of the files: `--finished` of the weld record.
    edit.yes_or_no("finished", &mut e.finished, Some(false))?;
    arc(e, edit)?;
    if (edit.changed("lot") || edit.changed("slip"))
        && let (Some(lot), Some(slip)) = (e.lot.value(), e.slip.value())
    {
        let of_slip = edit.reading.slip(slip.slip)?.lot;
        if of_slip != lot.lot {
            let code = edit.reading.lot(of_slip)?.received.code.clone();
            return Err(weld::lot_and_slip_disagree(&lot.label, &slip.number, &code));
        }
    }
    let some = e.used.value().is_some_and(|q| !q.is_zero());
    let touched = ["filler", "lot", "slip", "used"].iter().any(|field| edit.changed(field));
    if touched && !e.filler && (e.lot.value().is_some() || e.slip.value().is_some() || some) {
        return Err(Error::NotUnderstood {
            message: "the weld is without filler, but the record names a lot, a slip or an amount used"
                .into(),
            next: "set lot, slip and used to nothing as well: --set lot= --set slip= --set used=".into(),
        });
    }
    Ok(())
}

fn spot_check(e: &mut MarkSpotChecked, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.named("joint", &mut e.joint)?;
    edit.named("welder", &mut e.welder)?;
    edit.needed_time("at", &mut e.at, false)?;
    edit.stated_named("by", &mut e.by)?;
    edit.yes_or_no("legible", &mut e.legible, None)?;
    edit.text("reads", &mut e.reads)
}

/// Scrapped from a slip, or from the crib: exactly one of slip and lot is named.
fn scrap(e: &mut RodScrapped, edit: &mut Edit<'_, '_>) -> Result<()> {
    let mut slip = Stated::from_option(e.slip.as_ref().map(|s| s.slip.clone()));
    let mut lot = if e.slip.is_some() { Stated::NotAsked } else { Stated::Value(e.lot.clone()) };
    let mut closes = e.slip.as_ref().is_some_and(|s| s.closes);
    edit.stated_named("slip", &mut slip)?;
    edit.stated_named("lot", &mut lot)?;
    edit.quantity("quantity", &mut e.quantity)?;
    edit.remark("why", &mut e.why, true)?;
    edit.needed_time("scrapped_at", &mut e.at, false)?;
    edit.stated_named("by", &mut e.by)?;
    // No column of the files: there everything that is left closes the slip.
    edit.yes_or_no("closes", &mut closes, Some(false))?;
    match (slip.into_value(), lot.into_value()) {
        (Some(slip), None) => {
            let of = edit.reading.slip(slip.slip)?;
            let code = edit.reading.lot(of.lot)?.received.code.clone();
            if e.lot.lot != of.lot {
                e.lot = LotRef { label: code, lot: of.lot };
            }
            e.slip = Some(ScrappedSlip { closes, holder: of.holder.person, slip });
        }
        (None, Some(lot)) => {
            (e.slip, e.lot) = (None, lot);
        }
        (Some(_), Some(_)) | (None, None) => {
            return Err(not_understood(
                "slip and lot",
                "metal is scrapped from a slip or from the crib",
                "name exactly one of the two, and set the other to nothing: --set slip= --set lot=CODE",
            ));
        }
    }
    Ok(())
}

fn found_wire(e: &mut WireFoundUnmarked, edit: &mut Edit<'_, '_>) -> Result<()> {
    edit.needed_time("found_at", &mut e.at, false)?;
    edit.needed("place", &mut e.place, Clone::clone, |_, typed| tell::text("--set place", typed))?;
    edit.stated_named("by", &mut e.by)?;
    edit.stated_named("welder", &mut e.welder)?;
    edit.quantity("quantity", &mut e.quantity)?;
    edit.named_list("joints", &mut e.joints, false)
}
