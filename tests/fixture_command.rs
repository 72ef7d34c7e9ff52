//! What people read of the fixture itself: identity, self-test, live values; as snapshots, without hardware.

use celltriage_tests::{Call, Shop, call, snapshot};

/// Looks at the fixture beside a book that is not there: it was never calibrated.
fn look(typed: &[&str]) -> Call {
    Shop::new().run_unstated(&[&["fixture"], typed].concat())
}

#[test]
fn identity_and_self_test_read_well() {
    snapshot!("fixture_identify", look(&["identify", "--simulated", "check-standard"]).shown());
    snapshot!("fixture_self_test", look(&["self-test", "--simulated", "check-standard", "--load"]).shown());
    snapshot!("fixture_self_test_drifted", look(&["self-test", "--simulated", "drifted", "--load"]).shown());
    snapshot!("fixture_self_test_warm", look(&["self-test", "--simulated", "self-warming"]).shown());
    snapshot!("fixture_watch", look(&["watch", "--simulated", "sound", "--for", "3"]).shown());
    snapshot!("fixture_unknown", look(&["watch", "--simulated", "nothing"]).shown());
    snapshot!("help_fixture_self_test", call(&["fixture", "self-test", "--help"], None).shown());
}

#[test]
fn json_keeps_to_its_contract_and_stands_alone_on_standard_output() {
    for (call, schema) in [
        (look(&["identify", "--simulated", "sound", "--json"]), "celltriage.fixture/1"),
        (look(&["self-test", "--simulated", "supply", "--json"]), "celltriage.self-test/1"),
        (call(&["fixture", "list", "--json"], None), "celltriage.ports/1"),
    ] {
        let value: serde_json::Value = serde_json::from_str(&call.out).expect("JSON alone");
        assert_eq!(value["schema"], schema);
    }
    let lines = look(&["watch", "--simulated", "sound", "--for", "2", "--json"]).out;
    for line in lines.lines() {
        let value: serde_json::Value = serde_json::from_str(line).expect("one object on each line");
        assert!(value["voltage_v"].is_number(), "{line}");
    }
}

#[test]
fn the_newest_readings_are_drawn_over_the_ones_before_only_on_a_screen() {
    let call = look(&["watch", "--simulated", "sound", "--for", "2"]);
    assert!(!call.out.contains('\u{1b}'), "{}", call.out);
    assert_eq!(call.out.lines().count(), 3, "at the beginning, after one second, after two");
}
