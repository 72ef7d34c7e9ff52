//! Labels that contradict the book or the cell: what a guided run and its neighbours do about a charge limit that changes.

use celltriage_tests::{EVENING, NOON, Shop};

/// Simulated sound cells rest at 4.335 V when charged; a label of 4.20 V makes that an over-charge.
#[test]
fn an_over_charged_cell_is_judged_and_its_run_ends() {
    let shop = Shop::new();
    let label = shop.label("label.toml", 4.2, 3.0);
    assert_eq!(shop.at(NOON, "guided --id M --charged --cell", &[&label]).code, 0);
    let found = shop.at(EVENING, "guided --id M --simulated sound --no-signs", &[]);
    assert!(found.out.contains("QUARANTINE  cell "), "{}{}", found.out, found.err);
    assert!(found.out.contains("charged past its limit"), "{}", found.out);
    assert!(!found.err.contains("check the clips"), "{}", found.err);
    shop.never_charged("M", "(entry ");
    assert_eq!(shop.fate("M").as_deref(), Some("quarantine"));
    assert!(shop.at(EVENING, "guided --list", &[]).err.contains("no cell is in a capacity run"));
    assert_eq!(shop.at(NOON, "book verify", &[]).code, 0);
}

#[test]
fn a_corrected_label_is_kept_and_a_raised_one_wants_a_person() {
    let shop = Shop::new();
    let (high, low) = (shop.label("high.toml", 4.35, 3.0), shop.label("low.toml", 4.2, 3.0));
    let first = shop.at(NOON, "guided --id N --simulated high-resistance --no-signs --cell", &[&high]);
    assert!(first.out.contains("limit 4.35 V"), "{}{}", first.out, first.err);
    let lower = shop.at(NOON, "guided --id N --cell", &[&low]);
    assert!(
        lower.out.contains("limit 4.2 V") && lower.err.contains("4.35 V there, 4.2 V now"),
        "{}",
        lower.err
    );
    assert!(lower.err.contains("new label"), "{}", lower.err);
    let again = shop.at(NOON, "guided --id N --cell", &[&low]);
    assert!(!again.err.contains("label") && again.out.contains("limit 4.2 V"), "{}", again.err);
    let third = shop.at(NOON, "guided --id N", &[]);
    assert!(third.out.contains("limit 4.2 V") && !third.out.contains("4.35"), "{}", third.out);
    let raised = shop.at(NOON, "guided --id N --cell", &[&high]);
    assert!(raised.code == 2 && raised.out.is_empty() && raised.err.contains("higher"), "{}", raised.err);
    assert!(shop.at(NOON, "guided --id N", &[]).out.contains("limit 4.2 V"));
    let denied = shop.asked(NOON, "guided --id N --cell", &[&high], Some(&["n"]));
    assert_eq!(denied.code, 2, "{}", denied.out);
    let confirmed = shop.asked(NOON, "guided --id N --cell", &[&high], Some(&["y"]));
    assert!(confirmed.out.contains("limit 4.35 V"), "{}{}", confirmed.out, confirmed.err);
    // While it rests, a corrected label does not start the hour again.
    assert_eq!(shop.at(NOON, "guided --id N --charged", &[]).code, 0);
    let resting = shop.at("2026-11-25T12:30:00Z", "guided --id N --cell", &[&low]);
    assert!(resting.out.contains("until 2026-11-25 13:00"), "{}{}", resting.out, resting.err);
}

#[test]
fn a_label_that_contradicts_the_book_is_told_by_every_command_that_writes_there() {
    let shop = Shop::new();
    let (high, low) = (shop.label("high.toml", 4.35, 5.1), shop.label("low.toml", 4.2, 3.0));
    let assess = "assess --id O --simulated sound --no-signs --cell";
    assert!(!shop.at(NOON, assess, &[&high]).err.contains("another label"));
    let answer = ["--same-cell", "read wrongly", "--assessor", "R. Lindqvist"];
    let second = shop.at(NOON, assess, &[&[low.as_str(), "--full"], &answer[..]].concat());
    for told in [&second.err, &second.out] {
        let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            told.contains("charge limit 4.35 V there, 4.2 V now; rated capacity 5.1 Ah there, 3 Ah"),
            "{told}"
        );
    }
    assert_eq!(shop.at(NOON, "book recompute 2", &[]).code, 0);
    let text = "[[cell]]\nid = \"O\"\nsimulated = \"sound\"\nno_signs = true\nextent = \"rest\"\ncell = \"high.toml\"\n";
    let file = shop.file("night.toml", text);
    let batch = shop.at(NOON, "batch", &[&file]);
    assert!(batch.err.contains("entry 2 has another label"), "{}", batch.err);
    // A trace from elsewhere is of a real cell, so it belongs into another book.
    let real = Shop::new();
    let grade = "grade traces/two_level.csv --id OO --no-signs --cell";
    assert_eq!(real.at(NOON, grade, &[&high]).code, 0);
    let graded = real.at(NOON, grade, &[&low]);
    assert!(graded.err.contains("entry 1 has another label"), "{}", graded.err);
}
