//! Ctrl-C before the commit: nothing is written, and the next command works.

use crate::shop::Shop;
use std::fmt::Write as _;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// The program with the signal's own action restored, whatever the tests were started under.
fn interruptible(shop: &Shop, words: &[&str]) -> Command {
    let mut command = shop.program("env");
    command.arg("--default-signal=INT").arg(crate::shop::RODBOOK).args(words);
    command
}

fn interrupt(pid: u32) {
    let sent = Command::new("/bin/sh").args(["-c", &format!("kill -INT {pid}")]).status().unwrap();
    assert!(sent.success(), "the signal was not sent");
}

#[cfg(target_os = "linux")]
#[test]
fn an_interrupted_import_writes_nothing() {
    use std::os::unix::process::ExitStatusExt as _;
    let shop = Shop::stocked();
    let mut issues = "slip,lot,welder,quantity,issued_at\n".to_owned();
    for n in 0..60_000 {
        writeln!(issues, "P-{n:06},R-1028,W-12,1 rod,2026-04-07 06:{:02}", n % 60).unwrap();
    }
    shop.write("slips/issues.csv", issues);
    let before = shop.state();
    let mut interrupted = 0;
    // From before the file is open to well into the rows; the whole takes seconds.
    for wait in [5, 50, 150, 300, 600] {
        let mut child = interruptible(&shop, &["import", "slips", "--by", "A-01"])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(wait));
        assert!(child.try_wait().unwrap().is_none(), "the import ended within {wait} ms");
        let pid = child.id();
        interrupt(pid);
        let asked = Instant::now();
        let done = child.wait_with_output().unwrap();
        assert!(asked.elapsed() < Duration::from_secs(2), "it ends at once");
        let by_signal = done.status.signal() == Some(2) || done.status.code() == Some(130);
        assert!(by_signal, "{wait} ms: {:?}\n{}", done.status, String::from_utf8_lossy(&done.stderr));
        assert_eq!(String::from_utf8_lossy(&done.stdout), "", "no receipt for what was not written");
        interrupted += 1;
        assert_eq!(shop.state(), before, "after {wait} ms");
    }
    assert_eq!(interrupted, 5);
    shop.is_sound();
    let _ = shop.ok("issue R-1028 W-12 1 rod --by A-01");
    shop.is_sound();
    // The same files, not interrupted, are taken: nothing of them was there.
    let _ = shop.ok("import slips --by A-01");
    assert_eq!(shop.count(), before.record.lines().count() + 1 + 1 + 60_000);
}
