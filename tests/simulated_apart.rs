//! Simulated cells stay apart from real ones: counted nowhere, in no box and no family with them, handed to nobody.

use celltriage_tests::{BY, Shop};

fn first_line(text: &str) -> &str {
    text.lines().next().unwrap_or_default()
}

fn hand_over(shipment: &str) -> Vec<&str> {
    let typed = ["shipment", "hand-over", shipment, "--document", "D-1", "--received-by", "Okoro"];
    let rest = ["--checked-by", "Ines Harrow", "--training", "2026", "--waste-code", "16 02 15*"];
    [&typed[..], &rest, &BY].concat()
}

#[test]
fn its_papers_can_be_looked_at_and_nothing_is_handed_over() {
    let shop = Shop::of_the_demo();
    shop.boxes("DE", "BOX", "PE-0402");
    let papers = shop.drafts("S-1", "BOX");
    assert!(first_line(&papers).contains("SIMULATED") && first_line(&papers).contains("DRAFT"), "{papers}");
    shop.prints(&[&["shipment", "agree", "S-1", "--reference", "letter"][..], &BY].concat());
    shop.refused(&hand_over("S-1"), "PE-0402 of shipment S-1 is simulated");
    shop.judge("PE-0401", "not_waste", &["--because", "seen"]);
    let typed = ["shipment", "used-record", "PE-0401", "--item", "cell", "--company", "Workshop"];
    let rest = ["--address", "3 Quay Row", "--recall-checked-on", "2026-11-25", "--recall-looked-in", "list"];
    shop.refused(&[&typed[..], &rest, &BY].concat(), "it is a simulated cell");
}

#[test]
fn it_is_counted_against_no_limit_and_no_clock_runs() {
    let (shop, real) = (Shop::of_the_demo(), Shop::of_a_real_day());
    // What is counted of masses, and whether a clock runs for the box.
    let counted = |shop: &Shop| {
        shop.boxes("US", "BOX", "PE-0402");
        let read = |typed: &[&str]| -> serde_json::Value {
            serde_json::from_str(&shop.prints(typed)).expect("JSON")
        };
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
fn real_and_simulated_cells_share_no_book() {
    let real = Shop::of_a_real_day();
    let watch = ["hot-cell-watch", "--id", "PE-0999", "--simulated", "sound", "--hours", "0.1"];
    for typed in [
        &["assess", "--simulated", "high-resistance", "--no-signs", "--id", "PE-9"][..],
        &watch,
        &["guided", "--id", "PE-0401", "--simulated", "sound", "--no-signs"],
    ] {
        real.refused(typed, "it is a book of real cells and takes no others");
    }
    let simulated = Shop::new();
    simulated.prints(&["assess", "--simulated", "sound", "--no-signs", "--id", "PE-9"]);
    let graded =
        ["grade", "traces/two_level.csv", "--no-signs", "--cell", "labels/scanner_cell.toml", "--id", "PE-8"];
    simulated.refused(&graded, "it is a book of simulated cells and takes no others");
    // What nobody measures is of the book's sort.
    simulated.prints(&[
        "assess",
        "--no-signs",
        "--sign",
        "swollen=yes",
        "--id",
        "PE-7",
        "--simulated",
        "sound",
    ]);
    let told = simulated.prints(&["book", "list"]);
    assert!(told.starts_with("SIMULATED: this book is of simulated cells"), "{told}");
    assert_eq!(told.matches("SIMULATED").count(), 3, "{told}");
}

#[test]
fn a_cell_that_left_is_not_assessed_again() {
    let shop = Shop::of_a_real_day();
    shop.boxes("DE", "BOX", "PE-0402");
    shop.drafts("S-1", "BOX");
    shop.prints(&[&["shipment", "agree", "S-1", "--reference", "letter"][..], &BY].concat());
    shop.prints(&hand_over("S-1"));
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

#[test]
fn it_is_no_sibling_of_a_real_cell() {
    let shop = Shop::new();
    let text = std::fs::read_to_string("labels/scanner_cell.toml").expect("a label");
    let label = shop.file("label.toml", &format!("model = \"scanner B\"\n{text}"));
    let simulated = |id: &str| {
        shop.prints(&["assess", "--simulated", "sound", "--no-signs", "--cell", &label, "--id", id]);
    };
    let model = || -> (String, serde_json::Value) {
        let json = shop.prints(&["model", "show", "scanner B", "--json"]);
        (shop.prints(&["model", "show", "scanner B"]), serde_json::from_str(&json).expect("JSON"))
    };
    simulated("SIM-1");
    simulated("SIM-2");
    let (page, json) = model();
    assert!(first_line(&page).contains("SIMULATED") && page.contains("SIM-1"), "{page}");
    assert_eq!((&json["simulated"], json["cells"].as_array().map(Vec::len)), (&true.into(), Some(2)));
    // What a decision is handed to compare with: cells of the same sort.
    let siblings = |simulated: bool| -> Vec<String> {
        let book = shop.open();
        let (now, zone) = ("2026-11-26T12:00:00Z".parse().expect("a time"), jiff::tz::TimeZone::UTC);
        let known =
            celltriage_workshop::history::read(&book, "NEW", Some("scanner B"), simulated, now, &zone)
                .expect("a history");
        known.siblings.into_iter().map(|one| one.cell).collect()
    };
    assert_eq!((siblings(true), siblings(false)), (vec!["SIM-1".to_owned(), "SIM-2".to_owned()], vec![]));
    // A real cell finds no place in this book at all.
    let graded = ["grade", "traces/two_level.csv", "--no-signs", "--cell", &label, "--id", "REAL-1"];
    shop.refused(&graded, "it is a book of simulated cells and takes no others");
}
