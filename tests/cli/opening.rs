//! Opening a book, and declaring people, joints and shifts.

use crate::shop::{Shop, keys, snapshot};

#[test]
fn init() {
    let shop = Shop::empty();
    let init =
        "init --station 'crib 1' --shop 'Vessilmoor Wellhead Piping' --zone Pacific/Auckland --by A-01";
    snapshot!(
        "init",
        shop.session(&[
            init,
            init,
            "--book other.rodbook init --station 'crib 2' --zone Pacific/Auckland",
            "--book other.rodbook stock"
        ])
    );
    shop.is_sound();
    assert_eq!(shop.count(), 2, "the opening entry and the person acting");
    assert_eq!(shop.entries()[0]["kind"], "station.opened");
    assert_eq!(shop.entries()[0]["body"]["zone"], "Pacific/Auckland");
}

#[test]
fn init_as_json() {
    let shop = Shop::empty();
    let answer = shop.json("init --station crib --zone Pacific/Auckland --by A-01");
    assert_eq!(answer["schema"], "rodbook-receipt/1");
    assert_eq!(answer["book"], "shop.rodbook");
    assert_eq!(answer["entries"].as_array().unwrap().len(), 2);
    assert_eq!(answer["entries"][0]["seq"], 0);
    assert_eq!(answer["station"].as_str().unwrap().len(), 64);
}

#[test]
fn init_refused() {
    let shop = Shop::empty();
    snapshot!(
        "init-refused",
        shop.session(&[
            "init --station 'crib 1' --zone Pacific/Aukland --by A-01",
            "init --station 'crib 1' --zone Pacific/Auckland --shift 6-14 --by A-01",
            "init --station 'crib 1' --zone Pacific/Auckland --role foreman --by A-01",
            "init --zone Pacific/Auckland --by A-01",
            "init --station '' --zone Pacific/Auckland --by A-01",
        ])
    );
    assert!(!shop.book().exists(), "a refused init leaves no book");
    assert!(!shop.home().join("stations").exists(), "a refused init leaves no key");
}

/// The zone of the machine is taken where none is named, and said, so that a wrong one is seen.
#[test]
fn init_takes_the_machine_s_zone_and_says_it() {
    let shop = Shop::empty();
    let done = shop.ok("init --station crib --by A-01");
    let zone = shop.entries()[0]["body"]["zone"].as_str().unwrap().to_owned();
    assert!(done.stdout.contains(&format!("zone {zone}.")), "{}", done.shown());
}

#[test]
fn init_makes_folders_of_keys_that_only_the_owner_can_read() {
    let shop = Shop::new();
    let stations: Vec<_> = std::fs::read_dir(shop.home().join("stations")).unwrap().collect();
    assert_eq!(stations.len(), 1);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let key = stations.into_iter().next().unwrap().unwrap().path().join("key");
        assert_eq!(std::fs::metadata(key).unwrap().permissions().mode() & 0o077, 0);
    }
}

#[test]
fn enroll() {
    let shop = Shop::new();
    snapshot!(
        "enroll",
        shop.session(&[
            "enroll W-12 --name 'Marit Oldervane' --role welder --by I-21",
            "enroll W-12 --name 'Marit Oldervane-Tarn' --role welder --role inspector --by I-21",
            "enroll L-01 --name 'Åsa Stonefeather' --by W-12",
            "enroll X-9 --name 'Jo Ferrybank' --role smith --by I-21",
            "enroll X-9 --name '' --role welder --by I-21",
            "enroll X-9 --name 'Jo Ferrybank' --role welder",
            "enroll X-9 --name 'Jo Ferrybank' --role welder --by I-22",
        ])
    );
    let answer = shop.json("enroll W-15 --name 'Runa Kestwick' --role 'welder;lab' --by I-21");
    assert_eq!(answer["roles"], serde_json::json!(["welder", "lab"]));
    let last = shop.entries().pop().unwrap();
    assert_eq!(last["kind"], "person.enrolled");
    assert!(!last.to_string().contains("Kestwick"), "a name is not in the chain: {last}");
    assert_eq!(last["by"], "I-21");
}

/// Where nobody is enrolled, anybody may enrol the first person; from then on only an enrolled one.
#[test]
fn the_first_person_is_enrolled_by_anybody() {
    let shop = Shop::empty();
    let _ = shop.ok("init --station crib --zone Pacific/Auckland");
    let _ = shop.ok("enroll I-21 --name 'Ines Callowmere' --role inspector");
    let _ = shop.writes_nothing("enroll X-9 --name 'Jo Ferrybank' --role inspector", 2).says(&["--by"]);
    let _ =
        shop.writes_nothing("enroll X-9 --name 'Jo Ferrybank' --role inspector --by X-9", 4).says(&["X-9"]);
}

#[test]
fn joint() {
    let shop = Shop::stocked();
    snapshot!(
        "joint",
        shop.session(&[
            "joint B-201 --job 'BL-3 brine line' --drawing BL-3-04 --drawing-revision unknown --level class --by A-01",
            "joint B-201 --job 'BL-3 brine line' --drawing BL-3-04 --drawing-revision B --level lot --finished-at '2026-04-07 14:00' --by A-01",
            "joint B-202 --wps WPS-9 --by A-01",
            "joint B-202 --level heat --by A-01",
            "joint B-202 --finished-at yesterday --by A-01",
            "trace joint B-201",
        ])
    );
    let answer = shop.json("joint B-203 --by A-01");
    assert_eq!(answer["joint"], "B-203");
    let body = shop.entries().pop().unwrap()["body"].clone();
    assert_eq!(body["number"], "B-203");
}

#[test]
fn shifts() {
    let shop = Shop::new();
    snapshot!(
        "shifts",
        shop.session(&[
            "shifts",
            "shifts 07:00-15:30 22:00-06:00 --by I-21",
            "shifts",
            "shifts --format json",
            "shifts 07:00-25:30 --by I-21",
            "shifts 07:00-15:30",
        ])
    );
    let shop = Shop::empty();
    let _ = shop.ok("init --station crib --zone Pacific/Auckland --by I-21");
    assert_eq!(shop.ok("shifts").stdout, "No shifts are declared.\n");
    assert_eq!(keys(&shop.json("shifts")), ["schema", "shifts"]);
}
