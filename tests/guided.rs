//! Nobody is told to charge a cell that shows a sign, was quarantined or recycled, is deeply discharged, or is not known
//! to be none of these; and what else a guided run must not let pass, through the command line.

use celltriage_book::{Book, Filter};
use celltriage_link::simulated_kinds;
use celltriage_tests::{Call, call_at};

const NOON: &str = "2026-11-25T12:00:00Z";
const EVENING: &str = "2026-11-25T18:00:00Z";
/// What only somebody is told who is to charge a cell.
const CHARGE: &str = "on your charger";

/// A folder with a book of its own.
struct Shop {
    folder: tempfile::TempDir,
}

impl Shop {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    fn book(&self) -> String {
        self.folder.path().join("book.sqlite").to_string_lossy().into_owned()
    }

    fn asked(&self, now: &str, typed: &str, more: &[&str], answers: Option<&[&str]>) -> Call {
        let book = self.book();
        let mut all: Vec<&str> = typed.split_whitespace().collect();
        all.extend_from_slice(more);
        // After the command, before what it is to do.
        all.splice(1..1, ["--book", &book]);
        call_at(now, &all, answers)
    }

    fn at(&self, now: &str, typed: &str, more: &[&str]) -> Call {
        self.asked(now, typed, more, None)
    }

    fn label(&self, name: &str, charge_limit_v: f64, rated_capacity_ah: f64) -> String {
        let path = self.folder.path().join(name);
        let text = format!("rated_capacity_ah = {rated_capacity_ah}\ncharge_limit_v = {charge_limit_v}\n");
        std::fs::write(&path, text).expect("a file");
        path.to_string_lossy().into_owned()
    }

    /// The fate of the newest decision on a cell.
    fn fate(&self, cell: &str) -> Option<String> {
        let book = Book::open_read_only(self.book()).expect("a book");
        let filter = Filter { cell_id: Some(cell.to_owned()), ..Filter::default() };
        book.entries(&filter).expect("entries").into_iter().find_map(|entry| entry.fate)
    }

    /// Calls `guided` in every way that could tell somebody to charge the cell, and sees that none does.
    fn never_charged(&self, cell: &str, why: &str) {
        let call = self.at(EVENING, "guided --no-signs --id", &[cell]);
        assert!(call.code == 2 && call.out.is_empty(), "{cell}: {}{}", call.out, call.err);
        assert!(
            call.err.contains("is not to be charged: ") && call.err.contains(why),
            "{cell}: {}",
            call.err
        );
        for more in [&["--json"][..], &["--charged"], &["--charged", "--json"], &[]] {
            let call = self.at(EVENING, "guided --no-signs --id", &[&[cell], more].concat());
            assert!(call.code == 2 && call.out.is_empty(), "{cell} {more:?}: {}{}", call.out, call.err);
            assert!(!call.err.contains(CHARGE), "{cell} {more:?}: {}", call.err);
        }
        let asked = self.asked(EVENING, "guided --wait --id", &[cell], Some(&["n"; 9]));
        assert!(asked.code == 2 && asked.out.is_empty(), "{cell}: {}{}", asked.out, asked.err);
    }
}

#[test]
fn a_sign_given_in_any_call_ends_the_run_with_a_decision() {
    let shop = Shop::new();
    let label = shop.label("label.toml", 4.35, 3.0);
    let call = shop.at(NOON, "guided --id A --sign swollen=yes --cell", &[&label]);
    assert!(call.code == 2 && call.out.contains("Q U A R A N T I N E"), "{}{}", call.out, call.err);
    assert!(!call.out.contains(CHARGE), "{}", call.out);
    assert_eq!(shop.fate("A").as_deref(), Some("quarantine"));
    shop.never_charged("A", "swollen");

    // In the middle of a run, with nothing on the fixture.
    assert_eq!(shop.at(NOON, "guided --id B --simulated sound --no-signs --json", &[]).code, 0);
    let call = shop.at(EVENING, "guided --id B --charged --sign active_now=yes", &[]);
    assert!(call.code == 2 && call.out.contains("Q U A R A N T I N E"), "{}{}", call.out, call.err);
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
    let nearly = ["n", "n", "n", "n", "n", "n", "n", "n", ""];
    let asked = shop.asked(NOON, first, &[], Some(&nearly));
    assert!(asked.code == 2 && asked.err.contains("looked at for: recalled"), "{}", asked.err);
    let seen = shop.asked(NOON, first, &[], Some(&["n", "n", "n", "y", "n", "n", "n", "n", "n"]));
    assert!(seen.code == 2 && seen.out.contains("Q U A R A N T I N E"), "{}{}", seen.out, seen.err);

    let sound = shop.asked(NOON, "guided --id D --simulated sound", &[], Some(&["n"; 9]));
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
    assert!(call.code == 2 && call.out.contains("U N D E C I D E D"), "{}{}", call.out, call.err);
    assert!(call.out.contains("own tabs") && !call.out.contains("Deeply discharged"), "{}", call.out);
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
    assert!(call.code == 2 && call.out.contains("U N D E C I D E D"), "{}{}", call.out, call.err);
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
    assert!(milder.out.contains("Q U A R A N T I N E"), "{}", milder.out);
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
    assert!(again.out.contains("U N D E C I D E D"), "{}", again.out);
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

/// Simulated sound cells rest at 4.335 V when charged; a label of 4.20 V makes that an over-charge.
#[test]
fn an_over_charged_cell_is_judged_and_its_run_ends() {
    let shop = Shop::new();
    let label = shop.label("label.toml", 4.2, 3.0);
    assert_eq!(shop.at(NOON, "guided --id M --charged --cell", &[&label]).code, 0);
    let found = shop.at(EVENING, "guided --id M --simulated sound --no-signs", &[]);
    assert!(found.out.contains("Q U A R A N T I N E"), "{}{}", found.out, found.err);
    assert!(found.out.contains("charged past its limit"), "{}", found.out);
    assert!(!found.err.contains("check the clips"), "{}", found.err);
    shop.never_charged("M", "(entry ");
    assert_eq!(shop.fate("M").as_deref(), Some("quarantine"));
    assert!(shop.at(EVENING, "guided --list", &[]).err.contains("no cell is in a capacity run"));
    assert_eq!(shop.at(NOON, "book verify", &[]).code, 0);
}

#[test]
fn a_corrected_label_is_kept_and_a_raised_one_wants_a_person() {
    let shop = Shop::new();
    let (high, low) = (shop.label("high.toml", 4.35, 3.0), shop.label("low.toml", 4.2, 3.0));
    let first = shop.at(NOON, "guided --id N --simulated high-resistance --no-signs --cell", &[&high]);
    assert!(first.out.contains("limit 4.35 V"), "{}{}", first.out, first.err);
    let lower = shop.at(NOON, "guided --id N --cell", &[&low]);
    assert!(
        lower.out.contains("limit 4.2 V") && lower.err.contains("4.35 V there, 4.2 V now"),
        "{}",
        lower.err
    );
    assert!(lower.err.contains("new label"), "{}", lower.err);
    let again = shop.at(NOON, "guided --id N --cell", &[&low]);
    assert!(!again.err.contains("label") && again.out.contains("limit 4.2 V"), "{}", again.err);
    let third = shop.at(NOON, "guided --id N", &[]);
    assert!(third.out.contains("limit 4.2 V") && !third.out.contains("4.35"), "{}", third.out);
    let raised = shop.at(NOON, "guided --id N --cell", &[&high]);
    assert!(raised.code == 2 && raised.out.is_empty() && raised.err.contains("higher"), "{}", raised.err);
    assert!(shop.at(NOON, "guided --id N", &[]).out.contains("limit 4.2 V"));
    let denied = shop.asked(NOON, "guided --id N --cell", &[&high], Some(&["n"]));
    assert_eq!(denied.code, 2, "{}", denied.out);
    let confirmed = shop.asked(NOON, "guided --id N --cell", &[&high], Some(&["y"]));
    assert!(confirmed.out.contains("limit 4.35 V"), "{}{}", confirmed.out, confirmed.err);
    // While it rests, a corrected label does not begin the hour anew.
    assert_eq!(shop.at(NOON, "guided --id N --charged", &[]).code, 0);
    let resting = shop.at("2026-11-25T12:30:00Z", "guided --id N --cell", &[&low]);
    assert!(resting.out.contains("until 2026-11-25 13:00"), "{}{}", resting.out, resting.err);
}

#[test]
fn a_label_that_contradicts_the_book_is_told_by_every_command_that_writes_there() {
    let shop = Shop::new();
    let (high, low) = (shop.label("high.toml", 4.35, 5.1), shop.label("low.toml", 4.2, 3.0));
    let assess = "assess --id O --simulated sound --no-signs --cell";
    assert!(!shop.at(NOON, assess, &[&high]).err.contains("another label"));
    let second = shop.at(NOON, assess, &[&low]);
    for told in [&second.err, &second.out] {
        let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            told.contains("charge limit 4.35 V there, 4.2 V now; rated capacity 5.1 Ah there, 3 Ah"),
            "{told}"
        );
    }
    assert_eq!(shop.at(NOON, "book recompute 2", &[]).code, 0);
    let file = shop.folder.path().join("night.toml");
    let text = "[[cell]]\nid = \"O\"\nsimulated = \"sound\"\nno_signs = true\nextent = \"rest\"\ncell = \"high.toml\"\n";
    std::fs::write(&file, text).expect("a file");
    let batch = shop.at(NOON, "batch", &[&file.to_string_lossy()]);
    assert!(batch.err.contains("entry 2 has another label"), "{}", batch.err);
    // A trace from elsewhere is of a real cell, so of another one.
    let grade = "grade traces/two_level.csv --id OO --no-signs --cell";
    assert_eq!(shop.at(NOON, grade, &[&high]).code, 0);
    let graded = shop.at(NOON, grade, &[&low]);
    assert!(graded.err.contains("entry 4 has another label"), "{}", graded.err);
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
    let book = Book::open_read_only(shop.book()).expect("a book");
    let steps = book.entries(&Filter::default()).expect("entries");
    assert_eq!(steps.iter().filter(|entry| entry.kind == "capacity_run").count(), 2);
}

#[test]
fn a_batch_charges_no_deeply_discharged_cell_and_tells_nobody_to() {
    let shop = Shop::new();
    let file = shop.folder.path().join("night.toml");
    let text = "[[cell]]\nid = \"Q\"\nsimulated = \"deeply-discharged\"\nno_signs = true\n";
    std::fs::write(&file, text).expect("a file");
    let batch = shop.at(NOON, "batch", &[&file.to_string_lossy()]);
    assert!(batch.out.contains("UNDECIDED") && batch.out.contains("deeply discharged"), "{}", batch.out);
    assert!(batch.err.contains("not to be charged again"), "{}", batch.err);
    shop.never_charged("Q", "deeply discharged");
    let full = shop.at(NOON, "assess --id R --simulated deeply-discharged --no-signs --extent full", &[]);
    assert!(full.out.contains("deeply discharged"), "{}", full.out);
}
