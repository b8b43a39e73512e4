//! Who works in the shop, what it welds by, and what is in the crib. People, makers and numbers are invented.

use anyhow::{Context as _, Result};

use super::quantity::bare_rod_mg;

/// One person.
pub(super) struct Person {
    pub(super) badge: &'static str,
    pub(super) name: &'static str,
    pub(super) roles: &'static str,
}

const fn person(badge: &'static str, name: &'static str, roles: &'static str) -> Person {
    Person { badge, name, roles }
}

/// Everybody.
pub(super) const PEOPLE: [Person; 12] = [
    person("A-01", "Ebba Stonefeather", "attendant"),
    person("A-02", "Milo Greyferry", "attendant"),
    person("W-11", "Marit Oldervane", "welder"),
    person("W-12", "Teo Brandrake", "welder"),
    person("W-13", "Sunniva Larkstead", "welder"),
    person("W-14", "Osk Varrenby", "welder"),
    person("W-15", "Dália Quenmarsh", "welder"),
    person("W-16", "Pim Thistlemoor", "welder"),
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
}

const fn day(badge: &'static str, team: Team, quiver: &'static str, mate: &'static str) -> Welder {
    Welder { badge, shift: Shift::Day, team, attendant: "A-01", inspector: "I-21", quiver, mate }
}

const fn night(badge: &'static str, team: Team, quiver: &'static str, mate: &'static str) -> Welder {
    Welder { badge, shift: Shift::Night, team, attendant: "A-02", inspector: "I-22", quiver, mate }
}

/// The six welders.
pub(super) const WELDERS: [Welder; 6] = [
    day("W-11", Team::Carbon, "Q-11", "W-14"),
    day("W-12", Team::Carbon, "Q-12", "W-15"),
    day("W-13", Team::Alloy, "Q-13", "W-16"),
    night("W-14", Team::Carbon, "Q-14", "W-11"),
    night("W-15", Team::Carbon, "Q-15", "W-12"),
    night("W-16", Team::Alloy, "Q-16", "W-13"),
];

/// The welder with a badge.
pub(super) fn welder(badge: &str) -> Result<&'static Welder> {
    WELDERS.iter().find(|w| w.badge == badge).with_context(|| format!("no welder {badge}"))
}

/// `welder,process,f_number,backing,qualified_on`. W-16 has no SMAW.
pub(super) const QUALIFICATIONS: [[&str; 5]; 24] = [
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

/// One received lot.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Lot {
    pub(super) code: &'static str,
    pub(super) maker: &'static str,
    pub(super) maker_lot: &'static str,
    pub(super) heats: &'static str,
    pub(super) spec: &'static str,
    pub(super) classification: &'static str,
    pub(super) size: &'static str,
    pub(super) form: &'static str,
    pub(super) surface: &'static str,
    pub(super) marking: &'static str,
    pub(super) quantity: &'static str,
    pub(super) piece_g: &'static str,
    pub(super) certificate: &'static str,
    pub(super) certificate_type: &'static str,
    pub(super) received_at: &'static str,
    pub(super) released_at: &'static str,
    /// What an inspector reads on a rod, or on the spool's flange.
    pub(super) reads: &'static str,
}

/// A bare rod without a declared piece mass.
#[rustfmt::skip]
const fn rod(
    code: &'static str, [maker, maker_lot, heats]: [&'static str; 3], [spec, classification, reads]: [&'static str; 3],
    [size, surface, quantity]: [&'static str; 3], [certificate, certificate_type]: [&'static str; 2],
    [received_at, released_at]: [&'static str; 2],
) -> Lot {
    Lot {
        code, maker, maker_lot, heats, spec, classification, size, form: "cut-length", surface, marking: "stamped",
        quantity, piece_g: "", certificate, certificate_type, received_at, released_at, reads,
    }
}

const TARVEMIRE: &str = "Tarvemire Wire";
const QUENNISFORD: &str = "Quennisford Electrodes";
const OSTRABECK: &str = "Ostrabeck Metals";
const PELLBRANT: &str = "Pellbrant Flux";
const INCH: &str = "3/32 in x 36 in";
const METRIC: &str = "2.4 mm x 1000 mm";

/// The fifteen lots.
///
/// R-1028 and R-1082 differ by a swap of digits, and so do their makers' numbers. R-1031 and R-1035 have the same
/// maker's number from two makers. R-1052 and R-1053 have numbers that differ by 8 and B. R-1035 came without a
/// certificate. R-1031 holds two heats; the certificate of R-1044 states none. R-1053 is issued before its release.
pub(super) const LOTS: [Lot; 15] = [
    rod(
        "R-1028",
        [TARVEMIRE, "4117-B", "7K2214"],
        ["A5.18", "ER70S-2", "70S-2"],
        [INCH, "copper-coated", "200 lb"],
        ["TW-26-0388", "3.1"],
        ["2026-03-09 09:20", "2026-03-10 11:00"],
    ),
    rod(
        "R-1031",
        [QUENNISFORD, "62055", "51207;51211"],
        ["A5.18", "ER70S-2", "70S-2"],
        [INCH, "copper-coated", "150 lb"],
        ["QE-7741", "3.1"],
        ["2026-03-11 10:05", "2026-03-12 08:30"],
    ),
    rod(
        "R-1035",
        [OSTRABECK, "62055", "004417"],
        ["A5.18", "ER70S-6", "70S-6"],
        [METRIC, "copper-coated", "25 kg"],
        ["", ""],
        ["2026-03-16 13:40", "2026-03-17 07:50"],
    ),
    rod(
        "R-1082",
        [TARVEMIRE, "4171-B", "7K2230"],
        ["A5.18", "ER70S-6", "70S-6"],
        [INCH, "copper-coated", "200 lb"],
        ["TW-26-0412", "3.1"],
        ["2026-03-18 09:55", "2026-03-19 10:15"],
    ),
    Lot {
        code: "R-1040",
        maker: QUENNISFORD,
        maker_lot: "C6-0219",
        heats: "58093",
        spec: "A5.1",
        classification: "E7018-1 H4R",
        size: "1/8 in x 14 in",
        form: "covered",
        surface: "n/a",
        marking: "ink",
        quantity: "400 kg",
        piece_g: "33.6",
        certificate: "QE-7765",
        certificate_type: "3.1",
        received_at: "2026-03-11 10:05",
        released_at: "2026-03-12 08:45",
        reads: "7018-1 H4R",
    },
    Lot {
        code: "R-1044",
        maker: PELLBRANT,
        maker_lot: "24-118",
        heats: "unknown",
        spec: "A5.1",
        classification: "E7018",
        size: "3.2 mm x 350 mm",
        form: "covered",
        surface: "n/a",
        marking: "ink",
        quantity: "60 kg",
        piece_g: "32",
        certificate: "PB-5520",
        certificate_type: "2.2",
        received_at: "2026-03-20 14:10",
        released_at: "2026-03-23 09:00",
        reads: "7018",
    },
    Lot {
        code: "R-1047",
        maker: TARVEMIRE,
        maker_lot: "9902-C",
        heats: "7E210",
        spec: "A5.1",
        classification: "E6010",
        size: "1/8 in x 14 in",
        form: "covered",
        surface: "n/a",
        marking: "ink",
        quantity: "250 lb",
        piece_g: "26.8",
        certificate: "TW-26-0431",
        certificate_type: "3.1",
        received_at: "2026-03-18 09:55",
        released_at: "2026-03-19 10:20",
        reads: "6010",
    },
    rod(
        "R-1050",
        [OSTRABECK, "7F302", "31D07"],
        ["A5.9", "ER309L", "309L"],
        [METRIC, "bare", "50 kg"],
        ["OM-3108/26", "3.1"],
        ["2026-03-16 13:40", "2026-03-17 08:10"],
    ),
    rod(
        "R-1052",
        [OSTRABECK, "8B416", "31D22"],
        ["A5.9", "ER316L", "316L"],
        [INCH, "bare", "100 lb"],
        ["OM-3115/26", "3.1"],
        ["2026-03-16 13:40", "2026-03-17 08:15"],
    ),
    rod(
        "R-1053",
        [OSTRABECK, "88416", "31D40"],
        ["A5.9", "ER308/ER308L", "308L"],
        [INCH, "bare", "60 lb"],
        ["OM-3162/26", "3.1"],
        ["2026-04-13 15:25", "2026-04-14 09:30"],
    ),
    rod(
        "R-1056",
        [OSTRABECK, "7F377", "VX2207"],
        ["A5.14", "ERNiCrMo-3", "NiCrMo-3"],
        [METRIC, "bare", "40 kg"],
        ["OM-3119/26", "3.1"],
        ["2026-03-24 11:30", "2026-03-26 16:00"],
    ),
    rod(
        "R-1058",
        [OSTRABECK, "7F381", "31D51"],
        ["A5.9", "ER2209", "2209"],
        [METRIC, "bare", "60 kg"],
        ["OM-3120/26", "3.1"],
        ["2026-03-24 11:30", "2026-03-25 10:40"],
    ),
    Lot {
        code: "R-1061",
        maker: TARVEMIRE,
        maker_lot: "S-5116",
        heats: "7K2302",
        spec: "A5.18",
        classification: "ER70S-6",
        size: "0.045 in",
        form: "spool",
        surface: "copper-coated",
        marking: "package-only",
        quantity: "300 kg",
        piece_g: "15000",
        certificate: "TW-26-0440",
        certificate_type: "3.1",
        received_at: "2026-03-18 09:55",
        released_at: "2026-03-19 10:25",
        reads: "ER70S-6",
    },
    Lot {
        code: "R-1063",
        maker: PELLBRANT,
        maker_lot: "W-2081",
        heats: "60417",
        spec: "A5.17",
        classification: "EM12K",
        size: "1/8 in",
        form: "spool",
        surface: "copper-coated",
        marking: "package-only",
        quantity: "600 kg",
        piece_g: "25000",
        certificate: "PB-5533",
        certificate_type: "3.1",
        received_at: "2026-03-20 14:10",
        released_at: "2026-03-24 08:20",
        reads: "EM12K",
    },
    Lot {
        code: "R-1065",
        maker: PELLBRANT,
        maker_lot: "FX-733",
        heats: "n/a",
        spec: "A5.17",
        classification: "F7A2-EM12K",
        size: "n/a",
        form: "flux",
        surface: "n/a",
        marking: "package-only",
        quantity: "500 kg",
        piece_g: "",
        certificate: "PB-5533",
        certificate_type: "3.1",
        received_at: "2026-03-20 14:10",
        released_at: "2026-03-24 08:20",
        reads: "",
    },
];

/// The lot with a control code.
pub(super) fn lot(code: &str) -> Result<&'static Lot> {
    LOTS.iter().find(|l| l.code == code).with_context(|| format!("no lot {code}"))
}

impl Lot {
    /// Mass of one piece in milligrams: as declared, else from size and density. 0 for flux, which has no pieces.
    pub(super) fn piece_mg(&self) -> u64 {
        let density = match self.classification {
            "ER309L" | "ER316L" | "ER308/ER308L" => 793,
            "ERNiCrMo-3" => 844,
            "ER2209" => 780,
            _ => 785,
        };
        match (self.piece_g, self.size) {
            ("33.6", _) => 33_600,
            ("26.8", _) => 26_800,
            ("32", _) => 32_000,
            ("15000", _) => 15_000_000,
            ("25000", _) => 25_000_000,
            (_, INCH) => bare_rod_mg(238_125, 914_400, density),
            (_, METRIC) => bare_rod_mg(240_000, 1_000_000, density),
            _ => 0,
        }
    }

    pub(super) fn is_covered(&self) -> bool {
        self.form == "covered"
    }
}
