//! Nobody is told to charge a cell that shows a sign, was quarantined or recycled, is deeply discharged, or is not known
//! to be none of these; and what else a guided run must not let pass, through the command line.

use celltriage_book::Book;
use celltriage_link::simulated_kinds;
use celltriage_tests::{CHARGE, Call, EVENING, NOON, Shop};

#[test]
fn a_sign_given_in_any_call_ends_the_run_with_a_decision() {
    let shop = Shop::new();
    let label = shop.label("label.toml", 4.35, 3.0);
    let call = shop.at(NOON, "guided --id A --sign swollen=yes --cell", &[&label]);
    assert!(call.code == 2 && call.out.contains("QUARANTINE  cell "), "{}{}", call.out, call.err);
    assert!(!call.out.contains(CHARGE), "{}", call.out);
    assert_eq!(shop.fate("A").as_deref(), Some("quarantine"));
    shop.never_charged("A", "swollen");

    // In the middle of a run, with nothing on the fixture. What was written without one was a real cell.
    let shop = Shop::new();
    assert_eq!(shop.at(NOON, "guided --id B --simulated sound --no-signs --json", &[]).code, 0);
    let call = shop.at(EVENING, "guided --id B --charged --sign active_now=yes", &[]);
    assert!(call.code == 2 && call.out.contains("QUARANTINE  cell "), "{}{}", call.out, call.err);
    assert!(call.err.contains("hands off"), "what to do about a reacting cell is told: {}", call.err);
    shop.never_charged("B", "quarantine: The cell is reacting now");
    assert!(shop.at(EVENING, "guided --list", &[]).err.contains("no cell is in a capacity run"));
    assert_eq!(shop.at(NOON, "book verify", &[]).code, 0);
}

#[test]
fn the_signs_are_asked_before_the_first_charge_and_no_answer_is_no_leave() {
    let shop = Shop::new();
    let first = "guided --id C --simulated sound";
    let script = shop.at(NOON, first, &[]);
    assert!(script.code == 2 && script.out.is_empty(), "{}{}", script.out, script.err);
    assert!(script.err.contains("looked at for: active now, leaked, casing open"), "{}", script.err);
    assert!(script.err.contains("--no-signs") && script.err.contains("casing_breached"), "{}", script.err);
    // One sign less than all is not enough, and neither is a person who did not look.
    let some = shop.at(NOON, first, &["--sign", "swollen=no", "--sign", "leaked=no"]);
    assert!(some.code == 2 && some.out.is_empty() && some.err.contains("recalled"), "{}", some.err);
    let nearly = ["n", "n", "n", "n", "n", "n", "n", "n", "", ""];
    let asked = shop.asked(NOON, first, &[], Some(&nearly));
    assert!(asked.code == 2 && asked.err.contains("looked at for: recalled"), "{}", asked.err);
    let seen = shop.asked(NOON, first, &[], Some(&["n", "n", "n", "y"]));
    assert!(seen.code == 2 && seen.out.contains("QUARANTINE  cell "), "{}{}", seen.out, seen.err);

    let sound = shop.asked(
        NOON,
        "guided --id D --simulated sound",
        &[],
        Some(&["n", "n", "n", "n", "n", "n", "n", "n", "n", ""]),
    );
    assert!(sound.code == 0 && sound.out.contains(CHARGE), "{}{}", sound.out, sound.err);
    assert!(sound.err.contains("Is it thicker than it was made"), "{}", sound.err);
}

#[test]
fn an_answer_counts_for_a_day() {
    let shop = Shop::new();
    assert_eq!(shop.at(NOON, "assess --id E --simulated sound --no-signs", &[]).code, 0);
    let same_day = shop.at(EVENING, "guided --id E", &[]);
    assert!(same_day.code == 0 && same_day.out.contains(CHARGE), "{}{}", same_day.out, same_day.err);
    // Said so once, it is said again within the day only.
    for (now, code) in [("2026-11-26T12:00:00Z", 0), ("2026-11-26T12:00:01Z", 2), ("2026-11-24T12:00:00Z", 2)]
    {
        let call = shop.at(now, "guided --id E --simulated sound", &[]);
        assert_eq!((call.code, call.out.contains(CHARGE)), (code, code == 0), "{now}: {}", call.err);
    }
    let again = shop.at("2026-11-27T12:00:00Z", "guided --id E --simulated sound --no-signs", &[]);
    assert!(again.code == 0 && again.out.contains(CHARGE), "{}{}", again.out, again.err);
    // What a trace from elsewhere tells is not what the cell is today.
    let shop = Shop::new();
    let typed = "grade traces/two_level.csv --id F --no-signs --cell labels/scanner_cell.toml";
    assert_eq!(shop.at(NOON, typed, &[]).code, 0);
    let graded = shop.at(NOON, "guided --id F", &[]);
    assert!(graded.code == 2 && graded.err.contains("rest voltage is not known"), "{}", graded.err);
}

#[test]
fn whatever_was_decided_on_a_cell_is_heeded() {
    let shop = Shop::new();
    let mut forbidden = 0;
    for kind in simulated_kinds() {
        for extent in ["screen", "full"] {
            let id = format!("{kind}-{extent}");
            let typed = format!("assess --simulated {kind} --no-signs --extent {extent} --id {id}");
            shop.at(NOON, &typed, &[]);
            let fate = shop.fate(&id).expect("a decision");
            if fate == "quarantine"
                || fate == "recycle"
                || ["deeply-discharged", "tripped-protection"].contains(&kind.as_str())
            {
                forbidden += 1;
                shop.never_charged(&id, "(entry ");
            } else {
                let call = shop.at(EVENING, "guided --id", &[&id]);
                assert!(call.code == 0 && call.out.contains(CHARGE), "{id}: {}", call.err);
            }
        }
    }
    assert!(forbidden >= 8, "only {forbidden} cells were kept from the charger");
}

/// A dead connector says nothing of the cell: neither that it is to be recycled, nor, once its own tabs were measured, that it
/// must never be charged again.
#[test]
fn a_dead_connector_holds_back_the_charge_until_the_tabs_were_measured() {
    let shop = Shop::new();
    let call = shop.at(NOON, "guided --id O --simulated tripped-protection --no-signs", &[]);
    assert!(call.code == 2 && call.out.contains("UNDECIDED   cell "), "{}{}", call.out, call.err);
    assert!(call.out.contains("bridge nothing") && !call.out.contains("Deeply discharged"), "{}", call.out);
    let whole = shop.at(NOON, "book show entry:1", &[]);
    assert!(whole.out.contains("own tabs"), "{}", whole.out);
    shop.never_charged("O", "not measured");
    // The leads are moved to the tabs; there it rests as a sound cell does.
    assert_eq!(shop.at(NOON, "assess --id O --simulated sound --no-signs --extent rest", &[]).code, 0);
    let at_the_tabs = shop.at(EVENING, "guided --id O", &[]);
    assert!(at_the_tabs.code == 0 && at_the_tabs.out.contains(CHARGE), "{}", at_the_tabs.err);
    assert_eq!(shop.at(NOON, "book recompute 1", &[]).code, 0);
}

#[test]
fn a_cell_that_nobody_has_measured_is_measured_first() {
    let shop = Shop::new();
    let call = shop.at(NOON, "guided --id G --simulated deeply-discharged --no-signs", &[]);
    assert!(call.code == 2 && call.out.contains("UNDECIDED   cell "), "{}{}", call.out, call.err);
    assert!(!call.out.contains(CHARGE) && call.err.contains("deeply discharged"), "{}", call.err);
    shop.never_charged("G", "deeply discharged");
    // Neither where it comes to the fixture as if it had been charged.
    let begun = shop.at(NOON, "guided --id H --simulated deeply-discharged --charged", &[]);
    assert_eq!(begun.code, 0, "{}", begun.err);
    let found = shop.at(EVENING, "guided --id H --simulated deeply-discharged --no-signs", &[]);
    assert!(found.err.contains("not to be charged again") && !found.err.contains("charge it again until"));
    shop.never_charged("H", "deeply discharged");
    // No fixture: nothing is known, and nothing is said.
    let label = shop.label("label.toml", 4.35, 3.0);
    let blind = shop.at(NOON, "guided --id I --no-signs --port /dev/no-such-port --cell", &[&label]);
    assert!(blind.code == 3 && blind.out.is_empty() && blind.err.contains("clip it onto"), "{}", blind.err);
}

#[test]
fn what_was_found_once_stays_until_a_person_takes_it_back() {
    let shop = Shop::new();
    shop.at("2026-11-24T08:00:00Z", "assess --id J --simulated sound --sign swollen=yes", &[]);
    let milder = shop.at(NOON, "assess --id J --simulated sound --no-signs", &[]);
    assert!(milder.out.contains("QUARANTINE  cell "), "{}", milder.out);
    shop.never_charged("J", "nown before: swollen, 2026-11-24 (entry 1)");
    let who = ["--by", "R. Lindqvist", "--qualification", "maker's course", "--because", "it was the tape"];
    let typed = "judge J --state not_waste --as-recorded --answer acute_hazard=no";
    let answers = ["n"; 12];
    let refused = shop.asked(EVENING, typed, &who, Some(&answers));
    assert!(refused.code == 2 && refused.err.contains("swollen"), "{}{}", refused.out, refused.err);
    // Who takes back what was found says so about its entry; then the cell is looked at and measured again.
    let taken_back = ["--by", "R. Lindqvist", "--because", "it was the tape"];
    assert_eq!(shop.at(EVENING, "container correct 1 --strike", &taken_back).code, 0);
    shop.never_charged("J", "quarantine: Known before");
    let again = shop.at(EVENING, "assess --id J --simulated sound --no-signs", &[]);
    assert!(again.out.contains("UNDECIDED   cell "), "{}", again.out);
    let judged = shop.asked(EVENING, typed, &who, Some(&answers));
    assert_eq!(judged.code, 0, "{}{}", judged.out, judged.err);
    let after = shop.at(EVENING, "guided --id J", &[]);
    assert!(after.code == 0 && after.out.contains(CHARGE), "{}{}", after.out, after.err);
    // A person's word for the worse ends it again.
    let worse =
        shop.asked(EVENING, "judge J --state damaged_or_defective --as-recorded", &who, Some(&answers));
    assert_eq!(worse.code, 0, "{}{}", worse.out, worse.err);
    shop.never_charged("J", "R. Lindqvist judged it");
    assert!(shop.at(EVENING, "guided --list", &[]).out.contains("NOT to be charged"));
}

#[test]
fn an_alarm_and_a_test_that_was_never_judged_count_against_a_charge() {
    let shop = Shop::new();
    assert_eq!(shop.at(NOON, "assess --id K --simulated sound --no-signs", &[]).code, 0);
    Book::open(shop.book())
        .and_then(|mut book| book.begin_recording("K", "2026-11-25T13:00:00Z".parse().expect("a time")))
        .expect("a recording");
    let broken = shop.at(EVENING, "guided --id K --simulated sound", &[]);
    assert!(broken.code == 2 && broken.out.is_empty(), "{}", broken.out);
    assert!(broken.err.contains("never judged"), "{}", broken.err);

    assert_eq!(shop.at(NOON, "assess --id L --simulated sound --no-signs", &[]).code, 0);
    let watch = shop.at(NOON, "hot-cell-watch --id L --hours 2 --simulated self-warming", &[]);
    assert_eq!(watch.code, 6, "{}", watch.err);
    shop.never_charged("L", "alarm");

    // What a person keeps under watch stays there.
    assert_eq!(shop.at(NOON, "assess --id V --simulated sound --no-signs", &[]).code, 0);
    let held = shop.at(NOON, "container hold V --because warm --stands yard --by R.Lindqvist", &[]);
    assert_eq!(held.code, 0, "{}", held.err);
    shop.never_charged("V", "under watch");
}

#[test]
fn an_explanation_of_such_a_cell_tells_nobody_to_charge_it_either() {
    let shop = Shop::new();
    let told = "Charge it to its limit";
    for (id, looks) in [("S", "--sign leaked=yes"), ("T", "--no-signs")] {
        shop.at(NOON, &format!("assess --id {id} --simulated deeply-discharged {looks}"), &[]);
        for typed in ["explain", "explain --json", "book show", "judge"] {
            let call = shop.at(NOON, typed, &[id]);
            assert!(call.code == 0 && !call.out.contains(told), "{typed} {id}: {}{}", call.out, call.err);
        }
    }
    shop.at(NOON, "assess --id U --simulated high-resistance --extent rest --no-signs", &[]);
    assert!(shop.at(NOON, "explain U", &[]).out.contains(told), "what else may be charged is told so");
}

#[test]
fn what_is_due_is_json_where_a_machine_reads_and_charged_twice_is_once() {
    let shop = Shop::new();
    let read = |call: &Call| -> serde_json::Value {
        serde_json::from_str(&call.out).unwrap_or_else(|error| panic!("{error}: {}{}", call.out, call.err))
    };
    let charge = read(&shop.at(NOON, "guided --id P --simulated sound --no-signs --json", &[]));
    assert_eq!(charge["schema"], "celltriage.capacity_run/1");
    assert_eq!((charge["next"].as_str(), charge["charge_limit_v"].as_f64()), (Some("charge"), Some(4.35)));
    let rest = read(&shop.at(NOON, "guided --id P --charged --json", &[]));
    assert_eq!((rest["next"].as_str(), rest["until"].as_str()), (Some("rest"), Some("2026-11-25T13:00:00Z")));
    let again = shop.at("2026-11-25T12:59:00Z", "guided --id P --charged --json", &[]);
    assert_eq!(read(&again)["until"], rest["until"]);
    assert!(again.err.contains("at rest already"), "{}", again.err);
    let steps = shop.entries();
    assert_eq!(steps.iter().filter(|entry| entry.kind == "capacity_run").count(), 2);
}

#[test]
fn a_batch_charges_no_deeply_discharged_cell_and_tells_nobody_to() {
    let shop = Shop::new();
    let text =
        "[[cell]]\nid = \"Q\"\nsimulated = \"deeply-discharged\"\nno_signs = true\nextent = \"full\"\n";
    let file = shop.file("night.toml", text);
    let batch = shop.at(NOON, "batch", &[&file]);
    assert!(batch.out.contains("UNDECIDED") && batch.out.contains("rest voltage, lowest"), "{}", batch.out);
    assert!(batch.err.contains("not to be charged again"), "{}", batch.err);
    shop.never_charged("Q", "deeply discharged");
    let full = shop.at(NOON, "assess --id R --simulated deeply-discharged --no-signs --extent full", &[]);
    assert!(full.out.contains("deeply discharged"), "{}", full.out);
}
