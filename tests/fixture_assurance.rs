//! Calibration and measurement assurance from end to end: what is stored, what is refused, what stops, what is recorded.
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
use celltriage_tests::{Break, BreakingLink, Call, SharedBench, call_at};
use insta::{assert_snapshot, with_settings};
use serde_json::Value;

const FIXTURE: &str = "fixture 0000000000000001";
const NOON: &str = "2026-11-25T12:00:00Z";

/// A workshop with a book of its own.
struct Shop {
    folder: tempfile::TempDir,
}

impl Shop {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    fn book(&self) -> String {
        self.folder.path().join("book.sqlite").to_string_lossy().into_owned()
    }

    fn open(&self) -> Book {
        Book::open_read_only(self.book()).expect("the book opens")
    }

    fn call_at(&self, now: &str, typed: &[&str], answers: Option<&[&str]>) -> Call {
        let book = self.book();
        let mut all = typed.to_vec();
        if typed.first() == Some(&"book") {
            all.insert(1, "--book");
            all.insert(2, &book);
        } else {
            all.extend(["--book", &book]);
        }
        let mut call = call_at(now, &all, answers);
        for text in [&mut call.out, &mut call.err] {
            *text = text.replace(&*self.folder.path().to_string_lossy(), "FOLDER");
        }
        call
    }

    fn call(&self, typed: &[&str]) -> Call {
        self.call_at(NOON, typed, None)
    }

    fn calibrate(&self, quantity: &str, simulated: &str, percent: &str, plus: &str) -> Call {
        self.call(&[
            "fixture",
            "calibrate",
            quantity,
            "--simulated",
            simulated,
            "--by",
            "M. Adeyemi",
            "--reference",
            "bench meter 7, certificate of 2026-03-02",
            "--of-reading-percent",
            percent,
            "--plus",
            plus,
        ])
    }

    fn calibrate_all(&self, simulated: &str) {
        for (quantity, percent, plus) in
            [("voltage", "0.05", "0.0002"), ("current", "0.2", "0.0005"), ("thermometers", "0", "0.1")]
        {
            let done = self.calibrate(quantity, simulated, percent, plus);
            assert_eq!(done.code, 0, "{quantity}: {}", done.err);
        }
    }

    fn define(&self) {
        self.define_with(&[]);
    }

    fn define_with(&self, more: &[&str]) {
        let mut typed = vec![
            "fixture",
            "check-standard",
            "define",
            "R1",
            "--resistance-mohm",
            "50",
            "--limit-percent",
            "0.5",
            "--certificate",
            "maker's tolerance",
            "--by",
            "M. Adeyemi",
        ];
        typed.extend_from_slice(more);
        let done = self.call(&typed);
        assert_eq!(done.code, 0, "{}", done.err);
    }

    fn measure(&self, simulated: &str) -> Call {
        self.call(&["fixture", "check-standard", "measure", "--simulated", simulated, "--by", "M. Adeyemi"])
    }

    fn assess(&self, more: &[&str]) -> Call {
        let mut typed =
            vec!["assess", "--id", "PE-0501", "--simulated", "sound", "--no-signs", "--thickness-mm", "4.05"];
        typed.extend_from_slice(more);
        self.call(&typed)
    }
}

fn shown(call: &Call) -> String {
    format!("exit code {}\n--- stdout\n{}\n--- stderr\n{}", call.code, call.out, call.err)
}

macro_rules! snapshot {
    ($name:literal, $call:expr) => {
        with_settings!({ omit_expression => true, prepend_module_to_snapshot => false, filters => vec![
            (r"[0-9a-f]{64}", "DIGEST"),
        ] }, { assert_snapshot!($name, shown(&$call)) })
    };
}

#[test]
fn a_guided_calibration_finds_the_errors_of_the_parts() {
    let shop = Shop::new();
    snapshot!("calibrate_voltage", shop.calibrate("voltage", "supply", "0.05", "0.0002"));
    snapshot!("calibrate_current", shop.calibrate("current", "supply", "0.2", "0.0005"));
    snapshot!("calibrate_thermometers", shop.calibrate("thermometers", "supply", "0", "0.1"));
    let found: Vec<(u32, CalibrationRecord)> = shop.open().records(CALIBRATION, FIXTURE).expect("readable");
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
    snapshot!("calibration_book_list", shop.call(&["book", "list"]));
    let shown = shop.call(&["book", "show", "1"]);
    assert!(shown.out.contains("bench meter 7") && shown.out.contains("gain_ppm"), "{}", shown.out);
    assert_eq!(shop.call(&["book", "verify"]).code, 0);
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
        shop.call(&typed)
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
    let records: Vec<(u32, CalibrationRecord)> = shop.open().records(CALIBRATION, FIXTURE).expect("readable");
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
        let again = shop.call(&["book", "recompute", "3"]);
        assert_eq!(again.code, 0, "{}\n{}", again.out, again.err);
        value["estimates"]["resistance_dc_ohm"]["standard_uncertainty"].as_f64().expect("measured")
    };
    let (good, bad) = (doubt("0.2"), doubt("1.5"));
    assert!(bad > 1.3 * good, "{good} {bad}");
}

#[test]
fn a_book_that_knows_no_fixture_says_so() {
    let shop = Shop::new();
    assert_eq!(shop.call(&["assess", "--id", "PE-0501", "--simulated", "sound", "--no-signs"]).code, 0);
    let call = shop.call(&["fixture", "standing"]);
    assert!(call.code == 0 && call.out.is_empty(), "{}", call.out);
    assert!(call.err.contains("knows no fixture") && call.err.contains("fixture calibrate"), "{}", call.err);
}

#[test]
fn a_drift_stops_the_fixture_until_it_is_calibrated_or_somebody_takes_it_upon_themself() {
    let shop = Shop::new();
    shop.define();
    shop.calibrate_all("supply");
    for _ in 0..12 {
        let call = shop.measure("check-standard");
        assert_eq!(call.code, 0, "{}\n{}", call.out, call.err);
    }
    assert_eq!(shop.assess(&[]).code, 0);
    snapshot!("check_standard_stop", shop.measure("drifted"));
    snapshot!("check_standard_chart", shop.call(&["fixture", "check-standard", "chart"]));
    snapshot!("fixture_standing_stopped", shop.call(&["fixture", "standing"]));
    snapshot!("assess_stopped", shop.assess(&[]));
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
        shop.call_at("2026-11-25T14:00:00Z", &[&typed[..], more].concat(), None)
    };
    shop.call(&["guided", "--id", "PE-0502", "--simulated", "sound", "--charged"]);
    let stopped = guided(&[]);
    assert!(stopped.code == 3 && stopped.err.contains("--despite-stop"), "{}", stopped.err);
    let run = guided(&["--despite-stop", "nothing else is free", "--acknowledge-trip", "--json"]);
    assert_eq!(run.code, 0, "{}", run.err);
    assert!(run.out.contains("nothing else is free (the stop: "), "{}", run.out);
    let batch = |more: &str| {
        let file = shop.folder.path().join("tonight.toml");
        let text = "[[cell]]\nid = \"PE-0503\"\nsimulated = \"sound\"\nextent = \"screen\"\n";
        std::fs::write(&file, format!("{text}{more}")).expect("written");
        shop.call(&["batch", &file.to_string_lossy()])
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
    assert!(run.code == 0 && run.err.contains("used all the same: nothing else is free"), "{}", run.err);
    // Calibrated anew, the fixture whose shunt has changed measures right again.
    shop.calibrate_all("drifted");
    assert_eq!(shop.assess(&[]).code, 0);
    let after = shop.measure("drifted");
    assert_eq!(after.code, 0, "{}\n{}", after.out, after.err);
}

/// A simulated fixture has in its store what the book saw stored there, whichever command asks it.
#[test]
fn every_command_meets_the_calibration_that_was_stored() {
    let shop = Shop::new();
    shop.calibrate_all("supply");
    let identity = shop.call(&["fixture", "identify", "--simulated", "sound", "--json"]);
    let value: Value = serde_json::from_str(&identity.out).expect("JSON");
    assert_eq!(value["calibration"]["number"], 3, "{value}");
    for typed in [
        &["fixture", "read", "--simulated", "supply"][..],
        &["fixture", "self-test", "--simulated", "check-standard"],
        &["fixture", "watch", "--simulated", "sound", "--for", "1"],
        &["hot-cell-watch", "--id", "PE-0504", "--simulated", "sound", "--hours", "0.01"],
    ] {
        let call = shop.call(typed);
        assert!(call.code == 0 && call.err.contains("calibration 3"), "{typed:?}: {}", call.err);
    }
    // The supply is at 4 V; uncalibrated the fixture reads it 0.8 mV off.
    let read = shop.call(&["fixture", "read", "--simulated", "supply", "--json"]);
    let value: Value = serde_json::from_str(&read.out).expect("JSON");
    let volts = value["reading"]["voltage_v"]["mean"].as_f64().expect("a voltage");
    assert!((volts - 4.0).abs() < 2e-4, "{volts}");
    // Where there is no book there is no calibration, and none is made.
    let nowhere = shop.folder.path().join("none.sqlite");
    let path = nowhere.to_string_lossy();
    let call = celltriage_tests::call(&["fixture", "read", "--simulated", "supply", "--book", &path], None);
    assert!(call.err.contains("never calibrated") && !nowhere.exists(), "{}", call.err);
}

#[test]
fn a_chart_is_drawn_that_can_be_looked_at() {
    let shop = Shop::new();
    shop.define();
    for _ in 0..10 {
        shop.measure("check-standard");
    }
    let file = shop.folder.path().join("chart.svg");
    let drawn = shop.call(&["fixture", "check-standard", "chart", "--svg", &file.to_string_lossy()]);
    assert_eq!(drawn.code, 0, "{}", drawn.err);
    let svg = std::fs::read_to_string(file).expect("drawn");
    assert_eq!(svg.matches("<circle").count(), 10);
    let json = shop.call(&["fixture", "check-standard", "chart", "--json"]);
    let value: Value = serde_json::from_str(&json.out).expect("JSON");
    assert_eq!(value["chart"]["values"].as_array().map(Vec::len), Some(10));
}

#[test]
fn a_known_source_is_judged_and_charted_like_the_resistor() {
    let shop = Shop::new();
    shop.define();
    shop.calibrate_all("supply");
    shop.measure("check-standard");
    let of_source = ["fixture", "check-standard", "chart", "--of", "source", "--json"];
    let unknown = shop.call(&of_source);
    assert_eq!(unknown.code, 2, "its source was not stated: {}", unknown.out);
    shop.define_with(&["--source-v", "4.0", "--source-limit-mv", "2"]);
    for _ in 0..10 {
        let call = shop.measure("check-standard");
        assert_eq!(call.code, 0, "{}\n{}", call.out, call.err);
    }
    let value: Value = serde_json::from_str(&shop.call(&of_source).out).expect("JSON");
    let values: Vec<f64> = serde_json::from_value(value["chart"]["values"].clone()).expect("numbers");
    // The simulated supply gives 4 V; the calibration leaves a few tenths of a millivolt.
    assert_eq!(values.len(), 10, "the measurement before the source was stated is not on its chart");
    assert!(values.iter().all(|millivolts| (millivolts - 4_000.0).abs() < 2.0), "{values:?}");
    // A source that is not what it is stated to be stops the fixture: one of the two is wrong.
    shop.define_with(&["--source-v", "4.05", "--source-limit-mv", "2"]);
    let stopped = shop.measure("check-standard");
    assert_eq!(stopped.code, 6, "{}\n{}", stopped.out, stopped.err);
    assert!(stopped.out.contains("its source: it differs from the stated 4050.000 mV"), "{}", stopped.out);
    assert_eq!(shop.assess(&[]).code, 3);
    let absurd = shop.call(&[
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
    ]);
    assert!(absurd.code == 2 && absurd.err.contains("nothing was written"), "{}", absurd.err);
}

#[test]
fn what_is_overdue_is_told_where_it_matters() {
    let shop = Shop::new();
    shop.define();
    shop.calibrate_all("supply");
    shop.measure("check-standard");
    let typed = ["assess", "--id", "PE-0501", "--simulated", "sound", "--no-signs", "--thickness-mm", "4.05"];
    let later = shop.call_at("2028-01-10T12:00:00Z", &typed, None);
    assert!(later.err.contains("measure check standard R1 (was due 2026-12-02)"), "{}", later.err);
    assert!(later.err.contains("calibrate the voltage (was due 2027-11-25)"), "{}", later.err);
    let due = shop.call_at("2028-01-10T12:00:00Z", &["due"], None);
    assert!(due.out.contains("calibrate the current") && due.out.contains(FIXTURE), "{}", due.out);
    assert!(!shop.assess(&[]).err.contains("was due"));
}

#[test]
fn without_a_standard_or_with_an_unusable_one_it_is_said_what_to_do() {
    let shop = Shop::new();
    let none = shop.measure("check-standard");
    assert!(none.code == 2 && none.err.contains("check-standard define"), "{}", none.err);
    let useless = shop.call(&[
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
    ]);
    assert!(useless.code == 2 && useless.err.contains("nothing was written"), "{}", useless.err);
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
        let (client, identity, state) = Client::connect(bench).expect("connects anew");
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

/// What an assessment says of the calibration it used.
fn calibration_of(book: &Book, cell: &str) -> Value {
    let filter = celltriage_book::Filter { cell_id: Some(cell.to_owned()), ..Default::default() };
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
    assert_eq!(shop.call_at("2026-11-25T10:00:00Z", &[&guided[..], &["--charged"]].concat(), None).code, 0);
    assert_eq!(shop.call(&[&guided[..], &["--no-signs"]].concat()).code, 0);
    let jobs = "[[cell]]\nid = \"PE-0503\"\nsimulated = \"sound\"\nno_signs = true\nextent = \"screen\"\n";
    let file = shop.folder.path().join("tonight.toml");
    std::fs::write(&file, jobs).expect("the file can be written");
    assert_eq!(shop.call(&["batch", &file.to_string_lossy()]).code, 0);
    for cell in ["PE-0501", "PE-0502", "PE-0503"] {
        let used = calibration_of(&shop.open(), cell);
        assert_eq!(used["number"], 3, "{cell}: {used}");
        assert!(used["current"].is_object() && used["voltage"].is_object(), "{cell}: {used}");
    }
}
