//! The command line: one definition from which help, completions and the reference page come.

use crate::command;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Which rod went into which weld: the filler-metal record of a shop.
///
/// rodbook keeps the custody of filler metal from the crib to the joint, says which lot can be in which weld and how
/// certain that is, and keeps the record in a form that nobody can quietly change. It informs; what becomes of a weld
/// is the inspector's decision, under the governing code.
#[derive(Debug, Parser)]
#[command(
    name = "rodbook",
    version,
    max_term_width = 100,
    propagate_version = true,
    disable_help_subcommand = true
)]
#[command(after_help = AFTER_HELP)]
pub struct Cli {
    /// Options common to all verbs.
    #[command(flatten)]
    pub global: Global,
    /// The verb.
    #[command(subcommand)]
    pub verb: Verb,
}

const AFTER_HELP: &str = "\
Exit codes:
  0  done, an empty answer included; for verify: sound
  1  failed for another reason (disk, permissions, bad configuration)
  2  command line or input file not understood, or a label that means several things
  3  refused by a rule; nothing written
  4  no such lot, joint, slip or person
  5  damage found
  6  busy: another writer holds the book
  7  book or exchange file from a newer program";

/// Options common to all verbs.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Common to all verbs")]
pub struct Global {
    /// The book [default: shop.rodbook in this folder]
    #[arg(long, global = true, env = "RODBOOK_BOOK", value_name = "FILE")]
    pub book: Option<PathBuf>,
    /// How to answer
    #[arg(long, global = true, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Badge of the person acting
    #[arg(long, global = true, env = "RODBOOK_BY", value_name = "BADGE")]
    pub by: Option<String>,
    /// When it happened, if not now: "2026-03-02 14:30" in the shop's zone, or RFC 3339
    #[arg(long, global = true, value_name = "TIME")]
    pub at: Option<String>,
}

/// How to answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people
    Text,
    /// For programs: one JSON object
    Json,
    /// For spreadsheets, where the answer is a table
    Csv,
}

/// Options of verbs that write.
#[derive(Debug, Clone, Copy, Args)]
pub struct DryRun {
    /// Decide and show, but write nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Option of verbs that a rule can refuse.
#[derive(Debug, Clone, Args)]
pub struct Overriding {
    /// Set the refusing rule aside, for this reason (inspectors)
    #[arg(long = "override", value_name = "REASON")]
    pub overriding: Option<String>,
}

/// What rodbook can be told and asked.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Make a new book, a station key, and the opening entry
    Init(command::init::InitArgs),
    /// Build the demo shop and walk through it
    Demo(command::demo::DemoArgs),
    /// Enrol a person, or change their name or roles
    Enroll(command::enroll::EnrollArgs),
    /// Declare a joint, or describe it anew
    Joint(Box<command::joint::JointArgs>),
    /// Declare the shop's shifts
    Shifts(command::shifts::ShiftsArgs),
    /// Book in a delivery of a lot
    Receive(Box<command::receive::ReceiveArgs>),
    /// Release a lot for issue (inspectors)
    Release(command::lot_status::ReleaseArgs),
    /// Put a lot on hold (inspectors)
    Hold(command::lot_status::HoldArgs),
    /// Reject a lot: never issued again (inspectors)
    Reject(command::lot_status::RejectArgs),
    /// Hand out metal of one lot to one welder; prints the slip
    Issue(command::issue::IssueArgs),
    /// Take metal back on a slip; closes it unless --more
    Return(command::give_back::ReturnArgs),
    /// Record that a welder handed metal to another: a new slip
    HandOver(command::hand_over::HandOverArgs),
    /// Record a welder's word that nothing is left: closes their open slips
    Clear(command::clear::ClearArgs),
    /// Record what was welded
    Weld(command::weld::WeldArgs),
    /// Record what an inspector saw in a welder's hand
    SpotCheck(command::spot_check::SpotCheckArgs),
    /// Which rod went into which weld, in both directions
    Trace(command::trace::TraceArgs),
    /// What is in the crib
    Stock(command::stock::StockArgs),
    /// What is out, with whom, due when
    Out(command::out::OutArgs),
    /// Print a slip again
    Slip(command::slip::SlipArgs),
    /// Record that metal is out for good: from a slip, from the crib, or what is in a quiver
    Scrap(command::scrap::ScrapArgs),
    /// Recall a lot: freeze it, and list where it is and where it went (inspectors)
    Recall(command::recall::RecallArgs),
    /// Record that wire was found and nobody can tell what it is; lists the joints at risk
    Unmarked(command::unmarked::UnmarkedArgs),
    /// Say an entry anew; the old one stays, struck
    Correct(command::correct::CorrectArgs),
    /// Say that an entry never was; it stays, struck
    Void(command::void::VoidArgs),
    /// Close a finding (inspectors)
    Dispose(command::dispose::DisposeArgs),
    /// What a person must look at
    Findings(command::findings::FindingsArgs),
    /// What is missing: joints without lot, lots without certificate, open slips, missing numbers
    Gaps(command::gaps::GapsArgs),
    /// Count what went out against what came back
    Reconcile(command::reconcile::ReconcileArgs),
    /// Write something down about a joint, lot, slip, person or entry; the record keeps it for ever
    Note(command::note::NoteArgs),
    /// Check certificates against limits; file them, and look after the files
    Cert(command::cert::CertArgs),
    /// Which classes a reading of an unmarked rod fits
    Identify(command::identify::IdentifyArgs),
    /// Record what an instrument read on a rod, a lot, a slip, found wire or a joint
    Reading(command::reading::ReadingArgs),
    /// Tables of limits: what is built in, the shop's own, who signed them off
    Table(command::table::TableArgs),
    /// Heat input, weld metal, rods and the like, without a book
    Calc(Box<command::calc::CalcArgs>),
    /// Take back everything a welder has out, in one go
    ShiftEnd(command::shift_end::ShiftEndArgs),
    /// Import the shop's CSV files, all or nothing
    Import(command::import::ImportArgs),
    /// Write out the lot-to-joint list, or the whole record
    Export(command::export::ExportArgs),
    /// Check everything, and say what is shown and what is not
    Verify(command::verify::VerifyArgs),
    /// Make the derived tables anew from the record
    Rebuild(command::rebuild::RebuildArgs),
    /// Write a safe copy of the book
    Backup(command::backup::BackupArgs),
    /// Make a new book from a copy; a new station continues it
    Restore(command::restore::RestoreArgs),
    /// Print the script that completes command lines in a shell
    Completions(command::completions::CompletionsArgs),
}

impl Verb {
    /// Whether it records something that happened at a claimed time, so that `--at` means something.
    pub fn happens_at_a_time(&self) -> bool {
        match self {
            Verb::Receive(_)
            | Verb::Release(_)
            | Verb::Hold(_)
            | Verb::Issue(_)
            | Verb::Return(_)
            | Verb::HandOver(_)
            | Verb::Clear(_)
            | Verb::Weld(_)
            | Verb::SpotCheck(_)
            | Verb::Scrap(_)
            | Verb::Recall(_)
            | Verb::Unmarked(_)
            | Verb::Dispose(_)
            | Verb::Note(_)
            | Verb::Cert(_)
            | Verb::Reading(_)
            | Verb::Identify(_)
            | Verb::Table(_)
            | Verb::ShiftEnd(_)
            | Verb::Reject(_) => true,
            Verb::Init(_)
            | Verb::Demo(_)
            | Verb::Enroll(_)
            | Verb::Joint(_)
            | Verb::Shifts(_)
            | Verb::Trace(_)
            | Verb::Stock(_)
            | Verb::Out(_)
            | Verb::Slip(_)
            | Verb::Correct(_)
            | Verb::Void(_)
            | Verb::Findings(_)
            | Verb::Gaps(_)
            | Verb::Reconcile(_)
            | Verb::Calc(_)
            | Verb::Import(_)
            | Verb::Export(_)
            | Verb::Verify(_)
            | Verb::Rebuild(_)
            | Verb::Backup(_)
            | Verb::Restore(_)
            | Verb::Completions(_) => false,
        }
    }
}
