//! Why a request was refused by a rule: what was not done, why, and what to do next.

use serde::Serialize;

/// A refusal. Nothing was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, thiserror::Error)]
#[error("{message}")]
pub struct Refusal {
    /// Stable name of the rule.
    pub code: &'static str,
    /// What was not done, in one line.
    pub message: String,
    /// The fact or number that decided.
    pub why: String,
    /// What to do next.
    pub next: Vec<String>,
    /// Whether a named inspector may set the rule aside with a reason.
    pub may_override: bool,
}

impl Refusal {
    /// A refusal that nobody may set aside.
    pub fn absolute(code: &'static str, message: impl Into<String>, why: impl Into<String>) -> Self {
        Self { code, message: message.into(), why: why.into(), next: Vec::new(), may_override: false }
    }

    /// A refusal that an inspector may set aside with a reason.
    pub fn overridable(code: &'static str, message: impl Into<String>, why: impl Into<String>) -> Self {
        Self { may_override: true, ..Self::absolute(code, message, why) }
    }

    /// Adds what to do next.
    #[must_use]
    pub fn next(mut self, step: impl Into<String>) -> Self {
        self.next.push(step.into());
        self
    }
}
