//! The twelve files: their names, their columns, and which of these must be there.
//!
//! A column must be there if a row without it would not say what it is about, or when. Every other one may be left
//! out, which is the same as leaving its cells empty.

/// One column of one file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Column {
    /// Place in [`Layout::columns`].
    pub(super) at: usize,
    /// Name in the header row.
    pub(super) name: &'static str,
}

/// Name and columns of one file.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    /// Name of the file.
    pub(super) file: &'static str,
    /// Columns, and whether each must be there.
    pub(super) columns: &'static [(&'static str, bool)],
}

impl Layout {
    /// Place in the order of files.
    pub(super) fn place(&self) -> usize {
        LAYOUTS.iter().position(|l| l.file == self.file).unwrap_or(LAYOUTS.len())
    }

    /// Names of all columns, as a message lists them.
    pub(super) fn listed(&self) -> String {
        self.columns.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ")
    }
}

/// Declares the columns of a file: `needed` behind a name that must be there.
macro_rules! layout {
    ($(#[$doc:meta])* $module:ident, $file:literal, $($column:ident = $name:literal $($must:ident)?),+ $(,)?) => {
        $(#[$doc])*
        pub(super) mod $module {
            use super::{Column, Layout};

            #[allow(non_camel_case_types, clippy::upper_case_acronyms)]
            enum At { $($column),+ }

            $(pub(in crate::import) const $column: Column = Column { at: At::$column as usize, name: $name };)+

            pub(in crate::import) const LAYOUT: Layout =
                Layout { file: $file, columns: &[$(($name, layout!(@must $($must)?))),+] };
        }
    };
    (@must needed) => { true };
    (@must) => { false };
}

layout!(
    /// Who is who.
    people, "people.csv",
    BADGE = "badge" needed, NAME = "name" needed, ROLES = "roles",
);
layout!(
    /// Who passed which test.
    qualifications, "qualifications.csv",
    WELDER = "welder" needed, PROCESS = "process", F_NUMBER = "f_number", BACKING = "backing",
    QUALIFIED_ON = "qualified_on",
);
layout!(
    /// Welding procedure specifications.
    wps, "wps.csv",
    WPS = "wps" needed, REVISION = "revision", PROCESS = "process", SPEC = "spec",
    CLASSIFICATIONS = "classifications", SIZES = "sizes", F_NUMBER = "f_number", BACKING = "backing",
    HEAT_INPUT_MOST = "heat_input_most", HEAT_INPUT_CONVENTION = "heat_input_convention",
);
layout!(
    /// Joints.
    joints, "joints.csv",
    JOINT = "joint" needed, JOB = "job", DRAWING = "drawing", DRAWING_REVISION = "drawing_revision", WPS = "wps",
    LEVEL = "level", NEEDED_G = "needed_g", NEEDED_U_G = "needed_u_g", FINISHED_AT = "finished_at",
    ASKS_CERTIFICATE_TYPE = "asks_certificate_type", ASKS_LOT_CLASS = "asks_lot_class", ASKS_SCHEDULE = "asks_schedule",
);
layout!(
    /// Deliveries of lots. The five columns of a lot's identity must be there: without one of them no two
    /// deliveries could be told to be of one lot.
    lots, "lots.csv",
    LOT = "lot" needed, MAKER = "maker" needed, MAKER_LOT = "maker_lot" needed, HEATS = "heats", SPEC = "spec",
    CLASSIFICATION = "classification" needed, SIZE = "size" needed, FORM = "form" needed, SURFACE = "surface",
    MARKING = "marking", QUANTITY = "quantity", PIECE_G = "piece_g", CERTIFICATE = "certificate",
    CERTIFICATE_TYPE = "certificate_type", RECEIVED_AT = "received_at" needed, RELEASED_AT = "released_at",
);
layout!(
    /// What was handed out.
    issues, "issues.csv",
    SLIP = "slip" needed, LOT = "lot" needed, WELDER = "welder" needed, QUANTITY = "quantity", ISSUED_AT = "issued_at" needed,
    ISSUED_BY = "issued_by", JOINTS = "joints", QUIVER = "quiver", DUE_AT = "due_at",
);
layout!(
    /// Welder to welder.
    hand_overs, "hand_overs.csv",
    SLIP = "slip" needed, NEW_SLIP = "new_slip" needed, TO_WELDER = "to_welder" needed, QUANTITY = "quantity",
    CLOSES = "closes", AT = "at" needed, BY = "by",
);
layout!(
    /// What came back.
    returns, "returns.csv",
    SLIP = "slip" needed, QUANTITY = "quantity", STUBS = "stubs", CONDITION = "condition", CLOSES = "closes",
    RETURNED_AT = "returned_at" needed, RECEIVED_BY = "received_by",
);
layout!(
    /// What was welded.
    welds, "welds.csv",
    JOINT = "joint" needed, CYCLE = "cycle", PASS = "pass", PROCESS = "process", FILLER = "filler",
    WELDER = "welder" needed, LOT = "lot", SLIP = "slip", USED = "used", FROM = "from" needed, TO = "to", MARK = "mark",
    RECORDED_BY = "recorded_by", VOLTS = "volts", AMPS = "amps", TRAVEL = "travel", ENERGY = "energy", LENGTH = "length",
    POWER = "power", WAVEFORM_CONTROLLED = "waveform_controlled",
);
layout!(
    /// What the inspector saw.
    spot_checks, "spot_checks.csv",
    JOINT = "joint" needed, WELDER = "welder" needed, AT = "at" needed, BY = "by", LEGIBLE = "legible" needed, READS = "reads",
);

layout!(
    /// What is out for good. A row is about a slip or about a lot, so neither column must be there.
    scraps, "scraps.csv",
    SLIP = "slip", LOT = "lot", QUANTITY = "quantity", WHY = "why", SCRAPPED_AT = "scrapped_at" needed, BY = "by",
);
layout!(
    /// Wire that was found without a mark.
    found_wire, "found_wire.csv",
    FOUND_AT = "found_at" needed, PLACE = "place" needed, BY = "by", WELDER = "welder", QUANTITY = "quantity",
    JOINTS = "joints",
);

/// The files in the order they are read: what is named before what names it.
pub(super) const LAYOUTS: [Layout; 12] = [
    people::LAYOUT,
    qualifications::LAYOUT,
    wps::LAYOUT,
    joints::LAYOUT,
    lots::LAYOUT,
    issues::LAYOUT,
    hand_overs::LAYOUT,
    returns::LAYOUT,
    scraps::LAYOUT,
    welds::LAYOUT,
    spot_checks::LAYOUT,
    found_wire::LAYOUT,
];

/// Their names, as a message lists them.
pub(super) fn file_names() -> String {
    LAYOUTS.iter().map(|l| l.file).collect::<Vec<_>>().join(", ")
}
