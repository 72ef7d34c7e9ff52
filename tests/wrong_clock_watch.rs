//! A wrong clock holds up no word of danger, and shortens no watch over a cell.

use celltriage_tests::{FRIDAY, MONDAY, Shop, YEAR_BACK};

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
                let held = shop.unstated(
                    FRIDAY,
                    "container hold B --because warm --stands yard --by R.Lindqvist",
                    None,
                );
                assert_eq!(held.code, 0, "{}", held.err);
                let before = shop.written();
                let done = shop.unstated(now, &format!("{typed}{more}"), Some(&[]));
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
            let typed =
                format!("hot-cell-watch --id A --simulated self-warming --hottest-c 29 --hours 2{more}");
            let watched = shop.unstated(now, &typed, Some(&["n"; 9]));
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
    let due = shop.unstated(now, "due", None);
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
    let held =
        shop.unstated(YEAR_BACK, "container hold A --because warm --stands yard --by R.Lindqvist", yes);
    assert!(held.code == 0 && held.err.contains("some clock stood wrong"), "{}", held.err);
    for day in ["2026-11-28", "2026-12-04", "2026-12-11", "2026-12-18", "2026-12-25"] {
        let now = &format!("{day}T08:30:00Z");
        assert_eq!(shop.unstated(now, look, yes).code, 0);
        let early = shop.unstated(now, release, yes);
        assert!(early.code == 2 && early.err.contains("is not over"), "{now}: {}{}", early.out, early.err);
        assert!(ends(&shop, now).as_str() >= "2026-12-26", "{}", ends(&shop, now));
    }
    assert!(shop.unstated("2026-12-25T08:31:00Z", "book show A", None).out.contains("until 2026-12-2"));
    assert_eq!(shop.unstated("2026-12-28T08:30:00Z", look, yes).code, 0);
    let over = shop.unstated("2026-12-28T08:30:00Z", release, yes);
    assert_eq!(over.code, 0, "{}", over.err);
    assert_eq!(shop.unstated("2026-12-28T08:31:00Z", "book verify", None).code, 0);
}

#[test]
fn a_clock_that_jumps_ahead_ends_no_watch() {
    let shop = Shop::on_friday();
    let yes: Option<&[&str]> = Some(&["y"]);
    assert_eq!(
        shop.unstated(FRIDAY, "container hold A --because warm --stands yard --by R.Lindqvist", None).code,
        0
    );
    let look = "container inspect A --look unchanged --temperature-c 18 --air-c 18 --by R.Lindqvist";
    for now in ["2026-12-26T09:00:00Z", "2036-12-26T09:00:00Z"] {
        assert_eq!(shop.unstated(now, look, yes).code, 0);
        let early = shop.unstated(now, "container release A --because cold --by R.Lindqvist", yes);
        assert!(early.code == 2 && early.err.contains("it names 2026-12-25"), "{}{}", early.out, early.err);
    }
}

#[test]
fn a_watch_said_to_have_begun_a_year_ago_is_not_over_today() {
    let shop = Shop::on_friday();
    let hold = "container hold A --because warm --stands yard --by R.Lindqvist --on 2025-11-27";
    let over = shop.unstated(FRIDAY, &format!("{hold} --until 2025-12-25"), None);
    assert!(over.code == 2 && over.err.contains("written down"), "{}{}", over.out, over.err);
    let held = shop.unstated(FRIDAY, hold, None);
    assert!(held.code == 0 && held.out.contains("under watch until 2026-12-25"), "{}{}", held.out, held.err);
    let look = "container inspect A --look unchanged --temperature-c 18 --air-c 18 --by R.Lindqvist";
    assert_eq!(shop.unstated(FRIDAY, look, None).code, 0);
    let early = shop.unstated(FRIDAY, "container release A --because cold --by R.Lindqvist", None);
    assert!(early.code == 2 && early.err.contains("runs until 2026-12-25"), "{}{}", early.out, early.err);
}
