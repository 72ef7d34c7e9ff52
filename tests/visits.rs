//! Visits of one cell: the loss between two, and the guided capacity run from day to day.
//!
//! Everything goes through the command line on the simulated bench; only the clock is moved from visit to visit.

use celltriage_tests::{NOON, Shop, snapshot};

/// The simulated cell loses nothing between the visits, so the loss must come out as none, and only where it is allowed.
#[test]
fn the_second_visit_tells_the_loss_and_until_then_the_day() {
    let shop = Shop::new();
    let visit = |now: &str, more: &[&str]| {
        let mut typed = vec![
            "assess",
            "--id",
            "PE-3",
            "--simulated",
            "sound",
            "--no-signs",
            "--extent",
            "rest",
            "--json",
        ];
        typed.extend_from_slice(more);
        shop.run(now, &typed).json()
    };
    let why = |assessment: &serde_json::Value| {
        assessment["conditions"]["not_estimated"]["self_discharge_per_month"].as_str().map(str::to_owned)
    };
    let first = visit("2026-11-20T09:00:00Z", &["--rested-h", "30"]);
    let charge = first["estimates"]["state_of_charge"]["value"].as_f64().expect("a state of charge");
    let told = why(&first).expect("no number yet");
    let second = why(&visit("2026-11-21T09:00:00Z", &[])).unwrap_or_default();
    assert!(charge >= 0.6, "below that no loss is told: {charge}");
    assert!(told.contains("from 2026-11-23 09:00 on"), "{told}");
    assert!(second.contains("24 h lie between") && second.contains("from 2026-11-23 09:00 on"), "{second}");
    let third = visit("2026-11-23T09:00:00Z", &[]);
    assert_eq!(why(&third), None);
    let loss = &third["estimates"]["self_discharge_per_month"];
    let (value, doubt) =
        (loss["value"].as_f64().expect("a loss"), loss["standard_uncertainty"].as_f64().expect("a doubt"));
    assert!(value.abs() < 2.0 * doubt && doubt < 0.03, "{value} {doubt}");
    let recomputed = shop.run(NOON, &["book", "recompute", "3"]);
    assert_eq!(recomputed.code, 0, "{}{}", recomputed.out, recomputed.err);

    // A charge ends the storage, not the estimate from it.
    let guided = ["guided", "--id", "PE-3", "--simulated", "sound"];
    assert_eq!(shop.run("2026-11-23T10:00:00Z", &[&guided[..], &["--charged"]].concat()).code, 0);
    let tested = shop.run("2026-11-23T12:00:00Z", &[&guided[..], &["--no-signs", "--json"]].concat());
    assert_eq!(tested.code, 0, "{}", tested.err);
    let still = &tested.json()["estimates"]["self_discharge_per_month"];
    assert_eq!(still["value"], loss["value"]);
    assert!(still["warnings"].to_string().contains("until 2026-11-23 09:00"), "{still}");
    let told = tested.err.lines().find_map(|line| line.strip_prefix("written as entry "));
    let entry = told.and_then(|told| told.split(' ').next()).expect("the number of the entry");
    let recomputed = shop.run(NOON, &["book", "recompute", entry]);
    assert_eq!(recomputed.code, 0, "{}{}", recomputed.out, recomputed.err);
}

#[test]
fn a_guided_run_goes_on_from_the_book_through_every_stage() {
    let shop = Shop::new();
    let mut story = String::new();
    let mut step = |now: &str, typed: &[&str]| {
        let call = shop.run(now, typed);
        story.push_str(&format!("$ celltriage {}   # {now}\n{}\n", typed.join(" "), shop.shown(&call)));
        call
    };
    let guided = ["guided", "--id", "PE-4", "--simulated", "sound"];
    // Nobody has looked at it: nobody is told to charge it.
    let unseen = step("2026-11-24T15:50:00Z", &guided);
    assert!(unseen.code == 2 && unseen.out.is_empty(), "{}", unseen.out);
    step("2026-11-24T16:00:00Z", &[&guided[..], &["--no-signs"]].concat());
    step("2026-11-24T17:00:00Z", &["guided", "--list"]);
    step("2026-11-24T19:00:00Z", &["guided", "--id", "PE-4", "--charged"]);
    // Said twice, it changes nothing.
    step("2026-11-24T19:01:00Z", &["guided", "--id", "PE-4", "--charged"]);
    step("2026-11-24T19:59:59Z", &["guided", "--id", "PE-4"]);
    step("2026-11-25T07:00:00Z", &["guided", "--list"]);
    step("2026-11-25T07:05:00Z", &["guided", "--id", "PE-4"]);
    let looked = ["--no-signs", "--thickness-mm", "4.05"];
    let done = step("2026-11-25T07:10:00Z", &[&guided[..], &looked].concat());
    assert_eq!(done.code, 0, "{}", done.err);
    assert!(done.out.contains("REUSE       cell "), "{}", done.out);
    step("2026-11-25T13:00:00Z", &["guided", "--list"]);
    step("2026-11-25T13:00:00Z", &["book", "list"]);
    snapshot!("guided_story", story);
    assert_eq!(shop.run(NOON, &["book", "verify"]).code, 0);
}

#[test]
fn a_guided_run_waits_for_the_rest_and_refuses_a_cell_that_is_not_full() {
    let shop = Shop::new();
    // A cell of the 4.35 V class under a label of 4.45 V is never full.
    let label = shop.file("label.toml", "rated_capacity_ah = 3.0\ncharge_limit_v = 4.45\n");
    let typed = ["guided", "--id", "PE-8", "--simulated", "sound", "--cell", &label];
    let begun = shop.run("2026-11-24T19:00:00Z", &[&typed[..], &["--charged"]].concat());
    assert!(begun.out.contains("until 2026-11-24 20:00"), "{}", begun.out);
    let refused = shop.run("2026-11-24T19:59:59Z", &[&typed[..], &["--wait", "--no-signs"]].concat());
    assert_eq!(refused.code, 3, "{}{}", refused.out, refused.err);
    assert!(refused.err.contains("waiting 1 min"), "{}", refused.err);
    assert!(refused.err.contains("not full") && refused.err.contains("charge it again"), "{}", refused.err);
    let listed = shop.run("2026-11-25T08:00:00Z", &["guided", "--list", "--json"]).json();
    assert_eq!(listed["runs"][0]["stage"]["stage"], "to_charge");
    assert!(listed["runs"][0]["stage"]["why"].as_str().expect("a reason").contains("not full"));
    // What was measured for the refusal is kept with it.
    assert_eq!(shop.run(NOON, &["book", "verify"]).code, 0);
    assert!(!shop.run(NOON, &["book", "list"]).err.contains("never judged"));
}
