//! Measurement assurance from end to end: a check standard, its chart, the stop of a fixture that drifts, what is overdue.

use celltriage_tests::{FIXTURE, NOON, Shop, snapshot};
use serde_json::Value;

#[test]
fn a_drift_stops_the_fixture_until_it_is_calibrated_or_somebody_takes_it_upon_themself() {
    let shop = Shop::new();
    shop.define(&[]);
    shop.calibrate_all("supply");
    for _ in 0..12 {
        let call = shop.measure("check-standard");
        assert_eq!(call.code, 0, "{}\n{}", call.out, call.err);
    }
    assert_eq!(shop.assess(&[]).code, 0);
    snapshot!("check_standard_stop", shop.shown(&shop.measure("drifted")));
    snapshot!("check_standard_chart", shop.shown(&shop.run(NOON, &["fixture", "check-standard", "chart"])));
    snapshot!("fixture_standing_stopped", shop.shown(&shop.run(NOON, &["fixture", "standing"])));
    snapshot!("assess_stopped", shop.shown(&shop.assess(&[])));
    let despite = shop.assess(&["--json", "--despite-stop", "only the rest voltage is wanted"]);
    assert_eq!(despite.code, 0, "{}", despite.err);
    let value: Value = serde_json::from_str(&despite.out).expect("JSON");
    let why = value["conditions"]["calibration_used"]["despite_stop"].as_str().expect("recorded");
    assert!(why.contains("only the rest voltage is wanted"), "{why}");
    assert!(value["conditions"]["trace_notes"].to_string().contains("despite its stop"));
    // A guided run takes the same options; a batch takes the reason in its file, and says so where it is missing.
    let guided = |more: &[&str]| {
        let typed =
            ["guided", "--id", "PE-0502", "--simulated", "sound", "--no-signs", "--thickness-mm", "4.05"];
        shop.run("2026-11-25T14:00:00Z", &[&typed[..], more].concat())
    };
    shop.run(NOON, &["guided", "--id", "PE-0502", "--simulated", "sound", "--charged"]);
    let stopped = guided(&[]);
    assert!(stopped.code == 3 && stopped.err.contains("--despite-stop"), "{}", stopped.err);
    let run = guided(&["--despite-stop", "nothing else is free", "--acknowledge-trip", "--json"]);
    assert_eq!(run.code, 0, "{}", run.err);
    assert!(run.out.contains("nothing else is free (the stop: "), "{}", run.out);
    let batch = |more: &str| {
        let text = "[[cell]]\nid = \"PE-0503\"\nsimulated = \"sound\"\nextent = \"screen\"\n";
        let file = shop.file("tonight.toml", &format!("{text}{more}"));
        shop.run(NOON, &["batch", &file])
    };
    let blind = batch("");
    assert!(
        blind.err.contains("below its [[cell]] no_signs = true") && !blind.err.contains("--"),
        "{}",
        blind.err
    );
    let stopped = batch("no_signs = true\n");
    assert!(stopped.code == 3 && stopped.err.contains("write despite_stop = "), "{}", stopped.err);
    assert!(!stopped.err.contains("--"), "{}", stopped.err);
    let run = batch("no_signs = true\ndespite_stop = \"nothing else is free\"\n");
    assert!(run.code == 0 && run.err.contains("used anyway: nothing else is free"), "{}", run.err);
    // Calibrated again, the fixture whose shunt has changed measures right again.
    shop.calibrate_all("drifted");
    assert_eq!(shop.assess(&[]).code, 0);
    let after = shop.measure("drifted");
    assert_eq!(after.code, 0, "{}\n{}", after.out, after.err);
}

#[test]
fn a_chart_is_drawn_that_can_be_looked_at() {
    let shop = Shop::new();
    shop.define(&[]);
    for _ in 0..10 {
        shop.measure("check-standard");
    }
    let file = shop.path("chart.svg");
    let drawn = shop.run(NOON, &["fixture", "check-standard", "chart", "--svg", &file]);
    assert_eq!(drawn.code, 0, "{}", drawn.err);
    let svg = std::fs::read_to_string(file).expect("drawn");
    assert_eq!(svg.matches("<circle").count(), 10);
    let json = shop.run(NOON, &["fixture", "check-standard", "chart", "--json"]);
    let value: Value = serde_json::from_str(&json.out).expect("JSON");
    assert_eq!(value["chart"]["values"].as_array().map(Vec::len), Some(10));
}

#[test]
fn a_known_source_is_judged_and_charted_like_the_resistor() {
    let shop = Shop::new();
    shop.define(&[]);
    shop.calibrate_all("supply");
    shop.measure("check-standard");
    let of_source = ["fixture", "check-standard", "chart", "--of", "source", "--json"];
    let unknown = shop.run(NOON, &of_source);
    assert_eq!(unknown.code, 2, "its source was not stated: {}", unknown.out);
    shop.define(&["--source-v", "4.0", "--source-limit-mv", "2"]);
    for _ in 0..10 {
        let call = shop.measure("check-standard");
        assert_eq!(call.code, 0, "{}\n{}", call.out, call.err);
    }
    let value: Value = serde_json::from_str(&shop.run(NOON, &of_source).out).expect("JSON");
    let values: Vec<f64> = serde_json::from_value(value["chart"]["values"].clone()).expect("numbers");
    // The simulated supply gives 4 V; the calibration leaves a few tenths of a millivolt.
    assert_eq!(values.len(), 10, "the measurement before the source was stated is not on its chart");
    assert!(values.iter().all(|millivolts| (millivolts - 4_000.0).abs() < 2.0), "{values:?}");
    // A source that is not what it is stated to be stops the fixture: one of the two is wrong.
    shop.define(&["--source-v", "4.05", "--source-limit-mv", "2"]);
    let stopped = shop.measure("check-standard");
    assert_eq!(stopped.code, 6, "{}\n{}", stopped.out, stopped.err);
    assert!(stopped.out.contains("its source: it differs from the stated 4050.000 mV"), "{}", stopped.out);
    assert_eq!(shop.assess(&[]).code, 3);
    let absurd = shop.run(
        NOON,
        &[
            "fixture",
            "check-standard",
            "define",
            "R2",
            "--resistance-mohm",
            "50",
            "--limit-percent",
            "0.5",
            "--certificate",
            "none",
            "--by",
            "M. Adeyemi",
            "--source-v",
            "12",
            "--source-limit-mv",
            "2",
        ],
    );
    assert!(absurd.code == 2 && absurd.err.contains("nothing was written"), "{}", absurd.err);
}

#[test]
fn what_is_overdue_is_told_where_it_matters() {
    let shop = Shop::new();
    shop.define(&[]);
    shop.calibrate_all("supply");
    shop.measure("check-standard");
    let typed = ["assess", "--id", "PE-0501", "--simulated", "sound", "--no-signs", "--thickness-mm", "4.05"];
    let later = shop.run("2028-01-10T12:00:00Z", &typed);
    assert!(later.err.contains("measure check standard R1 (was due 2026-12-02)"), "{}", later.err);
    assert!(later.err.contains("calibrate the voltage (was due 2027-11-25)"), "{}", later.err);
    let due = shop.run("2028-01-10T12:00:00Z", &["due"]);
    assert!(due.out.contains("calibrate the current") && due.out.contains(FIXTURE), "{}", due.out);
    assert!(!shop.assess(&[]).err.contains("was due"));
}

#[test]
fn a_book_that_knows_no_fixture_says_so() {
    let shop = Shop::new();
    assert_eq!(shop.run(NOON, &["assess", "--id", "PE-0501", "--simulated", "sound", "--no-signs"]).code, 0);
    let call = shop.run(NOON, &["fixture", "standing"]);
    assert!(call.code == 0 && call.out.is_empty(), "{}", call.out);
    assert!(call.err.contains("knows no fixture") && call.err.contains("fixture calibrate"), "{}", call.err);
}

#[test]
fn without_a_standard_or_with_an_unusable_one_it_is_said_what_to_do() {
    let shop = Shop::new();
    let none = shop.measure("check-standard");
    assert!(none.code == 2 && none.err.contains("check-standard define"), "{}", none.err);
    let useless = shop.run(
        NOON,
        &[
            "fixture",
            "check-standard",
            "define",
            "R0",
            "--resistance-mohm",
            "0",
            "--limit-percent",
            "0.5",
            "--certificate",
            "none",
            "--by",
            "M. Adeyemi",
        ],
    );
    assert!(useless.code == 2 && useless.err.contains("nothing was written"), "{}", useless.err);
}
