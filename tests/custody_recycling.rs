//! A faded cell's whole way through the command line: from the demo's day over judgement and container to the recycler.

use celltriage_tests::{ABLE, NOON, Shop};

#[test]
fn a_faded_cell_goes_from_the_demo_to_the_recycler() {
    let shop = Shop::of_a_real_day();
    let page = shop.prints(&["judge", "PE-0402"]);
    // It fits a screen: what was answered with no stands there by its name.
    assert!(page.lines().count() <= 30 && page.contains("no at the bench: acute_hazard"), "{page}");
    assert!(page.contains("handled as  unknown, to be treated as damaged"), "{page}");
    assert!(
        page.contains("proposed    waste without damage")
            && page.contains("graded      recycle on 2026-11-25"),
        "{page}"
    );
    assert!(page.contains("short_circuit_unprotected") && page.contains("[SP 376 note (d)]"), "{page}");

    // Without every answer it stays damaged.
    let told = shop
        .refuses(&[&["judge", "PE-0402", "--state", "intact_waste", "--as-recorded"][..], &ABLE].concat());
    assert!(told.contains("not answered: short_circuit_unprotected, safety_feature_damaged"), "{told}");
    shop.does(&[
        "container",
        "open",
        "IN-1",
        "--kind",
        "intact",
        "--place",
        "DE",
        "--stands",
        "steel shelf, yard",
        "--tare-kg",
        "2.5",
    ]);
    let told = shop.refuses(&["container", "place", "IN-1", "PE-0402"]);
    assert!(told.contains("never mixed") && told.contains("nothing was written"), "{told}");

    let from = ["--device", "scanner 17", "--removed-on", "2026-11-20", "--photo", "album 3, page 2"];
    shop.judge("PE-0402", "intact_waste", &from);
    let placed = shop.does(&["container", "place", "IN-1", "PE-0402"]);
    assert!(placed.err.contains("mass of cell PE-0402 is not known, so it counts as 2 kg"), "{}", placed.err);
    assert!(placed.err.contains("warning: limit passed: heaviest cell"), "{}", placed.err);
    shop.does(&["container", "weigh", "PE-0402", "--mass-g", "68.4"]);
    let shown = shop.prints(&["container", "show", "IN-1"]);
    assert!(shown.contains("1 cell, 68.4 g") && shown.contains("discarded 2026-11-25"), "{shown}");
    assert!(
        shown.contains(
            "gross mass of the package: 2.569 kg; at most 30 kg (easy road rule SP 636), not passed"
        ),
        "{shown}"
    );

    let draft = [
        "shipment",
        "draft",
        "S-1",
        "--container",
        "IN-1",
        "--receiver",
        "Gull Point Recycling",
        "--gross-kg",
        "2.6",
    ];
    let told = shop.refuses(&[&draft[..], &["--mode", "air"]].concat());
    assert!(told.contains("no papers for air") && told.contains("A183"), "{told}");
    let drafted = shop.does(&[&draft[..], &["--mode", "road"]].concat());
    for part in [
        "DRAFT, TO BE CHECKED BY A TRAINED PERSON",
        "UN 3480",
        "SP 636",
        "\"LITHIUM BATTERIES FOR RECYCLING\"",
        "16 02 15*",
        "receiver agreed    NOT YET",
        "Ines Harrow, battery",
    ] {
        assert!(drafted.out.contains(part), "{part}: {}", drafted.out);
    }
    let told = shop.refuses(&["container", "take-out", "PE-0402", "--because", "second thoughts"]);
    assert!(told.contains("papers are drafted"), "{told}");

    let hand_over = [
        "shipment",
        "hand-over",
        "S-1",
        "--document",
        "D-17",
        "--received-by",
        "driver Okoro",
        "--checked-by",
        "Ines Harrow",
        "--training",
        "dangerous goods, 3 March 2026",
    ];
    assert!(shop.refuses(&hand_over).contains("no receiver has agreed"));
    shop.does(&["shipment", "agree", "S-1", "--reference", "letter of 20 November"]);
    let told = shop.refuses(&hand_over);
    assert!(told.contains("on that day: 16 02 15*, 16 01 21*, 16 06 05*"), "{told}");
    let told = shop.refuses(&[&hand_over[..], &["--waste-code", "16 06 07*"]].concat());
    assert!(told.contains("may not be used on 2026-11-25"), "{told}");
    shop.does(&[&hand_over[..], &["--waste-code", "16 02 15*"]].concat());

    for typed in [
        &["container", "weigh", "PE-0402", "--mass-g", "70"][..],
        &["container", "take-out", "PE-0402", "--because", "x"],
        &["container", "place", "IN-1", "PE-0402"],
        &["container", "hold", "PE-0402", "--because", "x", "--stands", "yard"],
    ] {
        let told = shop.refuses(typed);
        assert!(told.contains("was handed over with shipment S-1 on 2026-11-25"), "{told}");
    }
    let json: serde_json::Value =
        serde_json::from_str(&shop.prints(&["shipment", "show", "S-1", "--json"])).unwrap();
    assert_eq!(json["notice"], "draft, to be checked by a trained person");
    assert_eq!(
        (&json["stage"], &json["handed_over"]["waste_code"]),
        (&"handed_over".into(), &"16 02 15*".into())
    );
    assert_eq!(json["draft"]["contents"][0]["mass"], 68_400);
    assert!(shop.prints(&["shipment", "list"]).contains("handed over on 2026-11-25"));

    let told = shop.story("PE-0402");
    let kinds = [
        "PE-0402 RECYCLE",
        "PE-0402 judged: waste without damage",
        "answered no: acute_hazard",
        "taken out of scanner 17 on 2026-11-20",
        "photograph: album 3, page 2",
        "PE-0402 put into container IN-1",
        "PE-0402 weighed 68.4 g",
        "S-1 papers drafted for container IN-1",
        "S-1 receiver agreed: letter of 20 November",
        "S-1 handed over to driver Okoro, document D-17, waste code 16 02 15*",
        "\nNOW\n",
        "legal state  waste without damage",
        "where        handed over with shipment S-1 on 2026-11-25",
    ];
    let places: Vec<usize> =
        kinds.iter().map(|kind| told.find(kind).unwrap_or_else(|| panic!("{kind}: {told}"))).collect();
    assert!(places.is_sorted(), "{told}");
    // By the number of its entry the decision comes first, then what happened since.
    let in_full = shop.prints(&["book", "show", "entry:5"]);
    assert!(in_full.contains("PE-0402") && in_full.ends_with(&told), "{in_full}");
    let judged = shop.prints(&["book", "show", "entry:15"]);
    assert!(
        judged.contains("judged: waste without damage") && judged.contains("decided to discard"),
        "{judged}"
    );
    let json: serde_json::Value =
        serde_json::from_str(&shop.prints(&["book", "show", "PE-0402", "--json"])).unwrap();
    assert_eq!(
        (&json["schema"], &json["now"]["legal_state"][0]),
        (&"celltriage.story/1".into(), &"waste without damage".into())
    );
    assert_eq!(json["happened"].as_array().unwrap().len(), 7);
    assert!(shop.call(NOON, &["book", "show", "PE-9999"], None).err.contains("knows no cell PE-9999"));
    assert!(!shop.story("PE-0403").contains("S-1"), "another cell's story");
    assert!(shop.prints(&["book", "verify"]).contains("each as it was written"));
}
