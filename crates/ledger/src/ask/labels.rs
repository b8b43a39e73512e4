//! Labels by how they begin: what a shell offers while somebody types.

use super::reading::Reading;
use crate::error::Result;
pub use crate::facts::LabelKind;
use rusqlite::params;

impl Reading<'_> {
    /// At most `most` labels that begin with exactly this text, those of the newest entries first.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn labels(&self, of: LabelKind, beginning: &str, most: u32) -> Result<Vec<String>> {
        let characters = i64::try_from(beginning.chars().count()).unwrap_or(i64::MAX);
        let mut statement = self.conn().prepare_cached(
            "SELECT label FROM fact_label WHERE kind = ?1 AND substr(label, 1, ?2) = ?3
             GROUP BY label ORDER BY max(place) DESC, label LIMIT ?4",
        )?;
        let labels = statement
            .query_map(params![of.word(), characters, beginning, most], |row| row.get(0))?
            .collect::<rusqlite::Result<_>>()?;
        Ok(labels)
    }
}
