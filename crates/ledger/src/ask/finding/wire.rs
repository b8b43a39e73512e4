//! Wire that nobody can tell what it is: found, or looked at and not legible.

use super::{Finding, late};
use crate::ask::reading::{Joint, Reading};
use crate::error::Result;
use crate::log::Place;
use record::event::{Event, MarkSpotChecked, WireFoundUnmarked};
use record::finding::{Code, Severity};
use std::rc::Rc;

/// The findings of a find.
pub(crate) fn of_find(reading: &Reading<'_>, place: Place, find: &WireFoundUnmarked) -> Result<Vec<Finding>> {
    let joints = find.joints.iter().map(|j| reading.joint(j.joint)).collect::<Result<Vec<Rc<Joint>>>>()?;
    let joints: Vec<&Joint> = joints.iter().map(Rc::as_ref).collect();
    let quantity = find.quantity.value().map_or_else(|| "wire".into(), ToString::to_string);
    let with = find.welder.value().map_or_else(String::new, |w| format!(" with {}", w.badge));
    let why = format!(
        "{quantity} without a mark found at {}{with} on {}.",
        find.place,
        reading.zone().local(find.at.from)
    );
    let welder = find.welder.value().map(|w| &w.badge);
    let mut found = vec![
        Finding::new(Code::UnmarkedWire, Severity::Stop, vec![reading.origin_id(place)?], why)
            .at_joints(&joints)
            .of_welder(welder),
    ];
    found.extend(
        late::of_entry(reading, place, find.at.to, find.imported.is_some(), "The find")?
            .map(|f| f.at_joints(&joints).of_welder(welder)),
    );
    Ok(found)
}

/// The findings of a spot check.
pub(crate) fn of_check(reading: &Reading<'_>, place: Place, check: &MarkSpotChecked) -> Result<Vec<Finding>> {
    let joint = reading.joint(check.joint.joint)?;
    let welder = Some(&check.welder.badge);
    let mut found = Vec::new();
    if !check.legible {
        let why = format!(
            "A spot check at {} on {} could not read the mark on what {} had in hand.",
            joint.declared.number,
            reading.zone().local(check.at.from),
            check.welder.badge
        );
        found.push(
            Finding::new(Code::UnmarkedWire, Severity::Stop, vec![reading.origin_id(place)?], why)
                .at_joints(&[&joint])
                .of_welder(welder),
        );
    }
    let what = format!("The spot check at {}", joint.declared.number);
    found.extend(
        late::of_entry(reading, place, check.at.to, check.imported.is_some(), &what)?
            .map(|f| f.at_joints(&[&joint]).of_welder(welder)),
    );
    Ok(found)
}

/// Every find that stands.
pub(crate) fn finds(reading: &Reading<'_>) -> Result<Vec<(Place, WireFoundUnmarked)>> {
    let mut finds = Vec::new();
    for place in reading.standing_places("SELECT place FROM fact_unmarked ORDER BY place", [])? {
        let event = reading.event(place)?;
        if let Event::WireFoundUnmarked(find) = event {
            finds.push((place, find));
        }
    }
    Ok(finds)
}

/// Every spot check that stands, of one joint or of all.
pub(crate) fn checks(
    reading: &Reading<'_>,
    joint: Option<record::JointId>,
) -> Result<Vec<(Place, MarkSpotChecked)>> {
    let places = match joint {
        Some(joint) => reading.standing_places(
            "SELECT place FROM fact_spot_check WHERE joint = ?1 ORDER BY place",
            [joint.bytes()],
        )?,
        None => reading.standing_places("SELECT place FROM fact_spot_check ORDER BY place", [])?,
    };
    let mut checks = Vec::new();
    for place in places {
        let event = reading.event(place)?;
        if let Event::MarkSpotChecked(check) = event {
            checks.push((place, check));
        }
    }
    Ok(checks)
}
