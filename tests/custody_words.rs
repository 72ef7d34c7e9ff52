//! What custody and rules print, read word by word: every help text, page, paper, label and refusal, in every place.
//!
//! Nothing promises that a thing is free of danger or meets the law; every paper is marked as a draft; every fact names
//! its source, and whoever has to verify something is told with whom.

#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests: a panic is the verdict

use celltriage_rules::promise_in;
use celltriage_tests::{Call, NOON, Shop, call};

const PLACES: [&str; 11] = ["US", "US-CA", "US-WA", "DE", "GB", "CA-ON", "AU", "IN", "JP", "SG", "ZZ"];
/// Where the table of cautions is read as it is printed; the packs' own tests read it for every place.
const CAUTIONED: [&str; 3] = ["US-CA", "DE", "ZZ"];
const WHO: [&str; 4] = ["--by", "Ines Harrow", "--on", "2026-11-25"];

/// Reads all that was printed.
fn read(typed: &[&str], done: &Call) {
    for text in [&done.out, &done.err] {
        assert_eq!(promise_in(text), None, "{typed:?}: {text}");
        assert!(
            !text.contains(['{', '}']) || text.contains("\"schema\"") || text.contains("<style>"),
            "{typed:?}: {text}"
        );
    }
}

/// A call on the workshop's book, read.
fn run(shop: &Shop, typed: &[&str]) -> Call {
    let done = shop.run(NOON, typed);
    read(typed, &done);
    done
}

fn must(shop: &Shop, typed: &[&str]) -> String {
    let done = run(shop, &[typed, &WHO].concat());
    assert_eq!(done.code, 0, "{typed:?}: {}", done.err);
    done.out
}

#[test]
fn no_help_text_promises_anything() {
    let actions: [(&str, &[&str]); 15] = [
        ("judge", &[]),
        ("label", &[]),
        ("report", &[]),
        ("irregularity", &["list", "note", "remedy"]),
        ("leave", &[]),
        ("return", &[]),
        ("due", &[]),
        (
            "book",
            &[
                "list",
                "show",
                "find",
                "recompute",
                "export",
                "verify",
                "backup",
                "restore",
                "rescue",
                "merge",
                "checkpoint",
                "key",
                "blank",
            ],
        ),
        (
            "container",
            &[
                "open", "place", "take-out", "move", "merge", "split", "empty", "weigh", "labelled", "hold",
                "inspect", "release", "escalate", "correct", "label", "sheet", "list", "show",
            ],
        ),
        (
            "shipment",
            &[
                "draft",
                "agree",
                "withdraw",
                "hand-over",
                "receipt",
                "certificate",
                "refused",
                "settled",
                "list",
                "show",
                "used-record",
            ],
        ),
        ("rules", &["list", "show", "diff", "check", "cautions"]),
        ("origin", &[]),
        ("receive", &[]),
        ("trial", &["fit", "out", "incident", "list"]),
        ("assess", &[]),
    ];
    for (command, actions) in actions {
        for action in std::iter::once(&"").chain(actions) {
            let typed: Vec<&str> =
                [command, action, "--help"].into_iter().filter(|word| !word.is_empty()).collect();
            let done = call(&typed, None);
            assert!(done.code == 0 && done.out.contains("Usage"), "{typed:?}: {}{}", done.out, done.err);
            read(&typed, &done);
        }
    }
}

#[test]
fn no_page_of_the_rules_promises_anything() {
    for place in PLACES {
        for date in ["2026-12-08", "2026-12-09", "2030-01-01"] {
            let typed = ["rules", "show", place, "--date", date];
            let done = call(&typed, None);
            assert!(done.code == 0 && done.out.contains("The law of the place goes before it"), "{typed:?}");
            read(&typed, &done);
        }
        let typed = ["rules", "diff", place, "2026-01-01", "2027-12-31"];
        let done = call(&typed, None);
        assert!(done.code == 0 && done.out.contains("facts hold on both days"), "{typed:?}");
        read(&typed, &done);
    }
    for place in CAUTIONED {
        for condition in [
            "active-now",
            "swollen",
            "leaking",
            "punctured",
            "warming",
            "internal-short",
            "deeply-discharged",
            "over-charged",
            "unknown",
            "intact",
        ] {
            for action in ["touch", "move", "store", "ship", "charge", "discharge"] {
                let typed =
                    ["rules", "cautions", "--place", place, "--condition", condition, "--action", action];
                let done = call(&typed, None);
                assert_eq!(done.code, 0, "{typed:?}");
                read(&typed, &done);
                // Before anything else, where it reacts now.
                let first = done.out.lines().nth(1).unwrap_or_default();
                assert_eq!(first.contains("DANGER   STOP"), condition == "active-now", "{typed:?}: {first}");
            }
        }
    }
}

/// One intact and one damaged cell go from the decision to the hand-over in every place; everything printed is read.
#[test]
fn the_whole_way_in_every_place_is_sourced_marked_as_a_draft_and_promises_nothing() {
    let mut to_verify = 0;
    for place in PLACES {
        for (cell, state, kind) in
            [("PE-0402", "intact_waste", "intact"), ("PE-0404", "damaged_or_defective", "damaged")]
        {
            let shop = Shop::of_a_real_day();
            read(&["judge"], &run(&shop, &["judge", cell, "--place", place]));
            let answers = ["--answer", "short_circuit_protection=no", "--answer", "safety_features=no"];
            let able = ["--qualification", "battery technician, maker's criteria"];
            must(&shop, &[&["judge", cell, "--state", state, "--as-recorded"][..], &answers, &able].concat());
            must(&shop, &["container", "open", "BOX", "--kind", kind, "--place", place, "--stands", "yard"]);
            must(&shop, &["container", "place", "BOX", cell, "--inner", "a", "--mass-g", "68"]);
            for typed in [
                &["container", "show", "BOX"][..],
                &["container", "show", "BOX", "--json"],
                &["container", "label", "BOX"],
                &["container", "label", "BOX", "--html"],
                &["container", "list"],
                &["due"],
            ] {
                assert_eq!(run(&shop, typed).code, 0, "{place} {typed:?}");
            }
            let draft = [
                "shipment",
                "draft",
                "S-1",
                "--container",
                "BOX",
                "--receiver",
                "Gull Point",
                "--gross-kg",
                "3",
            ];
            let air = run(&shop, &[&draft[..], &["--mode", "air"], &WHO].concat());
            assert!(
                air.code == 2 && air.out.is_empty() && air.err.contains("no papers for air"),
                "{}",
                air.err
            );
            let papers = must(&shop, &[&draft[..], &["--mode", "road"]].concat());
            to_verify += paper(&papers, place);
            let page = run(&shop, &["shipment", "show", "S-1", "--html"]).out;
            assert_eq!(page.matches("draft, to be checked by a trained person").count(), 2, "{place}");
            must(&shop, &["shipment", "agree", "S-1", "--reference", "letter 17"]);
            let codes: serde_json::Value =
                serde_json::from_str(&run(&shop, &["shipment", "show", "S-1", "--json"]).out).unwrap();
            let code = codes["draft"]["waste_codes"][0]["code"].as_str().map(str::to_owned);
            let mut hand_over =
                vec!["shipment", "hand-over", "S-1", "--document", "D-1", "--received-by", "Okoro"];
            hand_over.extend(["--checked-by", "Ines Harrow", "--training", "3 March 2026"]);
            hand_over.extend(code.iter().flat_map(|code| ["--waste-code", code.as_str()]));
            must(&shop, &hand_over);
            let told = run(&shop, &["book", "show", cell]).out;
            for part in ["judged:", "put into container BOX", "papers drafted", "handed over to Okoro", "NOW"]
            {
                assert!(told.contains(part), "{place} {part}: {told}");
            }
            assert!(
                run(&shop, &["container", "weigh", cell, "--mass-g", "1", "--by", "x"])
                    .err
                    .contains("handed over")
            );
        }
    }
    assert!(to_verify > PLACES.len(), "only {to_verify} points name whom to verify them with");
}

/// A paper: marked at head and foot, its parts there, each point with its source, and "verify" never without whom. Returns
/// how often it says so.
fn paper(text: &str, place: &str) -> usize {
    assert!(text.starts_with("DRAFT, TO BE CHECKED BY A TRAINED PERSON"), "{place}: {text}");
    assert!(text.trim_end().ends_with("draft, to be checked by a trained person"), "{place}: {text}");
    for part in [
        "contents",
        "provision",
        "packing",
        "words, exactly so",
        "waste code on",
        "documents",
        "training",
        "who must approve or be asked",
        "checked by: name, training, date, signature",
    ] {
        assert!(text.contains(&format!("\n{part}")), "{place}: {part}: {text}");
    }
    let points = text.lines().filter(|line| line.starts_with("  - ")).count();
    let sources = text.lines().filter(|line| line.starts_with("    [")).count();
    assert!(points >= 8 && sources == points, "{place}: {points} points, {sources} sources: {text}");
    let whom = |after: &str| {
        let item = after.split("\n  - ").next().unwrap_or_default();
        let item = item.split("\n\n").next().unwrap_or_default();
        item.chars().filter(|letter| letter.is_alphabetic()).count()
    };
    let named: Vec<usize> = text.split("verify with").skip(1).map(whom).collect();
    assert!(named.iter().all(|letters| *letters >= 3), "{place}: {named:?}: {text}");
    named.len()
}
