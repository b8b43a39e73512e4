//! What is in the crib. Makers and numbers are invented.

use anyhow::{Context as _, Result};

use super::quantity::bare_rod_mg;

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
pub(super) const fn rod(
    code: &'static str, [maker, maker_lot, heats]: [&'static str; 3], [spec, classification, reads]: [&'static str; 3],
    [size, surface, quantity]: [&'static str; 3], [certificate, certificate_type]: [&'static str; 2],
    [received_at, released_at]: [&'static str; 2],
) -> Lot {
    Lot {
        code, maker, maker_lot, heats, spec, classification, size, form: "cut-length", surface, marking: "stamped",
        quantity, piece_g: "", certificate, certificate_type, received_at, released_at, reads,
    }
}

/// A covered electrode of a declared mass.
#[rustfmt::skip]
pub(super) const fn covered(
    code: &'static str, [maker, maker_lot, heats]: [&'static str; 3], [classification, reads]: [&'static str; 2],
    [size, piece_g, quantity]: [&'static str; 3], certificate: &'static str,
    [received_at, released_at]: [&'static str; 2],
) -> Lot {
    Lot {
        code, maker, maker_lot, heats, spec: "A5.1", classification, size, form: "covered", surface: "n/a",
        marking: "ink", quantity, piece_g, certificate, certificate_type: "3.1", received_at, released_at, reads,
    }
}

/// A spool of a declared mass.
#[rustfmt::skip]
pub(super) const fn spool(
    code: &'static str, [maker, maker_lot, heats]: [&'static str; 3], [spec, classification]: [&'static str; 2],
    [size, piece_g, quantity]: [&'static str; 3], certificate: &'static str,
    [received_at, released_at]: [&'static str; 2],
) -> Lot {
    Lot {
        code, maker, maker_lot, heats, spec, classification, size, form: "spool", surface: "copper-coated",
        marking: "package-only", quantity, piece_g, certificate, certificate_type: "3.1", received_at, released_at,
        reads: classification,
    }
}

pub(super) const TARVEMIRE: &str = "Tarvemire Wire";
pub(super) const QUENNISFORD: &str = "Quennisford Electrodes";
pub(super) const OSTRABECK: &str = "Ostrabeck Metals";
const PELLBRANT: &str = "Pellbrant Flux";
pub(super) const INCH: &str = "3/32 in x 36 in";
pub(super) const METRIC: &str = "2.4 mm x 1000 mm";

/// The lots of the quarter.
///
/// R-1028 and R-1082 differ by a swap of digits, and so do their makers' numbers. R-1031 and R-1035 have the same
/// maker's number from two makers. R-1052 and R-1053 have numbers that differ by 8 and B. R-1035 came without a
/// certificate, and that of R-1133 is stated to be none. R-1031 holds two heats; the certificate of R-1044 states none. R-1053 is issued before its release.
///
/// Numbers with an O for a 0: the maker's lot of R-1125 (R-1105), the certificate of R-1124 (R-1102). With an S for a 5:
/// the heat of R-1123 (R-1121). The certificates of R-1101 and R-1121 differ by a swap of digits.
pub(super) const LOTS: [Lot; 40] = [
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
    rod(
        "R-1101",
        [TARVEMIRE, "4233-B", "7K2417"],
        ["A5.18", "ER70S-2", "70S-2"],
        [INCH, "copper-coated", "400 lb"],
        ["TW-26-0531", "3.1"],
        ["2026-04-22 09:15", "2026-04-23 10:30"],
    ),
    rod(
        "R-1102",
        [TARVEMIRE, "4240-B", "7K2431"],
        ["A5.18", "ER70S-6", "70S-6"],
        [INCH, "copper-coated", "400 lb"],
        ["TW-26-0518", "3.1"],
        ["2026-04-22 09:15", "2026-04-23 10:35"],
    ),
    rod(
        "R-1104",
        [QUENNISFORD, "62118", "51240"],
        ["A5.18", "ER70S-2", "70S-2"],
        [METRIC, "copper-coated", "100 kg"],
        ["QE-7802", "3.1"],
        ["2026-04-23 13:20", "2026-04-24 08:10"],
    ),
    covered(
        "R-1105",
        [QUENNISFORD, "C6-0511", "58140"],
        ["E7018-1 H4R", "7018-1 H4R"],
        ["1/8 in x 14 in", "33.6", "700 kg"],
        "QE-7809",
        ["2026-04-23 13:20", "2026-04-24 08:20"],
    ),
    covered(
        "R-1106",
        [PELLBRANT, "24-133", "60455"],
        ["E7018", "7018"],
        ["3.2 mm x 350 mm", "32", "200 kg"],
        "PB-5561",
        ["2026-04-24 11:00", "2026-04-27 09:30"],
    ),
    covered(
        "R-1107",
        [TARVEMIRE, "9917-C", "7E264"],
        ["E6010", "6010"],
        ["1/8 in x 14 in", "26.8", "900 lb"],
        "TW-26-0544",
        ["2026-04-22 09:15", "2026-04-23 10:40"],
    ),
    rod(
        "R-1108",
        [OSTRABECK, "7F415", "31D77"],
        ["A5.9", "ER316L", "316L"],
        [INCH, "bare", "150 lb"],
        ["OM-3204/26", "3.1"],
        ["2026-04-27 14:05", "2026-04-28 09:00"],
    ),
    rod(
        "R-1109",
        [OSTRABECK, "7F422", "31D83"],
        ["A5.9", "ER308L", "308L"],
        [INCH, "bare", "100 lb"],
        ["OM-3207/26", "3.1"],
        ["2026-04-27 14:05", "2026-04-28 09:05"],
    ),
    rod(
        "R-1110",
        [OSTRABECK, "7F430", "31D90"],
        ["A5.9", "ER309L", "309L"],
        [METRIC, "bare", "60 kg"],
        ["OM-3211/26", "3.1"],
        ["2026-04-27 14:05", "2026-04-28 09:10"],
    ),
    rod(
        "R-1111",
        [OSTRABECK, "7F438", "31F02"],
        ["A5.9", "ER2209", "2209"],
        [METRIC, "bare", "80 kg"],
        ["OM-3216/26", "3.1"],
        ["2026-04-27 14:05", "2026-04-28 09:20"],
    ),
    rod(
        "R-1112",
        [OSTRABECK, "7F444", "VX2251"],
        ["A5.14", "ERNiCrMo-3", "NiCrMo-3"],
        [METRIC, "bare", "60 kg"],
        ["OM-3219/26", "3.1"],
        ["2026-04-27 14:05", "2026-04-29 15:40"],
    ),
    rod(
        "R-1113",
        [OSTRABECK, "7F451", "31F09"],
        ["A5.9", "ER2209", "2209"],
        [INCH, "bare", "40 lb"],
        ["OM-3224/26", "3.1"],
        ["2026-05-18 10:10", "2026-05-19 08:30"],
    ),
    spool(
        "R-1114",
        [TARVEMIRE, "W-5147", "7K2466"],
        ["A5.18", "ER70S-6"],
        ["0.045 in", "15000", "900 kg"],
        "TW-26-0557",
        ["2026-04-22 09:15", "2026-04-23 10:50"],
    ),
    spool(
        "R-1115",
        [PELLBRANT, "W-2094", "60471"],
        ["A5.17", "EM12K"],
        ["1/8 in", "25000", "900 kg"],
        "PB-5577",
        ["2026-04-24 11:00", "2026-04-27 09:40"],
    ),
    Lot {
        code: "R-1116",
        maker: PELLBRANT,
        maker_lot: "FX-748",
        heats: "n/a",
        spec: "A5.17",
        classification: "F7A2-EM12K",
        size: "n/a",
        form: "flux",
        surface: "n/a",
        marking: "package-only",
        quantity: "900 kg",
        piece_g: "",
        certificate: "PB-5577",
        certificate_type: "3.1",
        received_at: "2026-04-24 11:00",
        released_at: "2026-04-27 09:40",
        reads: "",
    },
    Lot {
        marking: "flag-tag",
        ..rod(
            "R-1117",
            [QUENNISFORD, "62131", "51262"],
            ["A5.18", "ER70S-2", "70S-2"],
            [INCH, "copper-coated", "50 lb"],
            ["QE-7817", "3.1"],
            ["2026-05-07 10:25", "2026-05-08 08:15"],
        )
    },
    rod(
        "R-1121",
        [TARVEMIRE, "4302-B", "7K2514"],
        ["A5.18", "ER70S-2", "70S-2"],
        [INCH, "copper-coated", "400 lb"],
        ["TW-26-0513", "3.1"],
        ["2026-05-25 09:40", "2026-05-26 10:20"],
    ),
    rod(
        "R-1123",
        [TARVEMIRE, "4318-B", "7K2S14"],
        ["A5.18", "ER70S-6", "70S-6"],
        [INCH, "copper-coated", "400 lb"],
        ["TW-26-0602", "3.1"],
        ["2026-05-25 09:40", "2026-05-26 10:25"],
    ),
    rod(
        "R-1124",
        [TARVEMIRE, "4327-B", "7K2540"],
        ["A5.18", "ER70S-6", "70S-6"],
        [METRIC, "copper-coated", "100 kg"],
        ["TW-26-O518", "3.1"],
        ["2026-05-25 09:40", "2026-05-26 10:30"],
    ),
    covered(
        "R-1125",
        [QUENNISFORD, "C6-O511", "58166"],
        ["E7018-1 H4R", "7018-1 H4R"],
        ["1/8 in x 14 in", "33.6", "700 kg"],
        "QE-7841",
        ["2026-05-26 13:00", "2026-05-27 08:40"],
    ),
    covered(
        "R-1126",
        [PELLBRANT, "24-140", "60498"],
        ["E7018", "7018"],
        ["3.2 mm x 350 mm", "32", "200 kg"],
        "PB-5594",
        ["2026-05-26 13:00", "2026-05-27 08:50"],
    ),
    rod(
        "R-1128",
        [OSTRABECK, "7F466", "31F21"],
        ["A5.9", "ER316L", "316L"],
        [METRIC, "bare", "80 kg"],
        ["OM-3261/26", "3.1"],
        ["2026-05-27 11:45", "2026-05-28 09:00"],
    ),
    rod(
        "R-1131",
        [OSTRABECK, "7F473", "31F34"],
        ["A5.9", "ER2209", "2209"],
        [METRIC, "bare", "80 kg"],
        ["OM-3270/26", "3.1"],
        ["2026-05-27 11:45", "2026-05-28 09:10"],
    ),
    rod(
        "R-1133",
        [OSTRABECK, "7F480", "31F40"],
        ["A5.9", "ER316L", "316L"],
        [INCH, "bare", "20 lb"],
        ["n/a", "n/a"],
        ["2026-06-04 14:30", "2026-06-05 09:15"],
    ),
    rod(
        "R-1134",
        [OSTRABECK, "7F492", "31F47"],
        ["A5.9", "ER316L", "316L"],
        [INCH, "bare", "60 lb"],
        ["OM-3288/26", "3.1"],
        ["2026-06-08 15:10", "2026-06-09 11:00"],
    ),
];

/// The lot with a control code, of either shop.
pub(super) fn lot(code: &str) -> Result<&'static Lot> {
    LOTS.iter().chain(&super::quiet::LOTS).find(|l| l.code == code).with_context(|| format!("no lot {code}"))
}

impl Lot {
    /// Mass of one piece in milligrams: as declared, else from size and density. 0 for flux, which has no pieces.
    pub(super) fn piece_mg(&self) -> u64 {
        let density = match self.classification {
            "ER308L" | "ER309L" | "ER316L" | "ER308/ER308L" => 793,
            "ERNiCrMo-3" => 844,
            "ER2209" => 780,
            _ => 785,
        };
        match self.size {
            _ if !self.piece_g.is_empty() => declared_mg(self.piece_g),
            INCH => bare_rod_mg(238_125, 914_400, density),
            METRIC => bare_rod_mg(240_000, 1_000_000, density),
            _ => 0,
        }
    }

    pub(super) fn is_covered(&self) -> bool {
        self.form == "covered"
    }

    /// Cellulosic rods are handed out by the pound, all others by the piece.
    pub(super) fn is_cellulosic(&self) -> bool {
        self.classification == "E6010"
    }
}

/// `33.6` grams as 33 600 milligrams.
fn declared_mg(grams: &str) -> u64 {
    let (whole, tenth) = grams.split_once('.').unwrap_or((grams, "0"));
    let number = |digits: &str| digits.parse::<u64>().unwrap_or(0);
    number(whole) * 1000 + number(tenth) * 100
}
