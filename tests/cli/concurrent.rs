//! Several processes that write at once: none is lost, none is done twice.

use crate::chain;
use crate::shop::Shop;
use std::thread;

#[test]
fn two_writers_of_fifty() {
    let shop = Shop::stocked();
    let before = shop.count();
    let receipts: Vec<(u64, String)> = thread::scope(|scope| {
        let writers: Vec<_> = ["W-12", "W-14"]
            .into_iter()
            .map(|welder| {
                let shop = &shop;
                scope.spawn(move || {
                    let mut receipts = Vec::new();
                    for _ in 0..50 {
                        let done = shop.run(&format!("issue R-1028 {welder} 1 rod --by A-01"));
                        match done.code {
                            Some(0) => receipts.push(done.receipt().unwrap()),
                            Some(6) => {
                                assert!(done.stderr.contains("Nothing was written."), "{}", done.shown())
                            }
                            _ => panic!("{}", done.shown()),
                        }
                    }
                    receipts
                })
            })
            .collect();
        writers.into_iter().flat_map(|w| w.join().unwrap()).collect()
    });
    assert!(receipts.len() >= 90, "busy is rare: {} of 100 were done", receipts.len());
    shop.is_sound();
    let shorts = chain::dense(&shop.record());
    assert_eq!(shorts.len(), before + receipts.len(), "one entry for each receipt, and no other");
    for (seq, short) in &receipts {
        assert_eq!(&shorts[*seq as usize], short);
    }
    // Each slip has its own number.
    let mut slips: Vec<String> = shop.json("out")["slips"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| s["slip"].as_str().unwrap().to_owned())
        .collect();
    slips.sort();
    slips.dedup();
    assert_eq!(slips.len(), receipts.len());
}

/// The last rods go out once, however many ask for them at the same moment.
#[test]
fn the_last_rods_go_out_once() {
    let shop = Shop::stocked();
    let _ = shop.ok("receive --lot R-1090 --maker X --maker-lot 1 --class ER70S-2 --size 3/32in --form cut-length --quantity '3 rods' --at '2026-03-20 08:00' --by A-01");
    let _ = shop.ok("release R-1090 --by I-21");
    let codes: Vec<Option<i32>> = thread::scope(|scope| {
        let asking: Vec<_> =
            (0..8).map(|_| scope.spawn(|| shop.run("issue R-1090 W-12 1 rod --by A-01").code)).collect();
        asking.into_iter().map(|a| a.join().unwrap()).collect()
    });
    assert!(codes.iter().all(|c| matches!(c, Some(0 | 3 | 6))), "{codes:?}");
    assert_eq!(codes.iter().filter(|c| **c == Some(0)).count(), 3, "{codes:?}");
    shop.is_sound();
}

/// Two who make the same book: one does, the other is told that it is there.
#[test]
fn a_book_is_made_once() {
    for _ in 0..5 {
        let shop = Shop::empty();
        let codes: Vec<Option<i32>> = thread::scope(|scope| {
            let making: Vec<_> = (0..4)
                .map(|n| {
                    let shop = &shop;
                    scope.spawn(move || {
                        shop.run(&format!("init --station 'crib {n}' --zone UTC --by A-0{n}")).code
                    })
                })
                .collect();
            making.into_iter().map(|m| m.join().unwrap()).collect()
        });
        assert_eq!(codes.iter().filter(|c| **c == Some(0)).count(), 1, "{codes:?}");
        assert_eq!(codes.iter().filter(|c| **c == Some(1)).count(), 3, "{codes:?}");
        shop.is_sound();
    }
}

/// Questions go on while somebody writes, each of one moment.
#[test]
fn questions_beside_a_writer() {
    let shop = Shop::stocked();
    thread::scope(|scope| {
        let writer = scope.spawn(|| {
            for _ in 0..15 {
                let _ = shop.ok("issue R-1028 W-12 1 rod --by A-01");
            }
        });
        while !writer.is_finished() {
            // 22 679 618 mg in the crib, a rod of 31 967 mg for each slip: both are of the same moment.
            let used = shop.json("trace lot R-1028");
            let out = used["out"].as_array().unwrap().len() as i64;
            assert_eq!(used["in_crib_mg"], 22_679_618 - out * 31_967);
            let _ = shop.ok("verify");
        }
    });
    shop.is_sound();
}
