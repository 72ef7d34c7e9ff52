//! Decisions explained, with their label, beside their siblings, and with a thickness that is asked for.

use celltriage_tests::{NOON, Shop, snapshot};

#[test]
fn a_decision_is_explained_from_the_book_from_json_and_drawn() {
    let shop = Shop::new();
    let assessed =
        shop.run(NOON, &["assess", "--id", "PE-1", "--simulated", "sound", "--no-signs", "--json"]);
    let file = shop.file("PE-1.json", &assessed.out);
    let page = shop.run(NOON, &["explain", "PE-1"]);
    snapshot!("explain_page", shop.shown(&page));
    assert_eq!(shop.run(NOON, &["explain", "entry:1"]).out, page.out);
    assert_eq!(shop.run(NOON, &["explain", &file]).out, page.out);

    let svg = shop.path("PE-1.svg");
    let drawn = shop.run(NOON, &["explain", "PE-1", "--criterion", "resistance", "--drawing", &svg]);
    snapshot!("explain_one_criterion", shop.shown(&drawn));
    assert!(std::fs::read_to_string(svg).expect("a drawing").contains("resistance × capacity"));

    let explained = shop.run(NOON, &["explain", "PE-1", "--json"]).json();
    assert_eq!(explained["schema"], "celltriage.explanation/1");
    snapshot!("explain_unknown", shop.shown(&shop.run(NOON, &["explain", "PE-2"])));
    snapshot!(
        "explain_unknown_criterion",
        shop.shown(&shop.run(NOON, &["explain", "entry:1", "--criterion", "colour"]))
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
    let call = shop.run(NOON, &typed);
    assert_eq!(call.code, 0, "{}", call.err);
    assert!(call.out.contains("resistance × capacity"), "{}", call.out);
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
        let call = shop.run(&format!("2026-11-2{number}T08:00:00Z"), &[&typed[..], more].concat());
        assert_eq!(call.code, 0, "{}", call.err);
    }
    let label = label("PE-69", 3.01);
    let typed = ["assess", "--id", "PE-69", "--simulated", "sound", "--cell", &label, "--no-signs", "--full"];
    let screened = shop.run(NOON, &typed);
    let health: Vec<&str> = screened
        .out
        .lines()
        .skip_while(|line| *line != "HEALTH")
        .take_while(|line| !line.is_empty())
        .collect();
    snapshot!("health_of_a_screened_cell", health.join("\n"));
    assert!(screened.out.contains("U N D E C I D E D"), "siblings never make a cell reusable");
    snapshot!("model_show", shop.shown(&shop.run(NOON, &["model", "show", "school tablet A"])));
    snapshot!("model_list", shop.shown(&shop.run(NOON, &["model", "list"])));
    let listed = shop.run(NOON, &["model", "show", "school tablet A", "--json"]).json();
    assert_eq!(listed["cells"].as_array().map(Vec::len), Some(7));
    assert_eq!(shop.run(NOON, &["model", "show", "none"]).code, 2);
    // A sibling's name is not a word of this cell's entry, and what it was compared with is kept.
    assert_eq!(shop.run(NOON, &["book", "find", "PE-60"]).out.lines().count(), 1);
    let recomputed = shop.run(NOON, &["book", "recompute", "7"]);
    assert_eq!(recomputed.code, 0, "{}{}", recomputed.out, recomputed.err);
}

#[test]
fn the_thickness_is_asked_with_how_to_measure_it() {
    let shop = Shop::new();
    let typed = ["assess", "--id", "PE-7", "--simulated", "sound", "--no-signs", "--full"];
    // A typo is reported and the question repeated, so that no answer before it is lost.
    let answers = ["4.02,4.03,4.02", "0.13", "four", "4.00,4.01,4.00", ""];
    let call = shop.call(NOON, &typed, Some(&answers));
    assert!(call.err.contains("just touch it"), "{}", call.err);
    assert!(call.err.contains("0.13 mm is outside"), "{}", call.err);
    assert_eq!(call.err.matches("Thickness at one corner").count(), 3, "{}", call.err);
    assert!(shop.book_path().exists() && call.out.contains("thickest of 2 points"), "{}", call.out);
}
