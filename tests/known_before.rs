//! A cell found bad stays bad: whatever is measured later, what the book has of it comes first and decides, until a person
//! strikes the entry with a reason and a name.

use celltriage_tests::{EVENING, NOON, REASON, Shop};

#[test]
fn a_sound_cell_with_nothing_known_earns_reuse_by_the_same_test() {
    let shop = Shop::new();
    let call = shop.full(NOON, "PE-1");
    assert!(call.out.contains("REUSE       cell "), "{}{}", call.out, call.err);
    assert!(!call.out.contains("Known before") && !call.err.contains("Known before"));
}

#[test]
fn every_sign_once_found_stays_found() {
    let shop = Shop::new();
    for (sign, words) in [("swollen", "swollen"), ("leaked", "leaked"), ("recalled", "recalled")] {
        let cell = format!("PE-{sign}");
        shop.must(NOON, &format!("assess --simulated sound --sign {sign}=yes --id {cell}"), &[]);
        shop.kept_off(EVENING, &cell, &format!("{words}, 2026-11-25 (entry "));
        assert_eq!(shop.judge_clean(EVENING, &cell, "not_waste").code, 2);
    }
}

#[test]
fn a_struck_entry_no_longer_counts_and_stays_readable() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id V-1 --simulated sound --sign swollen=yes", &[]);
    shop.kept_off(EVENING, "V-1", "swollen, 2026-11-25 (entry 1)");
    let nameless = shop.at(EVENING, "container correct 1 --strike", &["--because", "x", "--by", " "]);
    assert_eq!(nameless.code, 2, "{}", nameless.err);
    shop.strike(EVENING, 1);
    // The two decisions that only repeated it are no findings of their own.
    let call = shop.full(EVENING, "V-1");
    assert!(call.out.contains("REUSE       cell "), "{}{}", call.out, call.err);
    for typed in ["book show entry:1", "book show V-1"] {
        let told = shop.must(EVENING, typed, &[]).out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            told.contains("STRUCK by Ines Harrow on 2026-11-25 (entry 4): wrong cell in the hand"),
            "{typed}: {told}"
        );
        assert!(told.contains("The cell is swollen"), "{typed}: {told}");
    }
    assert_eq!(shop.judge_clean(EVENING, "V-1", "not_waste").code, 0);
    assert_eq!(shop.at(NOON, "book verify", &[]).code, 0);
}

/// A decision that counts no more leaves the cell undecided, never as mild as it was before.
#[test]
fn striking_a_decision_gives_no_leave() {
    let shop = Shop::new();
    assert!(shop.full(NOON, "PE-2").out.contains("REUSE       cell "));
    shop.strike(EVENING, 1);
    let page = shop.must(EVENING, "judge PE-2", &[]).out;
    assert!(page.contains("unknown, to be treated as damaged"), "{page}");
    let charge = shop.at(EVENING, "guided --id PE-2", &[]);
    assert!(charge.code == 2 && charge.out.is_empty(), "{}{}", charge.out, charge.err);
}

#[test]
fn a_persons_word_and_an_alarm_stand_too() {
    const SIGNED: [&str; 6] =
        ["--because", "no dent", "--by", "Ines Harrow", "--qualification", "battery technician"];
    let shop = Shop::new();
    shop.full(NOON, "J-1");
    assert_eq!(shop.judge_clean(NOON, "J-1", "damaged_or_defective").code, 0);
    shop.kept_off(
        EVENING,
        "J-1",
        "judged damaged or defective, not critical, 2026-11-25 (entry 2, Ines Harrow)",
    );
    let milder = shop.at(EVENING, "judge J-1 --state intact_waste", &SIGNED);
    assert!(milder.code == 2 && milder.err.contains("counts as damaged"), "{}", milder.err);
    assert!(!milder.err.contains("Has it leaked") && milder.err.contains("finding strike"), "{}", milder.err);
    shop.full(NOON, "H-1");
    shop.must(NOON, "container hold H-1 --stands yard", &REASON);
    shop.kept_off(EVENING, "H-1", "under watch: wrong cell in the hand, 2026-11-25");
    shop.full(NOON, "E-1");
    shop.must(NOON, "container escalate E-1", &REASON);
    shop.kept_off(EVENING, "E-1", "found critical: wrong cell in the hand, 2026-11-25");
    shop.full(NOON, "A-1");
    let watch = "hot-cell-watch --id A-1 --hours 2 --simulated self-warming --hottest-c 29";
    let alarm = shop.at(NOON, watch, &[]);
    assert_eq!(alarm.code, 6, "{}", alarm.err);
    shop.kept_off(EVENING, "A-1", "alarm of the hot-cell watch, reacting: ");
    // No charge, no serving again, and it is among what falls due.
    assert_eq!(shop.at(EVENING, "guided --id A-1", &[]).code, 2);
    assert_eq!(shop.judge_clean(EVENING, "A-1", "not_waste").code, 2);
    assert!(shop.must(EVENING, "due", &[]).out.contains("A-1"));
    assert!(shop.must(EVENING, "due", &[]).out.contains("CRITICAL: do not move it"));
}

#[test]
fn a_warm_alarm_keeps_a_cell_off_as_damaged_and_no_page_says_critical_or_out() {
    let shop = Shop::new();
    shop.full(NOON, "W-1");
    let watch = shop.at(NOON, "hot-cell-watch --id W-1 --hours 2 --simulated self-warming", &[]);
    assert!(watch.code == 6 && watch.err.contains("WARNING: Hands off"), "{}", watch.err);
    shop.kept_off(EVENING, "W-1", "alarm of the hot-cell watch, warm: ");
    let assessed = shop.at(EVENING, "assess --id W-1 --simulated sound --no-signs", &[]);
    let judged = shop.at(EVENING, "judge W-1", &[]);
    let refused = shop.at(EVENING, "guided --id W-1", &[]);
    assert_eq!((shop.judge_clean(EVENING, "W-1", "not_waste").code, refused.code), (2, 2));
    for call in [&watch, &assessed, &judged, &refused, &shop.at(EVENING, "book show W-1", &[])] {
        let told = format!("{}{}", call.out, call.err).to_lowercase();
        for word in ["danger: stop", "everybody out", "critical: may react", "state critical"] {
            assert!(!told.contains(word), "{word}: {told}");
        }
    }
    assert!(assessed.out.contains("damaged or defective"), "{}", assessed.out);
    // It is judged as what it is without four weeks of watch.
    assert_eq!(shop.judge_clean(EVENING, "W-1", "damaged_or_defective").code, 0);
}

/// An alarm over a cell that nobody has assessed yet is struck as well.
#[test]
fn an_alarm_is_struck_by_its_entry_and_then_a_person_judges() {
    let shop = Shop::new();
    let watch = "hot-cell-watch --id A-2 --hours 2 --simulated self-warming --end-on-alarm --hottest-c 29";
    assert_eq!(shop.at(NOON, watch, &[]).code, 6);
    shop.kept_off(EVENING, "A-2", "alarm of the hot-cell watch, reacting: ");
    assert_eq!(shop.judge_clean(EVENING, "A-2", "damaged_or_defective").code, 2);
    shop.strike(EVENING, 1);
    // Found so once, it stays critical until somebody judges it again.
    shop.kept_off(EVENING, "A-2", "critical until a person judges it again");
    assert_eq!(shop.judge_clean(EVENING, "A-2", "intact_waste").code, 0);
    assert!(shop.full(EVENING, "A-2").out.contains("REUSE       cell "));
}

#[test]
fn a_reacting_cell_is_not_cleared_in_the_same_minute() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id V-4 --simulated sound --sign active_now=yes", &[]);
    shop.kept_off(EVENING, "V-4", "active now, 2026-11-25 (entry 1)");
    let judge = |now: &str, state| shop.judge_clean(now, "V-4", state);
    for state in ["damaged_or_defective", "casing_breached", "intact_waste", "not_waste"] {
        let told = judge(EVENING, state);
        assert!(
            told.code == 2 && told.err.contains("stays so: active now (entry 1)"),
            "{state}: {}",
            told.err
        );
    }
    assert_eq!(judge(EVENING, "critical").code, 0);
    // A watch of one day is too short; one of four weeks with a look each week and a cool one at its end is not.
    shop.must(EVENING, "container hold V-4 --stands yard --until 2026-11-25", &REASON);
    let look = ["--look", "unchanged", "--temperature-c", "19", "--air-c", "19", "--by", "Ines Harrow"];
    shop.must(EVENING, "container inspect V-4", &look);
    let told = judge(EVENING, "damaged_or_defective");
    assert!(told.code == 2 && told.err.contains("2026-12-23 or later"), "{}", told.err);
    for day in ["02", "09", "16", "20"] {
        let week = &format!("2026-12-{day}T12:00:00Z");
        shop.must(week, "container inspect V-4", &look);
    }
    let after = "2026-12-24T12:00:00Z";
    assert_eq!(judge(after, "damaged_or_defective").code, 2, "nobody has looked since");
    shop.must(after, "container inspect V-4", &look);
    let judged = judge(after, "damaged_or_defective");
    assert_eq!(judged.code, 0, "{}", judged.err);
    // It is damaged then, and not as if nothing had been.
    shop.must(after, "container release V-4", &REASON);
    let call = shop.full(after, "V-4");
    assert!(call.out.contains("QUARANTINE  cell ") && call.out.contains("Known before: active now"));
    assert!(!call.out.contains("critical: may react"), "{}", call.out);
}

/// A danger said to be a month old, a watch that ends today and a look of today: written in one minute, they clear nothing.
#[test]
fn a_danger_written_down_as_an_old_one_counts_from_the_day_of_writing() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id V-5 --simulated sound --no-signs", &[]);
    shop.must(NOON, "container escalate V-5 --on 2026-10-20", &REASON);
    shop.must(NOON, "container hold V-5 --stands yard --until 2026-11-25 --on 2026-10-20", &REASON);
    let look = ["--look", "unchanged", "--temperature-c", "19", "--air-c", "19", "--by", "Ines Harrow"];
    shop.must(NOON, "container inspect V-5", &look);
    let told = shop.judge_clean(EVENING, "V-5", "damaged_or_defective");
    assert!(told.code == 2 && told.err.contains("28 days after it was found"), "{}", told.err);
}

/// Worn, undecided: what tells nothing of a danger bars no test; the decision is told of and decides nothing.
#[test]
fn what_bars_no_later_test() {
    let shop = Shop::new();
    for (cell, kind, extent) in [("R-1", "high-resistance", "screen"), ("U-1", "sound", "screen")] {
        shop.must(NOON, &format!("assess --id {cell} --simulated {kind} --no-signs --extent {extent}"), &[]);
        let again = shop.full(EVENING, cell);
        assert!(
            again.out.contains("BEFORE      decided") && !again.out.contains("kept off"),
            "{}",
            again.out
        );
    }
}

/// Below the voltage at which copper dissolves a cell is never charged again: a later test that goes well changes nothing.
#[test]
fn a_cell_that_once_lay_too_deep_stays_out_of_service() {
    let shop = Shop::new();
    let rest: String = (0..=260).map(|row| format!("{},0.0,1.0,25.0,25.0\n", f64::from(row) * 0.5)).collect();
    let head =
        "Test Time / s,Current / A,Voltage / V,Surface Temperature T1 / degC,Ambient Temperature / degC\n";
    let trace = shop.file("deep.csv", &format!("{head}{rest}"));
    let label = "labels/scanner_cell.toml";
    let typed = format!("grade {} --id DD --cell {label} --no-signs", trace);
    assert!(shop.must(NOON, &typed, &[]).out.contains("RECYCLE     cell "));
    let again =
        shop.must(EVENING, &format!("grade traces/two_level.csv --id DD --cell {label} --no-signs"), &[]);
    assert!(again.err.contains("Known before: DD: rest voltage"), "{}", again.err);
    assert!(
        again.out.contains("RECYCLE     cell ") && !again.out.contains("harge it to its limit"),
        "{}",
        again.out
    );
    assert_eq!(shop.judge_clean(EVENING, "DD", "not_waste").code, 2);
}
