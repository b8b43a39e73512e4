//! Files and disks that are not as they should be: not ours, cut short, read-only, full, locked. A clear error, and
//! nothing lost.

use crate::shop::{Output, RODBOOK, Shop, snapshot};
use std::fs;

#[test]
fn files_that_are_not_ours() {
    let shop = Shop::worked();
    shop.write("empty.rodbook", "");
    shop.write("text.rodbook", "lot,maker\nR-1,X\n");
    shop.write("zeros.rodbook", [0; 8192]);
    rusqlite::Connection::open(shop.file("other.rodbook"))
        .unwrap()
        .execute_batch("CREATE TABLE t (a)")
        .unwrap();
    for name in ["empty", "text", "zeros", "other"] {
        let file = shop.file(&format!("{name}.rodbook"));
        let before = fs::read(&file).unwrap();
        for line in [
            "stock",
            "verify",
            "issue R-1028 W-12 1 rod --by A-01",
            "rebuild",
            "backup copy.rodbook",
            "export record",
        ] {
            let output = shop.run(&format!("--book {name}.rodbook {line}"));
            let _ = output.expect_code(2).says(&["is not a rodbook book", "--book FILE"]);
        }
        let _ = shop.run(&format!("--book new.rodbook --by A-01 restore {name}.rodbook")).expect_code(2);
        let _ =
            shop.run(&format!("--book {name}.rodbook init --station s --zone UTC --by A-01")).expect_code(1);
        assert_eq!(fs::read(&file).unwrap(), before, "{name} is left alone");
    }
    assert!(!shop.file("copy.rodbook").exists() && !shop.file("new.rodbook").exists());
    snapshot!(
        "not-a-book",
        shop.session(&[
            "--book empty.rodbook stock",
            "--book text.rodbook stock",
            "--book other.rodbook stock"
        ])
    );
}

/// A file cut short anywhere: never an answer, always an error that says what to do, and the program lives.
#[test]
fn a_book_cut_short() {
    let shop = Shop::worked();
    let whole = fs::read(shop.book()).unwrap();
    let home = crate::shop::folder_bytes(&shop.home());
    for kept in [1, 50, 99, 100, 511, 4095, 4096, 8192, whole.len() / 2, whole.len() - 4096, whole.len() - 1]
    {
        fs::write(shop.file("short.rodbook"), &whole[..kept]).unwrap();
        let verified = shop.run("--book short.rodbook verify");
        assert!(matches!(verified.code, Some(2 | 5)), "kept {kept}: {}", verified.shown());
        let text = format!("{}{}", verified.stdout, verified.stderr);
        assert!(
            text.contains("DAMAGE") || text.contains("damaged") || text.contains("is not a rodbook book"),
            "kept {kept}: {}",
            verified.shown()
        );
        // A short command may not come near what is missing; then it must leave the damage to be found.
        let written = shop.run("--book short.rodbook issue R-1028 W-12 1 rod --by A-01");
        if written.code == Some(0) {
            let _ = shop.run("--book short.rodbook verify --copy").expect_code(5);
            assert_eq!(
                written.receipt().map(|(seq, _)| seq),
                Some(shop.count() as u64),
                "kept {kept}: {}",
                written.shown()
            );
            shop.home_as_before(&home);
        } else {
            assert!(matches!(written.code, Some(2 | 5)), "kept {kept}: {}", written.shown());
        }
        let copied = shop.run("--book new.rodbook --by A-01 restore short.rodbook");
        assert!(matches!(copied.code, Some(2 | 5)), "kept {kept}: {}", copied.shown());
        assert!(!shop.file("new.rodbook").exists(), "kept {kept}");
    }
    shop.is_sound();
}

/// Any byte of the file changed: either `verify` says so, or every answer is as it was.
#[test]
fn a_book_with_a_changed_byte() {
    let shop = Shop::worked();
    let record = shop.record();
    let list = shop.ok("export lot-joint").stdout;
    let whole = fs::read(shop.book()).unwrap();
    let mut random = crate::random::Random::seeded();
    for _ in 0..60 {
        let at = random.below(whole.len() as u64) as usize;
        let mut changed = whole.clone();
        changed[at] ^= 1 << random.below(8);
        fs::write(shop.file("changed.rodbook"), &changed).unwrap();
        let verified = shop.run("--book changed.rodbook verify --copy");
        match verified.code {
            Some(0) => {
                assert_eq!(
                    shop.ok("--book changed.rodbook export record").stdout,
                    record,
                    "byte {at}, {random:?}"
                );
                assert_eq!(
                    shop.ok("--book changed.rodbook export lot-joint").stdout,
                    list,
                    "byte {at}, {random:?}"
                );
            }
            Some(2 | 5 | 7) => {}
            _ => panic!("byte {at}, {random:?}: {}", verified.shown()),
        }
        for name in ["changed.rodbook", "changed.rodbook-wal", "changed.rodbook-shm"] {
            let _ = fs::remove_file(shop.file(name));
        }
    }
}

/// Whether the tests run as root: whose is a file that they make?
#[cfg(unix)]
fn is_root() -> bool {
    use std::os::unix::fs::MetadataExt as _;
    fs::metadata(tempfile::NamedTempFile::new().unwrap().path()).unwrap().uid() == 0
}

/// As somebody to whom permissions apply. Root may write everywhere, so for root the program runs as nobody, from a copy
/// of it that nobody can reach.
#[cfg(unix)]
fn as_nobody(shop: &Shop, line: &str) -> Output {
    use std::os::unix::fs::{PermissionsExt as _, chown};
    use std::os::unix::process::CommandExt as _;
    const NOBODY: u32 = 65_534;
    let mut command = if is_root() {
        let program = shop.file("rodbook");
        if !program.exists() {
            // By another process: a handle of this one, inherited by a child that another test starts just then, would
            // keep the copy from being run ("text file busy").
            let copied = std::process::Command::new("cp").arg(RODBOOK).arg(&program).status().unwrap();
            assert!(copied.success());
            fs::set_permissions(&program, fs::Permissions::from_mode(0o755)).unwrap();
            let mut open = vec![shop.home()];
            chown(shop.path(), Some(NOBODY), Some(NOBODY)).unwrap();
            chown(shop.book(), Some(NOBODY), Some(NOBODY)).unwrap();
            while let Some(path) = open.pop() {
                chown(&path, Some(NOBODY), Some(NOBODY)).unwrap();
                if path.is_dir() {
                    open.extend(fs::read_dir(&path).unwrap().map(|e| e.unwrap().path()));
                }
            }
        }
        let mut command = shop.program(program.to_str().unwrap());
        command.uid(NOBODY).gid(NOBODY);
        command
    } else {
        shop.command()
    };
    let done = command.args(crate::shop::words(line)).output().unwrap();
    Output::of(line.to_owned(), &done)
}

#[cfg(unix)]
fn permit(path: &std::path::Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt as _;
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}

/// A book in a folder where nothing can be written, as on a disc for an auditor: read and checked, not written.
#[cfg(unix)]
#[test]
fn a_read_only_folder() {
    let shop = Shop::worked();
    let record = shop.record();
    let issue = "issue R-1028 W-12 1 rod --by A-01";
    let _ = as_nobody(&shop, "stock").expect_code(0);
    for name in ["shop.rodbook-wal", "shop.rodbook-shm"] {
        let _ = fs::remove_file(shop.file(name));
    }
    permit(&shop.book(), 0o444);
    permit(shop.path(), 0o555);
    let answers =
        ["stock", "verify", "trace joint M-101", "export lot-joint"].map(|line| as_nobody(&shop, line));
    let refused = as_nobody(&shop, issue);
    let backup = as_nobody(&shop, "backup copy.rodbook");
    let init = as_nobody(&shop, "--book other.rodbook init --station s --zone UTC --by A-01");
    permit(shop.path(), 0o755);
    permit(&shop.book(), 0o644);
    for answer in answers {
        let _ = answer.expect_code(0);
    }
    for output in [&refused, &backup, &init] {
        assert_eq!(output.code, Some(1), "{}", output.shown());
        assert!(output.stderr.contains("Nothing was written."), "{}", output.shown());
        assert!(
            output.stderr.contains("read-only")
                || output.stderr.contains("cannot be")
                || output.stderr.contains("denied"),
            "{}",
            output.shown()
        );
    }
    snapshot!("read-only-folder", [refused, backup, init].map(|o| shop.mask(&o.shown())).join("\n"));
    assert_eq!(shop.record(), record);
    shop.is_sound();
    let _ = as_nobody(&shop, issue).expect_code(0);
}

/// The mark beside the key cannot be moved: whatever was kept must be said as it is.
#[cfg(unix)]
#[test]
fn a_mark_that_cannot_be_moved() {
    let shop = Shop::worked();
    let _ = as_nobody(&shop, "stock").expect_code(0);
    let before = shop.count();
    let station = fs::read_dir(shop.home().join("stations")).unwrap().next().unwrap().unwrap().path();
    permit(&station.join("mark"), 0o444);
    let output = as_nobody(&shop, "issue R-1028 W-12 1 rod --by A-01");
    permit(&station.join("mark"), 0o600);
    let after = shop.count();
    assert_ne!(output.code, Some(0), "{}", output.shown());
    let says_nothing_written = output.stderr.contains("Nothing was written.");
    assert_eq!(
        says_nothing_written,
        before == after,
        "entries {before} before, {after} after, and it says:\n{}",
        output.shown()
    );
    shop.is_sound();
}

/// Runs a command line that may not make any file larger than so many KiB, as on a full disk; a write beyond that fails
/// instead of ending the program.
#[cfg(unix)]
fn with_file_limit(shop: &Shop, kib: u64, line: &str) -> Output {
    // `ulimit -f` counts blocks of 512 bytes (POSIX); SIGXFSZ is ignored, so that the write fails with EFBIG.
    let script = format!("trap '' XFSZ; ulimit -f {}; exec \"$0\" \"$@\"", kib * 2);
    let done = shop
        .program("/bin/sh")
        .args(["-c", &script, RODBOOK])
        .args(crate::shop::words(line))
        .output()
        .unwrap();
    Output::of(line.to_owned(), &done)
}

/// The disk is full at any point of a command: refused, nothing lost, and done once there is room.
#[cfg(unix)]
#[test]
fn a_full_disk() {
    let shop = Shop::new();
    shop.fixture("csv/good/minimal", "minimal");
    let _ = shop.ok("import minimal --by A-1");
    shop.fixture("demo-shop", "slips");
    let record = shop.record();
    let mut failed = 0;
    let issue = "issue L-1 W-1 1 rod --at '2026-04-07 15:00' --by A-1";
    for kib in [0, 1, 2, 4, 8, 12, 16, 20, 24, 28, 32, 40, 48] {
        let output = with_file_limit(&shop, kib, issue);
        match output.code {
            // A small command may fit.
            Some(0) => assert!(kib >= 12, "{kib} KiB: {}", output.shown()),
            Some(1) => {
                failed += 1;
                assert!(output.stderr.contains("Nothing was written."), "{kib} KiB: {}", output.shown());
                assert_eq!(shop.record(), record, "{kib} KiB");
            }
            _ => panic!("{kib} KiB: {}", output.shown()),
        }
        shop.is_sound();
        if output.code == Some(0) {
            break;
        }
    }
    assert!(failed > 0, "no limit was small enough to fail");
    let record = shop.record();
    // An import of some 2000 entries needs megabytes.
    for kib in [64, 300, 1_000] {
        let output = with_file_limit(&shop, kib, "import slips --by A-01").expect_code(1);
        let _ = output.says(&["Nothing was written."]);
        assert_eq!(shop.record(), record, "{kib} KiB");
        shop.is_sound();
    }
    let _ = with_file_limit(&shop, 64, "backup copy.rodbook").expect_code(1);
    assert!(!shop.file("copy.rodbook").exists(), "no half of a copy");
    let _ = with_file_limit(&shop, 1, "export record --out record.jsonl").expect_code(1);
    assert!(!shop.file("record.jsonl").exists(), "no half of an export");
    let _ =
        with_file_limit(&shop, 4, "--book new.rodbook init --station s --zone UTC --by A-01").expect_code(1);
    assert!(!shop.file("new.rodbook").exists(), "no half of a book");
    let left: Vec<_> = fs::read_dir(shop.path())
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| name.contains(".new") || name.contains("copy") || name.starts_with("record"))
        .collect();
    assert_eq!(left, Vec::<String>::new(), "nothing half made is left");
    let _ = shop.ok("import slips --by A-01");
    let _ = shop.ok(issue);
    shop.is_sound();
}

/// What an export replaces is there until the new one is whole.
#[cfg(unix)]
#[test]
fn a_failed_export_leaves_the_file_that_was_there() {
    let shop = Shop::worked();
    shop.write("list.csv", "an older list\n");
    let _ = with_file_limit(&shop, 0, "export lot-joint --out list.csv").expect_code(1);
    assert_eq!(shop.read("list.csv"), "an older list\n");
}
