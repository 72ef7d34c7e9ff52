//! No answer is lost: what can be known beforehand is told before the first question, answers survive a call that does not come to
//! its end, and a fate that is settled ends the questions.

use celltriage_tests::{EVENING, NOON, Shop};

const ASSESS: &str = "assess --simulated sound --id K-1";
/// All signs, and the three points at which a thickness is taken.
const ALL: [&str; 12] = ["n", "n", "n", "n", "n", "n", "n", "n", "n", "3.25", "3.25", "3.25"];

#[test]
fn an_ended_input_keeps_the_answers_and_the_next_call_offers_them() {
    let shop = Shop::new();
    let ended = shop.asked(NOON, ASSESS, &[], Some(&ALL[..5]));
    assert_eq!(ended.code, 2, "{}", ended.err);
    assert!(ended.err.contains("the questions about K-1 were ended"), "{}", ended.err);
    assert!(ended.err.contains("the same call offers them again"), "{}", ended.err);
    // The rest of them: yes, then four signs and three thicknesses.
    let rest = [&["y"][..], &ALL[5..]].concat();
    let done = shop.asked(EVENING, ASSESS, &["--full"], Some(&rest));
    assert_eq!(done.code, 0, "{}", done.err);
    assert!(done.out.contains("U N D E C I D E D"), "{}", done.out);
    assert!(
        done.out.contains("Looked for and not found: active now, leaked, casing open, swollen"),
        "{}",
        done.out
    );
    // The decision holds them: nothing is offered any more.
    let again = shop.asked(EVENING, ASSESS, &[], Some(&ALL));
    assert_eq!(again.code, 0, "{}", again.err);
}

#[test]
fn answers_that_are_not_wanted_are_asked_anew() {
    let shop = Shop::new();
    assert_eq!(shop.asked(NOON, ASSESS, &[], Some(&ALL[..5])).code, 2);
    let done = shop.asked(NOON, ASSESS, &[], Some(&[&["n"][..], &ALL].concat()));
    assert_eq!(done.code, 0, "{}", done.err);
}

#[test]
fn a_missing_port_is_told_before_the_questions_and_loses_none_of_the_answers() {
    let shop = Shop::new();
    let label = shop.file("cell.toml", "rated_capacity_ah = 3.0\ncharge_limit_v = 4.35\nform = \"pouch\"\n");
    let typed = format!("assess --id K-2 --port /dev/no-such-port --cell {label}");
    let lost = shop.asked(NOON, &typed, &[], Some(&[&["n"; 9][..], &["y"]].concat()));
    assert_eq!(lost.code, 3, "{}", lost.err);
    let warned = lost.err.find("plug the fixture in before the questions are answered");
    assert!(warned.is_some(), "{}", lost.err);
    assert!(lost.err.contains("the same call offers them again"), "{}", lost.err);
    let taken = shop.asked(NOON, &typed, &[], Some(&["y"]));
    assert_eq!(taken.code, 3, "no question is open any more: {}", taken.err);
}

#[test]
fn a_wrong_label_is_told_before_the_first_question() {
    let shop = Shop::new();
    // But for the one that may save people. Another question would end the input, which is told in other words.
    let told = shop.asked(NOON, "assess --id K-3 --cell no-such-file.toml", &[], Some(&["n"]));
    assert!(told.code == 2 && told.err.contains("no-such-file.toml"), "{}", told.err);
}

#[test]
fn a_sign_that_is_found_ends_the_questions() {
    let shop = Shop::new();
    let found = shop.asked(NOON, ASSESS, &[], Some(&["n", "n", "n", "y"]));
    assert_eq!(found.code, 0, "{}", found.err);
    assert!(found.err.contains("the other signs are not asked"), "{}", found.err);
    assert!(found.out.contains("QUARANTINE  cell "), "{}", found.out);
    // What is known of it decides the next time: only whether it reacts is asked.
    let known = shop.asked(EVENING, ASSESS, &[], Some(&["n"]));
    assert_eq!(known.code, 0, "{}", known.err);
    assert!(known.err.contains("what is known of it decides"), "{}", known.err);
}
