//! What really happens to cells, through the command line: they are handed back, sold, lost, refused and returned.

use celltriage_tests::{BY, NOON, Shop};
use serde_json::Value;

/// Nothing is due on a name.
fn nothing_due(shop: &Shop, name: &str) {
    let due = shop.prints(&["due"]);
    let about: Vec<&str> = due.lines().filter(|line| line.contains(&format!(" {name} "))).collect();
    assert!(about.is_empty(), "{about:#?}");
}

#[test]
fn a_stolen_cell_counts_no_more_and_counts_again_once_it_is_found() {
    let shop = Shop::of_a_real_day();
    shop.boxes("US", "IN-1", "PE-0402");
    let shown = shop.prints(&["container", "show", "IN-1"]);
    assert!(shown.contains("1 cell, 68 g"), "{shown}");
    let told = shop.refuses(&["leave", "PE-0402", "--how", "stolen"]);
    assert!(told.contains("text on what happened"), "{told}");
    let because = "the back door was forced, report 2026/118 of the Port Ellery police";
    let left = shop.does(&["leave", "PE-0402", "--how", "stolen", "--because", because]);
    assert!(left.out.contains("LEFT, stolen") && left.out.contains("report 2026/118"), "{}", left.out);
    let shown = shop.prints(&["container", "show", "IN-1"]);
    assert!(shown.contains("0 cells, 0 g"), "{shown}");
    nothing_due(&shop, "PE-0402");
    nothing_due(&shop, "IN-1");
    for typed in [
        &["container", "weigh", "PE-0402", "--mass-g", "70"][..],
        &["container", "place", "IN-1", "PE-0402"],
        &["leave", "PE-0402", "--how", "lost", "--because", "x"],
    ] {
        let told = shop.refuses(typed);
        assert!(told.contains("stolen on 2026-11-25") && told.contains("celltriage return"), "{told}");
    }
    let again = shop.run(NOON, &["assess", "--id", "PE-0402", "--no-signs"]);
    assert!(again.code == 2 && again.err.contains("celltriage return CELL"), "{}", again.err);

    let back =
        shop.does(&["return", "PE-0402", "--how", "found", "--from", "the police", "--seen", "dry and flat"]);
    assert!(back.out.contains("CAME BACK, found again, from the police: dry and flat"), "{}", back.out);
    assert!(back.err.contains("have it judged again"), "{}", back.err);
    let told = shop.story("PE-0402");
    for part in [
        "where        in the shop, in no container",
        "legal state  unknown",
        "not screened it came back on 2026-11-25, found again",
        "discarded    2026-11-25",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
    assert!(shop.refuses(&["container", "place", "IN-1", "PE-0402"]).contains("never mixed"));
    shop.judge("PE-0402", "intact_waste", &["--because", "looked at all over again"]);
    shop.does(&["container", "place", "IN-1", "PE-0402"]);
    assert!(shop.prints(&["book", "verify"]).contains("each as it was written"));
}

#[test]
fn a_swollen_cell_is_handed_back_with_words_and_never_sold() {
    let shop = Shop::of_a_real_day();
    let to = ["--to", "Mara Quill, 9 Harbour Row"];
    for how in ["sold", "refurbisher"] {
        let told = shop.refuses(&[&["leave", "PE-0404", "--how", how][..], &to].concat());
        assert!(told.contains("swollen") && told.contains("PE-0404 is not "), "{told}");
    }
    let told = shop.refuses(&[&["leave", "PE-0404", "--how", "recycler"][..], &to].concat());
    assert!(told.contains("celltriage shipment draft"), "{told}");
    let typed = [&["leave", "PE-0404", "--how", "handed-back"][..], &to].concat();
    let told = shop.refuses(&typed);
    assert!(told.contains("nothing says what was told") && told.contains("swollen"), "{told}");
    let words = ["--told", "swollen: do not charge or press it, take it to the harbour collection point"];
    let left = shop.does(&[&typed[..], &words].concat());
    assert!(left.out.contains("handed back to its owner: Mara Quill"), "{}", left.out);
    let told = shop.story("PE-0404");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("known on leaving: swollen") && told.contains("told: swollen: do not"), "{told}");
    nothing_due(&shop, "PE-0404");
    // The name of a private person can be blanked later.
    let entry = shop.newest().to_string();
    shop.does(&["book", "blank", &entry, "--because", "its owner asked for it"]);
    let told = shop.story("PE-0404");
    assert!(!told.contains("Mara Quill") && told.contains("handed back to its owner on"), "{told}");
}

#[test]
fn a_held_cell_stays_and_what_the_fire_service_takes_is_written_down_at_once() {
    let shop = Shop::of_a_real_day();
    shop.does(&["container", "hold", "PE-0405", "--because", "warm in its drawer", "--stands", "yard"]);
    let to = ["--to", "its owner"];
    let typed = ["leave", "PE-0405", "--how", "handed-back", "--told", "warm"];
    assert!(shop.refuses(&[&typed[..], &to].concat()).contains("under watch since"));
    shop.does(&["container", "escalate", "PE-0405", "--because", "hisses"]);
    assert!(shop.refuses(&[&typed[..], &to].concat()).contains("critical"));
    let because = "hissed in the yard; taken away in a water bath";
    let taken = ["leave", "PE-0405", "--how", "authority", "--to", "Port Ellery fire service"];
    shop.does(&[&taken[..], &["--because", because, "--document", "call 3311"]].concat());
    nothing_due(&shop, "PE-0405");
    let burnt = shop.does(&["leave", "PE-0407", "--how", "burnt", "--because", "burnt out in the sand box"]);
    assert!(burnt.err.starts_with("Burning, smoking"), "{}", burnt.err);
    let told = shop.refuses(&["return", "PE-0407", "--how", "found", "--seen", "ash"]);
    assert!(told.contains("nothing of it can come back"), "{told}");
}

#[test]
fn several_cells_and_a_whole_box_leave_in_one_call_told_as_json() {
    let shop = Shop::of_a_real_day();
    shop.boxes("US", "IN-1", "PE-0402");
    let because = ["--because", "van taken from the yard", "--json"];
    let typed = ["leave", "PE-0403", "PE-0406", "--container", "IN-1", "--how", "stolen"];
    let done = shop.does(&[&typed[..], &because].concat());
    let told: Value = serde_json::from_str(&done.out).unwrap();
    assert_eq!(told["schema"], "celltriage.entered/1");
    let kinds: Vec<&Value> = told["entered"].as_array().unwrap().iter().map(|one| &one["kind"]).collect();
    assert_eq!(kinds, ["cell-left", "cell-left", "container-left"]);
    assert_eq!(told["entered"][2]["event"]["event"]["cells"][0]["cell"], "PE-0402");
    let list = shop.prints(&["container", "list"]);
    assert!(list.contains("left on 2026-11-25: stolen"), "{list}");
    assert!(shop.story("PE-0402").contains("stolen on 2026-11-25, with container IN-1"));
    let told = shop.refuses(&["container", "place", "IN-1", "PE-0401"]);
    assert!(told.contains("container IN-1 has left on 2026-11-25: stolen"), "{told}");
    let back = shop.does(&["return", "--container", "IN-1", "--how", "found", "--seen", "lid broken"]);
    assert!(back.out.contains("CAME BACK with 1 cell, found again"), "{}", back.out);
    let due = shop.prints(&["due"]);
    assert!(due.contains("judge it again or take it out of its container"), "{due}");
    // What was done before a refusal stands, and is told.
    let half = shop.run(NOON, &[&["leave", "PE-0401", "PE-0403"][..], &typed[5..], &because, &BY].concat());
    assert_eq!(half.code, 2, "{}", half.err);
    let told: Value = serde_json::from_str(&half.out).unwrap();
    assert_eq!(told["entered"].as_array().unwrap().len(), 1, "{told}");
}

#[test]
fn a_shipment_is_followed_by_receipt_weight_certificate_and_what_was_refused_comes_back() {
    let shop = Shop::of_a_real_day();
    shop.boxes("US", "IN-1", "PE-0402");
    shop.judge("PE-0403", "intact_waste", &["--because", "worn, looked at all over"]);
    shop.does(&["container", "place", "IN-1", "PE-0403", "--mass-g", "45"]);
    shop.drafts("S-1", "IN-1");
    let early = shop.refuses(&["shipment", "receipt", "S-1", "--reference", "slip 9"]);
    assert!(early.contains("was not handed over"), "{early}");
    shop.does(&["shipment", "agree", "S-1", "--reference", "letter 17"]);
    let hand_over = ["shipment", "hand-over", "S-1", "--document", "D-17", "--received-by", "driver Okoro"];
    shop.does(&[&hand_over[..], &["--checked-by", "Ines Harrow", "--training", "3 March 2026"]].concat());
    let receipt = shop.does(&["shipment", "receipt", "S-1", "--reference", "slip 9", "--net-kg", "0.11"]);
    assert!(receipt.err.contains("110 g at the receiver, 113 g counted here: 3 g less"), "{}", receipt.err);
    let because = ["--refused-by", "Gull Point", "--because", "label fell off"];
    shop.does(&[&["shipment", "refused", "S-1", "--cell", "PE-0403"][..], &because].concat());
    let due = shop.prints(&["due"]);
    assert!(due.contains("refused and not back yet: PE-0403"), "{due}");
    shop.does(&["return", "PE-0403", "--how", "refused", "--from", "driver Okoro", "--seen", "as it left"]);
    assert!(!shop.prints(&["due"]).contains("refused and not back"));
    shop.does(&["shipment", "certificate", "S-1", "--number", "C-118", "--issued-by", "Gull Point"]);
    let paper = shop.prints(&["shipment", "show", "S-1"]);
    for part in [
        "receipt: slip 9, weighed 110 g net",
        "REFUSED by Gull Point, 1 cell (PE-0403)",
        "certificate C-118",
        "PE-0403 on 2026-11-25",
    ] {
        assert!(paper.contains(part), "{part}: {paper}");
    }
    let list = shop.prints(&["shipment", "list"]);
    assert!(list.contains("handed over on 2026-11-25; 1 of 2 came back"), "{list}");
    let json: Value = serde_json::from_str(&shop.prints(&["shipment", "show", "S-1", "--json"])).unwrap();
    assert_eq!(
        (&json["returned"][0]["cell"], json["followed"].as_array().unwrap().len()),
        (&"PE-0403".into(), 3)
    );
    assert!(shop.story("PE-0402").contains("certificate C-118 by Gull Point"));

    // The carrier brings the box back as it was.
    shop.does(&["return", "--container", "IN-1", "--how", "carrier", "--seen", "closed, dry"]);
    let shown = shop.prints(&["container", "show", "IN-1"]);
    assert!(shown.contains("1 cell, 68 g"), "{shown}");
    let again =
        ["shipment", "draft", "S-2", "--container", "IN-1", "--mode", "road", "--receiver", "Gull Point"];
    let told = shop.refuses(&[&again[..], &["--gross-kg", "2"]].concat());
    assert!(told.contains("never mixed") || told.contains("nobody has judged"), "{told}");
    shop.judge("PE-0402", "intact_waste", &["--because", "looked at all over again"]);
    shop.drafts("S-2", "IN-1");
}
