//! What people read of the fixture itself: identity, self-test, live values; as snapshots, without hardware.

use celltriage_tests::{call, snapshot};

#[test]
fn identity_and_self_test_read_well() {
    snapshot!(
        "fixture_identify",
        call(&["fixture", "identify", "--simulated", "check-standard"], None).shown()
    );
    snapshot!(
        "fixture_self_test",
        call(&["fixture", "self-test", "--simulated", "check-standard", "--load"], None).shown()
    );
    snapshot!(
        "fixture_self_test_drifted",
        call(&["fixture", "self-test", "--simulated", "drifted", "--load"], None).shown()
    );
    snapshot!(
        "fixture_self_test_warm",
        call(&["fixture", "self-test", "--simulated", "self-warming"], None).shown()
    );
    snapshot!(
        "fixture_watch",
        call(&["fixture", "watch", "--simulated", "sound", "--for", "3"], None).shown()
    );
    snapshot!("fixture_unknown", call(&["fixture", "watch", "--simulated", "nothing"], None).shown());
    snapshot!("help_fixture_self_test", call(&["fixture", "self-test", "--help"], None).shown());
}

#[test]
fn json_keeps_to_its_contract_and_stands_alone_on_standard_output() {
    for (typed, schema) in [
        (vec!["fixture", "identify", "--simulated", "sound", "--json"], "celltriage.fixture/1"),
        (vec!["fixture", "self-test", "--simulated", "supply", "--json"], "celltriage.self-test/1"),
        (vec!["fixture", "list", "--json"], "celltriage.ports/1"),
    ] {
        let value: serde_json::Value = serde_json::from_str(&call(&typed, None).out).expect("JSON alone");
        assert_eq!(value["schema"], schema);
    }
    let lines = call(&["fixture", "watch", "--simulated", "sound", "--for", "2", "--json"], None).out;
    for line in lines.lines() {
        let value: serde_json::Value = serde_json::from_str(line).expect("one object on each line");
        assert!(value["voltage_v"].is_number(), "{line}");
    }
}

#[test]
fn the_newest_readings_are_drawn_over_the_ones_before_only_on_a_screen() {
    let call = call(&["fixture", "watch", "--simulated", "sound", "--for", "2"], None);
    assert!(!call.out.contains('\u{1b}'), "{}", call.out);
    assert_eq!(call.out.lines().count(), 3, "at the beginning, after one second, after two");
}
