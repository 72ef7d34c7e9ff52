//! A clock that stands before the last entry, or more than a day after it, is asked about before anything is written; it
//! ends no watch and holds up no word of danger. Through the command line.

use celltriage_book::{Book, Filter};
use celltriage_tests::{Call, call_unstated};

const FRIDAY: &str = "2026-11-27T17:40:00Z";
/// More than a day after; a day that a calendar shows.
const MONDAY: &str = "2026-11-30T08:02:00Z";
/// A clock set back by a year.
const YEAR_BACK: &str = "2025-11-28T08:00:00Z";
const TOLD: &str = "the newest entry of the book is of Fri 27 Nov 2026 17:40";

/// A folder with a book whose last entry is of Friday evening.
struct Shop {
    folder: tempfile::TempDir,
}

impl Shop {
    fn on_friday() -> Self {
        let shop = Self { folder: tempfile::tempdir().expect("a folder") };
        for id in ["A", "B"] {
            let looked =
                shop.at(FRIDAY, &format!("assess --id {id} --simulated sound --no-signs --sign swollen=yes"));
            assert_eq!(looked.code, 0, "{}", looked.err);
        }
        for typed in [
            "container open Q-1 --kind quarantine --place US --stands yard --by R.Lindqvist",
            "fixture check-standard define R1 --resistance-mohm 50 --limit-percent 0.1 --certificate c7 --by R.Lindqvist",
        ] {
            let done = shop.at(FRIDAY, typed);
            assert_eq!(done.code, 0, "{typed}: {}", done.err);
        }
        shop
    }

    fn path(&self, name: &str) -> String {
        self.folder.path().join(name).to_string_lossy().into_owned()
    }

    fn asked(&self, now: &str, typed: &str, answers: Option<&[&str]>) -> Call {
        let book = self.path("book.sqlite");
        let mut all: Vec<&str> = typed.split_whitespace().collect();
        if typed.starts_with("fixture") || typed.starts_with("grade") {
            all.extend(["--book", &book]);
        } else {
            all.splice(1..1, ["--book", &book]);
        }
        call_unstated(now, &all, answers)
    }

    fn at(&self, now: &str, typed: &str) -> Call {
        self.asked(now, typed, None)
    }

    /// Entries and recordings of the book: what would show that something was written.
    fn written(&self) -> (u32, usize) {
        let book = Book::open_read_only(self.path("book.sqlite")).expect("a book");
        let entries = book.entries(&Filter::default()).expect("entries");
        let recordings = book.unfinished_recordings().expect("recordings");
        (entries.first().map_or(0, |entry| entry.number), recordings.len())
    }
}

/// Every command that writes, each as it is accepted where the clock is right.
fn writing(shop: &Shop) -> Vec<String> {
    let batch = shop.path("night.toml");
    let text = "[[cell]]\nid = \"N\"\nsimulated = \"sound\"\nno_signs = true\nextent = \"rest\"\n[[cell]]\nid = \"M\"\n\
         simulated = \"faded\"\nno_signs = true\nextent = \"rest\"\n";
    std::fs::write(&batch, text).expect("a file");
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
            let refused = shop.at(now, &typed);
            assert_eq!(refused.code, 2, "{now} {typed}: {}{}", refused.out, refused.err);
            assert!(refused.err.contains("error: this computer says"), "{now} {typed}: {}", refused.err);
            assert!(refused.err.contains("nothing was written"), "{now} {typed}: {}", refused.err);
            let told = if now.starts_with("1969") { "before this program" } else { TOLD };
            assert!(refused.err.contains(told), "{now} {typed}: {}", refused.err);
            let denied = shop.asked(now, &typed, Some(&["n"; 40]));
            assert_eq!(denied.code, 2, "{now} {typed}: {}{}", denied.out, denied.err);
            assert_eq!(shop.written(), before, "{now} {typed}");
        }
    }
    // Half a minute before the newest entry is another bench's clock; an hour later is a shop at work.
    for (now, typed) in ["2026-11-27T17:39:30Z", "2026-11-27T18:40:00Z"].iter().cycle().zip(writing(&shop)) {
        let done = Shop::on_friday().at(now, &typed);
        let needs_more =
            typed.contains(" inspect ") || typed.contains(" take-out ") || typed.contains("charged");
        assert!(!done.err.contains("this computer says"), "{now} {typed}: {}", done.err);
        assert!(done.code == 0 || needs_more, "{now} {typed}: {}{}", done.out, done.err);
    }
}

#[test]
fn a_person_is_shown_both_dates_and_asked_once() {
    let shop = Shop::on_friday();
    for typed in writing(&shop).iter().filter(|typed| !typed.contains("fixture c")) {
        let shop = Shop::on_friday();
        // Only one of them asks for a mass before.
        let answers: &[&str] = if typed.contains(" place ") { &["", "y"] } else { &["y"; 60] };
        let confirmed = shop.asked(MONDAY, typed, Some(answers));
        let question = "asked: This computer says Mon 30 Nov 2026 08:02; the newest entry of the book is of Fri 27 Nov \
                        2026 17:40. Is the computer's date right? [y/n]";
        assert_eq!(confirmed.err.matches(question).count(), 1, "{typed}: {}", confirmed.err);
        let stated = Shop::on_friday().asked(MONDAY, &format!("{typed} --today 2026-11-30"), Some(answers));
        assert!(!stated.err.contains("this computer says"), "{typed}: {}{}", stated.err, confirmed.err);
        assert_eq!(stated.code, confirmed.code, "{typed}: {}{}", stated.err, confirmed.err);
    }
    // What was confirmed once is the newest entry then.
    let place = "container weigh A --mass-g 61 --by R.Lindqvist";
    assert_eq!(shop.asked(MONDAY, place, Some(&["yes"])).code, 0);
    assert_eq!(shop.at("2026-11-30T08:05:00Z", place).code, 0);
    let entered = shop.written();
    for answer in ["", "n", "Y?", "30"] {
        let denied = shop.asked("2026-12-03T08:00:00Z", place, Some(&[answer]));
        assert!(denied.code == 2 && denied.err.contains("nobody has confirmed"), "{answer}: {}", denied.err);
    }
    assert_eq!(shop.asked("2026-12-03T08:00:00Z", place, Some(&[])).code, 2, "nobody answers");
    assert_eq!(shop.written(), entered);
}

#[test]
fn the_stated_day_must_be_the_clocks() {
    let shop = Shop::on_friday();
    let before = shop.written();
    for typed in writing(&shop) {
        let done = shop.at(YEAR_BACK, &format!("{typed} --today 2026-11-30"));
        assert!(done.code == 2 && done.err.contains("--today says 2026-11-30"), "{typed}: {}", done.err);
        assert!(done.err.contains("Fri 28 Nov 2025 08:00"), "{typed}: {}", done.err);
        // Also where nothing speaks against the clock, so that a day left in a script shows.
        let stale = shop.at("2026-11-27T18:00:00Z", &format!("{typed} --today 2026-11-26"));
        assert!(stale.code == 2 && stale.err.contains("--today says 2026-11-26"), "{typed}: {}", stale.err);
    }
    for typed in ["due", "book list", "container list", "judge A", "guided --list", "shipment list"] {
        assert_eq!(shop.at(MONDAY, &format!("{typed} --today 2026-11-29")).code, 2, "{typed}");
        let stated = shop.at(MONDAY, &format!("{typed} --today 2026-11-30"));
        assert!(stated.code == 0 && !stated.err.contains("computer"), "{typed}: {}", stated.err);
    }
    assert_eq!(call_unstated(MONDAY, &["rules", "list", "--today", "2026-11-29"], None).code, 2);
    assert_eq!(call_unstated(MONDAY, &["rules", "list", "--today", "2026-11-30"], None).code, 0);
    assert_eq!(shop.written(), before);
    // Nobody who looked states a day of 1970, whatever the clock says.
    let place = "container weigh A --mass-g 61 --by R.Lindqvist --today 1970-01-01";
    assert_eq!(shop.at("1970-01-01T08:00:00Z", place).code, 2);
}

#[test]
fn no_book_is_begun_before_the_program() {
    let shop = Shop { folder: tempfile::tempdir().expect("a folder") };
    for typed in
        writing(&shop).iter().filter(|typed| !typed.starts_with("judge") && !typed.starts_with("contain"))
    {
        let refused = shop.at("2000-01-01T00:10:00Z", typed);
        assert!(refused.code == 2 && refused.err.contains("before this program"), "{typed}: {}", refused.err);
        assert!(!shop.folder.path().join("book.sqlite").exists(), "{typed}");
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
        "book show 1 --json",
        "book find A",
        "book verify",
        "explain A",
        "explain 1 --json",
        "model list",
        "judge A",
        "container list",
        "container show Q-1",
        "shipment list",
        "guided --list",
        "fixture standing",
    ] {
        let right = shop.at(FRIDAY, typed);
        for now in [YEAR_BACK, MONDAY, "1969-12-31T23:00:00Z"] {
            let told = shop.at(now, typed);
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

#[test]
fn a_reacting_cell_is_held_up_by_no_question() {
    let able = "--by R.Lindqvist --qualification trained";
    for now in [YEAR_BACK, MONDAY, "1969-12-31T23:00:00Z"] {
        for more in ["", " --today 2026-12-24"] {
            for typed in [
                "assess --id A --simulated sound --sign active_now=yes".to_owned(),
                "guided --id A --simulated sound --sign active_now=yes".to_owned(),
                "container escalate B --because hisses --by R.Lindqvist".to_owned(),
                "container inspect B --look active --by R.Lindqvist --on 2026-11-27".to_owned(),
                format!("judge B --state critical {able} --on 2026-11-27"),
            ] {
                // Days before the cell's own entries are refused by the checks of custody, as they were.
                if typed.contains("--on") && now != MONDAY {
                    continue;
                }
                let shop = Shop::on_friday();
                let held = shop.at(FRIDAY, "container hold B --because warm --stands yard --by R.Lindqvist");
                assert_eq!(held.code, 0, "{}", held.err);
                let before = shop.written();
                let done = shop.asked(now, &format!("{typed}{more}"), Some(&[]));
                assert!(done.err.starts_with("DANGER: STOP"), "{now} {typed}: {}", done.err);
                assert!(!done.err.contains("date right? [y/n]"), "{now} {typed}: {}", done.err);
                assert!(done.err.contains("warning: th"), "{now} {typed}: {}", done.err);
                assert!(shop.written().0 > before.0, "{now} {typed}: {}{}", done.out, done.err);
            }
        }
    }
}

#[test]
fn a_wrong_clock_neither_stops_nor_ends_a_hot_cell_watch() {
    for now in [YEAR_BACK, MONDAY, "1969-12-31T23:00:00Z"] {
        for more in ["", " --today 2026-12-24"] {
            let shop = Shop::on_friday();
            let typed = format!("hot-cell-watch --id A --simulated self-warming --hours 2{more}");
            let watched = shop.asked(now, &typed, Some(&["n"; 9]));
            assert_eq!(watched.code, 6, "{now}: {}", watched.err);
            assert!(
                watched.err.contains("ALARM") && watched.err.contains("DANGER"),
                "{now}: {}",
                watched.err
            );
            assert!(
                watched.err.contains("warning: th") && !watched.err.contains("asked: "),
                "{}",
                watched.err
            );
        }
    }
}

/// The watch over a cell, as the due list tells it.
fn ends(shop: &Shop, now: &str) -> String {
    let due = shop.at(now, "due");
    let line = due.out.lines().find(|line| line.contains("the watch may end"));
    line.and_then(|line| line.split_whitespace().next()).unwrap_or_default().to_owned()
}

#[test]
fn a_watch_of_four_weeks_is_not_over_on_the_day_the_clock_is_put_right() {
    let shop = Shop::on_friday();
    let look = "container inspect A --look unchanged --temperature-c 18 --air-c 18 --by R.Lindqvist";
    let release = "container release A --because cold --by R.Lindqvist";
    // Whoever sits there says yes to everything.
    let yes: Option<&[&str]> = Some(&["y"]);
    let held = shop.asked(YEAR_BACK, "container hold A --because warm --stands yard --by R.Lindqvist", yes);
    assert!(held.code == 0 && held.err.contains("some clock stood wrong"), "{}", held.err);
    for day in ["2026-11-28", "2026-12-04", "2026-12-11", "2026-12-18", "2026-12-25"] {
        let now = &format!("{day}T08:30:00Z");
        assert_eq!(shop.asked(now, look, yes).code, 0);
        let early = shop.asked(now, release, yes);
        assert!(early.code == 2 && early.err.contains("is not over"), "{now}: {}{}", early.out, early.err);
        assert!(ends(&shop, now).as_str() >= "2026-12-26", "{}", ends(&shop, now));
    }
    assert!(shop.at("2026-12-25T08:31:00Z", "book show A").out.contains("until 2026-12-2"));
    assert_eq!(shop.asked("2026-12-28T08:30:00Z", look, yes).code, 0);
    let over = shop.asked("2026-12-28T08:30:00Z", release, yes);
    assert_eq!(over.code, 0, "{}", over.err);
    assert_eq!(shop.at("2026-12-28T08:31:00Z", "book verify").code, 0);
}

#[test]
fn a_clock_that_jumps_ahead_ends_no_watch() {
    let shop = Shop::on_friday();
    let yes: Option<&[&str]> = Some(&["y"]);
    assert_eq!(shop.at(FRIDAY, "container hold A --because warm --stands yard --by R.Lindqvist").code, 0);
    let look = "container inspect A --look unchanged --temperature-c 18 --air-c 18 --by R.Lindqvist";
    for now in ["2026-12-26T09:00:00Z", "2036-12-26T09:00:00Z"] {
        assert_eq!(shop.asked(now, look, yes).code, 0);
        let early = shop.asked(now, "container release A --because cold --by R.Lindqvist", yes);
        assert!(early.code == 2 && early.err.contains("it names 2026-12-25"), "{}{}", early.out, early.err);
    }
}

#[test]
fn a_watch_said_to_have_begun_a_year_ago_is_not_over_today() {
    let shop = Shop::on_friday();
    let hold = "container hold A --because warm --stands yard --by R.Lindqvist --on 2025-11-27";
    let over = shop.at(FRIDAY, &format!("{hold} --until 2025-12-25"));
    assert!(over.code == 2 && over.err.contains("written down"), "{}{}", over.out, over.err);
    let held = shop.at(FRIDAY, hold);
    assert!(held.code == 0 && held.out.contains("under watch until 2026-12-25"), "{}{}", held.out, held.err);
    let look = "container inspect A --look unchanged --temperature-c 18 --air-c 18 --by R.Lindqvist";
    assert_eq!(shop.at(FRIDAY, look).code, 0);
    let early = shop.at(FRIDAY, "container release A --because cold --by R.Lindqvist");
    assert!(early.code == 2 && early.err.contains("runs until 2026-12-25"), "{}{}", early.out, early.err);
}
