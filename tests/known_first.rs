//! What the book knows against a cell is said first: by a batch, on a page, beside a watch, under a name that is nearly the same.

use celltriage_tests::{BY, EVENING, NOON, REASON, Shop, call_at};

#[test]
fn batch_and_grade_tell_it_first_too() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id B-1 --simulated sound --sign swollen=yes", &[]);
    let file = shop.path("night.toml");
    for extent in ["screen", "full"] {
        let text = format!(
            "[[cell]]\nid = \"B-1\"\nsimulated = \"sound\"\nno_signs = true\nextent = \"{extent}\"\n"
        );
        std::fs::write(&file, text).expect("a file");
        let batch = shop.at(EVENING, "batch", &[&file]);
        assert!(batch.err.starts_with("Known before: B-1: swollen"), "{}", batch.err);
        assert!(batch.out.contains("QUARANTINE"), "{}", batch.out);
    }
    let grade = "grade traces/two_level.csv --id G-1 --cell labels/scanner_cell.toml";
    let shop = Shop::new();
    shop.must(NOON, grade, &["--sign", "swollen=yes"]);
    let graded = shop.must(EVENING, grade, &["--no-signs"]);
    assert!(graded.err.starts_with("Known before: G-1: swollen"), "{}", graded.err);
    assert!(graded.out.contains("            Known before: swollen"), "{}", graded.out);
    assert!(graded.out.contains("QUARANTINE  cell "), "{}", graded.out);
    assert_eq!(shop.at(EVENING, "book recompute 2", &[]).code, 0);
}

#[test]
fn a_name_that_is_nearly_that_of_a_bad_cell_is_asked_about() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id V-9 --simulated sound --no-signs --sign swollen=yes", &[]);
    for name in ["v-9", "V9", "V-9.", "V\u{2011}9", "V_9", "\u{474}-9"] {
        let call = shop.at(EVENING, "assess --simulated sound --no-signs --id", &[name]);
        assert!(call.code == 2 && call.err.contains("V-9, swollen"), "{name:?}: {} {}", call.code, call.err);
    }
    let hidden = shop.at(EVENING, "assess --simulated sound --no-signs --id", &["V-\u{200b}9"]);
    assert!(hidden.code == 2 && hidden.err.contains("does not show"), "{}", hidden.err);
    assert_eq!(shop.newest(), 1, "nothing was written");
    shop.must(EVENING, "assess --id V-90 --simulated sound --no-signs", &[]);
}

#[test]
fn a_reacting_cell_is_written_down_without_an_assessment_or_a_watch() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id A-1 --simulated sound --no-signs", &[]);
    shop.must(EVENING, "container escalate U-1", &REASON);
    shop.must(EVENING, "container inspect A-1 --look active", &BY);
    for cell in ["U-1", "A-1"] {
        shop.kept_off(EVENING, cell, "found critical");
    }
    assert_eq!(shop.at(EVENING, "container hold U-2 --stands yard", &REASON).code, 2);
}

/// A watch under a locked book leaves its alarm in a file beside it.
#[test]
fn an_alarm_that_lies_beside_the_book_stops_a_load_too() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id L-1 --simulated sound --no-signs", &[]);
    let beside = |name: &str, cell: &str, cause: &str| {
        let alarm = format!("{{\"cause\":\"{cause}\",\"at_s\":60.0,\"value\":4.7,\"limit\":2.0}}");
        let text = format!(
            "{{\"cell\":\"{cell}\",\"alarms_not_in_the_book\":[{{\"at\":\"2026-11-25T12:00:00Z\",\"alarm\":{alarm}}}]}}"
        );
        std::fs::write(format!("{}.unkept-{name}.json", shop.book()), text).expect("a file");
    };
    beside("1", "L-2", "over_air");
    shop.must(EVENING, "assess --id L-1 --simulated sound --no-signs", &[]);
    beside("2", "L-1", "over_air");
    let call = shop.at(EVENING, "assess --id L-1 --simulated sound --no-signs", &[]);
    assert!(call.code == 2 && call.err.contains("could not take"), "{} {}", call.code, call.err);
    assert!(!call.err.contains("step 1 of"), "{}", call.err);
}

/// An old page reads as if nothing had been found; what was found after it stands above it.
#[test]
fn what_was_found_later_stands_above_the_page_of_an_earlier_decision() {
    let shop = Shop::new();
    let grade = "grade traces/two_level.csv --no-signs --cell labels/scanner_cell.toml --id";
    for cell in ["Q", "CLEAN"] {
        shop.must(NOON, &format!("{grade} {cell}"), &[]);
    }
    shop.must(NOON, "container escalate Q", &REASON);
    shop.must(NOON, "container escalate CLEAN", &REASON);
    shop.strike(NOON, 4);
    let json = |typed: &str| -> serde_json::Value {
        serde_json::from_str(&shop.must(EVENING, typed, &[]).out).expect("JSON")
    };
    let told = "Known of Q: found critical: wrong cell in the hand, 2026-11-25 (entry 3, Ines Harrow)";
    for typed in ["explain Q", "explain entry:1", "book show entry:1"] {
        let page = shop.must(EVENING, typed, &[]).out;
        assert_eq!(page.lines().next(), Some(told), "{typed}: {page}");
    }
    for (typed, member) in [("explain Q --json", "known"), ("book show entry:1 --json", "known_since")] {
        let value = json(typed);
        assert_eq!(value[member][0]["entry"], 3, "{typed}: {value}");
        assert_eq!(value[member].as_array().map(Vec::len), Some(1), "{typed}");
    }
    // The entry that tells it does not tell it twice, and a later decision that took it in has it once.
    assert!(!shop.must(EVENING, "book show entry:3", &[]).out.contains("Known of"));
    shop.must(EVENING, &format!("{grade} Q"), &[]);
    let newest = shop.newest();
    let page = shop.must(EVENING, &format!("book show entry:{newest}"), &[]).out;
    assert!(page.starts_with("Known before: found critical") && !page.contains("Known of"), "{page}");
    // What was struck is known no more, but for the judgement that the cell lacks since.
    let page = shop.must(EVENING, "explain CLEAN", &[]).out;
    assert!(page.starts_with("Known of CLEAN: critical until a person judges it again"), "{page}");
    assert_eq!(page.matches("Known of").count(), 1, "{page}");
    let other = shop.path("other.sqlite");
    let typed: Vec<&str> = grade.split_whitespace().chain(["R", "--book", &other]).collect();
    assert_eq!(call_at(NOON, &typed, None).code, 0);
    for typed in
        [&["explain", "R", "--book", &other][..], &["book", "--book", &other, "show", "entry:1", "--json"]]
    {
        let page = call_at(EVENING, typed, None).out;
        assert!(!page.is_empty() && !page.contains("Known of") && !page.contains("known_since"), "{page}");
    }
}

#[test]
fn a_watch_begins_with_what_is_known() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id W-1 --simulated sound --sign swollen=yes", &[]);
    let watch = "hot-cell-watch --hours 0.01 --simulated sound --id";
    let told = shop.at(EVENING, &format!("{watch} W-1"), &[]);
    assert!(told.err.starts_with("Known before: W-1: swollen, 2026-11-25 (entry 1)"), "{}", told.err);
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(!shop.at(EVENING, &format!("{watch} W-2"), &[]).err.contains("Known before"));
}

#[test]
fn a_name_without_a_book_is_told_that_no_book_was_asked() {
    let grade = ["grade", "traces/two_level.csv", "--no-signs", "--cell", "labels/scanner_cell.toml"];
    let note = "note: no book was asked about G-2";
    // The first screen says so itself, with what to type; whoever gets no screen is told beside.
    let told = call_at(NOON, &[&grade[..], &["--id", "G-2"]].concat(), None);
    assert!(told.code == 0 && !told.err.contains("no book"), "{}", told.err);
    assert!(
        told.out.contains("no book was asked") && told.out.contains("the same with --book FILE"),
        "{}",
        told.out
    );
    for more in ["--json", "--full"] {
        let told = call_at(NOON, &[&grade[..], &["--id", "G-2", more]].concat(), None);
        assert!(told.err.contains(note) && told.err.contains("--book"), "{}", told.err);
    }
    assert!(!call_at(NOON, &grade, None).err.contains("no book was asked"));
    let shop = Shop::new();
    let told = shop.must(NOON, &[&grade.join(" "), " --id G-2"].concat(), &[]);
    assert!(!told.err.contains("no book was asked"), "{}", told.err);
}
