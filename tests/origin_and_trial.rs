//! From the first scan of a spare over trials in tablets to stock, through the command line: what is told, refused, due.

use celltriage_tests::{EVENING, NOON, Shop};

const BY: [&str; 2] = ["--by", "Ines Harrow"];

/// The text without its line breaks.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_spare_has_a_story_from_its_first_scan_to_stock() {
    let shop = Shop::new();
    let first = shop.must(NOON, "origin PE-0501 --came-as new-spare", &BY);
    assert!(
        first.out.contains("entry 1: PE-0501") && first.out.contains("new spare, unknown worth"),
        "{}",
        first.out
    );
    assert!(first.err.contains("nobody has assessed this cell"), "{}", first.err);
    let fit = shop.must(NOON, "trial fit PE-0501 --job 118", &BY);
    assert!(
        fit.out.contains("fitted for trial in the device of job 118; NOT PROVEN: nobody has assessed it")
    );
    // In the tablet it is on no fixture, in no box, and not for good.
    for (typed, told) in [
        ("assess --id PE-0501 --simulated sound --no-signs", "is fitted in the device of job 118"),
        ("trial fit PE-0501 --job 119 --by N", "is fitted in the device of job 118"),
        ("trial fit PE-0502 --job 119 --stays --by N", "the book knows nothing of it"),
        ("trial out PE-0502 --by N", "is fitted in no device"),
        ("trial fit PE-0502 --by N", "--job"),
    ] {
        let call = shop.at(NOON, typed, &[]);
        assert!(call.code == 2 && call.err.contains(told), "{typed}: {}", call.err);
    }
    let listed = shop.must(NOON, "trial list", &[]).out;
    assert!(
        listed.contains("PE-0501")
            && listed.contains("fitted for trial in the device of job 118 since 2026-11-25")
    );
    assert!(flat(&shop.must("2026-12-20T12:00:00Z", "due", &[]).out).contains("or write down that it stays"));
    let out = shop.must(EVENING, "trial out PE-0501", &BY);
    assert!(out.err.contains("next: look at PE-0501 for every sign and screen it"), "{}", out.err);
    assert!(flat(&shop.must(EVENING, "due", &[]).out).contains("screen it again before it counts as stock"));
    shop.full(EVENING, "PE-0501");
    let page = shop.must(EVENING, &format!("book show entry:{}", shop.newest()), &[]).out;
    let told = flat(&page);
    assert!(
        told.contains("R E U S E") && told.contains("Recorded is only: new spare, unknown worth (entry 1)"),
        "{page}"
    );
    assert!(
        told.contains("IEC 63338:2024 does not permit reuse of a single cell without recorded lifetime data")
    );
    assert_eq!(flat(&shop.at(EVENING, "due", &[]).out).matches("screen it again").count(), 0);
    let story = flat(&shop.must(EVENING, "book show PE-0501", &[]).out);
    for words in ["lifetime record: new spare", "fitted for trial in", "taken out of its device", "REUSE"] {
        assert!(story.contains(words), "{words}: {story}");
    }
    let json = shop.must(EVENING, "trial list --json", &[]).out;
    assert!(json.contains("celltriage.in-service/1") && json.contains("\"cells\": []"), "{json}");
}

#[test]
fn a_decision_names_what_is_recorded_and_an_own_policy_may_ask_for_it() {
    let shop = Shop::new();
    let policy =
        celltriage_verdict::DEFAULT_POLICY.replacen("missing = \"say\"", "missing = \"undecided\"", 1);
    let policy = shop.file("strict.toml", &policy);
    let full = |cell: &str| {
        shop.at(
            NOON,
            &format!("assess --id {cell} --simulated sound --extent full --no-signs --thickness-mm 4.0 --thickness-mm 4.0 --full --policy {policy}"),
            &[],
        )
    };
    let page = full("PE-0601").out;
    assert!(page.contains("U N D E C I D E D") && page.contains("no lifetime record"), "{page}");
    let record =
        "origin PE-0601 --device tablet --job 118 --cycles 214 --health 88 --read-on 2026-11-20 --from gauge";
    shop.must(NOON, record, &BY);
    let page = flat(&full("PE-0601").out);
    assert!(page.contains("R E U S E"), "{page}");
    assert!(
        page.contains(
            "from tablet, job 118; 214 cycles and 88 % health by the device's gauge on 2026-11-20 (entry 2)"
        ),
        "{page}"
    );
    assert!(page.contains("which data its clause 4 asks for was not read"), "{page}");
    // The decision is made again from what was kept with it.
    for entry in [1, 3] {
        let again = shop.must(NOON, &format!("book recompute {entry}"), &[]);
        assert!(!again.err.contains("differ"), "{}{}", again.out, again.err);
    }
    let shown = shop.must(NOON, "origin PE-0601", &[]).out;
    assert!(shown.contains("214 cycles"), "{shown}");
    let json = shop.must(NOON, "origin PE-0601 --json", &[]).out;
    assert!(json.contains("celltriage.origin/1") && json.contains("\"from\": \"gauge\""), "{json}");
    let nobody = shop.at(NOON, "origin PE-0601 --cycles 215", &[]);
    assert!(nobody.code == 2 && nobody.err.contains("nobody says so"), "{}", nobody.err);
}

/// Enough for a load, and not all.
const SOME_SIGNS: [&str; 10] = [
    "--sign",
    "active_now=no",
    "--sign",
    "leaked=no",
    "--sign",
    "casing_breached=no",
    "--sign",
    "swollen=no",
    "--sign",
    "deformed=no",
];

#[test]
fn a_wetted_device_stands_against_the_cell_that_was_in_it() {
    let shop = Shop::new();
    assert!(shop.full(NOON, "PE-0701").out.contains("REUSE       cell "));
    shop.must(NOON, "trial fit PE-0701 --device scanner --stays", &BY);
    let call = shop.must(NOON, "trial incident PE-0701 --what wetted", &BY);
    assert!(
        call.err.starts_with("Hot, hissing, smoking") && call.err.contains("look at PE-0701 for every sign"),
        "{}",
        call.err
    );
    shop.must(NOON, "trial out PE-0701", &BY);
    assert_eq!(shop.judge_clean(EVENING, "PE-0701", "not_waste").code, 2);
    let refused = shop.at(EVENING, "trial fit PE-0701 --job 120", &BY);
    assert!(
        refused.code == 2 && refused.err.contains("is not to be fitted: known before: wetted"),
        "{}",
        refused.err
    );
    let charge = shop.at(EVENING, "guided --id PE-0701 --simulated sound --no-signs", &[]);
    assert!(
        charge.code == 3 && charge.err.contains("not to be charged yet: known before: wetted"),
        "{}",
        charge.err
    );
    // A test at which nobody looks for signs screens nothing; one with every sign looked for does.
    let blind = shop.must(EVENING, "assess --id PE-0701 --simulated sound", &SOME_SIGNS);
    assert!(blind.err.contains("Known before: PE-0701: wetted, 2026-11-25 (entry 3"), "{}", blind.err);
    assert!(blind.out.contains("UNDECIDED   cell "), "{}", blind.out);
    let screened = shop.full(EVENING, "PE-0701");
    assert!(screened.out.contains("REUSE       cell "), "{}", screened.out);
}
