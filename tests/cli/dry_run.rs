//! `--dry-run`: every verb that writes decides and shows, and leaves everything as it was.

use crate::shop::Shop;

/// One that would be done, and one that would be refused, of every writing verb.
const WRITING: &[&str] = &[
    "enroll W-15 --name 'Runa Kestwick' --role welder --by I-21",
    "joint M-110 --level lot --by A-01",
    "shifts 07:00-15:30 --by A-01",
    "receive --lot R-1050 --maker 'Tarvemire Wire' --maker-lot 3308-C --quantity '5 kg' --by A-01",
    "release R-1031 --by I-21",
    "hold R-1040 --why 'letter of the maker' --by I-21",
    "issue R-1028 W-12 6 rods --by A-01",
    "issue R-1031 W-12 6 rods --override 'label read' --by I-21",
    "return S-00002 4 rods --condition marked --more --by A-01",
    "hand-over S-00002 W-12 4 rods --by A-01",
    "scrap slip S-00002 1 rod --why bent --by A-01",
    "shift-end W-14 'S-00002: 1 rod' --only --by A-01",
    "clear W-14 --by A-01",
    "weld M-102 W-14 --process GTAW --from '2026-04-07 10:00' --by A-01",
    "spot-check M-101 W-12 --legible yes --reads 70S-2 --at '2026-04-07 08:30' --by I-21",
    "import slips --by A-01",
    "reject R-1040 --why 'deposit out of limits' --by I-21",
    "recall R-1082 --why 'letter of the maker' --by I-21",
    "slip S-00002 --reprint --why burnt --by A-01",
    "note joint M-101 'root seen by the client' --by A-01",
    "unmarked --at-place 'bay 3' --welder W-12 --by I-21",
    "cert file slips/people.csv --no TW-26-0388 --lot R-1028 --by A-01",
    "correct 16 --set quiver=Q-9 --why 'Q-9 on the slip' --by A-01",
    "void 18 --why 'written twice' --by A-01",
];

#[test]
fn every_writing_verb_has_a_dry_run() {
    let shop = Shop::worked();
    shop.write("slips/people.csv", "badge,name,roles\nW-16,Sten Fjordhouse,welder\n");
    for line in WRITING {
        let dry = shop.writes_nothing(&format!("{line} --dry-run"), 0);
        assert!(dry.stdout.ends_with("Dry run: nothing was written.\n"), "{}", dry.shown());
        let json = shop.ok(&format!("{line} --dry-run --format json"));
        let json = crate::shop::parse_one(&json.stdout, line);
        assert_eq!(json["dry_run"], true, "{line}");
        assert_eq!(json["entries"], serde_json::json!([]), "{line}: no id of an entry that is not");
    }
    // What was tried can be done, and then an entry is there: the dry run did not lie.
    for line in WRITING {
        let before = shop.count();
        let done = shop.ok(line);
        assert!(shop.count() > before, "{}", done.shown());
    }
    shop.is_sound();
}

#[test]
fn a_dry_run_refuses_what_the_verb_refuses() {
    let shop = Shop::worked();
    for (line, code) in [
        ("issue R-1031 W-12 6 rods --by A-01", 3),
        ("issue R-1028 W-99 6 rods --by A-01", 4),
        ("issue R-1028 W-12 six rods --by A-01", 2),
        ("release R-1031 --by A-01", 3),
        ("return S-00001 4 rods --condition marked --by A-01", 3),
        ("import nowhere --by A-01", 2),
    ] {
        let _ = shop.writes_nothing(&format!("{line} --dry-run"), code);
    }
}

#[test]
fn a_dry_run_of_init_makes_no_book_and_no_key() {
    let shop = Shop::empty();
    let dry = shop.ok("init --station crib --zone Pacific/Auckland --by A-01 --dry-run");
    assert!(dry.stdout.ends_with("Dry run: nothing was written.\n"), "{}", dry.shown());
    assert!(!shop.book().exists());
    assert!(!has_a_file(&shop.home()), "no key is left");
}

#[test]
fn a_dry_run_of_restore_makes_no_book_and_no_key() {
    let shop = Shop::worked();
    let _ = shop.ok("backup copy.rodbook");
    let _ = shop.writes_nothing("--book new.rodbook --by A-01 restore copy.rodbook --dry-run", 0);
    assert!(!shop.file("new.rodbook").exists());
}

fn has_a_file(dir: &std::path::Path) -> bool {
    std::fs::read_dir(dir).is_ok_and(|mut entries| {
        entries.any(|e| {
            let path = e.unwrap().path();
            path.is_file() || has_a_file(&path)
        })
    })
}
