//! The command that watches a hot cell: what people read and when, limits it refuses, a book it cannot use.

use celltriage_tests::{Call, NOON, Shop, call, snapshot};

fn watched(kind: &str, more: &[&str], shop: &Shop) -> Call {
    let mut typed = vec!["hot-cell-watch", "--id", "PE-0405", "--simulated", kind];
    typed.extend_from_slice(more);
    // Simulated hours pass at once and stand in the book: the day is stated for the calls after them.
    let call = shop.run(NOON, &typed);
    for text in [&call.out, &call.err] {
        assert!(!text.contains('\u{7}'), "the bell is for a terminal: {text:?}");
    }
    call
}

#[test]
fn a_hot_cell_sends_everybody_out_a_warm_one_is_left_alone_and_a_sound_one_wakes_nobody() {
    let shop = Shop::new();
    let hot = ["--hours", "1", "--print-every", "30", "--hottest-c", "29", "--place", "DE"];
    let elsewhere = Shop::new();
    let hot = watched("self-warming", &hot, &elsewhere);
    assert!(hot.err.contains("DANGER: STOP") && !hot.err.contains("WARNING: Hands off"), "{}", hot.err);
    snapshot!("hot_cell_reacting", elsewhere.shown(&hot));
    snapshot!(
        "hot_cell_alarm",
        shop.shown(&watched("self-warming", &["--hours", "2", "--print-every", "30"], &shop))
    );
    snapshot!(
        "hot_cell_quiet",
        shop.shown(&watched("swollen", &["--hours", "6", "--print-every", "120"], &shop))
    );
    snapshot!("hot_cell_book", shop.shown(&shop.run(NOON, &["book", "list"])));
    assert_eq!(shop.unstated(NOON, "book verify", None).code, 0);
}

#[test]
fn the_falling_voltage_of_a_short_inside_is_an_alarm_of_its_own() {
    let shop = Shop::new();
    let more = ["--hours", "3", "--over-air-k", "8", "--growth-k", "8", "--json", "--print-every", "60"];
    let call = watched("self-warming", &more, &shop);
    assert_eq!(call.code, 6, "{}", call.err);
    let lines: Vec<serde_json::Value> =
        call.out.lines().map(|line| serde_json::from_str(line).expect("one object on each line")).collect();
    let alarm = lines.iter().find(|line| !line["alarm"].is_null()).expect("an alarm");
    assert_eq!(alarm["alarm"]["cause"], "falling_voltage");
    assert_eq!(alarm["alarm"]["level"], "warm", "nothing heats up");
    assert!(!call.err.contains("DANGER"), "{}", call.err);
    let whole = lines.last().expect("the whole at the end");
    assert_eq!(whole["watch"]["ended"], "time");
    assert_eq!(whole["watch"]["alarms"].as_array().map(Vec::len), Some(1));
}

#[test]
fn limits_that_would_silence_the_alarm_are_refused() {
    let shop = Shop::new();
    for (more, why) in [
        (["--hottest-c", "80"], "--hottest-c 80 is no alarm limit"),
        (["--over-air-k", "0"], "--over-air-k 0 is no alarm limit"),
        (["--warming-k-per-min", "99"], "--warming-k-per-min 99 is no alarm limit"),
        (["--growth-k", "99"], "--growth-k 99 is no alarm limit"),
        (["--fall-mv", "5000"], "--fall-mv 5000 is no alarm limit"),
        (["--hours", "0"], "--hours: 0 s is no usable span"),
        (["--every", "60"], "--every: 60 s is no usable span"),
    ] {
        let call = watched("sound", &more, &shop);
        assert!(call.code == 2 && call.err.contains(why), "{more:?}: {}", call.err);
        assert!(!shop.book_path().exists(), "{more:?}: nothing was watched");
    }
    // The same options with limits that can be are taken: it is the figures that were refused.
    let usable =
        ["--hottest-c", "40", "--over-air-k", "2", "--fall-mv", "5", "--hours", "0.01", "--every", "2"];
    assert_eq!(watched("sound", &usable, &shop).code, 0);
}

#[test]
fn a_watch_runs_also_without_a_book_or_rules_that_can_be_read_and_the_alarm_counts_more() {
    let shop = Shop::new();
    let (foreign, missing) = (shop.file("foreign", "no book"), shop.path("nowhere/book.sqlite"));
    for book in [&foreign, &missing] {
        for (kind, hours, code) in [("self-warming", "2", 6), ("swollen", "0.2", 5)] {
            let call = call(
                &[
                    "hot-cell-watch",
                    "--id",
                    "PE-0405",
                    "--simulated",
                    kind,
                    "--hours",
                    hours,
                    "--place",
                    "nowhere",
                    "--rules",
                    "no-such-folder",
                    "--book",
                    book,
                ],
                None,
            );
            assert_eq!(call.code, code, "{}", call.err);
            assert!(call.err.contains("THE WATCH GOES ON BUT IS NOT KEPT"), "{}", call.err);
            assert!(call.err.contains("error: the watch is NOT in the book"), "{}", call.err);
            assert!(call.err.contains("it is kept in "), "{}", call.err);
            let (warm, reacting) = ("WARNING: Hands off.", "DANGER");
            assert!(call.err.contains(warm) == (code == 6) && !call.err.contains(reacting), "{}", call.err);
            assert!(call.out.contains("watched"), "{}", call.out);
        }
    }
    assert_eq!(std::fs::read_to_string(&foreign).expect("there"), "no book");
    let beside = |book: &str| celltriage_book::aside::beside(std::path::Path::new(book));
    assert_eq!(beside(&foreign).len(), 2);
    // Whose folder is not there, lies below the temporary one.
    let elsewhere = beside(&missing);
    let [first, _] = &elsewhere[..] else { panic!("{elsewhere:?}") };
    std::fs::remove_dir_all(first.parent().expect("a folder of its own")).expect("removed");
}
