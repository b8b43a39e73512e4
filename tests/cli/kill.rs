//! Programs killed at any moment while several write: the book opens, is sound, and has every receipt that was printed.

use crate::chain;
use crate::random::Random;
use crate::shop::{Output, Shop};
use std::process::Stdio;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};
use std::thread;
use std::time::{Duration, Instant};

/// Processes that really died of the signal.
const KILLS: usize = 40;
const WRITERS: u64 = 4;
/// Longest time from start to kill: somewhat more than a command takes beside three others.
const LONGEST: Duration = Duration::from_millis(80);

#[test]
fn forty_kills() {
    let shop = Shop::stocked();
    let before = shop.count();
    let random = Random::seeded();
    let (killed, printed) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    let started = Instant::now();
    thread::scope(|scope| {
        for writer in 0..WRITERS {
            let (shop, killed, printed, random) = (&shop, &killed, &printed, random.fork(writer));
            scope.spawn(move || write_until_enough_are_killed(shop, random, killed, printed));
        }
    });
    let killed = killed.into_inner();
    let printed: Vec<(u64, String)> = printed.into_inner().unwrap();
    shop.is_sound();
    let record = shop.record();
    let shorts = chain::dense(&record);
    for (seq, short) in &printed {
        assert_eq!(
            shorts.get(*seq as usize),
            Some(short),
            "the receipt of entry {seq} was printed and is not in the book, {random:?}"
        );
    }
    let written = shorts.len() - before;
    eprintln!(
        "{killed} killed in {:.1} s, {} receipts printed, {written} entries written, {random:?}",
        started.elapsed().as_secs_f64(),
        printed.len()
    );
    assert!(killed >= KILLS);
    assert!(printed.len() >= KILLS / 2, "most commands were not killed");
    assert!(printed.len() <= written, "no entry without its receipt is more than one kill can explain");
    assert!(written <= printed.len() + killed, "an entry without a receipt comes from a kill only");
    // Whoever has a receipt can ask for it.
    let pins: Vec<String> = printed.iter().map(|(_, short)| format!("--pin {short}")).collect();
    let _ = shop.ok(&format!("verify {}", pins.join(" ")));
    let _ = shop.ok("issue R-1028 W-12 1 rod --by A-01");
    let left = std::fs::read_dir(shop.path())
        .unwrap()
        .filter(|e| e.as_ref().unwrap().file_name().to_string_lossy().contains(".new"));
    assert_eq!(left.count(), 0);
}

/// One writer: hands out and takes back through the program, and kills every second command at some moment.
fn write_until_enough_are_killed(
    shop: &Shop,
    mut random: Random,
    killed: &AtomicUsize,
    printed: &Mutex<Vec<(u64, String)>>,
) {
    let mut open: Option<String> = None;
    let deadline = Instant::now() + Duration::from_secs(50);
    while killed.load(SeqCst) < KILLS {
        assert!(
            Instant::now() < deadline,
            "only {} of {KILLS} were killed in time, {random:?}",
            killed.load(SeqCst)
        );
        let line = match open.take() {
            Some(slip) => format!("return {slip} 1 rod --condition marked --by A-01"),
            None => "issue R-1028 W-12 2 rods --by A-01".to_owned(),
        };
        let mut child = shop
            .command()
            .args(crate::shop::words(&line))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        if random.below(2) == 0 {
            thread::sleep(Duration::from_micros(random.below(LONGEST.as_micros() as u64)));
            // SIGKILL: nothing of the program runs after it.
            child.kill().unwrap();
        }
        let done = child.wait_with_output().unwrap();
        let output = Output::of(line.clone(), &done);
        match output.code {
            None => {
                killed.fetch_add(1, SeqCst);
            }
            Some(0) => assert!(output.receipt().is_some(), "done without a receipt: {}", output.shown()),
            Some(6) => {}
            // Nothing tells a writer whether a killed command was done.
            _ => panic!("{random:?}: {}", output.shown()),
        }
        // A receipt that is whole on paper counts, however the program ended.
        if let Some(receipt) = output.receipt() {
            printed.lock().unwrap().push(receipt);
            if line.starts_with("issue") {
                open =
                    output.stdout.lines().next().and_then(|l| l.split_whitespace().nth(1)).map(str::to_owned);
            }
        }
    }
}

/// Killed while it imports: all of it or nothing.
#[test]
fn a_killed_import_is_whole_or_not_there() {
    let new = || {
        let shop = Shop::new();
        shop.fixture("demo-shop", "slips");
        shop
    };
    let mut shop = new();
    let before = shop.count();
    let started = Instant::now();
    let _ = shop.ok("import slips --by A-01");
    let (whole, took) = (shop.count(), started.elapsed());
    shop = new();
    let mut random = Random::seeded();
    let mut killed = 0;
    while killed < 8 {
        assert!(
            started.elapsed() < Duration::from_secs(60),
            "only {killed} imports were killed in time, {random:?}"
        );
        let mut child =
            shop.command().args(["import", "slips", "--by", "A-01"]).stdout(Stdio::piped()).spawn().unwrap();
        thread::sleep(Duration::from_micros(random.below(took.as_micros() as u64)));
        child.kill().unwrap();
        let done = child.wait_with_output().unwrap();
        killed += u32::from(done.status.code().is_none());
        let count = shop.count();
        assert!(count == before || count == whole, "{count} entries, {random:?}");
        shop.is_sound();
        if count == whole {
            // Once it is there, it is refused the second time.
            let _ = shop.run("import slips --by A-01").expect_code(3);
            shop = new();
        }
    }
}
