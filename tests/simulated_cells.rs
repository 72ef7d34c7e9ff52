//! A simulated cell says so wherever it is shown, is counted nowhere, lies with no real cell, and goes to nobody.

use celltriage_book::Book;
use celltriage_tests::{Call, call, call_at, real_day};
use std::path::{Path, PathBuf};

const NOON: &str = "2026-11-25T12:00:00Z";
const WHO: [&str; 2] = ["--by", "Ines Harrow"];

struct Shop {
    _folder: tempfile::TempDir,
    book: PathBuf,
}

impl Shop {
    /// The demo's day, simulated as it is.
    fn simulated() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let done = call(&["demo", "--out", &folder.path().to_string_lossy()], None);
        assert_eq!(done.code, 0, "{}", done.err);
        Self { book: folder.path().join("book.sqlite"), _folder: folder }
    }

    /// The same as if a real fixture had measured it.
    fn real() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let book = folder.path().join("book.sqlite");
        real_day(&book);
        Self { book, _folder: folder }
    }

    fn at(&self, now: &str, typed: &[&str]) -> Call {
        let book = self.book.to_string_lossy().into_owned();
        let mut all = typed.to_vec();
        all.splice(1..1, ["--book", &book]);
        call_at(now, &all, None)
    }

    fn must(&self, typed: &[&str]) -> String {
        let done = self.at(NOON, typed);
        assert_eq!(done.code, 0, "{typed:?}: {}", done.err);
        done.out
    }

    fn refused(&self, typed: &[&str], why: &str) {
        let before = self.last();
        let done = self.at(NOON, typed);
        assert!(done.code == 2 && done.out.is_empty(), "{typed:?}: {}{}", done.out, done.err);
        assert!(done.err.contains(why), "{typed:?}: {}", done.err);
        assert_eq!(self.last(), before, "nothing is written");
    }

    fn last(&self) -> u32 {
        let entries = Book::open_read_only(&self.book).expect("a book").entries(&Default::default());
        entries.expect("entries").first().map_or(0, |entry| entry.number)
    }

    fn judged(&self, cell: &str, state: &str) {
        let typed = ["judge", cell, "--state", state, "--as-recorded", "--because", "seen"];
        let rest = ["--answer", "short_circuit_protection=no", "--answer", "safety_features=no"];
        self.must(&[&typed[..], &rest, &["--qualification", "technician"], &WHO].concat());
    }

    fn boxed(&self, name: &str, cell: &str) {
        self.boxed_in("DE", name, cell);
    }

    fn boxed_in(&self, place: &str, name: &str, cell: &str) {
        self.judged(cell, "intact_waste");
        let open = ["container", "open", name, "--kind", "intact", "--place", place, "--stands", "shelf"];
        self.must(&[&open[..], &WHO].concat());
        self.must(&[&["container", "place", name, cell, "--mass-g", "68"][..], &WHO].concat());
    }

    fn drafted(&self, shipment: &str, container: &str, more: &[&str]) -> String {
        let typed = ["shipment", "draft", shipment, "--container", container, "--mode", "road"];
        let rest = ["--receiver", "Gull Point", "--gross-kg", "2"];
        self.must(&[&typed[..], &rest, &WHO, more].concat())
    }
}

fn hand_over(shipment: &str) -> Vec<&str> {
    let typed = ["shipment", "hand-over", shipment, "--document", "D-1", "--received-by", "Okoro"];
    let rest = ["--checked-by", "Ines Harrow", "--training", "2026", "--waste-code", "16 06 05"];
    [&typed[..], &rest, &WHO].concat()
}

fn first_line(text: &str) -> &str {
    text.lines().next().unwrap_or_default()
}

#[test]
fn it_says_so_in_the_first_line_of_page_list_label_and_papers_and_a_real_one_nowhere() {
    let (shop, real) = (Shop::simulated(), Shop::real());
    for shop in [&shop, &real] {
        shop.boxed("BOX", "PE-0402");
        shop.drafted("S-1", "BOX", &[]);
    }
    for (typed, lines) in [
        // Measured, and kept off the bench for its looks.
        (&["book", "show", "5"][..], 1),
        (&["book", "show", "7"], 1),
        (&["judge", "PE-0402"], 1),
        (&["container", "show", "BOX"], 1),
        (&["container", "label", "BOX"], 1),
        (&["container", "list"], 1),
        (&["shipment", "show", "S-1"], 1),
        (&["shipment", "list"], 1),
        (&["container", "label", "BOX", "--html"], 6),
        (&["shipment", "show", "S-1", "--html"], 60),
    ] {
        let told = shop.must(typed);
        let head: Vec<&str> = told.lines().take(lines).collect();
        assert!(head.iter().any(|line| line.contains("SIMULATED")), "{typed:?}: {}", first_line(&told));
        let told = real.must(typed);
        assert!(!told.contains("SIMULATED") && !told.contains("imulated"), "{typed:?}: {told}");
    }
    let list = shop.must(&["book", "list"]);
    let cells: Vec<&str> = list.lines().filter(|line| line.contains("PE-04")).take(8).collect();
    assert!(cells.len() == 8 && cells.iter().all(|line| line.contains("SIMULATED")), "{list}");
    // Each of the words that are stuck on says so as well.
    let page = shop.must(&["container", "label", "BOX", "--html"]);
    assert!(page.matches("SIMULATED").count() > page.matches("class=\"words\"").count(), "{page}");
}

#[test]
fn its_papers_can_be_looked_at_and_nothing_is_handed_over() {
    let shop = Shop::simulated();
    shop.boxed("BOX", "PE-0402");
    let papers = shop.drafted("S-1", "BOX", &[]);
    assert!(first_line(&papers).contains("SIMULATED") && first_line(&papers).contains("DRAFT"), "{papers}");
    shop.must(&[&["shipment", "agree", "S-1", "--reference", "letter"][..], &WHO].concat());
    shop.refused(&hand_over("S-1"), "PE-0402 of shipment S-1 is simulated");
    shop.judged("PE-0401", "not_waste");
    let typed = ["shipment", "used-record", "PE-0401", "--item", "cell", "--company", "Workshop"];
    let rest = ["--address", "3 Quay Row", "--recall-checked-on", "2026-11-25", "--recall-looked-in", "list"];
    shop.refused(&[&typed[..], &rest, &WHO].concat(), "it is a simulated cell");
}

#[test]
fn it_is_counted_against_no_limit_and_no_clock_runs() {
    let (shop, real) = (Shop::simulated(), Shop::real());
    // What is counted of masses, and whether a clock runs for the box.
    let counted = |shop: &Shop| {
        shop.boxed_in("US", "BOX", "PE-0402");
        let read =
            |typed: &[&str]| -> serde_json::Value { serde_json::from_str(&shop.must(typed)).expect("JSON") };
        let (shown, due) = (read(&["container", "show", "BOX", "--json"]), read(&["due", "--json"]));
        let counters =
            [&shown["counters"], &due["site"]].map(|list| list.as_array().expect("counters").clone());
        let masses: Vec<String> = counters
            .concat()
            .iter()
            .filter_map(|counter| counter["counted"].as_str())
            .filter(|counted| counted.ends_with('g'))
            .map(str::to_owned)
            .collect();
        let clock = due["due"].as_array().expect("items").iter().any(|item| item["subject"] == "BOX");
        assert!(masses.len() >= 2, "{shown} {due}");
        (masses, clock)
    };
    let (masses, clock) = counted(&shop);
    assert!(masses.iter().all(|mass| mass == "0 g") && !clock, "{masses:?} {clock}");
    let (masses, clock) = counted(&real);
    assert!(masses.iter().all(|mass| mass != "0 g") && clock, "the same as real cells: {masses:?} {clock}");
}

#[test]
fn real_and_simulated_cells_lie_in_no_box_together_and_share_no_name() {
    let shop = Shop::real();
    shop.boxed("IN", "PE-0402");
    let simulated = ["assess", "--simulated", "high-resistance", "--no-signs", "--id"];
    shop.must(&[&simulated[..], &["PE-9"]].concat());
    shop.judged("PE-9", "intact_waste");
    shop.refused(
        &[&["container", "place", "IN", "PE-9"][..], &WHO].concat(),
        "cell PE-9 is simulated and container IN holds PE-0402",
    );
    let open = ["container", "open", "SIM", "--kind", "intact", "--place", "DE", "--stands", "desk"];
    shop.must(&[&open[..], &WHO].concat());
    shop.must(&[&["container", "place", "SIM", "PE-9"][..], &WHO].concat());
    shop.judged("PE-0403", "intact_waste");
    shop.refused(
        &[&["container", "place", "SIM", "PE-0403"][..], &WHO].concat(),
        "cell PE-0403 is real and container SIM holds PE-9",
    );
    // A name has real entries or simulated ones.
    shop.refused(&[&simulated[..], &["PE-0401"]].concat(), "the book has real entries of cell PE-0401");
    let watch = ["hot-cell-watch", "--id", "PE-0401", "--simulated", "sound", "--hours", "0.1"];
    shop.refused(&watch, "the book has real entries of cell PE-0401");
    shop.refused(
        &["guided", "--id", "PE-0401", "--simulated", "sound", "--no-signs"],
        "the book has real entries of cell PE-0401",
    );
    let graded =
        ["grade", "traces/two_level.csv", "--no-signs", "--cell", "labels/scanner_cell.toml", "--id", "PE-9"];
    shop.refused(&graded, "the book has simulated entries of cell PE-9");
}

#[test]
fn a_cell_that_left_is_not_assessed_again() {
    let shop = Shop::real();
    shop.boxed("BOX", "PE-0402");
    shop.drafted("S-1", "BOX", &[]);
    shop.must(&[&["shipment", "agree", "S-1", "--reference", "letter"][..], &WHO].concat());
    shop.must(&hand_over("S-1"));
    for typed in [
        &["assess", "--id", "PE-0402", "--no-signs", "--charge-limit-v", "4.2", "--rated-capacity-ah", "3"][..],
        &["guided", "--id", "PE-0402"],
        &[
            "grade",
            "traces/two_level.csv",
            "--no-signs",
            "--cell",
            "labels/scanner_cell.toml",
            "--id",
            "PE-0402",
        ],
    ] {
        shop.refused(typed, "handed over with shipment S-1 on 2026-11-25");
    }
}

/// A simulated fixture's clock runs far ahead of that on the wall.
#[test]
fn no_entry_of_a_simulated_watch_lies_in_the_future() {
    let folder = tempfile::tempdir().expect("a folder");
    let book: &Path = &folder.path().join("book.sqlite");
    let typed = ["hot-cell-watch", "--book", &book.to_string_lossy(), "--id", "PE-1", "--hours", "16"];
    let watched = call(&[&typed[..], &["--simulated", "self-warming"]].concat(), None);
    assert_eq!(watched.code, 6, "{}", watched.err);
    let entries = Book::open_read_only(book).expect("a book").entries(&Default::default()).expect("entries");
    assert!(entries.len() > 1);
    let began: jiff::Timestamp = NOON.parse().expect("a time");
    for entry in entries {
        // The run takes seconds; the simulated hours are sixteen.
        let ahead = entry.at.duration_since(began).as_secs();
        assert!((0..600).contains(&ahead), "entry {} lies {ahead} s ahead", entry.number);
        assert!(entry.summary.contains("SIMULATED"), "{}", entry.summary);
    }
}

#[test]
fn what_explains_or_shows_it_again_says_so_and_the_sealed_record_keeps_its_bytes() {
    let (shop, real) = (Shop::simulated(), Shop::real());
    let json = |shop: &Shop, typed: &[&str]| -> serde_json::Value {
        serde_json::from_str(&shop.must(typed)).expect("JSON")
    };
    for typed in [&["explain", "PE-0402"][..], &["book", "show", "PE-0402"]] {
        assert!(first_line(&shop.must(typed)).contains("SIMULATED"), "{typed:?}: {}", shop.must(typed));
        assert!(!real.must(typed).contains("SIMULATED"), "{typed:?}");
    }
    for typed in [
        &["explain", "PE-0402", "--json"][..],
        &["book", "show", "PE-0402", "--json"],
        &["book", "show", "5", "--json"],
    ] {
        assert_eq!(json(&shop, typed)["simulated"], true, "{typed:?}");
        assert!(json(&real, typed).get("simulated").is_none(), "{typed:?}");
    }
    let assess = ["assess", "--simulated", "sound", "--no-signs", "--id", "PE-9", "--json"];
    let printed = json(&shop, &assess);
    assert_eq!(printed["simulated"], true);
    let book = Book::open_read_only(&shop.book).expect("a book");
    let sealed = book.entry(shop.last()).expect("readable").expect("there").result;
    assert!(sealed.get("simulated").is_none(), "only printed");
    // What is printed can be read again.
    let file = shop.book.with_file_name("printed.json");
    std::fs::write(&file, printed.to_string()).expect("a file");
    assert!(first_line(&shop.must(&["explain", &file.to_string_lossy()])).contains("SIMULATED"));
    shop.must(&["book", "verify"]);
}

#[test]
fn what_is_done_with_it_says_so_in_the_book() {
    let (shop, real) = (Shop::simulated(), Shop::real());
    for shop in [&shop, &real] {
        shop.must(&[&["container", "escalate", "PE-0401", "--because", "smoke"][..], &WHO].concat());
        shop.boxed("BOX", "PE-0402");
        shop.drafted("S-1", "BOX", &[]);
        shop.must(&[&["shipment", "agree", "S-1", "--reference", "letter"][..], &WHO].concat());
    }
    for text in ["CRITICAL: smoke", "judged", "put into container", "papers drafted", "receiver agreed"] {
        let list = |shop: &Shop| {
            let list = shop.must(&["book", "find", text]);
            assert!(!list.is_empty(), "{text}");
            list
        };
        let told = list(&shop);
        assert!(told.lines().all(|line| line.contains("[SIMULATED]")), "{text}: {told}");
        assert!(!list(&real).contains("SIMULATED"), "{text}");
    }
    let entry = Book::open_read_only(&shop.book).expect("a book").find("smoke").expect("entries").remove(0);
    let number = entry.number.to_string();
    assert!(first_line(&shop.must(&["book", "show", &number])).contains("SIMULATED"));
    let shown: serde_json::Value =
        serde_json::from_str(&shop.must(&["book", "show", &number, "--json"])).expect("JSON");
    assert_eq!(shown["simulated"], true);
}

#[test]
fn each_step_of_a_capacity_run_says_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let shop = Shop { book: folder.path().join("book.sqlite"), _folder: folder };
    let first = ["guided", "--id", "PE-9", "--simulated", "sound", "--no-signs", "--thickness-mm", "4.0"];
    let charge = shop.must(&first);
    assert!(first_line(&charge).contains("SIMULATED") && charge.contains("charge PE-9"), "{charge}");
    let rest = shop.must(&["guided", "--id", "PE-9", "--charged"]);
    assert!(first_line(&rest).contains("SIMULATED") && rest.contains("let PE-9 rest"), "{rest}");
    assert!(first_line(&shop.must(&["guided", "--list"])).contains("SIMULATED"));
    for (typed, place) in
        [(&["guided", "--id", "PE-9", "--json"][..], ""), (&["guided", "--list", "--json"], "/runs/0")]
    {
        let told: serde_json::Value = serde_json::from_str(&shop.must(typed)).expect("JSON");
        assert_eq!(told.pointer(place).expect("there")["simulated"], true, "{typed:?}: {told}");
    }
    let list = shop.must(&["book", "list"]);
    assert!(list.lines().all(|line| line.contains("SIMULATED")), "{list}");
}

#[test]
fn it_is_no_sibling_of_a_real_cell() {
    let folder = tempfile::tempdir().expect("a folder");
    let label = folder.path().join("label.toml");
    let text = std::fs::read_to_string("labels/scanner_cell.toml").expect("a label");
    std::fs::write(&label, format!("model = \"scanner B\"\n{text}")).expect("a file");
    let label = label.to_string_lossy().into_owned();
    let shop = Shop { book: folder.path().join("book.sqlite"), _folder: folder };
    let simulated = |id: &str| {
        shop.must(&["assess", "--simulated", "sound", "--no-signs", "--cell", &label, "--id", id]);
    };
    let model = || -> (String, serde_json::Value) {
        let json = shop.must(&["model", "show", "scanner B", "--json"]);
        (shop.must(&["model", "show", "scanner B"]), serde_json::from_str(&json).expect("JSON"))
    };
    simulated("SIM-1");
    simulated("SIM-2");
    let (page, json) = model();
    assert!(first_line(&page).contains("SIMULATED") && page.contains("SIM-1"), "{page}");
    assert_eq!((&json["simulated"], json["cells"].as_array().map(Vec::len)), (&true.into(), Some(2)));
    // What a decision is handed to compare with: cells of the same sort.
    let siblings = |simulated: bool| -> Vec<String> {
        let book = Book::open_read_only(&shop.book).expect("a book");
        let (now, zone) = ("2026-11-26T12:00:00Z".parse().expect("a time"), jiff::tz::TimeZone::UTC);
        let known =
            celltriage_workshop::history::read(&book, "NEW", Some("scanner B"), simulated, now, &zone)
                .expect("a history");
        known.siblings.into_iter().map(|one| one.cell).collect()
    };
    assert_eq!((siblings(true), siblings(false)), (vec!["SIM-1".to_owned(), "SIM-2".to_owned()], vec![]));
    shop.must(&["grade", "traces/two_level.csv", "--no-signs", "--cell", &label, "--id", "REAL-1"]);
    assert_eq!((siblings(true), siblings(false)), (vec![], vec!["REAL-1".to_owned()]));
    let (page, json) = model();
    assert!(!page.contains("SIM-") && page.contains("REAL-1") && page.contains("mean: 2"), "{page}");
    assert!(json.get("simulated").is_none() && json["simulated_left_out"] == 2, "{json}");
    assert_eq!(json["cells"].as_array().map(Vec::len), Some(1));
}
