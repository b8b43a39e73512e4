//! Types of certificate.

use super::{Outcome, letters};

/// A type of certificate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CertificateType {
    /// EN 10204 2.1: compliance with the order, without results.
    Type21,
    /// EN 10204 2.2: compliance, with results of non-specific inspection: not of this lot.
    Type22,
    /// EN 10204 3.1: compliance, with results of this lot, signed by the maker's inspector independent of manufacture. 3.1.B of
    /// the edition of 1991 became this.
    Type31,
    /// EN 10204 3.2: as 3.1, and signed by the purchaser's or the officially designated inspector too. 3.1.A, 3.1.C and
    /// 3.2 of 1991 became this.
    Type32,
    /// Certificate of compliance: a statement that the specification is met.
    Compliance,
    /// Certificate of conformance: a statement with representative results, not necessarily of this lot.
    Conformance,
    /// Certified material test report: results of this heat or lot, with a statement of compliance.
    Cmtr,
}

impl CertificateType {
    /// Reads a type as printed: `3.1`, `EN 10204:2004 - 3.1`, `3.1.B`, `CMTR`. `CoC` can be compliance or conformance and is
    /// not read.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let letters = letters(text);
        let mut rest = letters.as_str();
        for word in
            ["BS", "DIN", "EN", "ISO", "10204", "10474", "2004", "2013", "TYPE", "CERTIFICATE", "TYPE"]
        {
            rest = rest.strip_prefix(word).unwrap_or(rest);
        }
        match rest {
            "2.1" => Some(CertificateType::Type21),
            "2.2" => Some(CertificateType::Type22),
            "3.1" | "3.1B" | "3.1.B" => Some(CertificateType::Type31),
            "3.2" | "3.1A" | "3.1.A" | "3.1C" | "3.1.C" => Some(CertificateType::Type32),
            "CMTR" | "CERTIFIEDMATERIALTESTREPORT" => Some(CertificateType::Cmtr),
            "OFCOMPLIANCE" => Some(CertificateType::Compliance),
            "OFCONFORMANCE" => Some(CertificateType::Conformance),
            _ => None,
        }
    }

    /// Whether a paper of this type answers what was asked.
    pub(super) fn answers(self, asked: Self) -> (Outcome, String) {
        use CertificateType::{Cmtr, Compliance, Conformance, Type21, Type22, Type31, Type32};
        use Outcome::{Met, NotKnown, NotMet};
        let (outcome, why) = match (asked, self) {
            (Type31, Type32) => (Met, "3.2 is as 3.1, with a second signature"),
            (Type21, Type22 | Type31 | Type32) => (Met, "it states compliance with the order too"),
            (Type32, Type31) => (NotMet, "the second signature of a 3.2 is missing"),
            (Type31 | Type32 | Cmtr, Type21 | Compliance) => (NotMet, "it has no results"),
            (Type31 | Type32 | Cmtr, Type22 | Conformance) => {
                (NotMet, "its results are not, or not necessarily, of this lot")
            }
            (Type22 | Conformance, Type21 | Compliance) => (NotMet, "it has no results"),
            (Compliance, Cmtr) => (Met, "a CMTR states compliance too"),
            (Type31 | Type32, Cmtr) => (NotKnown, "who signed the CMTR is not said by its type"),
            (Cmtr, Type31 | Type32) => (
                NotKnown,
                "it has results of this lot; whether they are all that a CMTR has is not said by its type",
            ),
            (Type22, Type31 | Type32 | Conformance | Cmtr)
            | (Type21, Compliance | Conformance | Cmtr)
            | (Compliance, Type21 | Type22 | Type31 | Type32 | Conformance)
            | (Conformance, Type22 | Type31 | Type32 | Cmtr) => {
                (NotKnown, "no rule says that the one does for the other")
            }
            (Type21, Type21)
            | (Type22, Type22)
            | (Type31, Type31)
            | (Type32, Type32)
            | (Compliance, Compliance)
            | (Conformance, Conformance)
            | (Cmtr, Cmtr) => (Met, "as asked"),
        };
        (outcome, why.to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::CertificateType;

    #[test]
    fn types_as_printed() {
        for (text, want) in [
            ("3.1", Some(CertificateType::Type31)),
            ("EN 10204-3.1", Some(CertificateType::Type31)),
            ("EN 10204:2004 3.1", Some(CertificateType::Type31)),
            ("BS EN 10204 type 2.2", Some(CertificateType::Type22)),
            ("ISO 10474 3.1.B", Some(CertificateType::Type31)),
            ("3.1.c", Some(CertificateType::Type32)),
            ("C.M.T.R", None),
            ("cmtr", Some(CertificateType::Cmtr)),
            ("Certificate of Conformance", Some(CertificateType::Conformance)),
            ("CoC", None),
            ("2.3", None),
            ("3", None),
            ("", None),
        ] {
            assert_eq!(CertificateType::parse(text), want, "{text}");
        }
    }
}
