//! Readers that go away, and standard output that cannot take what is said.

use crate::shop::{RODBOOK, Shop};
use std::process::Stdio;

/// The exit code of the program at the head of a pipe, and what it said on standard error.
#[cfg(unix)]
fn piped_into(shop: &Shop, line: &str, reader: &str) -> (String, String) {
    let script = format!("{{ \"$0\" {line}; echo $? > code; }} | {reader}");
    let done = shop.program("/bin/sh").args(["-c", &script, RODBOOK]).stdout(Stdio::null()).output().unwrap();
    (shop.read("code").trim().to_owned(), String::from_utf8_lossy(&done.stderr).into_owned())
}

/// `rodbook … | true`, `| head -1`: quiet, and what was written was written.
#[cfg(unix)]
#[test]
fn a_reader_that_goes_away() {
    let shop = Shop::new();
    shop.fixture("demo-shop", "slips");
    let _ = shop.ok("import slips --by A-01");
    for line in [
        "stock",
        "stock --format json",
        "export lot-joint",
        "export record",
        "trace lot R-1028",
        "verify",
        "--help",
    ] {
        for reader in ["true", "head -c 1", "exec 0<&-; sleep 0.1"] {
            let (code, stderr) = piped_into(&shop, line, reader);
            assert_eq!((code.as_str(), stderr.as_str()), ("0", ""), "{line} | {reader}");
        }
    }
    let before = shop.count();
    for _ in 0..5 {
        let (code, stderr) = piped_into(&shop, "issue R-1028 W-12 1 rod --by A-01", "true");
        assert_eq!((code.as_str(), stderr.as_str()), ("0", ""));
    }
    assert_eq!(shop.count(), before + 5);
    shop.is_sound();
}

/// A closed standard error: nobody to tell, and no crash.
#[cfg(unix)]
#[test]
fn standard_error_that_is_closed() {
    let shop = Shop::worked();
    for (line, code) in
        [("trace lot R-9", 4), ("issue R-1031 W-12 1 rod --by A-01", 3), ("isue", 2), ("stock", 0)]
    {
        let done = shop
            .program("/bin/sh")
            .args(["-c", &format!("exec \"$0\" {line} 2>&-"), RODBOOK])
            .output()
            .unwrap();
        assert_eq!(done.status.code(), Some(code), "{line}");
    }
}

/// A disk that takes no more of the answer: that is said. But what is in the book is in the book, and "nothing was written"
/// would send the attendant to hand the rods out twice.
#[cfg(target_os = "linux")]
#[test]
fn standard_output_that_is_full() {
    let shop = Shop::worked();
    let full = || std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let answer = shop.command().arg("stock").stdout(full()).output().unwrap();
    assert_eq!(answer.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&answer.stderr).contains("could not be printed"));
    let before = shop.count();
    let done = shop
        .command()
        .args(["issue", "R-1028", "W-12", "1 rod", "--by", "A-01"])
        .stdout(full())
        .output()
        .unwrap();
    let stderr = String::from_utf8_lossy(&done.stderr).into_owned();
    let after = shop.count();
    shop.is_sound();
    assert_eq!(
        stderr.contains("Nothing was written."),
        before == after,
        "{} entries were written, and it says:\n{stderr}",
        after - before
    );
}

/// A book that is asked for by a name with blanks, accents and quotes, from a relative and an absolute place.
#[test]
fn names_of_files() {
    let shop = Shop::worked();
    for name in [
        "with blank.rodbook",
        "Größe-日本.rodbook",
        "quote's.rodbook",
        "-dash.rodbook",
        "percent%20?#.rodbook",
    ] {
        let _ = shop.run_words(&["backup", "--", name]).expect_code(0);
        let _ = shop.run_words(&[&format!("--book={name}"), "verify", "--copy"]).expect_code(0);
        let absolute = shop.file(name);
        let done = shop.command().env("RODBOOK_BOOK", &absolute).args(["export", "record"]).output().unwrap();
        assert!(done.status.success());
        assert_eq!(String::from_utf8(done.stdout).unwrap(), shop.record());
    }
}
