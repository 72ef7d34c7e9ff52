//! Whoever reports a cell that reacts now gets the emergency words first, whatever else is missing, damaged or mistyped.

use celltriage_host::settings::surroundings::Surroundings;
use celltriage_tests::{Call, Shop, call, call_around};
use std::path::Path;
use std::time::{Duration, Instant};

const GENERAL: &str = "DANGER: STOP: hands off. Everybody out, shut the door.";

/// A call in which the words are the very first that is printed, once, at once.
fn warned(typed: &[&str]) -> Call {
    let began = Instant::now();
    let call = call(typed, None);
    assert!(call.err.starts_with(GENERAL), "{typed:?} printed {}", call.err);
    assert_eq!(call.err.matches(GENERAL).count(), 1, "{typed:?} printed {}", call.err);
    assert!(began.elapsed() < Duration::from_secs(20));
    call
}

#[test]
fn the_words_come_first_whatever_is_missing_damaged_foreign_or_mistyped() {
    let shop = Shop::new();
    let foreign = shop.file("foreign", "no book at all");
    let truncated = shop.file("truncated", "SQLite format 3\0");
    let newer = shop.path("newer");
    drop(celltriage_book::Book::open(&newer).expect("a book"));
    let other = rusqlite::Connection::open(&newer).expect("opens");
    other.pragma_update(None, "user_version", 99).expect("newer");
    drop(other);
    let missing = shop.path("missing");
    let bad_looks = shop.file("looks.toml", "[signs]\nactive_now = \"yes\"\nswolen = \"no\"\n");
    let bad_label = shop.file("label.toml", "rated_capacity_ah = \"three\"\n");

    let reports: [&[&str]; 18] = [
        &["assess", "--id", "PE-1", "--simulated", "sound", "--sign", "active_now=yes"],
        &["assess", "--id", "PE-1", "--simulated", "sound", "--sign=active_now=yes"],
        &["assess", "--id", "PE-1", "--simulated", "sound", "--sign", "active_now = Yes"],
        &["assess", "--id", "PE-1", "--simulated", "sound", "--no-signs", "--sign=active_now=true"],
        &["assess", "--id", "PE-1", "--simulated", "sound", "--observations", &bad_looks],
        &["assess", "--id", "PE-1", "--cell", &bad_label, "--sign", "active_now=y"],
        &["guided", "--id", "PE-1", "--simulated", "sound", "--sign", "active_now=yes"],
        &["grade", "traces/two_level.csv", "--cell", &bad_label, "--sign", "active_now=yes"],
        &["judge", "PE-1", "--state", "critical", "--by", "N", "--qualification", "Q"],
        &["judge", "PE-1", "--state=critical", "--by", "N", "--qualification", "Q"],
        &["judge", "PE-1", "--answer", "acute_hazard=yes"],
        &["judge", "PE-1", "--answer=acute-hazard=yes"],
        &["container", "escalate", "PE-1", "--because", "hisses", "--by", "N"],
        &["container", "inspect", "PE-1", "--look", "active", "--by", "N"],
        &["container", "inspect", "PE-1", "--look=active", "--by", "N"],
        &["container", "inspect", "PE-1", "--look=active", "--by=N"],
        &["receive", "PE-1", "--sign", "active_now=yes", "--by", "N"],
        &["receive", "PE-1", "--sign=active-now=yes", "--by=N"],
    ];
    let troubles: [&[&str]; 8] = [
        &["--book", &foreign],
        &["--book", &truncated],
        &["--book", &newer],
        &["--book", &missing, "--rules", "no-such-folder"],
        &["--book", &missing, "--place", "nowhere at all"],
        &["--book", &missing, "--policy", "no-such-file"],
        &["--book"],
        &["--no-such-option"],
    ];
    for report in reports {
        for trouble in troubles {
            let call = warned(&[report, trouble].concat());
            // `assess` and `receive` begin a missing book; nothing else of these can be done.
            assert!(
                call.code != 0 || trouble.contains(&missing.as_str()),
                "{report:?} {trouble:?}: {}",
                call.err
            );
        }
    }
    // Without who did it, and without a name.
    warned(&["container", "escalate", "PE-1", "--because", "hisses"]);
    warned(&["container", "inspect", "PE-1", "--look", "active"]);
    warned(&["judge", "PE-1", "--state", "critical"]);
    warned(&["judge", "--state", "critical"]);
    warned(&["assess", "--sign", "active_now=yes"]);
    warned(&["receive", "--sign", "active_now=yes"]);
    warned(&["receive", "--before-mailing", "--sign", "active_now=yes"]);
    warned(&["asses", "--sign", "active_now=yes"]);
    warned(&["--sign", "active_now=yes"]);
    warned(&["--book", "book", "container", "escalate", "PE-1"]);
    warned(&["--book", "book", "containr", "inspect", "PE-1", "--look", "active"]);
    warned(&["jugde", "PE-1", "--state=Critical"]);
}

#[test]
fn a_batch_that_names_a_reacting_cell_says_which_file_reports_it() {
    let shop = Shop::new();
    shop.file("hot.toml", "[signs]\nactive_now = \"yes\"\n");
    let batch = shop.file(
        "tonight.toml",
        "[[cell]]\nid = \"PE-1\"\nsimulated = \"sound\"\nobservations = \"hot.toml\"\nmistyped = 1\n",
    );
    let call = warned(&["batch", &batch]);
    assert!(call.err.contains("reported by the file") && call.err.contains("hot.toml"), "{}", call.err);
    assert_eq!(call.code, 2);
}

#[test]
fn who_reports_nothing_of_the_kind_gets_no_alarm() {
    for typed in [
        &["assess", "--id", "PE-1", "--simulated", "sound", "--no-signs", "--cell", "no-such-file"][..],
        &["assess", "--sign", "active_now=no"],
        &["assess", "--sign", "swollen=yes"],
        &["receive", "--before-mailing", "--sign", "swollen=yes"],
        &["judge", "PE-1", "--state", "intact_waste"],
        &["container", "inspect", "PE-1", "--look", "worse"],
        &["container", "escalate", "--help"],
        &["book", "find", "active_now=yes"],
        &["finding", "strike", "1", "--because", "active_now=yes", "--by", "Ines Harrow"],
        &["--help"],
    ] {
        let call = call(typed, None);
        assert!(!call.err.contains("DANGER"), "{typed:?} printed {}", call.err);
    }
}

#[test]
fn who_answers_yes_at_the_terminal_gets_the_words_before_the_label_is_read() {
    let shop = Shop::new();
    let book = shop.path("book");
    for command in ["assess", "guided"] {
        let typed =
            [command, "--id", "PE-1", "--simulated", "sound", "--cell", "no-such-file", "--book", &book];
        let call = call(&typed, Some(&["y"]));
        let asked = call.err.contains("asked:");
        assert_eq!(call.err.starts_with(GENERAL), asked, "{command}: {}", call.err);
        assert!(asked || command == "guided", "{}", call.err);
    }
}

#[test]
fn the_words_of_the_place_follow_the_general_ones_and_repeat_none() {
    let shop = Shop::new();
    let rules = shop.path("rules");
    std::fs::create_dir(&rules).expect("a folder");
    shop.file(
        "rules/nz.toml",
        "schema = \"celltriage.rules/1\"\nplace = \"NZ\"\ntitle = \"ours\"\nversion = \"1\"\n\
         checked_on = \"2026-01-01\"\nreview_by = \"2027-01-01\"\nauthority = \"the fire service of Port Ellery\"\n\
         [[rule]]\nid = \"nz.call\"\nkind = \"emergency\"\nseverity = \"danger\"\nconditions = [\"critical\"]\n\
         text = \"Press the red button at the gate.\"\ncite = \"house rules\"\nseen = \"official\"\n",
    );
    let book = shop.path("book");
    let typed = ["assess", "--id", "PE-1", "--simulated", "sound", "--sign", "active_now=yes"];
    let call = warned(&[&typed[..], &["--place", "NZ", "--rules", &rules, "--book", &book]].concat());
    assert_eq!(call.err.matches("Press the red button at the gate.").count(), 1, "{}", call.err);
    assert_eq!(call.code, 0, "{}", call.err);
}

#[test]
fn who_asks_what_to_heed_beside_a_reacting_cell_gets_the_words_first() {
    for word in ["active-now", "hot", "hissing", "smoking", "Hot"] {
        let condition = format!("--condition={word}");
        let asked: [&[&str]; 5] = [
            &["rules", "cautions", "--condition", word, "--action", "touch"],
            &["rules", "cautions", &condition, "--action", "move"],
            &["rules", "cautions", "--condition", word],
            &["rules", "--rules", "no-such-folder", "cautions", "--condition", word, "--action", "touch"],
            &["--today", "2026-11-25", "rules", "cautions", "--condition", word, "--action", "touch"],
        ];
        for typed in asked {
            warned(typed);
        }
    }
    for typed in [
        &["rules", "cautions", "--condition", "swollen", "--action", "touch"][..],
        &["rules", "list"],
        &["book", "find", "hot"],
    ] {
        let call = call(typed, None);
        assert!(!call.err.contains("DANGER"), "{typed:?} printed {}", call.err);
    }
}

#[test]
fn an_answer_whose_first_word_is_yes_is_a_yes() {
    let shop = Shop::new();
    let book = shop.path("book");
    let typed = ["assess", "--id", "PE-1", "--simulated", "sound", "--book", &book];
    let call = call(&typed, Some(&["yes it smokes"]));
    assert!(call.err.starts_with(GENERAL), "{}", call.err);
    assert!(call.out.contains("QUARANTINE  cell "), "{}", call.out);
}

#[test]
fn a_trace_that_shows_a_hot_cell_tells_the_words_before_the_page() {
    let shop = Shop::new();
    let hot = hot_trace(&shop);
    let label = "labels/scanner_cell.toml";
    for more in [&["--no-signs"][..], &["--no-signs", "--json"]] {
        let call = warned(&[&["grade", &hot, "--cell", label][..], more].concat());
        assert!(call.out.contains("critical"), "{}", call.out);
    }
    let cool = call(&["grade", "traces/two_level.csv", "--cell", label, "--no-signs"], None);
    assert!(!cool.err.contains("DANGER"), "{}", cool.err);
    // What is still open of it settles nobody by hand.
    let book = shop.path("book");
    warned(&["grade", &hot, "--id", "H-1", "--cell", label, "--no-signs", "--book", &book]);
    let explained = call(&["explain", "H-1", "--book", &book], None);
    assert!(explained.out.contains("Leave it where it is and call for help"), "{}", explained.out);
    let words = explained.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for handling in ["Measure the", "clean contacts", "Clean the contacts", "Test again"] {
        assert!(!words.contains(handling), "{handling}: {}", explained.out);
    }
}

/// Two minutes at rest, the cell at 145 °C in air of 25 °C.
fn hot_trace(shop: &Shop) -> String {
    trace_at(shop, 145.0)
}

/// The same at another temperature.
fn trace_at(shop: &Shop, cell_c: f64) -> String {
    let mut text =
        "Test Time / s,Current / A,Voltage / V,Surface Temperature T1 / degC,Ambient Temperature / degC\n"
            .to_owned();
    for second in 0..180 {
        text.push_str(&format!("{second},0.000,3.8380,{cell_c:.1},25.0\n"));
    }
    shop.file(&format!("at_{cell_c:.0}.csv"), &text)
}

/// Everybody out is for a cell that reacts, or is too hot for any other cause: no other page, and no other alarm, says so.
#[test]
fn the_words_are_told_in_exactly_the_cases_of_a_reacting_cell() {
    let shop = Shop::new();
    let (warm, hot) = (trace_at(&shop, 29.0), trace_at(&shop, 60.0));
    let label = "labels/scanner_cell.toml";
    let watch = ["hot-cell-watch", "--simulated", "self-warming", "--hours", "2"];
    let assess = ["assess", "--no-signs", "--simulated"];
    let judge = ["judge", "PE-9", "--by", "N", "--qualification", "Q", "--state"];
    let cases: [(bool, Vec<&str>); 13] = [
        (false, vec!["grade", &warm, "--cell", label, "--no-signs"]),
        (true, vec!["grade", &hot, "--cell", label, "--no-signs"]),
        (false, [&watch[..], &["--id", "W-1"]].concat()),
        (true, [&watch[..], &["--id", "W-2", "--hottest-c", "29"]].concat()),
        (false, [&watch[..], &["--id", "W-3", "--over-air-k", "0.5", "--fall-mv", "2"]].concat()),
        (false, [&assess[..], &["self-warming", "--id", "A-1"]].concat()),
        (false, [&assess[..], &["swollen", "--id", "A-2"]].concat()),
        (false, [&assess[..], &["reversed", "--id", "A-3"]].concat()),
        (false, [&assess[..], &["sound", "--id", "A-4", "--sign", "leaked=yes"]].concat()),
        (true, [&assess[..], &["sound", "--id", "A-5", "--sign", "active_now=yes"]].concat()),
        (false, [&judge[..], &["damaged_or_defective"]].concat()),
        (false, [&judge[..], &["casing_breached"]].concat()),
        (true, [&judge[..], &["critical"]].concat()),
    ];
    for (place, numbers) in [("US", "Emergency number here: 911."), ("DE", "Emergency number here: 112.")] {
        for (index, (reacting, typed)) in cases.iter().enumerate() {
            let book = shop.path(&format!("{place}{index}.sqlite"));
            let typed = [&typed[..], &["--place", place, "--book", &book]].concat();
            let told = call(&typed, None);
            let words = told.err.split_whitespace().collect::<Vec<_>>().join(" ");
            assert_eq!(words.contains("Everybody out, shut the door"), *reacting, "{typed:?}: {}", told.err);
            // The number comes after the general text; a command that looks no place up has none.
            let after = words.split_once("up to weeks later.").map(|(_, after)| after.contains(numbers));
            let looked_up = *reacting && typed[0] != "judge";
            assert!(after == Some(true) || !looked_up, "{typed:?}: {}", told.err);
            assert!(*reacting || !words.contains("Emergency number"), "{typed:?}: {}", told.err);
            // Nothing of the alarm stands before them.
            let alarm = words.find("ALARM after").unwrap_or(usize::MAX);
            assert!(words.find("DANGER: STOP").is_none_or(|at| at < alarm), "{typed:?}: {}", told.err);
            assert!(*reacting || !told.out.to_lowercase().contains("critical: may"), "{}", told.out);
        }
    }
}

#[test]
fn the_words_take_less_than_a_tenth_of_a_second() {
    // The whole call, refusal and all; the best of five, for other tests run beside.
    let quickest = (0..5).map(|_| {
        let began = Instant::now();
        warned(&["assess", "--sign", "active_now=yes", "--no-such-option"]);
        began.elapsed()
    });
    let quickest = quickest.min().expect("five");
    println!("the words, and the refusal after them: {:.1} ms", quickest.as_secs_f64() * 1e3);
    assert!(quickest < Duration::from_millis(100), "{quickest:?}");
}

#[test]
fn a_name_that_cannot_be_one_is_refused_before_anything_is_opened() {
    let shop = Shop::new();
    let path = shop.path("book");
    let too_long = "x".repeat(65);
    for name in ["", " S1", "S1 ", too_long.as_str()] {
        let batch = shop.file(
            "night.toml",
            &format!("[[cell]]\nid = {name:?}\nsimulated = \"sound\"\nno_signs = true\nextent = \"rest\"\n"),
        );
        let refused: [&[&str]; 5] = [
            &["assess", "--id", name, "--simulated", "sound", "--no-signs", "--book", &path],
            &["guided", "--id", name, "--simulated", "sound", "--no-signs", "--book", &path],
            &["hot-cell-watch", "--id", name, "--simulated", "sound", "--hours", "0.01", "--book", &path],
            &[
                "grade",
                "traces/two_level.csv",
                "--id",
                name,
                "--cell",
                "labels/scanner_cell.toml",
                "--book",
                &path,
            ],
            &["batch", &batch, "--book", &path],
        ];
        for typed in refused {
            let call = call(typed, None);
            assert!(call.code == 2 && call.err.contains("name"), "{typed:?}: {} {}", call.code, call.err);
            assert!(
                !call.err.contains("board, serial") && !Path::new(&path).exists(),
                "{typed:?}: {}",
                call.err
            );
        }
        let hot = warned(&["assess", "--id", name, "--simulated", "sound", "--sign", "active_now=yes"]);
        assert_eq!(hot.code, 2, "{}", hot.err);
    }
}

#[test]
fn the_words_wait_for_no_settings_and_a_call_that_names_its_book_goes_on_without_them() {
    let shop = Shop::of_the_demo();
    let broken = shop.file("settings.toml", "bok = = 1\n");
    let around = Surroundings::at_home(shop.folder());
    let variable = around.clone().with("CELLTRIAGE_SETTINGS", &broken);
    let nowhere = Surroundings::nowhere(shop.folder());
    let reports: [&[&str]; 4] = [
        &["assess", "--id", "PE-9", "--simulated", "sound", "--sign", "active_now=yes"],
        &["judge", "PE-0404", "--state", "critical", "--by", "N", "--qualification", "Q"],
        &["container", "escalate", "PE-0404", "--because", "hisses", "--by", "N"],
        &["container", "inspect", "PE-0404", "--look", "active", "--by", "N"],
    ];
    for report in reports {
        for around in [&variable, &nowhere] {
            let call = call_around(around, report, None);
            assert!(call.err.starts_with(GENERAL) && call.code == 2, "{report:?}: {}", call.err);
        }
        for more in [&["--settings", &broken][..], &["--settings", "no-such-file"], &["--settings"]] {
            let call = call_around(&around, &[report, more].concat(), None);
            assert!(call.err.starts_with(GENERAL) && call.code == 2, "{report:?} {more:?}: {}", call.err);
        }
    }
    // A file that is called as a command is.
    for file in ["judge", "container", "book", "rules"] {
        for report in [
            "container inspect PE-1 --look active",
            "judge PE-1 --state critical",
            "rules cautions --present hot",
        ] {
            let typed: Vec<&str> = ["--settings", file].into_iter().chain(report.split(' ')).collect();
            let call = call_around(&around, &typed, None);
            assert!(call.err.starts_with(GENERAL), "{typed:?}: {}", call.err);
        }
    }
    // Nobody reports a cell to this command.
    assert!(!call_around(&around, &["settings", "--book", "active_now"], None).err.contains("DANGER"));
    // With the book named, the entry is written.
    let entries = shop.entries().len();
    let book = shop.book();
    let escalated = call_around(&variable, &[reports[2], &["--book", &book]].concat(), None);
    assert!(escalated.err.contains("goes on without the settings file"), "{}", escalated.err);
    assert_eq!((escalated.code, shop.entries().len()), (0, entries + 1), "{}", escalated.err);
    let other = call_around(&variable, &["container", "list", "--book", &book], None);
    assert_eq!(other.code, 2, "what is not urgent waits: {}", other.err);
}

#[test]
fn a_watch_is_held_up_by_no_settings() {
    let shop = Shop::new();
    let watch = ["hot-cell-watch", "--id", "PE-9", "--simulated", "sound", "--hours", "0.01"];
    std::fs::create_dir_all(shop.path("config/celltriage")).expect("a folder");
    let broken = shop.file("config/celltriage/settings.toml", "bok = 1\n");
    let at_home = Surroundings::at_home(shop.folder());
    for (around, book, why) in [
        (at_home.clone(), "data/celltriage/book.sqlite", broken.as_str()),
        (
            at_home.with("CELLTRIAGE_BOOK", ""),
            "celltriage-watch.sqlite",
            "the variable CELLTRIAGE_BOOK is empty",
        ),
        (Surroundings::nowhere(shop.folder()), "celltriage-watch.sqlite", "it is not known where"),
    ] {
        let call = call_around(&around, &watch, None);
        assert_eq!(call.code, 0, "{book}: {}", call.err);
        let written = format!("of {}", shop.path(book));
        assert!(call.err.contains("warning: ") && call.err.contains(why), "{book}: {}", call.err);
        assert!(call.err.contains("written as entry") && call.err.contains(&written), "{}", call.err);
    }
}
