//! Records of custody: the test record of a used cell, answers and corrections as events, the book they stand in.

use celltriage_tests::{ABLE, BY, NOON, Shop, call};

#[test]
fn a_used_cell_gets_its_test_record_only_after_judgement_and_recall_check() {
    let shop = Shop::of_a_real_day();
    let typed = [
        "shipment",
        "used-record",
        "PE-0401",
        "--item",
        "tablet cell 5.1 Ah",
        "--company",
        "Port Ellery Workshop",
        "--address",
        "3 Quay Row, Port Ellery",
        "--recall-checked-on",
        "2026-11-25",
        "--recall-looked-in",
        "maker's list",
    ];
    assert!(shop.refuses(&typed).contains("nobody has judged it"));
    shop.judge("PE-0401", "not_waste", &[]);
    shop.does(&["container", "open", "IN-1", "--kind", "intact", "--place", "DE", "--stands", "shelf"]);
    assert!(shop.refuses(&["container", "place", "IN-1", "PE-0401"]).contains("reuse"));
    assert!(shop.refuses(&[&typed[..], &["--recall-listed"]].concat()).contains("recall list"));
    let made = shop.does(&typed).out;
    for part in [
        "Test record of a used cell",
        "PE-0401",
        "not listed; looked up on 2026-11-25",
        "capacity of rated",
        "annex XIV",
    ] {
        assert!(made.contains(part), "{part}: {made}");
    }
    // Without day and lists it is asked for; without an answer there is no record.
    let without = &typed[..9];
    assert!(shop.refuses(without).contains("recall lists"));
    let asked = shop.call(NOON, &[without, &BY].concat(), Some(&["2026-11-24", "maker's list", "n"]));
    assert!(
        asked.code == 0 && asked.out.contains("not listed; looked up on 2026-11-24 in maker's list"),
        "{}",
        asked.err
    );
    let asked = shop.call(NOON, &[without, &BY].concat(), Some(&["2026-11-24", "maker's list", "y"]));
    assert!(asked.code == 2 && asked.err.contains("it is on a recall list"), "{}", asked.err);
    let page = shop.does(&[&typed[..], &["--html"]].concat()).out;
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("declaration of the holder"), "{page}");
    let json = shop.does(&[&typed[..], &["--json"]].concat()).out;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["record"]["recall"]["on"], "2026-11-25");
    assert!(json["record"]["results"].as_array().unwrap().len() >= 3, "{json}");
    // A faded cell gets none.
    let mut other = typed;
    other[2] = "PE-0402";
    assert!(shop.refuses(&other).contains("does not grade it for reuse"));
}

#[test]
fn questions_are_asked_and_corrections_are_events() {
    let shop = Shop::of_a_real_day();
    let all = [&["judge", "PE-0402", "--state", "intact_waste", "--as-recorded"][..], &ABLE, &BY].concat();
    let asked = shop.call(NOON, &all, Some(&["n", "n"]));
    assert_eq!(asked.code, 0, "{}", asked.err);
    assert!(asked.err.contains("asked: 1 of 2  Voltage or insulation out of limits?"), "{}", asked.err);
    let entry = shop.newest();
    shop.does(&["container", "open", "IN-1", "--kind", "intact", "--place", "US", "--stands", "shelf"]);
    let place = [&["container", "place", "IN-1", "PE-0402"][..], &BY].concat();
    let weighed = shop.call(NOON, &place, Some(&["68,4"]));
    assert_eq!(weighed.code, 0, "{}", weighed.err);
    assert!(shop.prints(&["container", "list"]).contains("68.4 g"));
    assert!(shop.prints(&["due"]).contains("2027-11-25  365 days left"));

    let number = entry.to_string();
    let struck =
        shop.does(&["container", "correct", &number, "--because", "wrong cell in the hand", "--strike"]);
    assert!(struck.out.contains(&format!("struck to entry {number} (judgement)")), "{}", struck.out);
    let due = shop.prints(&["due"]).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(due.contains("take it out of its container: cell PE-0402 is unknown"), "{due}");
    for strike in [&["--strike"][..], &[]] {
        let missing = [&["container", "correct", "999", "--because", "x"][..], strike].concat();
        let told = shop.refuses(&missing);
        assert!(told.contains("no entry 999") && !told.contains("--strike"), "{told}");
    }
    let told = shop.refuses(&["container", "correct", "1", "--because", "x", "--strike"]);
    assert!(told.contains("no event of a cell's custody"), "{told}");
    let json: serde_json::Value =
        serde_json::from_str(&shop.prints(&["due", "--json", "--within", "0"])).unwrap();
    assert!(json["due"].as_array().unwrap().iter().all(|item| item["days_left"].as_i64().unwrap() <= 0));
    assert_eq!(json["site"][0]["unit"], "mg");
}

#[test]
fn the_book_may_be_named_before_or_after_what_is_done_with_it() {
    let shop = Shop::of_a_real_day();
    let book = &shop.book();
    shop.does(&["container", "open", "IN-1", "--kind", "intact", "--place", "DE", "--stands", "shelf"]);
    for (command, rest) in [
        ("book", &["list"][..]),
        ("book", &["show", "PE-0402"]),
        ("container", &["show", "IN-1"]),
        ("shipment", &["list"]),
    ] {
        let before = call(&[&[command, "--book", book][..], rest].concat(), None);
        let after = call(&[&[command][..], rest, &["--book", book]].concat(), None);
        assert_eq!((before.code, after.code), (0, 0), "{command}: {}{}", before.err, after.err);
        assert_eq!(before.out, after.out);
        assert_eq!(before.out.is_empty(), command == "shipment", "{command}: {}", before.out);
    }
}

#[test]
fn a_mistyped_book_is_an_error_and_no_new_book() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("typo.sqlite");
    let path = book.to_str().unwrap();
    for typed in [
        &["due", "--book", path][..],
        &["judge", "--book", path, "PE-1"],
        &[
            "container",
            "--book",
            path,
            "open",
            "A",
            "--kind",
            "intact",
            "--place",
            "DE",
            "--stands",
            "x",
            "--by",
            "y",
        ],
        &["shipment", "--book", path, "list"],
    ] {
        let done = call(typed, None);
        assert_eq!(done.code, 5, "{typed:?}: {}", done.err);
        assert!(!book.exists());
    }
}

#[test]
fn what_is_written_is_told_to_machines_too() {
    let shop = Shop::of_a_real_day();
    let written = |typed: &[&str], kind: &str| {
        let told = shop.does(&[typed, &["--json"]].concat()).json();
        assert_eq!(told["schema"], "celltriage.entered/1", "{typed:?}");
        assert_eq!(told["entered"][0]["number"], shop.newest(), "{typed:?}");
        assert_eq!(told["entered"][0]["kind"], kind, "{typed:?}");
    };
    let answers =
        ["--as-recorded", "--answer", "short_circuit_protection=no", "--answer", "safety_features=no"];
    let judge = ["judge", "PE-0402", "--state", "intact_waste", "--because", "seen"];
    written(&[&judge[..], &answers, &ABLE].concat(), "judgement");
    let open = ["container", "open", "IN-1", "--kind", "intact", "--place", "DE", "--stands", "shelf"];
    written(&open, "container-opened");
    written(&["container", "place", "IN-1", "PE-0402", "--mass-g", "68"], "cell-placed");
    written(&["container", "weigh", "PE-0402", "--mass-g", "67"], "cell-weighed");
    written(&["trial", "incident", "PE-0401", "--what", "dropped"], "incident");
    written(&["finding", "look", "PE-0404", "--temperature-c", "20", "--air-c", "20"], "temperature-look");
    shop.drafts("S-1", "IN-1");
    written(&["shipment", "agree", "S-1", "--reference", "letter 17"], "receiver-agreed");
    let listed: serde_json::Value =
        serde_json::from_str(&shop.prints(&["shipment", "list", "--json"])).unwrap();
    assert_eq!(listed["schema"], "celltriage.shipments/1");
    assert_eq!(listed["shipments"][0]["shipment"], "S-1");
    written(&["shipment", "withdraw", "S-1", "--because", "another day"], "shipment-withdrawn");
}
