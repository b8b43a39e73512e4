//! Welding processes and the product forms that suit them.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::form::ProductForm;

/// A welding process, by its AWS A3.0 letters; any other is kept as typed.
///
/// The letters stand alone: a variation such as `GMAW-P` is [`Process::Other`], for which no form is ruled out.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Process {
    /// Shielded metal arc welding.
    Smaw,
    /// Gas tungsten arc welding.
    Gtaw,
    /// Plasma arc welding.
    Paw,
    /// Gas metal arc welding.
    Gmaw,
    /// Flux cored arc welding.
    Fcaw,
    /// Submerged arc welding.
    Saw,
    /// Any other, as typed.
    Other(String),
}

/// An empty text where a process belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("\"\" is not a welding process: it is empty; write its letters, such as GTAW")]
pub struct ProcessError;

impl Process {
    /// Reads the letters of a process in any case; any other text is kept, without the blanks around it.
    ///
    /// # Errors
    /// When the text is empty.
    pub fn parse(text: &str) -> Result<Self, ProcessError> {
        let text = text.trim();
        match text.to_ascii_uppercase().as_str() {
            "" => Err(ProcessError),
            "SMAW" => Ok(Process::Smaw),
            "GTAW" => Ok(Process::Gtaw),
            "PAW" => Ok(Process::Paw),
            "GMAW" => Ok(Process::Gmaw),
            "FCAW" => Ok(Process::Fcaw),
            "SAW" => Ok(Process::Saw),
            _ => Ok(Process::Other(text.to_owned())),
        }
    }

    /// The letters, or the text as typed.
    #[must_use]
    pub fn as_str(&self) -> &str {
        match self {
            Process::Smaw => "SMAW",
            Process::Gtaw => "GTAW",
            Process::Paw => "PAW",
            Process::Gmaw => "GMAW",
            Process::Fcaw => "FCAW",
            Process::Saw => "SAW",
            Process::Other(text) => text,
        }
    }

    /// The product forms whose metal can end up in a weld of this process. None: unknown, rule nothing out.
    ///
    /// The table errs toward more: spooled wire is also cut and fed by hand. Flux of submerged arc welding is not
    /// metal and is listed elsewhere. Common practice, no source.
    #[must_use]
    pub fn forms(&self) -> Option<&'static [ProductForm]> {
        match self {
            Process::Smaw => Some(&[ProductForm::Covered]),
            Process::Gtaw | Process::Paw => {
                Some(&[ProductForm::CutLength, ProductForm::Spool, ProductForm::Insert])
            }
            Process::Gmaw | Process::Fcaw => Some(&[ProductForm::Spool]),
            Process::Saw => Some(&[ProductForm::Spool, ProductForm::Strip]),
            Process::Other(_) => None,
        }
    }
}

/// The forms that suit any of the processes, each once, in the order of [`ProductForm`].
///
/// None: no process is given or one is not known, so nothing may be ruled out.
#[must_use]
pub fn forms_for(processes: &[Process]) -> Option<Vec<ProductForm>> {
    if processes.is_empty() {
        return None;
    }
    let mut union = Vec::new();
    for process in processes {
        union.extend_from_slice(process.forms()?);
    }
    union.sort_unstable();
    union.dedup();
    Some(union)
}

impl FromStr for Process {
    type Err = ProcessError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Process::parse(text)
    }
}

impl fmt::Display for Process {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

impl TryFrom<String> for Process {
    type Error = ProcessError;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        Process::parse(&text)
    }
}

impl From<Process> for String {
    fn from(process: Process) -> Self {
        process.as_str().to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ProductForm::{Covered, CutLength, Insert, Spool, Strip};

    fn process(text: &str) -> Process {
        Process::parse(text).unwrap()
    }

    #[test]
    fn letters_in_any_case_and_the_rest_as_typed() {
        assert_eq!(process("gtaw"), Process::Gtaw);
        assert_eq!(process(" Smaw "), Process::Smaw);
        assert_eq!(process("Oxyfuel"), Process::Other("Oxyfuel".to_owned()));
        assert_eq!(process("GMAW-P").to_string(), "GMAW-P");
        assert_eq!(Process::parse("  "), Err(ProcessError));
        for text in ["SMAW", "GTAW", "PAW", "GMAW", "FCAW", "SAW", "OFW"] {
            let json = serde_json::to_string(&process(text)).unwrap();
            assert_eq!(json, format!("\"{text}\""));
            assert_eq!(serde_json::from_str::<Process>(&json).unwrap(), process(text));
        }
        assert!(serde_json::from_str::<Process>("\"\"").is_err());
    }

    #[test]
    fn each_process_takes_its_forms() {
        for (text, forms) in [
            ("SMAW", Some(vec![Covered])),
            ("GTAW", Some(vec![CutLength, Spool, Insert])),
            ("PAW", Some(vec![CutLength, Spool, Insert])),
            ("GMAW", Some(vec![Spool])),
            ("FCAW", Some(vec![Spool])),
            ("SAW", Some(vec![Spool, Strip])),
            ("OFW", None),
        ] {
            assert_eq!(process(text).forms().map(<[_]>::to_vec), forms, "{text}");
            assert_eq!(forms_for(&[process(text)]), forms, "{text}");
        }
    }

    #[test]
    fn several_processes_take_the_union_and_one_unknown_rules_nothing_out() {
        assert_eq!(
            forms_for(&[process("SMAW"), process("GTAW"), process("PAW")]),
            Some(vec![CutLength, Covered, Spool, Insert])
        );
        assert_eq!(forms_for(&[process("GTAW"), process("OFW")]), None);
        assert_eq!(forms_for(&[]), None);
    }
}
