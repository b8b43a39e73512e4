//! Booking in a lot.

use super::certificate_read::{Checked, Values, ValuesTyped};
use crate::ask::lot::{self, Lot};
use crate::ask::reading::Reading;
use crate::error::{Error, Result};
use crate::log::{Place, Writing};
use crate::{Acting, Done, Ledger, tell};
use filler::{Marking, ProductForm, Quantity, Size, Surface};
use record::event::{Event, LotReceived, LotRef, PieceMass, PieceOrigin, PrintedSize};
use record::id::LotId;
use record::rules::lot_status::LotStatus;
use record::{Stated, When, rules};

/// A lot as typed.
#[derive(Clone, Debug, Default)]
pub struct ReceiveRequest {
    /// The shop's control code.
    pub code: String,
    /// Maker, as printed.
    pub maker: Option<String>,
    /// The maker's lot number, as printed.
    pub maker_lot: Option<String>,
    /// Heats, as printed.
    pub heats: Vec<String>,
    /// Specification, as printed.
    pub spec: Option<String>,
    /// Classification, as printed.
    pub classification: Option<String>,
    /// Size, as printed.
    pub size: Option<String>,
    /// Product form.
    pub form: Stated<ProductForm>,
    /// Surface.
    pub surface: Stated<Surface>,
    /// How each piece is marked.
    pub marking: Stated<Marking>,
    /// How much.
    pub quantity: Stated<Quantity>,
    /// Declared mass of one piece, in milligrams.
    pub piece_mg: Option<i64>,
    /// Certificate number.
    pub certificate: Option<String>,
    /// Certificate type.
    pub certificate_type: Option<String>,
    /// What the certificate says, if anybody copied it; it is checked, and written as an entry of its own.
    pub values: ValuesTyped,
    /// When it was received.
    pub at: Option<When>,
}

/// What there is to tell about a receipt.
#[derive(Clone, Debug)]
pub struct Received {
    /// The lot.
    pub lot: Lot,
    /// Its status.
    pub status: LotStatus,
    /// Whether it was in the book before, and this is a further delivery.
    pub further: bool,
    /// Other lots that its code means too.
    pub also_means: Vec<(String, String)>,
    /// Numbers in the book that look like its own.
    pub look_alikes: Vec<String>,
    /// What came of checking its certificate, where something was copied from it.
    pub checked: Option<Checked>,
}

/// A size as printed and what it is, or what is wrong with it.
pub(crate) fn printed_size(typed: &str) -> Result<PrintedSize> {
    let text = tell::text("the size", typed)?;
    let size = Size::parse(&text).map_err(|e| Error::NotUnderstood {
        message: e.to_string(),
        next: "write a size like \"3/32 in x 36 in\", \"2.4 mm x 1000 mm\" or \"0.045 in\"".into(),
    })?;
    Ok(PrintedSize { size, text })
}

/// Mass of one piece: as declared, else of a bare rod from its size and density; unknown for covered electrodes, wire
/// and flux, which no size describes.
pub(crate) fn piece_mass(
    declared_mg: Option<i64>,
    form: &Stated<ProductForm>,
    size: &Stated<PrintedSize>,
    spec: &Stated<String>,
    classification: &Stated<String>,
) -> Option<PieceMass> {
    if let Some(mg) = declared_mg {
        return Some(PieceMass {
            density_confidence: None,
            density_g_per_cm3: None,
            mg,
            origin: PieceOrigin::Declared,
        });
    }
    if form.value() != Some(&ProductForm::CutLength) {
        return None;
    }
    let density = filler::density_for(spec.value()?, classification.value()?)?;
    let mg = filler::piece_mass_mg(&size.value()?.size, &density)?;
    Some(PieceMass {
        density_confidence: Some(density.confidence.clone()),
        density_g_per_cm3: Some(density.g_per_cm3.clone()),
        mg,
        origin: PieceOrigin::Computed,
    })
}

/// The lot of that identity in the book.
pub(crate) fn of_identity(reading: &Reading<'_>, received: &LotReceived) -> Result<Option<LotId>> {
    let mut statement = reading
        .conn()
        .prepare_cached("SELECT place, lot FROM fact_lot WHERE identity = ?1 ORDER BY place")?;
    let mut rows = statement.query([lot::identity(received)])?;
    while let Some(row) = rows.next()? {
        if reading.stands(Place(row.get(0)?)) {
            return Ok(Some(LotId::from_bytes(row.get(1)?)));
        }
    }
    Ok(None)
}

impl Ledger {
    /// Books in a delivery of a lot.
    ///
    /// # Errors
    /// When a text is not understood, the time is in the future, or the lot is in the book under another code.
    pub fn receive(&mut self, acting: &Acting, request: &ReceiveRequest) -> Result<Done<Received>> {
        let code = tell::text("--lot", &request.code)?;
        let heats = request.heats.iter().map(|h| tell::text("--heat", h)).collect::<Result<Vec<_>>>()?;
        let size = match request.size.as_deref().map(str::trim) {
            None => Stated::NotAsked,
            Some(typed) => Stated::read(typed).try_map(|t| printed_size(&t))?,
        };
        let spec = tell::stated("--spec", request.spec.as_deref())?;
        let classification = tell::stated("--class", request.classification.as_deref())?;
        let piece = piece_mass(request.piece_mg, &request.form, &size, &spec, &classification);
        let mut received = LotReceived {
            at: tell::claimed(request.at.as_ref(), acting.now),
            certificate: tell::stated("--cert", request.certificate.as_deref())?,
            certificate_type: tell::stated("--cert-type", request.certificate_type.as_deref())?,
            classification,
            code: code.clone(),
            form: request.form.clone(),
            heats,
            heats_stated: Stated::NotAsked,
            imported: None,
            lot: LotId(tell::new_id(acting.now)?),
            maker: tell::stated("--maker", request.maker.as_deref())?,
            maker_lot: tell::stated("--maker-lot", request.maker_lot.as_deref())?,
            marking: request.marking.clone(),
            piece,
            quantity: request.quantity.clone(),
            size,
            spec,
            surface: request.surface.clone(),
        };
        let values = (!request.values.is_empty()).then(|| Values::read(&request.values)).transpose()?;
        self.write(acting, |writing| {
            writing.actor(acting)?;
            let reading = Reading::new(writing.conn())?;
            rules::not_in_future("the receipt", &received.at, acting.now, reading.zone())?;
            let known = of_identity(&reading, &received)?;
            if let Some(id) = known {
                let in_book = reading.lot(id)?;
                rules::receive::decide(&code, Some(&in_book.received.code))?;
                received.lot = id;
            }
            let look_alikes = look_alikes(writing, &received)?;
            writing.append(&Event::LotReceived(received.clone()))?;
            let checked = match &values {
                Some(values) => {
                    let lot = LotRef { label: received.code.clone(), lot: received.lot };
                    let (number, kind) = (&received.certificate, &received.certificate_type);
                    Some(values.write(writing, lot, number, kind, &received.at)?)
                }
                None => None,
            };
            let reading = Reading::new(writing.conn())?;
            let meanings = lot::meanings(&reading, &code)?;
            let others: Vec<Lot> = meanings.into_iter().filter(|l| l.id != received.lot).collect();
            Ok(Received {
                lot: lot::read(&reading, received.lot)?,
                status: lot::status(&reading, received.lot)?,
                further: known.is_some(),
                also_means: lot::told_apart(&reading, &others)?,
                look_alikes,
                checked,
            })
        })
    }
}

/// Numbers of the book that the eye takes for this lot's numbers, and that are not the same.
fn look_alikes(writing: &Writing<'_>, received: &LotReceived) -> Result<Vec<String>> {
    use record::number::{look_alike_key, search_key};
    let mut numbers: Vec<(&str, &String)> = vec![("lot", &received.code)];
    numbers.extend(received.maker_lot.value().map(|n| ("lot", n)));
    numbers.extend(received.heats.iter().map(|n| ("heat", n)));
    numbers.extend(received.certificate.value().map(|n| ("certificate", n)));
    let mut found = Vec::new();
    for (kind, number) in numbers {
        let key = search_key(number);
        let mut statement = writing.conn().prepare_cached(
            "SELECT DISTINCT label FROM fact_look_alike WHERE kind = ?1 AND look = ?2 ORDER BY label",
        )?;
        for label in statement.query_map((kind, look_alike_key(&key)), |row| row.get::<_, String>(0))? {
            let label = label?;
            if label != *number {
                found.push(format!("{kind} {number:?} looks like {label:?}"));
            }
        }
    }
    Ok(found)
}
