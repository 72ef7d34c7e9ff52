//! A clock that stands before the last entry, or more than a day after it, is asked about before anything is written.

use celltriage_tests::{FRIDAY, MONDAY, Shop, YEAR_BACK, call_unstated};

const TOLD: &str = "the newest entry of the book is of Fri 27 Nov 2026 17:40";

/// Every command that writes, each as it is accepted where the clock is right.
fn writing(shop: &Shop) -> Vec<String> {
    let text = "[[cell]]\nid = \"N\"\nsimulated = \"sound\"\nno_signs = true\nextent = \"rest\"\n[[cell]]\nid = \"M\"\n\
         simulated = \"faded\"\nno_signs = true\nextent = \"rest\"\n";
    let batch = shop.file("night.toml", text);
    let mut typed: Vec<String> = [
        "assess --id C --simulated sound --no-signs --thickness-mm 4 --extent rest",
        "assess --id C --simulated sound --no-signs --thickness-mm 4 --sign leaked=yes",
        "grade traces/two_level.csv --id D --no-signs --cell labels/scanner_cell.toml",
        "guided --id E --simulated sound --no-signs --thickness-mm 4",
        "guided --id F --simulated sound --charged",
        "judge A --state damaged_or_defective --as-recorded --answer short_circuit_protection=no --answer safety_features=no \
         --by R.Lindqvist --qualification trained",
        "container place Q-1 A --inner a --mass-g 60 --by R.Lindqvist",
        "container weigh A --mass-g 61 --by R.Lindqvist",
        "container hold A --because warm --stands yard --by R.Lindqvist",
        "container inspect A --look unchanged --temperature-c 18 --air-c 18 --by R.Lindqvist",
        "container open Q-2 --kind quarantine --place US --stands yard --by R.Lindqvist",
        "container take-out A --because x --by R.Lindqvist",
        "leave A --how lost --because x --by R.Lindqvist",
        "irregularity note --cell A --happened x --breaks y --action z --by R.Lindqvist",
        "fixture calibrate thermometers --simulated supply --by R.Lindqvist --reference meter --of-reading-percent 0 --plus 0.1",
        "fixture check-standard define R2 --resistance-mohm 60 --limit-percent 0.1 --certificate c8 --by R.Lindqvist",
        "fixture check-standard measure --standard R1 --simulated check-standard --by R.Lindqvist",
    ]
    .map(str::to_owned)
    .to_vec();
    typed.push(format!("batch {batch}"));
    typed
}

#[test]
fn every_command_that_writes_wants_a_person_for_a_clock_in_doubt() {
    let shop = Shop::on_friday();
    let before = shop.written();
    for now in [YEAR_BACK, MONDAY, "2036-11-27T17:40:00Z", "1969-12-31T23:00:00Z"] {
        for typed in writing(&shop) {
            let refused = shop.unstated(now, &typed, None);
            assert_eq!(refused.code, 2, "{now} {typed}: {}{}", refused.out, refused.err);
            assert!(refused.err.contains("error: this computer says"), "{now} {typed}: {}", refused.err);
            assert!(refused.err.contains("nothing was written"), "{now} {typed}: {}", refused.err);
            let told = if now.starts_with("1969") { "before this program" } else { TOLD };
            assert!(refused.err.contains(told), "{now} {typed}: {}", refused.err);
            let denied = shop.unstated(now, &typed, Some(&["n"; 40]));
            assert_eq!(denied.code, 2, "{now} {typed}: {}{}", denied.out, denied.err);
            assert_eq!(shop.written(), before, "{now} {typed}");
        }
    }
    // Half a minute before the newest entry is another bench's clock; an hour later is a shop at work.
    for (now, typed) in ["2026-11-27T17:39:30Z", "2026-11-27T18:40:00Z"].iter().cycle().zip(writing(&shop)) {
        let done = Shop::on_friday().unstated(now, &typed, None);
        let needs_more =
            ["inspect ", "take-out ", "charged", "leave "].iter().any(|part| typed.contains(part));
        assert!(!done.err.contains("this computer says"), "{now} {typed}: {}", done.err);
        // The Friday's book is of simulated cells, and a trace from elsewhere is of a real one.
        let other_book = typed.starts_with("grade") && done.err.contains("a book of simulated cells");
        assert!(done.code == 0 || needs_more || other_book, "{now} {typed}: {}{}", done.out, done.err);
    }
}

#[test]
fn a_person_is_shown_both_dates_and_asked_once() {
    let shop = Shop::on_friday();
    for typed in writing(&shop).iter().filter(|typed| !typed.contains("fixture c")) {
        let shop = Shop::on_friday();
        // Only one of them asks for a mass before.
        let answers: &[&str] = if typed.contains(" place ") { &["", "y"] } else { &["y"; 60] };
        let confirmed = shop.unstated(MONDAY, typed, Some(answers));
        let question = "asked: This computer says Mon 30 Nov 2026 08:02; the newest entry of the book is of Fri 27 Nov \
                        2026 17:40. Is the computer's date right? [y/n]";
        assert_eq!(confirmed.err.matches(question).count(), 1, "{typed}: {}", confirmed.err);
        let stated =
            Shop::on_friday().unstated(MONDAY, &format!("{typed} --today 2026-11-30"), Some(answers));
        assert!(!stated.err.contains("this computer says"), "{typed}: {}{}", stated.err, confirmed.err);
        assert_eq!(stated.code, confirmed.code, "{typed}: {}{}", stated.err, confirmed.err);
    }
    // What was confirmed once is the newest entry then.
    let place = "container weigh A --mass-g 61 --by R.Lindqvist";
    assert_eq!(shop.unstated(MONDAY, place, Some(&["yes"])).code, 0);
    assert_eq!(shop.unstated("2026-11-30T08:05:00Z", place, None).code, 0);
    let entered = shop.written();
    for answer in ["", "n", "Y?", "30"] {
        let denied = shop.unstated("2026-12-03T08:00:00Z", place, Some(&[answer]));
        assert!(denied.code == 2 && denied.err.contains("nobody has confirmed"), "{answer}: {}", denied.err);
    }
    assert_eq!(shop.unstated("2026-12-03T08:00:00Z", place, Some(&[])).code, 2, "nobody answers");
    assert_eq!(shop.written(), entered);
}

#[test]
fn the_stated_day_must_be_the_clocks() {
    let shop = Shop::on_friday();
    let before = shop.written();
    for typed in writing(&shop) {
        let done = shop.unstated(YEAR_BACK, &format!("{typed} --today 2026-11-30"), None);
        assert!(done.code == 2 && done.err.contains("--today says 2026-11-30"), "{typed}: {}", done.err);
        assert!(done.err.contains("Fri 28 Nov 2025 08:00"), "{typed}: {}", done.err);
        // Also where nothing speaks against the clock, so that a day left in a script shows.
        let stale = shop.unstated("2026-11-27T18:00:00Z", &format!("{typed} --today 2026-11-26"), None);
        assert!(stale.code == 2 && stale.err.contains("--today says 2026-11-26"), "{typed}: {}", stale.err);
    }
    for typed in ["due", "book list", "container list", "judge A", "guided --list", "shipment list"] {
        assert_eq!(shop.unstated(MONDAY, &format!("{typed} --today 2026-11-29"), None).code, 2, "{typed}");
        let stated = shop.unstated(MONDAY, &format!("{typed} --today 2026-11-30"), None);
        assert!(stated.code == 0 && !stated.err.contains("computer"), "{typed}: {}", stated.err);
    }
    assert_eq!(call_unstated(MONDAY, &["rules", "list", "--today", "2026-11-29"], None).code, 2);
    assert_eq!(call_unstated(MONDAY, &["rules", "list", "--today", "2026-11-30"], None).code, 0);
    assert_eq!(shop.written(), before);
    // Nobody who looked states a day of 1970, whatever the clock says.
    let place = "container weigh A --mass-g 61 --by R.Lindqvist --today 1970-01-01";
    assert_eq!(shop.unstated("1970-01-01T08:00:00Z", place, None).code, 2);
}

#[test]
fn no_book_is_begun_before_the_program() {
    let shop = Shop::new();
    let of_a_book = |typed: &&String| {
        ["judge", "contain", "leave", "irregularity"].iter().any(|command| typed.starts_with(command))
    };
    for typed in writing(&shop).iter().filter(|typed| !of_a_book(typed)) {
        let refused = shop.unstated("2000-01-01T00:10:00Z", typed, None);
        assert!(refused.code == 2 && refused.err.contains("before this program"), "{typed}: {}", refused.err);
        assert!(!shop.book_path().exists(), "{typed}");
    }
    let out = shop.path("day");
    assert_eq!(call_unstated("2000-01-01T00:10:00Z", &["demo", "--out", &out], None).code, 2);
    // A new book has nothing against any other day.
    let done = call_unstated("2031-05-05T05:05:00Z", &["demo", "--out", &out], None);
    assert!(done.code == 0 && !done.err.contains("computer"), "{}", done.err);
    assert_eq!(call_unstated("2031-05-05T05:06:00Z", &["demo", "--out", &out], None).code, 0);
    assert_eq!(call_unstated("2030-05-05T05:05:00Z", &["demo", "--out", &out], None).code, 2);
}

#[test]
fn what_only_reads_is_warned_in_one_line() {
    let shop = Shop::on_friday();
    let before = shop.written();
    for typed in [
        "due",
        "due --json",
        "book list",
        "book show A",
        "book show entry:1 --json",
        "book find A",
        "book verify",
        "book checkpoint",
        "explain A",
        "explain entry:1 --json",
        "model list",
        "judge A",
        "container list",
        "container show Q-1",
        "shipment list",
        "irregularity list",
        "guided --list",
        "fixture standing",
    ] {
        let right = shop.unstated(FRIDAY, typed, None);
        for now in [YEAR_BACK, MONDAY, "1969-12-31T23:00:00Z"] {
            let told = shop.unstated(now, typed, None);
            assert_eq!(told.code, right.code, "{now} {typed}: {}", told.err);
            assert_eq!(
                told.err.matches("warning: this computer says").count(),
                1,
                "{now} {typed}: {}",
                told.err
            );
            assert!(!told.out.contains("this computer says"), "data stay data: {now} {typed}");
        }
        assert!(!right.err.contains("this computer says"), "{typed}: {}", right.err);
    }
    assert_eq!(shop.written(), before);
}
