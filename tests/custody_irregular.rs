//! What went wrong is written down as it was, through the command line: refused first, then flagged until it is put right.

use celltriage_tests::{BY, NOON, Shop};
use serde_json::Value;

const HINT: &str = "the same with --irregular 'WHAT IS DONE ABOUT IT'";

/// The words of a text without its lines.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A box for intact cells with one in it, and one for damaged ones with the swollen cell.
fn boxed(place: &str) -> Shop {
    let shop = Shop::of_a_real_day();
    shop.boxes(place, "IN-1", "PE-0402");
    shop.does(&[
        "container",
        "open",
        "DD-1",
        "--kind",
        "damaged",
        "--place",
        place,
        "--stands",
        "drum, yard",
    ]);
    shop.does(&["container", "place", "DD-1", "PE-0404", "--inner", "a", "--mass-g", "71"]);
    shop
}

#[test]
fn a_damaged_cell_found_in_the_intact_box_is_flagged_until_it_is_put_right() {
    let shop = boxed("US");
    let typed = ["container", "place", "IN-1", "PE-0404"];
    let told = shop.refuses(&typed);
    assert!(told.contains("in container DD-1 already") && told.contains(HINT), "{told}");
    let action = ["--irregular", "taken out at once; the box looked through, all dry"];
    let found = shop.does(&[&typed[..], &action].concat());
    let entry = shop.newest().to_string();
    assert!(found.out.contains("IRREGULAR: put into container IN-1"), "{}", found.out);
    assert!(
        found.out.contains("against the rule: cell PE-0404 is in container DD-1 already"),
        "{}",
        found.out
    );
    assert!(found.out.contains("the two are never mixed"), "{}", found.out);
    for (typed, part) in [
        (&["due"][..], "IRREGULAR since 2026-11-25"),
        (&["due"], "PE-0404 take it out of its container: cell PE-0404 is damaged"),
        (&["book", "show", "PE-0404"], "IRREGULAR since 2026-11-25"),
        (&["book", "show", "PE-0404"], "not put right yet"),
        (&["book", "list"], "IRREGULAR: put into container IN-1"),
        (&["container", "show", "IN-1"], "IRREGULAR since 2026-11-25"),
        (&["container", "show", "IN-1"], "2 cells, 139 g"),
        (&["irregularity", "list"], "cell PE-0404: put into container IN-1"),
    ] {
        let shown = flat(&shop.prints(typed));
        assert!(shown.contains(part), "{typed:?} {part}: {shown}");
    }
    let draft =
        ["shipment", "draft", "S-1", "--container", "IN-1", "--mode", "road", "--receiver", "Gull Point"];
    let told = shop.refuses(&[&draft[..], &["--gross-kg", "2"]].concat());
    assert!(told.contains("never mixed"), "{told}");

    // Moving it is not enough: somebody says that it is right now.
    shop.does(&["container", "take-out", "PE-0404", "--because", "wrong box"]);
    assert!(shop.prints(&["due"]).contains("IRREGULAR"));
    let remedy = ["irregularity", "remedy", &entry, "--done", "back in DD-1 in packing a"];
    shop.does(&remedy);
    assert!(!shop.prints(&["due"]).contains("IRREGULAR"));
    assert!(shop.refuses(&remedy).contains("put right already"));
    let told = flat(&shop.story("PE-0404"));
    assert!(
        told.contains("put right on 2026-11-25 by Ines Harrow") && told.contains("back in DD-1"),
        "{told}"
    );
    assert_eq!(shop.prints(&["irregularity", "list"]), "");
    let all: Value =
        serde_json::from_str(&shop.prints(&["irregularity", "list", "--all", "--json"])).unwrap();
    assert_eq!(all["schema"], "celltriage.irregularities/1");
    let one = &all["irregularities"][0];
    assert_eq!((&one["name"], &one["remedied"]["by"]), (&"PE-0404".into(), &"Ines Harrow".into()));
    assert!(shop.prints(&["book", "verify"]).contains("each as it was written"));
}

#[test]
fn a_box_that_left_without_papers_is_gone_and_flagged() {
    let shop = boxed("US");
    let typed = ["leave", "--container", "DD-1", "--how", "recycler", "--to", "driver of Gull Point"];
    let told = shop.refuses(&typed);
    assert!(told.contains("goes to a recycler without a shipment") && told.contains(HINT), "{told}");
    let action = ["--irregular", "recycler called, papers sent after it", "--json"];
    let done = shop.does(&[&typed[..], &action].concat());
    let told: Value = serde_json::from_str(&done.out).unwrap();
    assert_eq!(told["entered"][0]["kind"], "container-irregularity");
    let due = flat(&shop.prints(&["due"]));
    assert!(due.contains("IRREGULAR since") && !due.contains("put it into a container: PE-0404"), "{due}");
    assert!(shop.story("PE-0404").contains("handed to a recycler without a shipment on 2026-11-25"));
    assert!(flat(&shop.prints(&["container", "list"])).contains("DD-1"));
    let entry = shop.newest().to_string();
    let done =
        shop.does(&["irregularity", "remedy", &entry, "--done", "papers D-9 received there", "--json"]);
    let told: Value = serde_json::from_str(&done.out).unwrap();
    assert_eq!(told["entered"][0]["event"]["event"]["what"], "remedy");
}

#[test]
fn a_hand_over_under_a_wrong_code_is_written_down_with_the_code_that_was_used() {
    let shop = boxed("DE");
    shop.drafts("S-1", "IN-1");
    shop.does(&["shipment", "agree", "S-1", "--reference", "letter 17"]);
    let hand_over = ["shipment", "hand-over", "S-1", "--document", "D-17", "--received-by", "driver Okoro"];
    let checked = ["--checked-by", "Ines Harrow", "--training", "3 March 2026", "--waste-code", "20 01 34"];
    let typed = [&hand_over[..], &checked].concat();
    let told = shop.refuses(&typed);
    assert!(told.contains("may not be used on 2026-11-25") && told.contains(HINT), "{told}");
    let done =
        shop.does(&[&typed[..], &["--irregular", "recycler told, a corrected paper asked for"]].concat());
    assert!(done.out.contains("waste code 20 01 34") && done.out.contains("IRREGULAR"), "{}", done.out);
    assert!(shop.prints(&["shipment", "list"]).contains("handed over on 2026-11-25"));
    let told = flat(&shop.story("PE-0402"));
    assert!(told.contains("IRREGULAR: handed over to driver Okoro"), "{told}");
    assert!(shop.prints(&["due"]).contains("IRREGULAR"));
}

#[test]
fn a_critical_cell_that_was_carried_off_and_an_untested_one_that_was_fitted_stay_what_they_are() {
    let shop = boxed("US");
    shop.does(&["container", "escalate", "PE-0404", "--because", "hisses"]);
    let typed = ["container", "take-out", "PE-0404", "--because", "carried into the yard"];
    assert!(shop.refuses(&typed).contains(HINT));
    shop.does(&[&typed[..], &["--irregular", "fire service asked; nobody goes near"]].concat());
    let due = shop.prints(&["due"]);
    assert!(due.lines().next().unwrap().contains("CRITICAL: do not move it"), "{due}");
    let fit = ["trial", "fit", "PE-0406", "--job", "118", "--stays"];
    assert!(shop.refuses(&fit).contains(HINT));
    shop.does(&[&fit[..], &["--irregular", "customer called: device off, not charged"]].concat());
    let told = flat(&shop.story("PE-0406"));
    assert!(told.contains("fitted to stay in the device of job 118") && told.contains("IRREGULAR"), "{told}");
    let assess = shop.run(NOON, &["assess", "--id", "PE-0406", "--no-signs"]);
    assert_eq!(assess.code, 2, "no load: {}", assess.err);
    let out = shop.does(&["trial", "out", "PE-0406"]);
    assert!(out.err.contains("neither charged nor reused"), "{}", out.err);
    let told = shop.refuses(&["leave", "PE-0406", "--how", "sold", "--to", "Mara Quill"]);
    assert!(told.contains("is not sold"), "{told}");
}

#[test]
fn what_the_rules_allow_is_not_irregular_and_a_slip_stays_one() {
    let shop = boxed("US");
    let action = ["--irregular", "nothing"];
    let taken = ["container", "take-out", "PE-0402", "--because", "x"];
    let told = shop.refuses(&[&taken[..], &action].concat());
    assert!(told.contains("no rule refuses it") && told.contains("write it down as usual"), "{told}");
    let told = shop.refuses(&[&["container", "place", "IN-9", "PE-0404"][..], &action].concat());
    assert!(told.contains("there is no container IN-9"), "{told}");
    let told = shop.refuses(&["container", "place", "IN-9", "PE-0404"]);
    assert!(!told.contains(HINT), "an unknown box is no rule: {told}");
    let note = ["irregularity", "note", "--container", "DD-1", "--happened", "stood open overnight"];
    let rule = ["--breaks", "closed at all times", "--action", "closed; lock bought"];
    shop.does(&[&note[..], &rule].concat());
    assert!(
        flat(&shop.prints(&["due"])).contains("stood open overnight; against the rule: closed at all times")
    );
    let both = shop.run(NOON, &[&note[..], &rule, &["--cell", "PE-0404"], &BY].concat());
    assert_eq!(both.code, 2, "it is about one thing");
}
