//! Every refusal and every error, each with the smallest input that causes it.

use super::starts::Start;
use ledger::Error;

/// One error and how it comes about.
#[derive(Debug)]
pub(crate) struct Scenario {
    /// The code it must have.
    pub(crate) code: &'static str,
    /// The exit code it must have.
    pub(crate) exit: u8,
    /// What is wrong, in a few words.
    pub(crate) about: &'static str,
    pub(crate) start: Start,
    /// Commands that are done first.
    pub(crate) before: &'static [&'static str],
    pub(crate) situation: Situation,
    /// The command that fails.
    pub(crate) command: &'static str,
}

/// What else is so while the command runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Situation {
    Ordinary,
    /// A file that is there from the beginning, with its content.
    File(&'static str, &'static str),
    /// The book was changed behind the program's back: in words, and in SQL.
    ChangedBook(&'static str, &'static str),
    /// Somebody else holds the book.
    AnotherWriter,
    /// Keys are looked for in another folder.
    AnotherHome,
    /// Standard output is a full disk.
    ClosedOutput,
    /// No file may become larger than so many KiB.
    FileLimit(u64),
    /// The program may not do everything: in words, and as modes of files.
    Permission(&'static str, &'static [(&'static str, u32)]),
}

/// Wire that nobody can tell what it is.
const UNMARKED: &str = "unmarked --at-place 'bay 3, bench 2' --by A-01";

/// A scenario of commands alone.
const fn typed(
    code: &'static str,
    exit: u8,
    start: Start,
    about: &'static str,
    command: &'static str,
) -> Scenario {
    Scenario { code, exit, about, start, before: &[], situation: Situation::Ordinary, command }
}

impl Scenario {
    const fn before(mut self, before: &'static [&'static str]) -> Self {
        self.before = before;
        self
    }

    const fn with(mut self, situation: Situation) -> Self {
        self.situation = situation;
        self
    }
}

/// All of them.
pub(crate) fn all() -> Vec<Scenario> {
    let mut all = refused();
    all.extend(not_understood());
    all.extend(not_found());
    all.extend(of_the_file());
    all
}

fn refused() -> Vec<Scenario> {
    use Start::{Book, Crib, Window};
    let refused = |code, start, about, command| typed(code, 3, start, about, command);
    vec![
        refused("role-needed", Crib, "an attendant releases a lot", "release R-1028 --by A-01"),
        refused(
            "time-in-future",
            Crib,
            "the claimed time has not come yet",
            "issue R-1028 W-12 6 rods --at '2199-04-07 06:10' --by A-01",
        ),
        refused(
            "lot-has-another-code",
            Crib,
            "the same lot is booked in under a second code",
            "receive --lot R-1029 --maker 'Tarvemire Wire' --maker-lot 4117-B --spec A5.18 --class ER70S-2 --size '3/32 in x 36 in' --form cut-length --by A-01",
        ),
        refused(
            "before-receipt",
            Crib,
            "issued before it was received",
            "issue R-1028 W-12 6 rods --at '2026-03-09 09:19' --by A-01",
        ),
        refused(
            "before-receipt",
            Crib,
            "released before it was received",
            "release R-1028 --at '2026-03-09 09:19' --by I-21",
        ),
        refused(
            "lot-not-released",
            Book,
            "nobody has released the lot",
            "issue R-1031 W-12 6 rods --by A-01",
        )
        .before(&["receive --lot R-1031 --maker 'Ostrabeck Metals' --maker-lot 88416 --by A-01"]),
        refused("lot-not-released", Crib, "the lot is on hold", "issue R-1028 W-12 6 rods --by A-01")
            .before(&["hold R-1028 --why 'letter of the maker' --at '2026-04-01 10:00' --by I-21"]),
        refused("more-than-in-crib", Crib, "more than there is", "issue R-1028 W-12 101 rods --by A-01"),
        refused("nothing-to-issue", Crib, "nothing is handed out", "issue R-1028 W-12 0 rods --by A-01"),
        refused(
            "due-before-issue",
            Crib,
            "due back before it goes out",
            "issue R-1028 W-12 6 rods --due '2026-04-07 06:00' --at '2026-04-07 06:10' --by A-01",
        ),
        refused(
            "slip-number-taken",
            Window,
            "a slip number that is in the book",
            "issue R-1028 W-12 6 rods --slip S-00001 --by A-01",
        ),
        refused(
            "before-issue",
            Window,
            "returned before it was issued",
            "return S-00001 2 rods --condition marked --at '2026-04-07 06:00' --by A-01",
        ),
        refused(
            "more-than-out",
            Window,
            "more comes back than is out",
            "return S-00001 25 rods --condition marked --by A-01",
        ),
        refused(
            "slip-closed",
            Window,
            "the slip is closed",
            "return S-00001 1 rod --condition marked --by A-01",
        )
        .before(&["return S-00001 6 rods --condition marked --at '2026-04-07 14:10' --by A-01"]),
        refused("same-holder", Window, "giver and taker are one", "hand-over S-00001 W-12 2 rods --by A-01"),
        refused(
            "ends-before-it-starts",
            Crib,
            "a weld that ends before it starts",
            "weld M-101 W-12 --from '2026-04-07 08:00' --to '2026-04-07 07:00' --by A-01",
        ),
        refused("lot-rejected", Crib, "a rejected lot is released", "release R-1028 --by I-21")
            .before(&["reject R-1028 --why 'wrong flux' --at '2026-04-01 10:00' --by I-21"]),
        refused("lot-rejected", Crib, "a rejected lot is issued", "issue R-1028 W-12 6 rods --by A-01")
            .before(&["reject R-1028 --why 'wrong flux' --at '2026-04-01 10:00' --by I-21"]),
        refused(
            "lot-number-not-known",
            Crib,
            "a lot without a number, for a joint that needs one",
            "issue R-7 W-12 6 rods --joint M-101 --by A-01",
        )
        .before(&[
            "receive --lot R-7 --maker-lot unknown --quantity '20 rods' --by A-01",
            "release R-7 --by I-21",
        ]),
        refused(
            "papers-not-as-asked",
            Crib,
            "a lot of another lot class than the job asks",
            "issue R-1028 W-12 6 rods --joint M-105 --by A-01",
        )
        .before(&[
            "joint M-105 --asks-lot-class S3 --by A-01",
            "cert values TW-26-0388 --lot R-1028 --lot-class S1 --by A-01",
        ]),
        refused(
            "put-aside",
            Window,
            "only what came back unmarked is left",
            "issue R-1028 W-14 77 rods --by A-01",
        )
        .before(&["return S-00001 24 rods --condition unmarked --by A-01"]),
        refused(
            "no-proof",
            Book,
            "marked anew without proof",
            "dispose FINDING --as re-marked --why 'it looks like it' --by I-21",
        )
        .before(&[UNMARKED]),
        refused(
            "not-re-marked",
            Book,
            "a mark for what is not marked",
            "dispose FINDING --as scrapped --class ER70S-2 --why 'read' --by I-21",
        )
        .before(&[UNMARKED]),
        refused(
            "no-joint",
            Book,
            "nothing to cut out",
            "dispose FINDING --as cut-out --why 'NCR 26-014' --by I-21",
        )
        .before(&[UNMARKED]),
        refused(
            "already-disposed",
            Book,
            "closed a second time",
            "dispose FINDING --as mistaken --why 'a stub' --by I-21",
        )
        .before(&[UNMARKED, "dispose FINDING --as scrapped --why 'into the bin' --by I-21"]),
        refused(
            "nothing-to-mark",
            Crib,
            "a weld cannot be marked anew",
            "dispose FINDING --as re-marked --class ER70S-2 --why 'read' --by I-21",
        )
        .before(&["weld M-101 W-12 --by A-01"]),
        refused(
            "nothing-to-scrap",
            Crib,
            "a weld cannot be scrapped",
            "dispose FINDING --as scrapped --why 'into the bin' --by I-21",
        )
        .before(&["weld M-101 W-12 --by A-01"]),
        refused(
            "joint-number-taken",
            Crib,
            "a joint gets the number of another",
            "joint M-102 --renumbers M-101 --by A-01",
        )
        .before(&["joint M-102 --by A-01"]),
        refused(
            "stock-not-known",
            Book,
            "all of an amount that is not known",
            "scrap lot R-7 --why rusted --by A-01",
        )
        .before(&[
            "receive --lot R-7 --maker-lot 88416 --quantity '20 rods' --by A-01",
            "release R-7 --by I-21",
            "issue R-7 W-12 1 kg --by A-01",
        ]),
        refused(
            "slip-of-another",
            Window,
            "somebody gives back what another has",
            "shift-end W-14 'S-00001: 0 rods' --by A-01",
        ),
        refused(
            "nothing-to-correct",
            Window,
            "the field says that already",
            "correct 8 --set 'quantity=24 rods' --why 'as on the slip' --by A-01",
        ),
        refused(
            "already-struck",
            Window,
            "the entry was corrected before",
            "correct 8 --set 'quantity=22 rods' --why 'counted again' --by A-01",
        )
        .before(&["correct 8 --set 'quantity=20 rods' --why 'four stayed in the can' --by A-01"]),
        refused("cannot-be-corrected", Book, "it opened the station", "correct 0 --set name=x --why renamed --by I-21"),
        refused("cannot-be-voided", Book, "it opened the station", "void 0 --why renamed --by I-21"),
        refused("has-followers", Window, "metal came back on the slip", "void 8 --why 'typed twice' --by A-01")
            .before(&["return S-00001 6 rods --condition marked --by A-01"]),
        refused("is-in-use", Window, "a slip names the person", "void 3 --why 'never here' --by A-01"),
        refused(
            "is-another-lot",
            Book,
            "by the correction it would be the other lot",
            "correct ENTRY --set maker_lot=1 --why 'wrong digit' --by A-01",
        )
        .before(&[
            "receive --lot R-7 --maker M --maker-lot 1 --class ER70S-2 --size '2.4 mm' --form spool --by A-01",
            "receive --lot R-8 --maker M --maker-lot 2 --class ER70S-2 --size '2.4 mm' --form spool --by A-01",
        ]),
        refused(
            "slip-from-itself",
            Window,
            "the slip would come from one that came from it",
            "correct 9 --set slip=S-00003 --why 'wrong number' --by A-01",
        )
        .before(&[
            "hand-over S-00001 W-14 8 rods --by A-01",
            "hand-over S-00002 W-12 4 rods --by A-01",
        ]),
        refused(
            "follows-its-slip",
            Window,
            "the return carries the holder of its slip",
            "void 11 --why 'was right before' --by A-01",
        )
        .before(&[
            "return S-00001 6 rods --condition marked --by A-01",
            "correct 8 --set welder=W-14 --why 'it was W-14' --by A-01",
        ]),
        refused(
            "corrects-what-is-void",
            Window,
            "what the correction corrects was voided since",
            "void 10 --why 'was right after all' --by A-01",
        )
        .before(&[
            "correct 8 --set 'quantity=20 rods' --why 'four stayed in the can' --by A-01",
            "void 9 --why 'they did not' --by A-01",
            "void 8 --why 'typed twice' --by A-01",
        ]),
        refused(
            "corrected-otherwise",
            Window,
            "another correction stands in its place",
            "void 10 --why 'was right after all' --by A-01",
        )
        .before(&[
            "correct 8 --set 'quantity=20 rods' --why 'four stayed in the can' --by A-01",
            "void 9 --why 'they did not' --by A-01",
            "correct 8 --set 'quantity=22 rods' --why 'two stayed in the can' --by A-01",
        ]),
        refused("joint-void", Crib, "its declaration was voided", "weld M-9 W-12 --by A-01")
            .before(&["joint M-9 --by A-01", "void ENTRY --why 'wrong drawing' --by A-01"]),
        refused("person-void", Crib, "their enrolment was voided", "issue R-1028 W-20 6 rods --by A-01").before(&[
            "enroll W-20 --name 'Sten Fjordhouse' --role welder --by I-21",
            "void ENTRY --why 'never came' --by A-01",
        ]),
        refused("wps-void", Book, "its declaration was voided", "joint M-2 --wps P-1 --by A-01")
            .before(&["import slips --by A-01", "void 6 --why 'not ours' --by A-01"])
            .with(Situation::File("slips/wps.csv", "wps,revision\nP-1,0\n")),
        refused("wps-number-taken", Book, "another procedure has that number", "correct 7 --set wps=P-1 --why 'wrong digit' --by A-01")
            .before(&["import slips --by A-01"])
            .with(Situation::File("slips/wps.csv", "wps,revision\nP-1,0\nP-2,0\n")),
        refused("lot-void", Book, "its receipt was voided", "issue R-7 W-12 6 rods --by A-01").before(&[
            "receive --lot R-7 --maker-lot 88416 --by A-01",
            "void ENTRY --why 'typed twice' --by A-01",
        ]),
        refused("slip-void", Crib, "its issue was voided", "scrap slip S-00001 --why bent --by A-01").before(&[
            "issue R-1028 W-12 6 rods --by A-01",
            "void ENTRY --why 'typed twice' --by A-01",
        ]),
        refused("slips-left", Window, "a slip is left out", "shift-end W-12 'S-00002: 0 rods' --by A-01")
            .before(&["issue R-1028 W-12 6 rods --by A-01"]),
        refused(
            "paper-empty",
            Crib,
            "an empty file",
            "cert file scan.pdf --no TW-26-0388 --lot R-1028 --by A-01",
        )
        .with(Situation::File("scan.pdf", "")),
        refused(
            "paper-not-a-file",
            Crib,
            "a folder is filed as a paper",
            "cert file keys --no TW-26-0388 --lot R-1028 --by A-01",
        ),
        refused(
            "already-filed",
            Crib,
            "the same paper is filed a second time",
            "cert file scan.pdf --no TW-26-0388 --lot R-1028 --by A-01",
        )
        .before(&["cert file scan.pdf --no TW-26-0388 --lot R-1028 --by A-01"])
        .with(Situation::File("scan.pdf", "%PDF-1.7\n")),
        refused("file-imported-before", Book, "a file is imported a second time", "import slips --by A-01")
            .before(&["import slips --by A-01"])
            .with(Situation::File("slips/people.csv", "badge,name,roles\nW-16,Sten Fjordhouse,welder\n")),
    ]
}

fn not_understood() -> Vec<Scenario> {
    use Start::{Book, Crib, Nothing, Window};
    let typed = |code, start, about, command| typed(code, 2, start, about, command);
    vec![
        typed("command-line", Nothing, "no verb", ""),
        typed("command-line", Nothing, "no such verb", "isue R-1028"),
        typed("command-line", Nothing, "no such option", "stock --clas 7018"),
        typed("command-line", Nothing, "something is missing", "issue R-1028"),
        typed("command-line", Nothing, "no such value", "return S-00001 2 rods --condition rusty"),
        typed("not-understood", Crib, "nobody is named", "issue R-1028 W-12 6 rods"),
        typed("not-understood", Crib, "a number in words", "issue R-1028 W-12 six rods --by A-01"),
        typed("not-understood", Crib, "an unknown unit", "issue R-1028 W-12 6 sticks --by A-01"),
        typed("not-understood", Crib, "no unit", "issue R-1028 W-12 6 --by A-01"),
        typed(
            "not-understood",
            Crib,
            "a time that is none",
            "issue R-1028 W-12 6 rods --at yesterday --by A-01",
        ),
        typed(
            "not-understood",
            Crib,
            "a local time that the change to summer time left out",
            "issue R-1028 W-12 6 rods --at '2025-09-28 02:30' --by A-01",
        ),
        typed("not-understood", Book, "a size that is none", "receive --lot R-1 --size '3/32' --by A-01"),
        typed("not-understood", Book, "a form that is none", "receive --lot R-1 --form stick --by A-01"),
        typed("not-understood", Book, "an empty code", "receive --lot '' --by A-01"),
        typed("not-understood", Book, "a mass that is none", "receive --lot R-1 --piece-g heavy --by A-01"),
        typed("not-understood", Book, "a role that is none", "enroll W-15 --name 'Runa Kestwick' --role smith --by I-21"),
        typed("not-understood", Crib, "an empty process", "weld M-101 W-12 --process '' --by A-01"),
        typed(
            "not-understood",
            Window,
            "lot and slip disagree",
            "weld M-101 W-12 --lot R-1031 --slip S-00001 --by A-01",
        )
        .before(&["receive --lot R-1031 --maker 'Ostrabeck Metals' --maker-lot 88416 --by A-01"]),
        typed("not-understood", Nothing, "a zone that is none", "init --station 'crib 1' --zone Auckland --by I-21"),
        typed("not-understood", Nothing, "a shift that is none", "init --station 'crib 1' --zone UTC --shift early --by I-21"),
        typed("not-understood", Book, "a pin that is none", "verify --pin 1234"),
        typed("not-understood", Book, "a copy through a pipe", "backup -"),
        typed("not-understood", Book, "two streams to one output", "export lot-joint --manifest -"),
        typed("not-understood", Book, "a folder without import files", "import keys --by A-01"),
        typed("ambiguous", Book, "two makers use one number", "release 4117 --by I-21").before(&[
            "receive --lot R-1 --maker 'Tarvemire Wire' --maker-lot 4117 --class ER70S-2 --by A-01",
            "receive --lot R-2 --maker 'Ostrabeck Metals' --maker-lot 4117 --class ER70S-6 --by A-01",
        ]),
        typed("bad-rows", Book, "cells that cannot be taken", "import slips --by A-01").with(Situation::File(
            "slips/issues.csv",
            "slip,lot,welder,quantity,issued_at\n26-0001,R-9,W-12,6 rods,2026-04-07 06:10\n26-0002,R-9,W-12,six,2026-04-07\n",
        )),
        typed("not-a-book", Nothing, "a file that is something else", "--book notes.txt stock")
            .with(Situation::File("notes.txt", "Book no. 7\n")),
    ]
}

fn not_found() -> Vec<Scenario> {
    use Start::{Book, Crib, Window};
    let typed = |start, about, command| typed("not-found", 4, start, about, command);
    vec![
        typed(Crib, "a lot, with a near one", "trace lot R-1O28"),
        typed(Book, "a lot, with nothing near it", "trace lot R-1028"),
        typed(Window, "a slip", "slip S-00017"),
        typed(Book, "a joint", "trace joint M-101"),
        typed(Book, "a person", "clear W-99 --by A-01"),
        typed(Book, "the person acting", "clear W-12 --by A-07"),
        typed(Crib, "a heat", "trace heat 7K2241"),
        typed(Crib, "a certificate", "trace cert 5"),
        typed(Book, "an identity", "trace lot 01935f2e-8c00-7000-8000-000000000014"),
    ]
}

fn of_the_file() -> Vec<Scenario> {
    use Start::{Book, Crib, Nothing};
    vec![
        typed("no-book", 1, Nothing, "there is no book", "stock"),
        typed("exists", 1, Book, "a book is there already", "init --station 'crib 2' --zone UTC --by I-21"),
        typed("bad-place", 1, Book, "a folder is no place for a book", "--book keys stock"),
        typed("no-key", 1, Crib, "the key is elsewhere", "issue R-1028 W-12 6 rods --by A-01")
            .with(Situation::AnotherHome),
        typed("io", 1, Book, "a folder that is not there", "backup nowhere/copy.rodbook"),
        typed("outdated-tables", 1, Crib, "the tables were made by another version", "stock").with(
            Situation::ChangedBook("another version made the tables", "UPDATE book SET facts_version = facts_version + 1"),
        ),
        typed("failed", 1, Crib, "the answer cannot be printed", "stock").with(Situation::ClosedOutput),
        typed("failed", 1, Book, "a file cannot be written", "export lot-joint --out nowhere/list.csv"),
        typed("disk-full", 1, Crib, "the disk is full", "issue R-1028 W-12 6 rods --by A-01").with(
            // An AUTOINCREMENT key at its end gives the database the same answer as a full disk: SQLITE_FULL
            // (sqlite.org/autoinc.html).
            Situation::ChangedBook(
                "the database finds no room: for this page, by a trigger in the file that says so",
                "CREATE TABLE full (n INTEGER PRIMARY KEY AUTOINCREMENT); INSERT INTO full VALUES (9223372036854775807);
                 CREATE TRIGGER fill AFTER INSERT ON entry BEGIN INSERT INTO full VALUES (NULL); END",
            ),
        ),
        typed("database", 1, Crib, "the book cannot be written", "issue R-1028 W-12 6 rods --by A-01")
            .with(Situation::FileLimit(1)),
        typed("read-only", 1, Crib, "the folder may not be written", "issue R-1028 W-12 6 rods --by A-01").with(
            Situation::Permission("the book and its folder may only be read", &[("shop.rodbook", 0o444), ("", 0o555)]),
        ),
        typed("cannot-open", 1, Crib, "the book may not be read", "stock")
            .with(Situation::Permission("the book may not be read", &[("shop.rodbook", 0o000)])),
        typed("damaged", 5, Crib, "the last entry is gone", "issue R-1028 W-12 6 rods --by A-01").with(
            Situation::ChangedBook(
                "the last entry was taken out of the file",
                "DROP TRIGGER entry_no_delete; DELETE FROM entry WHERE place = (SELECT max(place) FROM entry)",
            ),
        ),
        typed("damaged", 5, Crib, "a fact that no entry explains", "trace lot R-1028").with(
            Situation::ChangedBook("a table that answers are read from was changed", "DELETE FROM fact_lot"),
        ),
        typed("busy", 6, Crib, "another program is writing", "issue R-1028 W-12 6 rods --by A-01")
            .with(Situation::AnotherWriter),
        typed("too-new", 7, Crib, "a newer program wrote the book", "stock")
            .with(Situation::ChangedBook("a newer program wrote the book", "PRAGMA user_version = 99")),
    ]
}

/// Errors that no command line on a sound machine brings about: in words, why not, and the value.
pub(crate) fn beyond() -> Vec<(&'static str, &'static str, Error)> {
    vec![
        (
            "the mark did not follow",
            "It needs a disk that fails between two writes of one command.",
            Error::Unmarked("writing the high-water mark [FOLDER]/mark failed".into()),
        ),
        (
            "a refusal without a rule",
            "Every rule gives its own code; this one would be printed for a rule that gives none.",
            Error::Refused(Vec::new()),
        ),
        (
            "a badge that another person carries",
            "One station gives a badge to one person; it takes the entries of two.",
            Error::Refused(vec![record::rules::amend::number_taken("person", "W-12")]),
        ),
        ("a paper of more than 64 MiB", "A file of that size has no place on a page.", too_large()),
    ]
}

/// What is said of a scan one byte larger than is filed.
fn too_large() -> Error {
    use record::rules::certificate::{Given, MOST_BYTES, paper};
    let refusal = paper("scan.tif", Given::File(MOST_BYTES + 1)).err();
    Error::Refused(refusal.into_iter().collect())
}
