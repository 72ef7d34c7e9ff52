//! What people read: every command's page, help and errors, as snapshots in `snapshots/`.
//!
//! Accept a wanted change with `INSTA_UPDATE=always cargo test -p celltriage-tests --test command`, and read the diff.

use celltriage_tests::{Call, NOON, Shop, call, call_on_screen, snapshot};

const LABEL: &str = "labels/scanner_cell.toml";

fn grade(trace: &str, more: &[&str]) -> Call {
    let mut typed = vec!["grade", trace, "--cell", LABEL];
    typed.extend_from_slice(more);
    call(&typed, None)
}

#[test]
fn help_of_every_command() {
    snapshot!("help", call(&["--help"], None).shown());
    for command in [
        "demo",
        "assess",
        "grade",
        "book",
        "rules",
        "judge",
        "label",
        "receive",
        "report",
        "container",
        "shipment",
        "due",
        "explain",
        "guided",
        "batch",
        "model",
        "fixture",
        "hot-cell-watch",
        "settings",
        "tag",
    ] {
        let name = format!("help_{command}");
        snapshot!(name, call(&[command, "--help"], None).shown());
    }
}

#[test]
fn a_trace_with_all_signs_answered_is_graded_on_a_page() {
    snapshot!(
        "grade_page",
        grade("traces/two_level.csv", &["--no-signs", "--thickness-mm", "4.5", "--place", "US"]).shown()
    );
}

#[test]
fn where_the_voltage_was_picked_up_stands_on_the_page_and_in_the_record_if_somebody_said_it() {
    let place = ["--sensed-at", "connector"];
    let page = grade("traces/two_level.csv", &[&place[..], &["--full"]].concat())
        .out
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(page.contains("voltage sensed at the connector, as was said"), "{page}");
    assert!(page.contains("the cell has less than this number"), "{page}");
    let json = |more: &[&str]| -> serde_json::Value {
        serde_json::from_str(&grade("traces/two_level.csv", &[more, &["--json"]].concat()).out).expect("JSON")
    };
    let (silent, said) = (json(&[]), json(&place));
    assert!(!silent.to_string().contains("sensed"), "{silent}");
    assert_eq!(said["cell"]["observations"]["sensed_at"], "connector");
    assert_eq!(said["estimates"]["resistance_dc_ohm"]["conditions"]["sensed_at"], "connector");
    for (quantity, estimate) in silent["estimates"].as_object().expect("estimates") {
        assert_eq!(said["estimates"][quantity]["value"], estimate["value"], "{quantity}");
    }
    assert_eq!(said["verdict"]["fate"], silent["verdict"]["fate"]);
    let wrong = grade("traces/two_level.csv", &["--sensed-at", "conector"]);
    assert!(wrong.err.contains("did you mean \"connector\""), "{}", wrong.err);
}

#[test]
fn the_same_as_json_keeps_to_the_contract() {
    let call = grade("traces/two_level.csv", &["--json"]);
    let value: serde_json::Value =
        serde_json::from_str(&call.out).expect("JSON on standard output and nothing else");
    let keys: Vec<&String> = value.as_object().expect("an object").keys().collect();
    for key in ["schema", "cell", "conditions", "estimates", "verdict", "cautions"] {
        assert!(keys.iter().any(|found| *found == key), "{key} is missing");
    }
    assert_eq!(value["schema"], "celltriage.assessment/1");
    assert_ne!(value["verdict"]["fate"], "reuse", "nothing was observed");
    for key in [
        "resistance_dc_ohm",
        "resistance_100ms_ohm",
        "resistance_1s_ohm",
        "resistance_10s_ohm",
        "rest_voltage_v",
    ] {
        let estimate = &value["estimates"][key];
        for member in ["value", "standard_uncertainty", "unit", "method", "warnings"] {
            assert!(!estimate[member].is_null(), "{key}.{member}");
        }
    }
    for reason in value["verdict"]["reasons"].as_array().expect("reasons") {
        let finding = reason["finding"].as_str().expect("a finding");
        assert!(["pass", "fail", "inconclusive", "missing"].contains(&finding), "{finding}");
        for member in ["criterion", "value", "limit", "source"] {
            assert!(reason.get(member).is_some(), "{member} in {reason}");
        }
    }
    for caution in value["cautions"].as_array().expect("cautions") {
        for member in ["text", "severity", "source", "verify"] {
            assert!(caution.get(member).is_some(), "{member} in {caution}");
        }
    }
    // The trace's closed form: 60 mOhm at once, 20 mOhm within 0.05 s, 15 mOhm with 12 s.
    let read = value["estimates"]["resistance_dc_ohm"]["value"].as_f64().expect("a number");
    let slow = 15e-3 * (0.6 * (1.0 - (-10.0f64 / 12.0).exp()));
    let drift = 0.55 / 3.0 * 3.0 / 3600.0;
    let u1 = 0.6 * 80e-3 + slow;
    let u2 =
        3.0 * 80e-3 + slow * (-1.0f64 / 12.0).exp() + 15e-3 * 3.0 * (1.0 - (-1.0f64 / 12.0).exp()) + drift;
    let truth = (u2 - u1) / 2.4;
    assert!((read - truth).abs() <= 0.01 * truth + 0.3e-3, "{read} against {truth}");
    snapshot!("grade_json", call.shown());
}

#[test]
fn a_cell_that_is_reacting_now_gets_the_emergency_text_and_no_test() {
    let shop = Shop::new();
    let book = shop.book();
    let typed =
        ["assess", "--id", "PE-1", "--simulated", "sound", "--sign", "active_now=yes", "--book", &book];
    snapshot!("emergency_page", shop.shown(&call(&typed, None)));
}

#[test]
fn a_person_at_the_terminal_is_asked_for_each_sign_and_can_ask_back() {
    let shop = Shop::new();
    let book = shop.book();
    let typed = ["assess", "--id", "PE-2", "--simulated", "sound", "--book", &book];
    let answers = ["n", "?", "n", "n", "n", "n", "n", "n", "n", "n", ""];
    snapshot!("assess_asked", shop.shown(&call(&typed, Some(&answers))));
}

#[test]
fn a_cell_nobody_looked_at_is_not_loaded() {
    let shop = Shop::new();
    let book = shop.book();
    let typed = ["assess", "--id", "PE-3", "--simulated", "sound", "--book", &book];
    snapshot!("assess_not_looked_at", shop.shown(&call(&typed, None)));
}

#[test]
fn the_demo_and_its_book() {
    let shop = Shop::new();
    let out = shop.folder().to_string_lossy().into_owned();
    let demo = call(&["demo", "--out", &out, "--place", "DE"], None);
    let files = std::fs::read_dir(shop.folder()).expect("the folder").filter_map(Result::ok);
    let json = files.filter(|file| file.path().extension().is_some_and(|ending| ending == "json")).count();
    assert!(json >= 5, "{json} JSON files");
    snapshot!("demo", shop.shown(&demo));

    let read = |typed: &[&str]| shop.unstated(NOON, &["book", &typed.join(" ")].join(" "), None);
    snapshot!("book_list", shop.shown(&read(&["list"])));
    snapshot!("book_find", shop.shown(&read(&["find", "PE-0405"])));
    snapshot!("book_show", shop.shown(&read(&["show", "entry:7"])));
    snapshot!("book_show_missing", shop.shown(&read(&["show", "entry:99"])));
    snapshot!("book_verify", shop.shown(&read(&["verify"])));
    // The calibrations of the fixture come before the cells.
    for number in 4..4 + json {
        let again = read(&["recompute", &number.to_string()]);
        assert_eq!(again.code, 0, "entry {number} comes out differently: {}{}", again.out, again.err);
    }
    // What was kept can be taken out and graded by itself, with the same result.
    let export = shop.path("export");
    assert_eq!(read(&["export", "4", &export]).code, 0);
    let frames = format!("{export}/recording-1.frames");
    let label = format!("{export}/label.toml");
    let shown = read(&["show", "entry:4", "--json"]);
    let kept: serde_json::Value = serde_json::from_str(&shown.out).expect("JSON");
    let graded = call(
        &[
            "grade",
            &frames,
            "--cell",
            &label,
            "--no-signs",
            "--thickness-mm",
            "4.0",
            "--json",
            "--place",
            "DE",
        ],
        None,
    );
    let again: serde_json::Value = serde_json::from_str(&graded.out).expect("JSON");
    // The frames bring the calibration's number; how good its reference was is for the book to know, so the doubt differs.
    assert!(kept["estimates"]["capacity_ah"]["value"].is_number());
    assert_eq!(kept["estimates"]["capacity_ah"]["value"], again["estimates"]["capacity_ah"]["value"]);
    assert_eq!(kept["conditions"]["run"], again["conditions"]["run"]);
}

#[test]
fn errors_say_what_happened_where_and_what_to_do() {
    snapshot!("error_no_such_trace", grade("traces/not_there.csv", &[]).shown());
    snapshot!("error_empty_trace", grade("traces/empty.csv", &[]).shown());
    snapshot!("error_voltage_column_missing", grade("traces/voltage_column_missing.csv", &[]).shown());
    snapshot!("error_not_a_number", grade("traces/not_a_number.csv", &[]).shown());
    snapshot!("error_wrong_sign", grade("traces/wrong_sign.csv", &[]).shown());
    snapshot!("error_unknown_sign", grade("traces/two_level.csv", &["--sign", "bloated=yes"]).shown());
    snapshot!("error_unknown_answer", grade("traces/two_level.csv", &["--sign", "swollen=perhaps"]).shown());
    snapshot!("error_thickness", grade("traces/two_level.csv", &["--thickness-mm", "-3"]).shown());
    snapshot!("error_place", grade("traces/two_level.csv", &["--place", "Port Ellery"]).shown());
    snapshot!("error_policy", grade("traces/two_level.csv", &["--policy", LABEL]).shown());
    snapshot!(
        "error_label",
        call(&["grade", "traces/two_level.csv", "--cell", "labels/no_charge_limit.toml"], None).shown()
    );
    snapshot!("error_no_label", call(&["grade", "traces/two_level.csv"], None).shown());
    snapshot!("error_usage", call(&["grade"], None).shown());
    snapshot!("error_unknown_command", call(&["weigh"], None).shown());
    let shop = Shop::new();
    let book = shop.book();
    let typed = [
        "assess",
        "--id",
        "PE-4",
        "--no-signs",
        "--port",
        "/dev/no-such-port",
        "--cell",
        LABEL,
        "--book",
        &book,
    ];
    snapshot!("error_no_port", shop.shown(&call(&typed, None)));
    snapshot!(
        "error_unknown_simulated_cell",
        call(&["assess", "--id", "PE-4", "--simulated", "brick", "--book", &book], None).shown()
    );
    snapshot!("error_book_missing", call(&["book", "--book", "labels/no_book.sqlite", "list"], None).shown());
    snapshot!("error_book_is_no_book", call(&["book", "--book", LABEL, "list"], None).shown());
}

#[test]
fn a_faulty_clock_is_told_and_never_gives_a_confident_number() {
    snapshot!("grade_time_runs_backwards", grade("traces/time_runs_backwards.csv", &["--no-signs"]).shown());
}

/// What is read is not to scroll away; what is piped on is not to wait for anybody.
#[test]
fn long_pages_come_in_screens_on_a_terminal_and_at_once_elsewhere() {
    let shop = Shop::new();
    let book = shop.book();
    let assessed =
        ["assess", "--id", "PE-3", "--simulated", "sound", "--no-signs", "--extent", "rest", "--book", &book];
    assert_eq!(call(&assessed, None).code, 0);
    let long: [&[&str]; 4] = [
        &["rules", "show", "US-CA"],
        &["rules", "list"],
        &["rules", "diff", "US", "2020-01-01", "2027-12-31"],
        &["explain", "PE-3", "--book", &book],
    ];
    let asked = |done: &Call| done.err.lines().filter(|line| line.starts_with("asked: ")).count();
    let printed = |done: &Call| -> Vec<String> {
        done.out.lines().filter(|line| !line.trim().is_empty()).map(str::to_owned).collect()
    };
    for typed in long {
        let whole = call(typed, Some(&[]));
        let lines = whole.out.trim_end().lines().count();
        assert!(lines > 12 && asked(&whole) == 0, "{typed:?}: {}", whole.err);
        // Three lines stay free: the question, what is said at the end, the next prompt.
        let paged = call_on_screen(12, typed);
        assert_eq!(asked(&paged), lines.div_ceil(9) - 1, "{typed:?}");
        assert_eq!(printed(&paged), printed(&whole), "{typed:?}");
        assert_eq!(asked(&call_on_screen(lines + 3, typed)), 0, "{typed:?} fits");
    }
    for typed in [&["rules", "show", "US-CA", "--json"][..], &["explain", "PE-3", "--json", "--book", &book]]
    {
        let json = call_on_screen(12, typed);
        assert_eq!(asked(&json), 0, "{typed:?}");
        assert!(serde_json::from_str::<serde_json::Value>(&json.out).is_ok(), "{typed:?}");
    }
}
