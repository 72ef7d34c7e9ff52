//! Decisions explained, compared with the visits before and with siblings, and the guided capacity run, as people meet them.
//!
//! Everything goes through the command line on the simulated bench; only the clock is moved from visit to visit.

use celltriage_tests::{Call, call_at, call_stopped_at};
use insta::{assert_snapshot, with_settings};
use std::path::Path;

const NOON: &str = "2026-11-25T12:00:00Z";

macro_rules! snapshot {
    ($name:literal, $text:expr) => {
        with_settings!({ omit_expression => true, prepend_module_to_snapshot => false, filters => vec![
            (r"[0-9a-f]{64}", "DIGEST"),
            (r"policy workshop default ([\d.]+) \([0-9a-f]{12}\)", "policy workshop default $1 (DIGEST)"),
        ] }, { assert_snapshot!($name, $text) })
    };
}

/// A folder with a book of its own.
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

    fn at(&self, now: &str, typed: &[&str]) -> Call {
        let book = self.book();
        // After the command, before what it is to do.
        let mut all = typed.to_vec();
        all.splice(1..1, ["--book", &book]);
        call_at(now, &all, None)
    }

    fn shown(&self, call: &Call) -> String {
        let text = format!("exit code {}\n--- stdout\n{}\n--- stderr\n{}", call.code, call.out, call.err);
        text.replace(&*self.folder.path().to_string_lossy(), "FOLDER")
    }

    fn file(&self, name: &str, text: &str) -> String {
        let path = self.folder.path().join(name);
        std::fs::write(&path, text).expect("a file");
        path.to_string_lossy().into_owned()
    }
}

fn json(call: &Call) -> serde_json::Value {
    serde_json::from_str(&call.out).unwrap_or_else(|error| panic!("{error}: {}\n{}", call.out, call.err))
}

#[test]
fn a_decision_is_explained_from_the_book_from_json_and_drawn() {
    let shop = Shop::new();
    let assessed = shop.at(NOON, &["assess", "--id", "PE-1", "--simulated", "sound", "--no-signs", "--json"]);
    let file = shop.file("PE-1.json", &assessed.out);
    let page = shop.at(NOON, &["explain", "PE-1"]);
    snapshot!("explain_page", shop.shown(&page));
    assert_eq!(shop.at(NOON, &["explain", "1"]).out, page.out);
    assert_eq!(shop.at(NOON, &["explain", &file]).out, page.out);

    let svg = shop.folder.path().join("PE-1.svg");
    let drawn =
        shop.at(NOON, &["explain", "PE-1", "--criterion", "resistance", "--drawing", &svg.to_string_lossy()]);
    snapshot!("explain_one_criterion", shop.shown(&drawn));
    assert!(std::fs::read_to_string(svg).expect("a drawing").contains("resistance × capacity"));

    let explained = json(&shop.at(NOON, &["explain", "PE-1", "--json"]));
    assert_eq!(explained["schema"], "celltriage.explanation/1");
    snapshot!("explain_unknown", shop.shown(&shop.at(NOON, &["explain", "PE-2"])));
    snapshot!(
        "explain_unknown_criterion",
        shop.shown(&shop.at(NOON, &["explain", "1", "--criterion", "colour"]))
    );
}

#[test]
fn a_trace_is_explained_with_its_label() {
    let shop = Shop::new();
    let typed = [
        "explain",
        "traces/two_level.csv",
        "--cell",
        "labels/scanner_cell.toml",
        "--criterion",
        "resistance",
    ];
    let call = shop.at(NOON, &typed);
    assert_eq!(call.code, 0, "{}", call.err);
    assert!(call.out.contains("resistance × capacity"), "{}", call.out);
}

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
        json(&shop.at(now, &typed))
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
    let recomputed = shop.at(NOON, &["book", "recompute", "3"]);
    assert_eq!(recomputed.code, 0, "{}{}", recomputed.out, recomputed.err);

    // A charge ends the storage, not what it told.
    let guided = ["guided", "--id", "PE-3", "--simulated", "sound"];
    assert_eq!(shop.at("2026-11-23T10:00:00Z", &[&guided[..], &["--charged"]].concat()).code, 0);
    let tested = shop.at("2026-11-23T12:00:00Z", &[&guided[..], &["--no-signs", "--json"]].concat());
    assert_eq!(tested.code, 0, "{}", tested.err);
    let still = &json(&tested)["estimates"]["self_discharge_per_month"];
    assert_eq!(still["value"], loss["value"]);
    assert!(still["warnings"].to_string().contains("until 2026-11-23 09:00"), "{still}");
    let told = tested.err.lines().find_map(|line| line.strip_prefix("written as entry "));
    let entry = told.and_then(|told| told.split(' ').next()).expect("the number of the entry");
    let recomputed = shop.at(NOON, &["book", "recompute", entry]);
    assert_eq!(recomputed.code, 0, "{}{}", recomputed.out, recomputed.err);
}

#[test]
fn a_guided_run_goes_on_from_the_book_through_every_stage() {
    let shop = Shop::new();
    let mut story = String::new();
    let mut step = |now: &str, typed: &[&str]| {
        let call = shop.at(now, typed);
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
    let done = step("2026-11-25T07:10:00Z", &[&guided[..], &["--no-signs"]].concat());
    assert_eq!(done.code, 0, "{}", done.err);
    assert!(done.out.contains("R E U S E"), "{}", done.out);
    step("2026-11-25T13:00:00Z", &["guided", "--list"]);
    step("2026-11-25T13:00:00Z", &["book", "list"]);
    snapshot!("guided_story", story);
    assert_eq!(shop.at(NOON, &["book", "verify"]).code, 0);
}

#[test]
fn a_guided_run_waits_for_the_rest_and_refuses_a_cell_that_is_not_full() {
    let shop = Shop::new();
    // A cell of the 4.35 V class under a label of 4.45 V is never full.
    let label = shop.file("label.toml", "rated_capacity_ah = 3.0\ncharge_limit_v = 4.45\n");
    let typed = ["guided", "--id", "PE-8", "--simulated", "sound", "--cell", &label];
    let begun = shop.at("2026-11-24T19:00:00Z", &[&typed[..], &["--charged"]].concat());
    assert!(begun.out.contains("until 2026-11-24 20:00"), "{}", begun.out);
    let refused = shop.at("2026-11-24T19:59:59Z", &[&typed[..], &["--wait", "--no-signs"]].concat());
    assert_eq!(refused.code, 3, "{}{}", refused.out, refused.err);
    assert!(refused.err.contains("waiting 1 min"), "{}", refused.err);
    assert!(refused.err.contains("not full") && refused.err.contains("charge it again"), "{}", refused.err);
    let listed = json(&shop.at("2026-11-25T08:00:00Z", &["guided", "--list", "--json"]));
    assert_eq!(listed["runs"][0]["stage"]["stage"], "to_charge");
    assert!(listed["runs"][0]["stage"]["why"].as_str().expect("a reason").contains("not full"));
    // What was measured for the refusal is kept with it.
    assert_eq!(shop.at(NOON, &["book", "verify"]).code, 0);
    assert!(!shop.at(NOON, &["book", "list"]).err.contains("never judged"));
}

const BATCH: &str = r#"
[[cell]]
id = "PE-51"
simulated = "sound"
no_signs = true

[[cell]]
id = "PE-52"
port = "/dev/no-such-port"
cell = "label.toml"
no_signs = true

[[cell]]
id = "PE-53"
simulated = "faded"
no_signs = true

[[cell]]
id = "PE-54"
simulated = "high-resistance"
no_signs = true
extent = "screen"
"#;

#[test]
fn a_batch_records_each_cell_by_itself_and_one_that_fails_leaves_the_others_running() {
    let shop = Shop::new();
    shop.file("label.toml", "rated_capacity_ah = 3.0\ncharge_limit_v = 4.35\n");
    let file = shop.file("night.toml", BATCH);
    let call = shop.at(NOON, &["batch", &file, "--json"]);
    let outcome = json(&call);
    let cells = outcome["cells"].as_array().expect("cells");
    let fates: Vec<_> = cells.iter().map(|cell| cell["fate"].as_str()).collect();
    assert_eq!(fates, [Some("reuse"), None, Some("recycle"), Some("recycle")], "{}", call.err);
    assert!(cells[1]["error"].as_str().expect("an error").contains("/dev/no-such-port"));
    assert_eq!(call.code, 3, "a cell that could not be measured shows in the exit code");
    for line in call.err.lines().skip(1) {
        assert!(line.starts_with("PE-5") || line.starts_with("hint"), "every line names its cell: {line}");
    }
    assert!(
        call.err.contains("PE-53") && call.err.contains("50 %"),
        "long runs tell how far they are: {}",
        call.err
    );
    assert_eq!(shop.at(NOON, &["book", "verify"]).code, 0);

    let twice =
        shop.file("twice.toml", &BATCH.replace("simulated = \"sound\"", "port = \"/dev/no-such-port\""));
    snapshot!("batch_port_twice", shop.shown(&shop.at(NOON, &["batch", &twice])));
}

#[test]
fn a_batch_that_a_person_stops_records_what_was_begun_and_says_what_was_not() {
    let shop = Shop::new();
    let cell = |id: &str| format!("[[cell]]\nid = \"{id}\"\nsimulated = \"faded\"\nno_signs = true\n");
    let (one, two) =
        (shop.file("one.toml", &cell("PE-71")), shop.file("two.toml", &(cell("PE-72") + &cell("PE-73"))));
    let book = shop.book();
    // As soon as the fixture has said who it is: in its rest.
    let call = call_stopped_at("board, serial", &["batch", &one, "--book", &book, "--json"]);
    assert_eq!(call.code, 4, "{}\n{}", call.out, call.err);
    let told = &json(&call)["cells"][0];
    assert!(told["entry"].is_number() && told["fate"] != "reuse", "{told}");
    assert!(told["statement"].as_str().is_some_and(|why| why.contains("stopped by a person")), "{told}");
    let listed = || shop.at(NOON, &["book", "list"]).out;
    assert!(listed().contains("PE-71"), "{}", listed());

    let call = call_stopped_at("", &["batch", &two, "--book", &book]);
    assert_eq!(call.code, 3, "{}\n{}", call.out, call.err);
    assert_eq!(call.out.matches("NOT BEGUN").count(), 2, "{}\n{}", call.out, call.err);
    assert!(!listed().contains("PE-72") && !listed().contains("PE-73"), "{}", listed());
    let call = call_stopped_at("", &["batch", &two, "--book", &book, "--json"]);
    assert!(json(&call)["cells"][1]["error"].as_str().is_some_and(|why| why.starts_with("not begun")));
}

#[test]
fn siblings_are_compared_and_listed() {
    let shop = Shop::new();
    let label = |id: &str, rated: f64| {
        let text = format!(
            "model = \"school tablet A\"\nrated_capacity_ah = {rated}\ncharge_limit_v = 4.35\nnominal_thickness_mm = 4.0\n"
        );
        shop.file(&format!("{id}.toml"), &text)
    };
    for (number, rated) in [2.95, 3.0, 3.05, 2.98, 3.02, 2.97].into_iter().enumerate() {
        let id = format!("PE-6{number}");
        let label = label(&id, rated);
        let more: &[&str] = if number == 0 { &["--new-cell"] } else { &[] };
        let typed = [
            "assess",
            "--id",
            &id,
            "--simulated",
            "sound",
            "--cell",
            &label,
            "--no-signs",
            "--extent",
            "full",
        ];
        let call = shop.at(&format!("2026-11-2{number}T08:00:00Z"), &[&typed[..], more].concat());
        assert_eq!(call.code, 0, "{}", call.err);
    }
    let label = label("PE-69", 3.01);
    let typed = ["assess", "--id", "PE-69", "--simulated", "sound", "--cell", &label, "--no-signs"];
    let screened = shop.at(NOON, &typed);
    let health: Vec<&str> = screened
        .out
        .lines()
        .skip_while(|line| *line != "HEALTH")
        .take_while(|line| !line.is_empty())
        .collect();
    snapshot!("health_of_a_screened_cell", health.join("\n"));
    assert!(screened.out.contains("U N D E C I D E D"), "siblings never make a cell reusable");
    snapshot!("model_show", shop.shown(&shop.at(NOON, &["model", "show", "school tablet A"])));
    snapshot!("model_list", shop.shown(&shop.at(NOON, &["model", "list"])));
    let listed = json(&shop.at(NOON, &["model", "show", "school tablet A", "--json"]));
    assert_eq!(listed["cells"].as_array().map(Vec::len), Some(7));
    assert_eq!(shop.at(NOON, &["model", "show", "none"]).code, 2);
    // A sibling's name is no word of this cell's entry, and what it was compared with is kept all the same.
    assert_eq!(shop.at(NOON, &["book", "find", "PE-60"]).out.lines().count(), 1);
    let recomputed = shop.at(NOON, &["book", "recompute", "7"]);
    assert_eq!(recomputed.code, 0, "{}{}", recomputed.out, recomputed.err);
}

#[test]
fn the_thickness_is_asked_with_how_to_measure_it() {
    let shop = Shop::new();
    let book = shop.book();
    let typed = ["assess", "--id", "PE-7", "--simulated", "sound", "--no-signs", "--book", &book];
    // A slip of the finger is told and asked again, so that no answer before it is lost.
    let answers = ["4.02,4.03,4.02", "0.13", "four", "4.00,4.01,4.00", ""];
    let call = call_at(NOON, &typed, Some(&answers));
    assert!(call.err.contains("just touch it"), "{}", call.err);
    assert!(call.err.contains("0.13 mm is outside"), "{}", call.err);
    assert_eq!(call.err.matches("Thickness at one corner").count(), 3, "{}", call.err);
    assert!(Path::new(&book).exists() && call.out.contains("thickest of 2 points"), "{}", call.out);
}
