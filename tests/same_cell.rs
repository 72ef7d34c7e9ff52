//! Is it the same cell? The bounds against every cell of the simulated bench, and what follows in the workshop.

use celltriage_assessment::recorded::Recorded;
use celltriage_assessment::same_cell::{Earlier, Facts, contradictions};
use celltriage_link::{BenchCell, Client};
use celltriage_measure::estimate::{FrontEnd, all};
use celltriage_measure::observation::Observations;
use celltriage_measure::plan::{Extent, plan};
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library::{self, LibraryCell};
use celltriage_simulated_board::options::Options;
use celltriage_tests::{Collector, EVENING, NOON, SharedBench, Shop};
use celltriage_verdict::Contradicted;
use jiff::civil::{Date, date};
use std::collections::BTreeMap;

const DAY: Date = date(2026, 11, 25);

/// A cell as the bench has it, with the state it comes in.
struct Visit {
    extent: Extent,
    soc: f64,
    ambient_c: f64,
    seed: u64,
}

fn kind(cell: &LibraryCell) -> String {
    cell.parameters.tables().name.replace([' ', '_'], "-")
}

/// What a decision on it would keep for the next one.
fn facts(cell: &LibraryCell, visit: &Visit) -> Facts {
    let bench_cell = BenchCell::find(&kind(cell)).expect("a cell of the bench");
    let label = bench_cell.nameplate;
    let looks = Observations { thickness_mm: bench_cell.thickness_mm, ..Observations::no_signs() };
    let Visit { extent, soc, ambient_c, seed } = *visit;
    let options = Options { initial_soc: soc, ambient_c, ..cell.options(seed) };
    let bench = SharedBench::new(SimulatedFixture::new(cell.parameters.clone(), options));
    let planned = plan(&label, extent, 1).expect("a plan");
    let (mut client, _, _) = Client::connect(bench).expect("connects");
    let mut watch = Collector::default();
    // A cell that the guard does not let through has no figures to compare.
    let _told_by_the_recording = client.run(&planned.plan, &mut watch);
    let recorded = Recorded::read(&watch.frames, None);
    let measured = match recorded.trace.filter(|_| recorded.run.is_finished()) {
        Some(trace) => all(&trace, &label, &looks, &FrontEnd::fixture()).measured,
        None => BTreeMap::new(),
    };
    Facts::of(&label, &looks, &measured)
}

fn told(before: &Facts, now: &Facts) -> Vec<Contradicted> {
    let earlier = [Earlier { entry: 1, on: DAY, facts: before.clone(), said_same: false }];
    contradictions(&earlier, now, DAY, None).iter().map(|one| one.what).collect()
}

/// As it comes in, a day later, after a charge, ten kelvin cooler and warmer, at other charges, and after a full discharge.
fn visits(cell: &LibraryCell) -> Vec<Visit> {
    let visit = |extent, soc, ambient_c, seed| Visit { extent, soc, ambient_c, seed };
    let came = cell.initial_soc;
    vec![
        visit(Extent::Screen, came, 25.0, 1),
        visit(Extent::Screen, came, 25.0, 2),
        visit(Extent::Screen, 1.0, 25.0, 3),
        visit(Extent::Screen, came, 19.0, 4),
        visit(Extent::Screen, came, 29.0, 5),
        visit(Extent::Screen, 0.65, 22.0, 6),
        visit(Extent::Screen, 0.30, 22.0, 7),
        visit(Extent::Full, 1.0, 22.0, 8),
    ]
}

#[test]
fn no_cell_of_the_bench_asks_about_itself() {
    let (mut pairs, mut compared) = (0, 0);
    for cell in library::all() {
        let seen: Vec<Facts> = visits(&cell).iter().map(|visit| facts(&cell, visit)).collect();
        compared += seen.iter().filter(|one| one.resistance.is_some()).count();
        for before in &seen {
            for now in &seen {
                pairs += 1;
                assert_eq!(told(before, now), [], "{}: {before:?}\n{now:?}", kind(&cell));
            }
        }
    }
    println!("{pairs} pairs of visits of one cell, none asks; {compared} visits with a resistance");
    assert!(compared > 30, "{compared}");
}

#[test]
fn most_pairs_of_different_cells_are_told_apart() {
    let name = |told: &[Contradicted]| {
        let words: Vec<String> = told.iter().map(|one| format!("{one:?}").to_lowercase()).collect();
        if words.is_empty() { "-".to_owned() } else { words.join("+") }
    };
    let cells = library::all();
    let full =
        |cell: &LibraryCell| facts(cell, &Visit { extent: Extent::Full, soc: 1.0, ambient_c: 25.0, seed: 8 });
    let came = |cell: &LibraryCell| {
        facts(cell, &Visit { extent: Extent::Screen, soc: cell.initial_soc, ambient_c: 25.0, seed: 1 })
    };
    for (what, seen) in [
        ("screened", cells.iter().map(came).collect::<Vec<Facts>>()),
        ("discharged", cells.iter().map(full).collect()),
    ] {
        let (mut pairs, mut by_label, mut by_figures) = (0, 0, 0);
        println!("{what}: before, now, with the labels as they are, under one label");
        for (before, first) in cells.iter().zip(&seen) {
            for (now, second) in cells.iter().zip(&seen).filter(|(now, _)| kind(now) != kind(before)) {
                // The worst case: the label is taken from the same file for both.
                let under_one = Facts { nameplate: first.nameplate.clone(), ..second.clone() };
                let (all, figures) = (told(first, second), told(first, &under_one));
                pairs += 1;
                by_label += usize::from(!all.is_empty());
                by_figures += usize::from(!figures.is_empty());
                println!("{:<20} {:<20} {:<30} {}", kind(before), kind(now), name(&all), name(&figures));
            }
        }
        println!("{what}: of {pairs} pairs {by_label} told apart, {by_figures} of them by figures alone");
        assert!(2 * by_label > pairs, "{what}: {by_label} of {pairs}");
    }
}

const FULL: &str = "assess --extent full --no-signs --thickness-mm 4.0 --thickness-mm 4.0";
const LABEL: &str = "rated_capacity_ah = 3.0\ncharge_limit_v = 4.35\nend_of_discharge_v = 3.0\nchemistry = \"lco\"\nform = \"pouch\"\n\
                     nominal_thickness_mm = 4.0\n";

/// One label for all: the file that lies beside the bench.
fn full_test(shop: &Shop, kind: &str, more: &[&str]) -> celltriage_tests::Call {
    let label = shop.file("label.toml", LABEL);
    shop.at(
        EVENING,
        &format!("{FULL} --id PE-7 --simulated {kind} --cell"),
        &[&[label.as_str()], more].concat(),
    )
}

fn reason(call: &celltriage_tests::Call) -> serde_json::Value {
    let decided = call.json();
    let reasons = decided["verdict"]["reasons"].as_array().expect("reasons").clone();
    reasons.into_iter().find(|one| one["criterion"] == "same_cell").unwrap_or_default()
}

#[test]
fn figures_that_cannot_follow_keep_a_cell_from_reuse_until_somebody_answers() {
    let shop = Shop::new();
    assert_eq!(full_test(&shop, "faded", &["--json"]).json()["verdict"]["fate"], "recycle");
    let call = full_test(&shop, "sound", &["--json"]);
    assert_eq!(call.json()["verdict"]["fate"], "undecided", "{}", call.out);
    let asked = reason(&call);
    assert_eq!(asked["finding"], "inconclusive");
    let text = asked["text"].as_str().expect("words");
    assert!(text.contains("capacity") && text.contains("on 2026-11-25 (entry 1)"), "{text}");
    assert!(
        asked["settle"].as_str().expect("what to do").contains("Compare the tag with the cell"),
        "{asked}"
    );
    let found = call.json()["contradictions"].as_array().expect("contradictions").clone();
    assert!(found.iter().any(|one| one["what"] == "capacity" && one["entry"] == 1), "{found:?}");
    // Measured once more, the first decision still speaks against it.
    assert_eq!(reason(&full_test(&shop, "sound", &["--json"]))["finding"], "inconclusive");
    let nameless = full_test(&shop, "sound", &["--same-cell", "the first test began half full"]);
    assert!(nameless.code == 2 && nameless.err.contains("--assessor"), "{}", nameless.err);
    let answer = ["--same-cell", "the first test began half full", "--assessor", "Ines Harrow", "--json"];
    let answered = full_test(&shop, "sound", &answer);
    assert_eq!(answered.json()["verdict"]["fate"], "reuse", "{}", answered.out);
    let told = reason(&answered);
    assert_eq!(told["finding"], "pass");
    let text = told["text"].as_str().expect("words");
    assert!(
        text.starts_with("Ines Harrow says that it is the same cell: the first test began half full"),
        "{text}"
    );
    // From there on both are known to be of one cell.
    let next = full_test(&shop, "sound", &["--json"]);
    assert_eq!((next.json()["verdict"]["fate"].as_str(), reason(&next).is_null()), (Some("reuse"), true));
    for entry in 1..=5 {
        let again = shop.at(EVENING, &format!("book recompute entry:{entry}"), &[]);
        assert_eq!(again.code, 0, "{entry}: {}{}", again.out, again.err);
    }
    assert!(shop.must(EVENING, "book show entry:2", &[]).out.contains("may be another cell"));
}

#[test]
fn a_struck_decision_contradicts_nothing() {
    let shop = Shop::new();
    full_test(&shop, "faded", &[]);
    shop.strike(EVENING, 1);
    assert_eq!(full_test(&shop, "sound", &["--json"]).json()["verdict"]["fate"], "reuse");
}

#[test]
fn another_label_is_asked_about_before_questions_and_load() {
    let shop = Shop::new();
    let (high, low) = (shop.label("high.toml", 4.35, 3.0), shop.label("low.toml", 4.35, 2.8));
    shop.must(NOON, "assess --id L --simulated sound --no-signs --cell", &[&high]);
    let assess = "assess --id L --simulated sound --cell";
    let refused = shop.at(EVENING, assess, &[&low, "--no-signs"]);
    assert_eq!((refused.code, refused.out.as_str(), shop.newest()), (2, "", 1), "{}", refused.err);
    for words in ["another cell than L", "rated capacity 3 Ah there, 2.8 Ah now", "--same-cell", "--id"] {
        assert!(refused.err.contains(words), "{words}: {}", refused.err);
    }
    // The first question is about the cell; nothing is asked of its looks where it is another one.
    let left = shop.asked(EVENING, assess, &[&low], Some(&[""]));
    assert_eq!((left.code, shop.newest()), (2, 1), "{}", left.err);
    let said = shop.asked(
        EVENING,
        assess,
        &[&low, "--no-signs", "--full"],
        Some(&["the label was read wrongly", "R. Lindqvist", ""]),
    );
    assert_eq!((said.code, shop.newest()), (0, 2), "{}{}", said.out, said.err);
    assert!(said.out.contains("R. Lindqvist says that it is the same cell"), "{}", said.out);
    // The label that somebody answered for is the one from now on.
    shop.must(EVENING, assess, &[&low, "--no-signs"]);
    let text = "[[cell]]\nid = \"L\"\nsimulated = \"sound\"\nno_signs = true\nextent = \"EXTENT\"\ncell = \"high.toml\"\n";
    for extent in ["screen", "full"] {
        let file = shop.file("night.toml", &text.replace("EXTENT", extent));
        let batch = shop.at(EVENING, "batch", &[&file]);
        assert_eq!((batch.code, shop.newest()), (2, 3), "{}{}", batch.out, batch.err);
        assert!(
            batch.out.contains("NOT TESTED") && batch.err.contains("same_cell"),
            "{}{}",
            batch.out,
            batch.err
        );
    }
    // What was found is written down first, whatever the label says.
    let swollen = shop.at(EVENING, assess, &[&high, "--sign", "swollen=yes", "--full"]);
    assert_eq!(swollen.code, 0, "{}", swollen.err);
    assert!(
        swollen.out.contains("Q U A R A N T I N E") && swollen.out.contains("another cell"),
        "{}",
        swollen.out
    );
}
