//! Papers: certificates, and slips printed again.

use super::{LotRef, SlipRef};
use crate::stated::Stated;
use crate::time::When;
use serde::{Deserialize, Serialize};

/// See [`super::Event::CertificateFiled`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CertificateFiled {
    /// When.
    pub at: When,
    /// Size of the file in bytes.
    pub bytes: u64,
    /// Certificate number, as printed.
    pub certificate: String,
    /// Certificate type, e.g. 3.1.
    pub certificate_type: Stated<String>,
    /// Name of the file as it was given, without folders.
    pub file: String,
    /// Lots that the paper is about; none is legal, and shows as a gap.
    pub lots: Vec<LotRef>,
    /// SHA-256 of its bytes, in hexadecimal: its name in the folder of papers.
    pub sha256: String,
}

/// See [`super::Event::SlipReprinted`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SlipReprinted {
    /// When.
    pub at: When,
    /// Which slip.
    pub slip: SlipRef,
    /// Why, if said.
    pub why: String,
}
