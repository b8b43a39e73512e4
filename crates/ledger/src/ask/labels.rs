//! Labels by how they begin: what a shell offers while somebody types.

use super::reading::Reading;
use crate::error::Result;
use crate::facts::LabelKind;
use rusqlite::params;

/// Things that people call by a label.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Labelled {
    /// Lots, by control code or maker's lot number.
    Lot,
    /// Heats.
    Heat,
    /// Certificates.
    Certificate,
    /// Slips, open or closed.
    Slip,
    /// Joints.
    Joint,
    /// People, by badge.
    Badge,
    /// Welding procedure specifications.
    Wps,
}

impl Labelled {
    fn kind(self) -> LabelKind {
        match self {
            Labelled::Lot => LabelKind::Lot,
            Labelled::Heat => LabelKind::Heat,
            Labelled::Certificate => LabelKind::Certificate,
            Labelled::Slip => LabelKind::Slip,
            Labelled::Joint => LabelKind::Joint,
            Labelled::Badge => LabelKind::Badge,
            Labelled::Wps => LabelKind::Wps,
        }
    }
}

impl Reading<'_> {
    /// At most `most` labels that begin with exactly this text, those of the newest entries first.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn labels(&self, of: Labelled, beginning: &str, most: u32) -> Result<Vec<String>> {
        let characters = i64::try_from(beginning.chars().count()).unwrap_or(i64::MAX);
        let mut statement = self.conn().prepare_cached(
            "SELECT label FROM fact_label WHERE kind = ?1 AND substr(label, 1, ?2) = ?3
             GROUP BY label ORDER BY max(place) DESC, label LIMIT ?4",
        )?;
        let labels = statement
            .query_map(params![of.kind().word(), characters, beginning, most], |row| row.get(0))?
            .collect::<rusqlite::Result<_>>()?;
        Ok(labels)
    }
}
