//! Exit codes: what a script should do about the outcome.

/// Done, an empty answer included; for `verify`: sound.
pub const DONE: u8 = 0;
/// Failed for another reason: disk, permissions, configuration.
pub const FAILED: u8 = 1;
/// Command line or input file not understood, or a label that means several things.
pub const NOT_UNDERSTOOD: u8 = 2;
/// Refused by a rule; nothing written.
pub const REFUSED: u8 = 3;
/// No such lot, joint, slip or person.
pub const NOT_FOUND: u8 = 4;
/// Damage found.
pub const DAMAGED: u8 = 5;
/// Busy: another writer holds the book.
pub const BUSY: u8 = 6;
/// Book or exchange file from a newer program.
pub const TOO_NEW: u8 = 7;

/// All codes with their meaning, for the help and the reference page.
pub const ALL: &[(u8, &str)] = &[
    (DONE, "done, an empty answer included; for verify: sound"),
    (FAILED, "failed for another reason (disk, permissions, bad configuration)"),
    (NOT_UNDERSTOOD, "command line or input file not understood, or a label that means several things"),
    (REFUSED, "refused by a rule; nothing written"),
    (NOT_FOUND, "no such lot, joint, slip or person (near matches are listed)"),
    (DAMAGED, "damage found"),
    (BUSY, "busy: another writer holds the book"),
    (TOO_NEW, "book or exchange file from a newer program"),
];
