//! Which product forms suit a process.
//!
//! Covered electrodes for SMAW; cut length, spool or insert for GTAW and PAW; spool for GMAW and FCAW; spool or strip
//! for SAW, whose flux is listed apart. If any process is not known there is no filter. Common practice, no source.

use filler::process::forms_for;
use filler::{Process, ProductForm};

/// What a slip of some form is to a weld.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Suit {
    /// It can have fed the weld.
    Candidate,
    /// It is flux of a submerged-arc weld: it can have been there, but it is not the filler metal.
    Flux,
    /// It cannot have been welded by this process.
    Unsuited,
}

/// The product forms that suit the processes of one weld.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SuitableForms {
    /// `None`: a process is not known, so every form suits.
    forms: Option<Vec<ProductForm>>,
    submerged_arc: bool,
}

impl SuitableForms {
    /// The forms that suit any of the processes.
    #[must_use]
    pub fn of(processes: &[Process]) -> Self {
        Self { forms: forms_for(processes), submerged_arc: processes.contains(&Process::Saw) }
    }

    /// Whether the processes rule nothing out.
    #[must_use]
    pub fn all(&self) -> bool {
        self.forms.is_none()
    }

    /// What a slip of this form is to the weld. A slip whose form is not known is never ruled out, and without a known
    /// process flux is a candidate like any other.
    #[must_use]
    pub fn suit(&self, form: Option<ProductForm>) -> Suit {
        match (&self.forms, form) {
            (None, _) | (_, None) => Suit::Candidate,
            (Some(forms), Some(form)) if forms.contains(&form) => Suit::Candidate,
            (Some(_), Some(ProductForm::Flux)) if self.submerged_arc => Suit::Flux,
            (Some(_), Some(_)) => Suit::Unsuited,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use filler::ProductForm::{Covered, CutLength, Flux, Insert, Spool, Strip};

    const FORMS: [ProductForm; 6] = [CutLength, Covered, Spool, Flux, Insert, Strip];

    fn candidates(processes: &[Process]) -> Vec<ProductForm> {
        let forms = SuitableForms::of(processes);
        FORMS.into_iter().filter(|form| forms.suit(Some(*form)) == Suit::Candidate).collect()
    }

    #[test]
    fn each_process_takes_its_forms() {
        assert_eq!(candidates(&[Process::Smaw]), [Covered]);
        assert_eq!(candidates(&[Process::Gtaw]), [CutLength, Spool, Insert]);
        assert_eq!(candidates(&[Process::Paw]), [CutLength, Spool, Insert]);
        assert_eq!(candidates(&[Process::Gmaw]), [Spool]);
        assert_eq!(candidates(&[Process::Fcaw]), [Spool]);
        assert_eq!(candidates(&[Process::Saw]), [Spool, Strip]);
        assert_eq!(candidates(&[Process::Gtaw, Process::Smaw]), [CutLength, Covered, Spool, Insert]);
    }

    #[test]
    fn an_unknown_process_rules_nothing_out() {
        let other = Process::Other("OFW".to_string());
        for processes in [vec![], vec![other.clone()], vec![Process::Saw, other]] {
            assert_eq!(candidates(&processes), FORMS);
            assert!(SuitableForms::of(&processes).all());
        }
    }

    #[test]
    fn flux_is_listed_apart_only_for_submerged_arc() {
        assert_eq!(SuitableForms::of(&[Process::Saw]).suit(Some(Flux)), Suit::Flux);
        assert_eq!(SuitableForms::of(&[Process::Gtaw, Process::Saw]).suit(Some(Flux)), Suit::Flux);
        assert_eq!(SuitableForms::of(&[Process::Gmaw]).suit(Some(Flux)), Suit::Unsuited);
    }

    #[test]
    fn an_unknown_form_is_never_ruled_out() {
        for process in
            [Process::Smaw, Process::Gtaw, Process::Paw, Process::Gmaw, Process::Fcaw, Process::Saw]
        {
            assert_eq!(SuitableForms::of(&[process]).suit(None), Suit::Candidate);
        }
    }
}
