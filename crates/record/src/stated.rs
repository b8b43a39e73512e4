//! What a form says about a value: the value, or which of four different silences.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A value as stated, or why there is none. *Not asked*, *not applicable*, *unknown* and *illegible* stay four
/// different answers in the record and in every export.
///
/// In JSON a value stands for itself, not asked is `null`, the others are `{"no_value":"n/a"}` (or `unknown`,
/// `illegible`).
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum Stated<T> {
    /// The value.
    Value(T),
    /// Nobody asked; the field was empty.
    #[default]
    NotAsked,
    /// Asked, and does not apply.
    NotApplicable,
    /// Asked, and nobody knows.
    Unknown,
    /// There is a mark or a word, and it cannot be read.
    Illegible,
}

#[derive(Serialize, Deserialize)]
struct NoValue {
    no_value: NoValueWord,
}

#[derive(Serialize, Deserialize)]
enum NoValueWord {
    #[serde(rename = "n/a")]
    NotApplicable,
    #[serde(rename = "unknown")]
    Unknown,
    #[serde(rename = "illegible")]
    Illegible,
}

impl<T> Stated<T> {
    /// The silence that a word of a form stands for, if it is one.
    pub fn silence(word: &str) -> Option<Self> {
        match word {
            "" => Some(Self::NotAsked),
            "n/a" => Some(Self::NotApplicable),
            "unknown" => Some(Self::Unknown),
            "illegible" => Some(Self::Illegible),
            _ => None,
        }
    }

    /// Whether nobody asked. In a body, a key that was added later is left out then.
    pub fn is_not_asked(&self) -> bool {
        matches!(self, Self::NotAsked)
    }

    /// The value, if there is one.
    pub fn value(&self) -> Option<&T> {
        match self {
            Self::Value(v) => Some(v),
            Self::NotAsked | Self::NotApplicable | Self::Unknown | Self::Illegible => None,
        }
    }

    /// The value, if there is one.
    pub fn into_value(self) -> Option<T> {
        match self {
            Self::Value(v) => Some(v),
            Self::NotAsked | Self::NotApplicable | Self::Unknown | Self::Illegible => None,
        }
    }

    /// The value by reference, and the silences as they are.
    pub fn as_ref(&self) -> Stated<&T> {
        match self {
            Self::Value(v) => Stated::Value(v),
            Self::NotAsked => Stated::NotAsked,
            Self::NotApplicable => Stated::NotApplicable,
            Self::Unknown => Stated::Unknown,
            Self::Illegible => Stated::Illegible,
        }
    }

    /// Applies `f` to the value and keeps the silences.
    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> Stated<U> {
        match self {
            Self::Value(v) => Stated::Value(f(v)),
            Self::NotAsked => Stated::NotAsked,
            Self::NotApplicable => Stated::NotApplicable,
            Self::Unknown => Stated::Unknown,
            Self::Illegible => Stated::Illegible,
        }
    }

    /// Applies a fallible `f` to the value and keeps the silences.
    pub fn try_map<U, E>(self, f: impl FnOnce(T) -> Result<U, E>) -> Result<Stated<U>, E> {
        Ok(match self {
            Self::Value(v) => Stated::Value(f(v)?),
            Self::NotAsked => Stated::NotAsked,
            Self::NotApplicable => Stated::NotApplicable,
            Self::Unknown => Stated::Unknown,
            Self::Illegible => Stated::Illegible,
        })
    }

    /// A value from an option; none means not asked.
    pub fn from_option(value: Option<T>) -> Self {
        value.map_or(Self::NotAsked, Self::Value)
    }
}

impl Stated<String> {
    /// Reads a cell of a form: empty, `n/a`, `unknown` and `illegible` are silences, the rest is the value.
    pub fn read(cell: &str) -> Self {
        Self::silence(cell).unwrap_or_else(|| Self::Value(cell.to_owned()))
    }
}

impl<T: std::fmt::Display> Stated<T> {
    /// As a form or a CSV cell shows it; `read` gives back the same.
    pub fn cell(&self) -> String {
        match self {
            Self::Value(v) => v.to_string(),
            Self::NotAsked => String::new(),
            Self::NotApplicable => "n/a".into(),
            Self::Unknown => "unknown".into(),
            Self::Illegible => "illegible".into(),
        }
    }
}

impl<T: Serialize> Serialize for Stated<T> {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Value(v) => v.serialize(s),
            Self::NotAsked => s.serialize_none(),
            Self::NotApplicable => NoValue { no_value: NoValueWord::NotApplicable }.serialize(s),
            Self::Unknown => NoValue { no_value: NoValueWord::Unknown }.serialize(s),
            Self::Illegible => NoValue { no_value: NoValueWord::Illegible }.serialize(s),
        }
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Stated<T> {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Either<T> {
            Silence(NoValue),
            Value(T),
        }
        Ok(match Option::<Either<T>>::deserialize(d)? {
            None => Self::NotAsked,
            Some(Either::Value(v)) => Self::Value(v),
            Some(Either::Silence(NoValue { no_value })) => match no_value {
                NoValueWord::NotApplicable => Self::NotApplicable,
                NoValueWord::Unknown => Self::Unknown,
                NoValueWord::Illegible => Self::Illegible,
            },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_silences_survive_json_and_cells() {
        for cell in ["", "n/a", "unknown", "illegible", "7H221"] {
            let stated = Stated::read(cell);
            assert_eq!(stated.cell(), cell);
            let json = serde_json::to_string(&stated).unwrap();
            assert_eq!(serde_json::from_str::<Stated<String>>(&json).unwrap(), stated, "{json}");
        }
    }
}
