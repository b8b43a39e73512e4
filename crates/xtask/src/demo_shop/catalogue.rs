//! Who works in the shop and what it welds by. People are invented.

use anyhow::{Context as _, Result};

use super::lots::Lot;
use super::time::MAY;

/// One person.
pub(super) struct Person {
    pub(super) badge: &'static str,
    pub(super) name: &'static str,
    pub(super) roles: &'static str,
}

pub(super) const fn person(badge: &'static str, name: &'static str, roles: &'static str) -> Person {
    Person { badge, name, roles }
}

/// Everybody in the demo shop.
pub(super) const PEOPLE: [Person; 18] = [
    person("A-01", "Ebba Stonefeather", "attendant"),
    person("A-02", "Milo Greyferry", "attendant"),
    person("W-11", "Marit Oldervane", "welder"),
    person("W-12", "Teo Brandrake", "welder"),
    person("W-13", "Sunniva Larkstead", "welder"),
    person("W-14", "Osk Varrenby", "welder"),
    person("W-15", "Dália Quenmarsh", "welder"),
    person("W-16", "Pim Thistlemoor", "welder"),
    person("W-17", "Jorun Hazelmark", "welder"),
    person("W-18", "Anneke Stillbrook", "welder"),
    person("W-19", "Bram Ollerdyke", "welder"),
    person("W-20", "Tuva Merrowfield", "welder"),
    person("W-21", "Casimir Wrenlow", "welder"),
    person("W-22", "Ylva Thornhythe", "welder"),
    person("I-21", "Ruta Fenbridge", "inspector"),
    person("I-22", "Ansel Wickerdale", "inspector;lab"),
    person("Q-31", "Corin Maplehurst", "auditor"),
    person("L-41", "Yara Dunmeadow", "lab"),
];

/// What a welder does all month.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Team {
    /// Carbon steel, GTAW root and SMAW fill.
    Carbon,
    /// Stainless, duplex and nickel by GTAW; long seams and supports.
    Alloy,
}

/// The first or the second shift: 06:00 to 14:30, 14:30 to 23:00.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Shift {
    Day,
    Night,
}

/// A welder at work.
#[derive(Debug, Clone, Copy)]
pub(super) struct Welder {
    pub(super) badge: &'static str,
    pub(super) shift: Shift,
    pub(super) team: Team,
    pub(super) attendant: &'static str,
    pub(super) inspector: &'static str,
    pub(super) quiver: &'static str,
    /// The welder of the other shift at the same bench.
    pub(super) mate: &'static str,
    /// First and last day in the shop.
    pub(super) days: (u32, u32),
}

#[rustfmt::skip]
const fn day(
    badge: &'static str, team: Team, quiver: &'static str, mate: &'static str, days: (u32, u32),
) -> Welder {
    Welder { badge, shift: Shift::Day, team, attendant: "A-01", inspector: "I-21", quiver, mate, days }
}

#[rustfmt::skip]
const fn night(
    badge: &'static str, team: Team, quiver: &'static str, mate: &'static str, days: (u32, u32),
) -> Welder {
    Welder { badge, shift: Shift::Night, team, attendant: "A-02", inspector: "I-22", quiver, mate, days }
}

/// All the quarter.
const ALL: (u32, u32) = (1, 91);
/// Gone to the crew at the wells on 30 April.
const LEFT: (u32, u32) = (1, 30);
/// Came on 1 May.
const CAME: (u32, u32) = (MAY + 1, 91);

/// The twelve welders: six in April; two leave, six come for May and June.
pub(super) const WELDERS: [Welder; 12] = [
    day("W-11", Team::Carbon, "Q-11", "W-14", ALL),
    day("W-12", Team::Carbon, "Q-12", "W-15", ALL),
    day("W-13", Team::Alloy, "Q-13", "W-16", ALL),
    night("W-14", Team::Carbon, "Q-14", "W-11", LEFT),
    night("W-15", Team::Carbon, "Q-15", "W-12", ALL),
    night("W-16", Team::Alloy, "Q-16", "W-13", LEFT),
    night("W-17", Team::Carbon, "Q-14", "W-11", CAME),
    night("W-18", Team::Alloy, "Q-16", "W-13", CAME),
    day("W-19", Team::Carbon, "Q-19", "W-20", CAME),
    night("W-20", Team::Carbon, "Q-20", "W-19", CAME),
    day("W-21", Team::Carbon, "Q-21", "W-22", CAME),
    night("W-22", Team::Alloy, "Q-22", "W-13", CAME),
];

/// The welder with a badge, of either shop.
pub(super) fn welder(badge: &str) -> Result<&'static Welder> {
    WELDERS
        .iter()
        .chain(&super::quiet::WELDERS)
        .find(|w| w.badge == badge)
        .with_context(|| format!("no welder {badge}"))
}

/// `welder,process,f_number,backing,qualified_on`. W-16 has no SMAW.
pub(super) const QUALIFICATIONS: [[&str; 5]; 46] = [
    ["W-11", "GTAW", "6", "without", "2025-12-04"],
    ["W-11", "SMAW", "4", "without", "2025-12-04"],
    ["W-11", "SMAW", "3", "without", "2026-01-19"],
    ["W-12", "GTAW", "6", "without", "2026-01-12"],
    ["W-12", "SMAW", "4", "without", "2026-01-12"],
    ["W-12", "SMAW", "3", "without", "2026-01-12"],
    ["W-13", "GTAW", "6", "without", "2025-11-20"],
    ["W-13", "GTAW", "43", "without", "2025-11-21"],
    ["W-13", "GMAW", "6", "with", "2026-02-03"],
    ["W-13", "SAW", "6", "with", "2026-02-05"],
    ["W-13", "SMAW", "4", "without", "2026-02-10"],
    ["W-14", "GTAW", "6", "without", "2026-02-16"],
    ["W-14", "SMAW", "4", "without", "2026-02-16"],
    ["W-14", "SMAW", "3", "without", "2026-02-17"],
    ["W-15", "GTAW", "6", "without", "2025-12-15"],
    ["W-15", "SMAW", "4", "without", "2025-12-15"],
    ["W-15", "SMAW", "3", "without", "2025-12-16"],
    ["W-16", "GTAW", "6", "without", "2026-01-26"],
    ["W-16", "GTAW", "43", "without", "2026-01-27"],
    ["W-16", "GMAW", "6", "with", "2026-02-24"],
    ["W-16", "SAW", "6", "with", "2026-02-25"],
    ["W-11", "GMAW", "6", "with", "2026-03-03"],
    ["W-14", "GMAW", "6", "with", "2026-03-03"],
    ["W-12", "SAW", "6", "with", "2026-03-10"],
    ["W-17", "GTAW", "6", "without", "2026-03-10"],
    ["W-17", "SMAW", "4", "without", "2026-03-11"],
    ["W-17", "SMAW", "3", "without", "2026-03-12"],
    ["W-18", "GTAW", "6", "without", "2026-03-12"],
    ["W-18", "GTAW", "43", "without", "2026-03-13"],
    ["W-18", "GMAW", "6", "with", "2026-03-14"],
    ["W-18", "SAW", "6", "with", "2026-03-15"],
    ["W-18", "SMAW", "4", "without", "2026-03-16"],
    ["W-19", "GTAW", "6", "without", "2026-03-14"],
    ["W-19", "SMAW", "4", "without", "2026-03-15"],
    ["W-19", "SMAW", "3", "without", "2026-03-16"],
    ["W-20", "GTAW", "6", "without", "2026-03-16"],
    ["W-20", "SMAW", "4", "without", "2026-03-17"],
    ["W-20", "SMAW", "3", "without", "2026-03-18"],
    ["W-21", "GTAW", "6", "without", "2026-03-18"],
    ["W-21", "SMAW", "4", "without", "2026-03-19"],
    ["W-21", "SMAW", "3", "without", "2026-03-20"],
    ["W-22", "GTAW", "6", "without", "2026-03-20"],
    ["W-22", "GTAW", "43", "without", "2026-03-21"],
    ["W-22", "GMAW", "6", "with", "2026-03-22"],
    ["W-22", "SAW", "6", "with", "2026-03-23"],
    ["W-22", "SMAW", "4", "without", "2026-03-24"],
];

/// `wps,revision,process,spec,classifications,sizes,f_number,backing`.
pub(super) const WPS: [[&str; 8]; 6] = [
    [
        "WPS-CS-01",
        "3",
        "GTAW;SMAW",
        "A5.18;A5.1",
        "ER70S-2;ER70S-6;E7018;E7018-1 H4R",
        "3/32 in;2.4 mm;1/8 in;3.2 mm",
        "6;4",
        "without",
    ],
    ["WPS-CS-02", "1", "SMAW", "A5.1", "E6010;E7018;E7018-1 H4R", "1/8 in;3.2 mm", "3;4", "without"],
    ["WPS-SS-03", "2", "GTAW", "A5.9", "ER308L;ER309L;ER316L", "3/32 in;2.4 mm", "6", "without"],
    ["WPS-DX-04", "0", "GTAW", "A5.9;A5.14", "ER2209;ERNiCrMo-3", "2.4 mm", "6;43", "without"],
    ["WPS-SA-05", "4", "SAW", "A5.17", "EM12K;F7A2-EM12K", "1/8 in", "6", "with"],
    ["WPS-GM-06", "1", "GMAW", "A5.18", "ER70S-6", "0.045 in", "6", "with"],
];

/// A shop as it was declared before the first slip.
pub(super) struct Shop {
    pub(super) people: &'static [Person],
    pub(super) qualifications: &'static [[&'static str; 5]],
    pub(super) wps: &'static [[&'static str; 8]],
    pub(super) lots: &'static [Lot],
}

/// The demo shop.
pub(super) static DEMO: Shop =
    Shop { people: &PEOPLE, qualifications: &QUALIFICATIONS, wps: &WPS, lots: &super::lots::LOTS };
