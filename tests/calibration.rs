//! A calibration from end to end: what is stored, what is refused, which command uses it.
//!
//! The truth here is that of the simulated parts (`ChannelErrors` and `Imperfections` of the simulated board), which no
//! program of the host can see.

use celltriage_book::Book;
use celltriage_instrument::calibration::{CALIBRATION, CalibrationRecord};
use celltriage_instrument::connected::Connected;
use celltriage_link::Client;
use celltriage_protocol::calibration::{Calibration, Channel};
use celltriage_simulated_board::chips::channel::{ChannelErrors, SHUNT_OHM};
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library;
use celltriage_tests::{Break, BreakingLink, FIXTURE, NOON, SharedBench, Shop, snapshot};
use serde_json::Value;

#[test]
fn a_guided_calibration_finds_the_errors_of_the_parts() {
    let shop = Shop::new();
    snapshot!("calibrate_voltage", shop.shown(&shop.calibrate("voltage", "supply", "0.05", "0.0002")));
    snapshot!("calibrate_current", shop.shown(&shop.calibrate("current", "supply", "0.2", "0.0005")));
    snapshot!("calibrate_thermometers", shop.shown(&shop.calibrate("thermometers", "supply", "0", "0.1")));
    let found: Vec<(u32, CalibrationRecord)> = shop
        .open()
        .records(CALIBRATION, &celltriage_book::Subject::new(celltriage_book::SubjectKind::Fixture, FIXTURE))
        .expect("readable");
    let last = &found.last().expect("three").1;
    assert_eq!((found.len(), last.new.number), (3, 3));
    let truth = ChannelErrors::default();
    // The inverse of gain and offset; within the noise of a mean of 100, over 1.2 V or 1.5 A.
    let near = |found: i32, wanted: f64, within: f64| (f64::from(found) - wanted).abs() <= within;
    let voltage_ppm = (1.0 / (1.0 + truth.voltage_gain) - 1.0) * 1e6;
    assert!(near(last.new.voltage.gain_ppm, voltage_ppm, 150.0), "{:?}", last.new.voltage);
    assert!(near(last.new.voltage.offset, -truth.voltage_offset_v * 1e6, 500.0), "{:?}", last.new.voltage);
    let current_ppm = (1.0 / (1.0 + truth.current_gain) - 1.0) * 1e6;
    assert!(near(last.new.current.gain_ppm, current_ppm, 60.0), "{:?}", last.new.current);
    let offset_ua = -truth.shunt_offset_v / SHUNT_OHM * 1e6;
    assert!(near(last.new.current.offset, offset_ua, 60.0), "{:?}", last.new.current);
    // Thermometers: 40 mK and -30 mK of the parts.
    assert!(near(last.new.cell_temperature.offset, -40.0, 25.0), "{:?}", last.new);
    assert!(near(last.new.ambient_temperature.offset, 30.0, 25.0), "{:?}", last.new);
    assert!(
        last.voltage.is_some() && last.current.is_some() && last.thermometers_k.is_some(),
        "doubts are carried on"
    );
}

#[test]
fn the_book_shows_a_calibration_with_every_figure() {
    let shop = Shop::new();
    shop.calibrate_all("supply");
    snapshot!("calibration_book_list", shop.shown(&shop.run(NOON, &["book", "list"])));
    let shown = shop.run(NOON, &["book", "show", "entry:1"]);
    assert!(shown.out.contains("bench meter 7") && shown.out.contains("gain_ppm"), "{}", shown.out);
    assert_eq!(shop.run(NOON, &["book", "verify"]).code, 0);
}

#[test]
fn figures_that_cannot_be_are_refused_and_nothing_is_stored() {
    let shop = Shop::new();
    let given = |points: &[&str]| {
        let mut typed = vec![
            "fixture",
            "calibrate",
            "voltage",
            "--simulated",
            "supply",
            "--by",
            "M. Adeyemi",
            "--reference",
            "meter",
            "--of-reading-percent",
            "0.1",
            "--plus",
            "0.0002",
        ];
        for point in points {
            typed.extend(["--point", point]);
        }
        shop.run(NOON, &typed)
    };
    for (points, why) in [
        (&["42.00=4.19", "3.0=2.995"][..], "check the figure and its unit"),
        (&["4.2=4.1", "4.3=4.2"], "apart"),
        (&["3.0=2.99", "4.2=4.90"], "decimal point"),
        (&["3.0=2.99"], "two are needed"),
        (&["three=2.99", "4.2=4.19"], "no pair of numbers"),
    ] {
        let refused = given(points);
        assert!(refused.code == 2 && refused.err.contains(why), "{points:?}: {}", refused.err);
    }
    let records: Vec<(u32, CalibrationRecord)> = shop
        .open()
        .records(CALIBRATION, &celltriage_book::Subject::new(celltriage_book::SubjectKind::Fixture, FIXTURE))
        .expect("readable");
    assert!(records.is_empty());
    let stored = given(&["3.0000=2.9953", "4.2000=4.1931"]);
    assert!(stored.code == 0 && stored.out.contains("+1837 ppm -802 uV"), "{}\n{}", stored.out, stored.err);
}

#[test]
fn a_worse_reference_leaves_more_doubt_and_every_assessment_says_which_calibration_it_used() {
    let doubt = |percent: &str| {
        let shop = Shop::new();
        shop.calibrate("voltage", "supply", "0.05", "0.0002");
        assert_eq!(shop.calibrate("current", "supply", percent, "0.0005").code, 0);
        let call = shop.assess(&["--json"]);
        assert_eq!(call.code, 0, "{}", call.err);
        let value: Value = serde_json::from_str(&call.out).expect("JSON");
        let used = &value["conditions"]["calibration_used"];
        assert_eq!((used["number"].as_u64(), used["entry"].as_u64()), (Some(2), Some(2)), "{used}");
        assert_eq!((used["on"].as_str(), used["due"].as_str()), (Some("2026-11-25"), Some("2027-11-25")));
        assert_eq!(used["reference"], "bench meter 7, certificate of 2026-03-02");
        let again = shop.run(NOON, &["book", "recompute", "3"]);
        assert_eq!(again.code, 0, "{}\n{}", again.out, again.err);
        value["estimates"]["resistance_dc_ohm"]["standard_uncertainty"].as_f64().expect("measured")
    };
    let (good, bad) = (doubt("0.2"), doubt("1.5"));
    assert!(bad > 1.3 * good, "{good} {bad}");
}

/// A simulated fixture has in its store what the book saw stored there, whichever command asks it.
#[test]
fn every_command_meets_the_calibration_that_was_stored() {
    let shop = Shop::new();
    shop.calibrate_all("supply");
    let identity = shop.run(NOON, &["fixture", "identify", "--simulated", "sound", "--json"]);
    let value: Value = serde_json::from_str(&identity.out).expect("JSON");
    assert_eq!(value["calibration"]["number"], 3, "{value}");
    for typed in [
        &["fixture", "read", "--simulated", "supply"][..],
        &["fixture", "self-test", "--simulated", "check-standard"],
        &["fixture", "watch", "--simulated", "sound", "--for", "1"],
        &["hot-cell-watch", "--id", "PE-0504", "--simulated", "sound", "--hours", "0.01"],
    ] {
        let call = shop.run(NOON, typed);
        assert!(call.code == 0 && call.err.contains("calibration 3"), "{typed:?}: {}", call.err);
    }
    // The supply is at 4 V; uncalibrated the fixture reads it 0.8 mV off.
    let read = shop.run(NOON, &["fixture", "read", "--simulated", "supply", "--json"]);
    let value: Value = serde_json::from_str(&read.out).expect("JSON");
    let volts = value["reading"]["voltage_v"]["mean"].as_f64().expect("a voltage");
    assert!((volts - 4.0).abs() < 2e-4, "{volts}");
    // Where there is no book there is no calibration, and none is made.
    let nowhere = shop.folder().join("none.sqlite");
    let path = nowhere.to_string_lossy();
    let call = celltriage_tests::call(&["fixture", "read", "--simulated", "supply", "--book", &path], None);
    assert!(call.err.contains("never calibrated") && !nowhere.exists(), "{}", call.err);
}

/// What an assessment says of the calibration it used.
fn calibration_of(book: &Book, cell: &str) -> Value {
    let filter =
        celltriage_book::Filter { about: Some(celltriage_book::Subject::cell(cell)), ..Default::default() };
    let entries = book.entries(&filter).expect("the book is read");
    let judged = entries.iter().find(|entry| entry.fate.is_some()).expect("a decision");
    judged.result["conditions"]["calibration_used"].clone()
}

#[test]
fn every_command_that_measures_a_cell_uses_the_calibration_that_the_fixture_keeps() {
    let shop = Shop::new();
    shop.calibrate_all("supply");
    assert_eq!(shop.assess(&["--extent", "screen"]).code, 0);
    let guided = ["guided", "--id", "PE-0502", "--simulated", "sound"];
    assert_eq!(shop.run("2026-11-25T10:00:00Z", &[&guided[..], &["--charged"]].concat()).code, 0);
    assert_eq!(shop.run(NOON, &[&guided[..], &["--no-signs"]].concat()).code, 0);
    let jobs = "[[cell]]\nid = \"PE-0503\"\nsimulated = \"sound\"\nno_signs = true\nextent = \"screen\"\n";
    let file = shop.file("tonight.toml", jobs);
    assert_eq!(shop.run(NOON, &["batch", &file]).code, 0);
    for cell in ["PE-0501", "PE-0502", "PE-0503"] {
        let used = calibration_of(&shop.open(), cell);
        assert_eq!(used["number"], 3, "{cell}: {used}");
        assert!(used["current"].is_object() && used["voltage"].is_object(), "{cell}: {used}");
    }
}

#[test]
fn a_link_that_breaks_while_a_calibration_is_stored_leaves_the_old_or_the_new_one_whole() {
    let wanted =
        Calibration { number: 1, voltage: Channel { gain_ppm: 300, offset: -400 }, ..Calibration::default() };
    let (mut old, mut new, mut stored) = (0, 0, 0);
    for operation in 1..40 {
        let cell = library::sound();
        let options = cell.options(3);
        let bench = SharedBench::new(SimulatedFixture::new(cell.parameters, options));
        let link = BreakingLink::at(bench.clone(), 0, Break::ForGood);
        let left = link.left();
        let (client, identity, state) = Client::connect(link).expect("connects");
        let mut connected = Connected { client, identity, state, bench: None };
        left.set(operation);
        let done = connected.store(&wanted);
        let (client, identity, state) = Client::connect(bench).expect("connects again");
        let mut connected = Connected { client, identity, state, bench: None };
        let now = connected.calibration().expect("told");
        match (now == wanted, done.is_ok()) {
            (true, true) => stored += 1,
            // The answer was lost: the fixture has it, the person is told that this is not sure.
            (true, false) => new += 1,
            (false, false) => {
                assert_eq!(now, Calibration::default(), "operation {operation}");
                old += 1;
            }
            (false, true) => panic!("operation {operation}: said to be stored, and is not"),
        }
    }
    assert!(old > 0 && new > 0 && stored > 0, "{old} old, {new} new without a word, {stored} stored");
}
