//! Nothing that comes from outside acts on the terminal: labels, tables, names of files and cells, unknown keys, options.

use celltriage_host::io::Io;
use celltriage_host::settings::surroundings::Surroundings;
use celltriage_tests::Shop;
use jiff::tz::TimeZone;
use std::collections::BTreeSet;
use std::ffi::OsString;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// Paints, moves, rings, turns letters round, hides them.
const HOSTILE: &str =
    "x\u{1b}[1;97;42mR E U S E\u{1b}[0m\u{7}\u{9b}2J\u{202e}yx\u{2066}\u{200b}\u{feff}\u{ad}";

/// The same without controls: the book takes it as a cell's name.
const QUIET: &str = "x\u{202e}yx\u{2066}\u{200b}\u{feff}\u{ad}z";

/// Calls the program on a terminal with or without colour; returns all that was printed or asked.
fn printed(colour: bool, typed: &[&str]) -> (u8, String) {
    let (mut out, mut err, stop) = (Vec::new(), Vec::new(), AtomicBool::new(false));
    let mut asked = String::new();
    let mut ask = |question: &str| {
        asked.push_str(question);
        None
    };
    let mut io = Io {
        stated_day: None,
        bench: celltriage_book::BENCH.to_owned(),
        out: &mut out,
        err: &mut err,
        ask: Some(&mut ask),
        now: "2026-11-25T12:00:00Z".parse().expect("a timestamp"),
        zone: TimeZone::UTC,
        width: 80,
        height: None,
        colour,
        live: false,
        bars: None,
        screen: false,
        told: Vec::new(),
        loudness: celltriage_host::io::Loudness::Usual,
        in_words: false,
        stop: &stop,
    };
    let typed = std::iter::once("celltriage").chain(typed.iter().copied()).map(OsString::from);
    let code = celltriage_host::run(
        typed,
        &Surroundings::with_settings_in(Path::new("no-settings-are-here")),
        &mut io,
    );
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
    (code, text(out) + &text(err) + &asked)
}

/// The codes of a text that begin with an escape.
fn codes(text: &str) -> BTreeSet<String> {
    text.split('\u{1b}')
        .skip(1)
        .map(|rest| rest.split_inclusive('m').next().unwrap_or_default().to_owned())
        .collect()
}

fn without_hidden_letters(text: &str) -> bool {
    text.chars().all(|letter| {
        letter == '\n'
            || letter == '\u{1b}'
            || !letter.is_control()
                && !('\u{200b}'..='\u{200f}').contains(&letter)
                && !('\u{2028}'..='\u{202e}').contains(&letter)
                && !('\u{2060}'..='\u{206f}').contains(&letter)
                && !['\u{ad}', '\u{61c}', '\u{feff}'].contains(&letter)
    })
}

/// A cell that is said to be reacting, with a hostile note.
fn reacting<'a>(cell: &'a str, book: &'a str) -> Vec<&'a str> {
    let reports = ["--sign", "active_now=yes", "--note", HOSTILE, "--book", book];
    [&["assess", "--id", cell, "--simulated", "sound"][..], &reports].concat()
}

#[test]
fn what_is_hostile_in_files_names_and_options_is_spelt_out_by_every_command() {
    let shop = Shop::new();
    let at = shop.folder();
    let escaped: String = HOSTILE.chars().map(|letter| format!("\\U{:08x}", u32::from(letter))).collect();
    let label = format!(
        "rated_capacity_ah = 3.0\ncharge_limit_v = 4.35\nend_of_discharge_v = 3.0\nchemistry = \"lco\"\n\
         form = \"pouch\"\nmodel = \"{escaped}\"\n"
    );
    let model = shop.file("label.toml", &label);
    let key = shop.file("key.toml", &format!("{label}\"{escaped}\" = 1\n"));
    let looks = shop.file("looks.toml", &format!("note = \"{escaped}\"\n[signs]\n\"{escaped}\" = \"no\"\n"));
    let note = shop.file(
        "note.toml",
        &format!("assessor = \"{escaped}\"\nnote = \"{escaped}\"\n[signs]\nswollen = \"yes\"\n"),
    );
    let batch =
        shop.file("batch.toml", &format!("[[cell]]\nid = \"{escaped}\"\nsimulated = \"{escaped}\"\n"));
    let trace = std::fs::read_to_string("traces/two_level.csv").expect("there");
    let named = shop.file(&format!("{HOSTILE}.csv"), &trace);
    let spoilt =
        shop.file("spoilt.csv", &trace.replacen("\n", &format!("\n{HOSTILE},{HOSTILE},{HOSTILE}\n"), 1));
    let heading = shop.file("heading.csv", &format!("{HOSTILE},{}", trace));
    let book = shop.book();
    let no_book = at.join(HOSTILE).join("book").to_string_lossy().into_owned();

    let mut calls: Vec<Vec<&str>> = vec![
        vec![
            "assess",
            "--id",
            HOSTILE,
            "--simulated",
            "sound",
            "--extent",
            "rest",
            "--no-signs",
            "--cell",
            &model,
            "--book",
            &book,
        ],
        vec![
            "assess",
            "--id",
            HOSTILE,
            "--simulated",
            "sound",
            "--cell",
            &model,
            "--observations",
            &note,
            "--book",
            &book,
        ],
        reacting(HOSTILE, &book),
        vec!["assess", "--id", "PE-1", "--simulated", HOSTILE, "--book", &book],
        vec!["assess", "--id", "PE-1", "--simulated", "sound", "--cell", &key, "--book", &book],
        vec!["assess", "--id", "PE-1", "--simulated", "sound", "--observations", &looks, "--book", &book],
        vec!["assess", "--id", "PE-1", "--port", HOSTILE, "--no-signs", "--cell", &model, "--book", &book],
        vec!["assess", "--id", "PE-1", "--sign", HOSTILE, "--book", &book],
        vec!["assess", "--id", "PE-1", "--place", HOSTILE, "--book", &book],
        vec!["assess", "--id", "PE-1", "--policy", HOSTILE, "--rules", HOSTILE, "--book", &book],
        vec!["assess", "--id", "PE-1", "--simulated", "sound", "--no-signs", "--book", &no_book],
        vec!["grade", &named, "--cell", &model, "--no-signs", "--model", HOSTILE, "--book", &book],
        vec!["grade", &named, "--cell", &model, "--json"],
        vec!["grade", &named, "--cell", &model, "--many"],
        vec!["grade", &spoilt, "--cell", &model],
        vec!["grade", &heading, "--cell", &model],
        vec!["grade", HOSTILE, "--cell", HOSTILE],
        vec!["explain", &named, "--cell", &model],
        vec![
            "guided",
            "--id",
            HOSTILE,
            "--simulated",
            "sound",
            "--no-signs",
            "--cell",
            &model,
            "--book",
            &book,
        ],
        vec!["guided", "--list", "--book", &book],
        vec!["batch", &batch, "--book", &book],
        vec!["batch", HOSTILE, "--book", &book],
        vec!["judge", HOSTILE, "--book", &book],
        vec![
            "judge",
            HOSTILE,
            "--state",
            HOSTILE,
            "--by",
            HOSTILE,
            "--qualification",
            HOSTILE,
            "--book",
            &book,
        ],
        vec!["judge", HOSTILE, "--answer", HOSTILE, "--book", &book],
        vec![
            "container",
            "open",
            HOSTILE,
            "--kind",
            "damaged",
            "--place",
            "DE",
            "--stands",
            HOSTILE,
            "--by",
            HOSTILE,
            "--book",
            &book,
        ],
        vec!["container", "place", HOSTILE, HOSTILE, "--inner", HOSTILE, "--by", HOSTILE, "--book", &book],
        vec![
            "container",
            "hold",
            HOSTILE,
            "--because",
            HOSTILE,
            "--stands",
            HOSTILE,
            "--by",
            HOSTILE,
            "--book",
            &book,
        ],
        vec!["container", "list", "--book", &book],
        vec!["container", "list", "--json", "--book", &book],
        vec!["container", "show", HOSTILE, "--book", &book],
        vec!["container", "label", HOSTILE, "--book", &book],
        vec!["container", "label", HOSTILE, "--html", "--book", &book],
        vec!["shipment", "show", HOSTILE, "--book", &book],
        vec!["leave", HOSTILE, "--how", "lost", "--because", "x", "--by", "Ines Harrow", "--book", &book],
        vec!["return", HOSTILE, "--how", "found", "--seen", "x", "--by", "Ines Harrow", "--book", &book],
        vec![
            "irregularity",
            "note",
            "--cell",
            HOSTILE,
            "--happened",
            "x",
            "--breaks",
            "x",
            "--action",
            "x",
            "--by",
            "Ines Harrow",
            "--book",
            &book,
        ],
        vec!["hot-cell-watch", "--id", HOSTILE, "--simulated", "sound", "--hours", "0.01", "--book", &book],
        vec![
            "hot-cell-watch",
            "--id",
            HOSTILE,
            "--simulated",
            "sound",
            "--hours",
            "0.01",
            "--book",
            &no_book,
        ],
        vec!["model", "list", "--book", &book],
        vec!["model", "show", HOSTILE, "--book", &book],
        vec!["rules", "show", HOSTILE],
        vec!["rules", "list", "--rules", HOSTILE],
        vec![
            "fixture",
            "check-standard",
            "define",
            HOSTILE,
            "--resistance-mohm",
            "50",
            "--limit-percent",
            "0.1",
            "--certificate",
            HOSTILE,
            "--by",
            HOSTILE,
            "--book",
            &book,
        ],
        vec!["fixture", "standing", "--book", &book],
        vec!["book", "--book", &book, "list"],
        vec!["book", "--book", &book, "list", "--json"],
        vec!["book", "--book", &book, "show", "entry:1"],
        vec!["book", "--book", &book, "show", "entry:1", "--json"],
        vec!["book", "--book", &book, "show", HOSTILE],
        vec!["book", "--book", &book, "find", HOSTILE],
        vec!["book", "--book", &book, "verify"],
        vec!["book", "--book", &book, "verify", "--expect", HOSTILE],
        vec!["book", "--book", &book, "merge", HOSTILE],
        vec!["book", "--book", &book, "restore", HOSTILE],
        vec!["book", "--book", &no_book, "restore", HOSTILE],
        vec!["book", "--book", &book, "rescue", HOSTILE, "--to", &no_book],
        vec!["book", "--book", &book, "checkpoint", "--sign", HOSTILE],
        vec!["book", "--book", &book, "blank", "1", "--because", "", "--by", HOSTILE],
        vec!["book", "--book", &no_book, "list"],
        vec!["due", "--book", &book],
        vec!["explain", HOSTILE, "--book", &book],
        vec![HOSTILE],
        vec!["assess", HOSTILE, &HOSTILE[1..]],
    ];
    calls.push(vec!["assess", "--id", "PE-1", "--observations", HOSTILE, "--book", &book]);
    calls.push(vec!["finding", "of", HOSTILE, "--book", &book]);
    calls.push(vec!["finding", "of", HOSTILE, "--json", "--book", &book]);
    calls.push(vec!["tag", HOSTILE]);
    calls.push(vec!["tag", HOSTILE, "--json"]);
    // No new cell may have such a name, so what is told of a reacting one holds it elsewhere.
    calls.push(reacting("PE-2", &book));
    let mut ours = BTreeSet::new();
    for (name, spelling) in [(HOSTILE, "\\u001b[1;97;42m"), (QUIET, "\\u202eyx\\u2066\\u200b")] {
        let mut spelt_out = 0;
        for typed in &calls {
            let typed: Vec<&str> =
                typed.iter().map(|word| if *word == HOSTILE { name } else { word }).collect();
            let (_, plain) = printed(false, &typed);
            assert!(
                !plain.contains('\u{1b}') && without_hidden_letters(&plain),
                "{typed:?} printed {plain:?}"
            );
            // What the first screen of a decision has no room for is on the long page.
            let decides = ["assess", "grade"].contains(&typed[0]) && !typed.contains(&"--json");
            let long =
                if decides { printed(false, &[&typed[..], &["--full"]].concat()).1 } else { String::new() };
            assert!(!long.contains('\u{1b}') && without_hidden_letters(&long), "{typed:?} printed {long:?}");
            spelt_out += usize::from(plain.contains(spelling) || long.contains(spelling));
            let (_, coloured) = printed(true, &typed);
            assert!(without_hidden_letters(&coloured), "{typed:?} printed {coloured:?}");
            ours.extend(codes(&coloured));
        }
        // The test is about something: the hostile text was there to be printed.
        assert!(spelt_out > calls.len() / 2, "{spelt_out} of {}", calls.len());
    }
    // What a watch could put nowhere else lies below the temporary folder.
    for file in celltriage_book::aside::beside(std::path::Path::new(&no_book)) {
        std::fs::remove_file(&file).expect("removed");
        let _others_may_lie_there = std::fs::remove_dir(file.parent().expect("a folder of its own"));
    }
    let known = ["[0m", "[1m", "[1;97;41m", "[1;30;48;5;208m", "[1;30;43m", "[1;97;44m"];
    assert!(ours.iter().all(|code| known.contains(&code.as_str())), "{ours:?}");
    // And our own colours still work.
    assert!(ours.contains("[1m") && ours.contains("[1;97;41m"), "{ours:?}");
}

#[test]
fn printed_json_reads_back_to_what_was_given() {
    let (code, text) = printed(
        false,
        &[
            "grade",
            "traces/two_level.csv",
            "--cell",
            "labels/scanner_cell.toml",
            "--model",
            HOSTILE,
            "--json",
        ],
    );
    assert_eq!(code, 0, "{text}");
    let value: serde_json::Value = serde_json::from_str(&text).expect("JSON and nothing else");
    assert_eq!(value["cell"]["nameplate"]["model"], HOSTILE, "{}", value["cell"]);
}
