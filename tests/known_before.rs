//! A cell found bad stays bad: whatever is measured later, what the book has of it comes first and decides, until a person
//! strikes the entry with a reason and a name.

use celltriage_book::{Book, Filter};
use celltriage_tests::{Call, call_at};

const NOON: &str = "2026-11-25T12:00:00Z";
const LATER: &str = "2026-11-25T18:00:00Z";
/// A full test after a look with every sign answered no and a thickness in order: all that earns a reuse.
const FULL: [&str; 8] =
    ["--simulated", "sound", "--extent", "full", "--no-signs", "--thickness-mm", "4.0", "--thickness-mm"];
const WHO: [&str; 4] = ["--by", "Ines Harrow", "--because", "wrong cell in the hand"];
const ABLE: [&str; 2] = ["--qualification", "battery technician with the maker's criteria"];

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

    fn at(&self, now: &str, typed: &str, more: &[&str]) -> Call {
        let book = self.book();
        let mut all: Vec<&str> = typed.split_whitespace().collect();
        all.extend_from_slice(more);
        all.splice(1..1, ["--book", &book]);
        call_at(now, &all, None)
    }

    fn must(&self, now: &str, typed: &str, more: &[&str]) -> Call {
        let done = self.at(now, typed, more);
        assert_eq!(done.code, 0, "{typed}: {}{}", done.out, done.err);
        done
    }

    fn full(&self, now: &str, cell: &str) -> Call {
        self.at(now, &format!("assess --id {cell}"), &[&FULL[..], &["4.0"]].concat())
    }

    fn judge(&self, now: &str, cell: &str, state: &str) -> Call {
        let mut typed = format!("judge {cell} --state {state}");
        for question in [
            "acute_hazard",
            "casing_open",
            "identified_defective",
            "leaked_or_vented",
            "cannot_be_diagnosed",
            "mechanical_damage",
            "swollen",
            "discoloured",
            "misuse",
            "short_circuit_protection",
            "safety_features",
            "internal_safety_components",
        ] {
            typed.push_str(&format!(" --answer {question}=no"));
        }
        self.at(now, &typed, &[&WHO[..], &ABLE].concat())
    }

    fn strike(&self, now: &str, entry: u32) -> Call {
        self.must(now, &format!("container correct {entry} --strike"), &WHO)
    }

    fn entries(&self) -> usize {
        Book::open_read_only(self.book()).expect("a book").entries(&Filter::default()).expect("entries").len()
    }

    /// Sees that a full test is refused: told first, recorded without a load, quarantined by a criterion of its own.
    fn kept_off(&self, now: &str, cell: &str, why: &str) {
        let call = self.full(now, cell);
        let first = format!("Known before: {cell}: {why}");
        assert!(call.err.starts_with(&first), "{cell}: {}", call.err);
        assert!(call.out.contains("Q U A R A N T I N E") && !call.out.contains("R E U S E"), "{}", call.out);
        assert!(!call.err.contains(" A for "), "no load: {}", call.err);
        let head: Vec<&str> = call.out.lines().take(2).collect();
        assert!(head.iter().any(|line| line.starts_with(&format!("Known before: {why}"))), "{head:?}");
        let json = self.at(now, &format!("assess --json --id {cell}"), &[&FULL[..], &["4.0"]].concat());
        let json: serde_json::Value = serde_json::from_str(&json.out).expect("JSON");
        let reasons = json["verdict"]["reasons"].as_array().expect("reasons");
        let known = reasons.iter().find(|reason| reason["criterion"] == "known_before").expect("a reason");
        assert_eq!(
            (known["finding"].as_str(), known["on_fail"].as_str()),
            (Some("fail"), Some("quarantine"))
        );
        assert!(known["text"].as_str().expect("text").contains("(entry "), "{known}");
        assert_eq!(json["conditions"]["run"]["outcome"], "not_measured");
        let newest = self.entries();
        let again = self.at(now, &format!("book recompute {newest}"), &[]);
        assert_eq!(again.code, 0, "{}{}", again.out, again.err);
    }
}

#[test]
fn a_sound_cell_with_nothing_known_earns_reuse_by_the_same_test() {
    let shop = Shop::new();
    let call = shop.full(NOON, "PE-1");
    assert!(call.out.contains("R E U S E"), "{}{}", call.out, call.err);
    assert!(!call.out.contains("Known before") && !call.err.contains("Known before"));
}

#[test]
fn every_sign_once_found_stays_found() {
    let shop = Shop::new();
    for (sign, words) in [("swollen", "swollen"), ("leaked", "leaked"), ("recalled", "recalled")] {
        let cell = format!("PE-{sign}");
        shop.must(NOON, &format!("assess --simulated sound --sign {sign}=yes --id {cell}"), &[]);
        shop.kept_off(LATER, &cell, &format!("{words}, 2026-11-25 (entry "));
        assert_eq!(shop.judge(LATER, &cell, "not_waste").code, 2);
    }
}

#[test]
fn a_struck_entry_no_longer_counts_and_stays_readable() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id V-1 --simulated sound --sign swollen=yes", &[]);
    shop.kept_off(LATER, "V-1", "swollen, 2026-11-25 (entry 1)");
    let nameless = shop.at(LATER, "container correct 1 --strike", &["--because", "x", "--by", " "]);
    assert_eq!(nameless.code, 2, "{}", nameless.err);
    shop.strike(LATER, 1);
    // The two decisions that only repeated it are no findings of their own.
    let call = shop.full(LATER, "V-1");
    assert!(call.out.contains("R E U S E"), "{}{}", call.out, call.err);
    for typed in ["book show 1", "book show V-1"] {
        let told = shop.must(LATER, typed, &[]).out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            told.contains("STRUCK by Ines Harrow on 2026-11-25 (entry 4): wrong cell in the hand"),
            "{typed}: {told}"
        );
        assert!(told.contains("The cell is swollen"), "{typed}: {told}");
    }
    assert_eq!(shop.judge(LATER, "V-1", "not_waste").code, 0);
    assert_eq!(shop.at(NOON, "book verify", &[]).code, 0);
}

/// A decision that counts no more leaves the cell undecided, never as mild as it was before.
#[test]
fn striking_a_decision_gives_no_leave() {
    let shop = Shop::new();
    assert!(shop.full(NOON, "PE-2").out.contains("R E U S E"));
    shop.strike(LATER, 1);
    let page = shop.must(LATER, "judge PE-2", &[]).out;
    assert!(page.contains("unknown, to be treated as damaged"), "{page}");
    let charge = shop.at(LATER, "guided --id PE-2", &[]);
    assert!(charge.code == 2 && charge.out.is_empty(), "{}{}", charge.out, charge.err);
}

#[test]
fn a_persons_word_and_an_alarm_stand_too() {
    let shop = Shop::new();
    shop.full(NOON, "J-1");
    assert_eq!(shop.judge(NOON, "J-1", "damaged_or_defective").code, 0);
    shop.kept_off(
        LATER,
        "J-1",
        "judged damaged or defective, not critical, 2026-11-25 (entry 2, Ines Harrow)",
    );
    shop.full(NOON, "H-1");
    shop.must(NOON, "container hold H-1 --stands yard", &WHO);
    shop.kept_off(LATER, "H-1", "under watch: wrong cell in the hand, 2026-11-25");
    shop.full(NOON, "E-1");
    shop.must(NOON, "container escalate E-1", &WHO);
    shop.kept_off(LATER, "E-1", "found critical: wrong cell in the hand, 2026-11-25");
    shop.full(NOON, "A-1");
    let alarm = shop.at(NOON, "hot-cell-watch --id A-1 --hours 2 --simulated self-warming", &[]);
    assert_eq!(alarm.code, 6, "{}", alarm.err);
    shop.kept_off(LATER, "A-1", "alarm of the hot-cell watch: ");
    // No charge, no serving again, and it is among what falls due.
    assert_eq!(shop.at(LATER, "guided --id A-1", &[]).code, 2);
    assert_eq!(shop.judge(LATER, "A-1", "not_waste").code, 2);
    assert!(shop.must(LATER, "due", &[]).out.contains("A-1"));
    assert!(shop.must(LATER, "due", &[]).out.contains("CRITICAL: do not move it"));
}

/// An alarm over a cell that nobody has assessed yet is struck as well.
#[test]
fn an_alarm_is_struck_by_its_entry_and_then_a_person_judges() {
    let shop = Shop::new();
    let watch = "hot-cell-watch --id A-2 --hours 2 --simulated self-warming --end-on-alarm";
    assert_eq!(shop.at(NOON, watch, &[]).code, 6);
    shop.kept_off(LATER, "A-2", "alarm of the hot-cell watch: ");
    assert_eq!(shop.judge(LATER, "A-2", "damaged_or_defective").code, 2);
    shop.strike(LATER, 1);
    // Found so once, it stays critical until somebody judges it again.
    shop.kept_off(LATER, "A-2", "critical until a person judges it again");
    assert_eq!(shop.judge(LATER, "A-2", "intact_waste").code, 0);
    assert!(shop.full(LATER, "A-2").out.contains("R E U S E"));
}

#[test]
fn a_reacting_cell_is_not_cleared_in_the_same_minute() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id V-4 --simulated sound --sign active_now=yes", &[]);
    shop.kept_off(LATER, "V-4", "active now, 2026-11-25 (entry 1)");
    let judge = |now: &str, state| shop.judge(now, "V-4", state);
    for state in ["damaged_or_defective", "casing_breached", "intact_waste", "not_waste"] {
        let told = judge(LATER, state);
        assert!(
            told.code == 2 && told.err.contains("stays so: active now (entry 1)"),
            "{state}: {}",
            told.err
        );
    }
    assert_eq!(judge(LATER, "critical").code, 0);
    // A watch of one day is too short; one of four weeks with a cool look at its end is not.
    shop.must(LATER, "container hold V-4 --stands yard --until 2026-11-25", &WHO);
    let look = ["--look", "unchanged", "--temperature-c", "19", "--air-c", "19", "--by", "Ines Harrow"];
    shop.must(LATER, "container inspect V-4", &look);
    let told = judge(LATER, "damaged_or_defective");
    assert!(told.code == 2 && told.err.contains("2026-12-23 or later"), "{}", told.err);
    let after = "2026-12-24T12:00:00Z";
    assert_eq!(judge(after, "damaged_or_defective").code, 2, "nobody has looked since");
    shop.must(after, "container inspect V-4", &look);
    let judged = judge(after, "damaged_or_defective");
    assert_eq!(judged.code, 0, "{}", judged.err);
    // It is damaged then, and not as if nothing had been.
    shop.must(after, "container release V-4", &WHO);
    let call = shop.full(after, "V-4");
    assert!(call.out.contains("Q U A R A N T I N E") && call.out.contains("Known before: active now"));
    assert!(!call.out.contains("critical: may react"), "{}", call.out);
}

/// A danger said to be a month old, a watch that ends today and a look of today: written in one minute, they clear nothing.
#[test]
fn a_danger_written_down_as_an_old_one_counts_from_the_day_of_writing() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id V-5 --simulated sound --no-signs", &[]);
    shop.must(NOON, "container escalate V-5 --on 2026-10-20", &WHO);
    shop.must(NOON, "container hold V-5 --stands yard --until 2026-11-25 --on 2026-10-20", &WHO);
    let look = ["--look", "unchanged", "--temperature-c", "19", "--air-c", "19", "--by", "Ines Harrow"];
    shop.must(NOON, "container inspect V-5", &look);
    let told = shop.judge(LATER, "V-5", "damaged_or_defective");
    assert!(told.code == 2 && told.err.contains("28 days after it was found"), "{}", told.err);
}

/// Worn, undecided, broken off: what tells nothing of a danger bars no test.
#[test]
fn what_bars_no_later_test() {
    let shop = Shop::new();
    for (cell, kind, extent) in [("R-1", "high-resistance", "screen"), ("U-1", "sound", "screen")] {
        shop.must(NOON, &format!("assess --id {cell} --simulated {kind} --no-signs --extent {extent}"), &[]);
        assert!(!shop.full(LATER, cell).out.contains("Known before"), "{cell}");
    }
}

#[test]
fn batch_and_grade_tell_it_first_too() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id B-1 --simulated sound --sign swollen=yes", &[]);
    let file = shop.folder.path().join("night.toml");
    for extent in ["screen", "full"] {
        let text = format!(
            "[[cell]]\nid = \"B-1\"\nsimulated = \"sound\"\nno_signs = true\nextent = \"{extent}\"\n"
        );
        std::fs::write(&file, text).expect("a file");
        let batch = shop.at(LATER, "batch", &[&file.to_string_lossy()]);
        assert!(batch.err.starts_with("Known before: B-1: swollen"), "{}", batch.err);
        assert!(batch.out.contains("QUARANTINE"), "{}", batch.out);
    }
    let grade = "grade traces/two_level.csv --id G-1 --cell labels/scanner_cell.toml";
    shop.must(NOON, grade, &["--sign", "swollen=yes"]);
    let graded = shop.must(LATER, grade, &["--no-signs"]);
    assert!(graded.err.starts_with("Known before: G-1: swollen"), "{}", graded.err);
    assert!(graded.out.starts_with("Known before: swollen"), "{}", graded.out);
    assert!(graded.out.contains("Q U A R A N T I N E"), "{}", graded.out);
    assert_eq!(shop.at(LATER, "book recompute 5", &[]).code, 0);
}

/// Below the voltage at which copper dissolves a cell is never charged again: a later test that goes well changes nothing.
#[test]
fn a_cell_that_once_lay_too_deep_stays_out_of_service() {
    let shop = Shop::new();
    let rest: String = (0..=260).map(|row| format!("{},0.0,1.0,25.0,25.0\n", f64::from(row) * 0.5)).collect();
    let head =
        "Test Time / s,Current / A,Voltage / V,Surface Temperature T1 / degC,Ambient Temperature / degC\n";
    let trace = shop.folder.path().join("deep.csv");
    std::fs::write(&trace, format!("{head}{rest}")).expect("a trace");
    let label = "labels/scanner_cell.toml";
    let typed = format!("grade {} --id DD --cell {label} --no-signs", trace.display());
    assert!(shop.must(NOON, &typed, &[]).out.contains("R E C Y C L E"));
    let again =
        shop.must(LATER, &format!("grade traces/two_level.csv --id DD --cell {label} --no-signs"), &[]);
    assert!(again.err.contains("Known before: DD: rest voltage"), "{}", again.err);
    assert!(
        again.out.contains("R E C Y C L E") && !again.out.contains("harge it to its limit"),
        "{}",
        again.out
    );
    assert_eq!(shop.judge(LATER, "DD", "not_waste").code, 2);
}

#[test]
fn a_name_that_is_nearly_that_of_a_bad_cell_is_asked_about() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id V-9 --simulated sound --no-signs --sign swollen=yes", &[]);
    for name in ["v-9", "V9", "V-9.", "V-\u{200b}9", "V_9"] {
        let call = shop.at(LATER, "assess --simulated sound --no-signs --id", &[name]);
        assert!(call.code == 2 && call.err.contains("V-9, swollen"), "{name:?}: {} {}", call.code, call.err);
    }
    assert_eq!(shop.entries(), 1, "nothing was written");
    shop.must(LATER, "assess --id V-90 --simulated sound --no-signs", &[]);
}

#[test]
fn a_reacting_cell_is_written_down_without_an_assessment_or_a_watch() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id A-1 --simulated sound --no-signs", &[]);
    shop.must(LATER, "container escalate U-1", &WHO);
    shop.must(LATER, "container inspect A-1 --look active", &WHO[..2]);
    for cell in ["U-1", "A-1"] {
        shop.kept_off(LATER, cell, "found critical");
    }
    assert_eq!(shop.at(LATER, "container hold U-2 --stands yard", &WHO).code, 2);
}

/// A watch under a locked book leaves its alarm in a file beside it.
#[test]
fn an_alarm_that_lies_beside_the_book_stops_a_load_too() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id L-1 --simulated sound --no-signs", &[]);
    let beside = |name: &str, cell: &str, cause: &str| {
        let alarm = format!("{{\"cause\":\"{cause}\",\"at_s\":60.0,\"value\":4.7,\"limit\":2.0}}");
        let text = format!(
            "{{\"cell\":\"{cell}\",\"alarms_not_in_the_book\":[{{\"at\":\"2026-11-25T12:00:00Z\",\"alarm\":{alarm}}}]}}"
        );
        std::fs::write(format!("{}.unkept-{name}.json", shop.book()), text).expect("a file");
    };
    beside("1", "L-2", "over_air");
    shop.must(LATER, "assess --id L-1 --simulated sound --no-signs", &[]);
    beside("2", "L-1", "over_air");
    let call = shop.at(LATER, "assess --id L-1 --simulated sound --no-signs", &[]);
    assert!(call.code == 2 && call.err.contains("could not take"), "{} {}", call.code, call.err);
    assert!(!call.err.contains("step 1 of"), "{}", call.err);
}

/// An old page reads as if nothing had been found; what was found after it stands above it.
#[test]
fn what_was_found_later_stands_above_the_page_of_an_earlier_decision() {
    let shop = Shop::new();
    let grade = "grade traces/two_level.csv --no-signs --cell labels/scanner_cell.toml --id";
    for cell in ["Q", "CLEAN"] {
        shop.must(NOON, &format!("{grade} {cell}"), &[]);
    }
    shop.must(NOON, "container escalate Q", &WHO);
    shop.must(NOON, "container escalate CLEAN", &WHO);
    shop.strike(NOON, 4);
    let json = |typed: &str| -> serde_json::Value {
        serde_json::from_str(&shop.must(LATER, typed, &[]).out).expect("JSON")
    };
    let told = "Known of Q: found critical: wrong cell in the hand, 2026-11-25 (entry 3, Ines Harrow)";
    for typed in ["explain Q", "explain 1", "book show 1"] {
        let page = shop.must(LATER, typed, &[]).out;
        assert_eq!(page.lines().next(), Some(told), "{typed}: {page}");
    }
    for (typed, member) in [("explain Q --json", "known"), ("book show 1 --json", "known_since")] {
        let value = json(typed);
        assert_eq!(value[member][0]["entry"], 3, "{typed}: {value}");
        assert_eq!(value[member].as_array().map(Vec::len), Some(1), "{typed}");
    }
    // The entry that tells it does not tell it twice, and a later decision that took it in has it once.
    assert!(!shop.must(LATER, "book show 3", &[]).out.contains("Known of"));
    shop.must(LATER, &format!("{grade} Q"), &[]);
    let newest = shop.entries();
    let page = shop.must(LATER, &format!("book show {newest}"), &[]).out;
    assert!(page.starts_with("Known before: found critical") && !page.contains("Known of"), "{page}");
    // What was struck is known no more, but for the judgement that the cell lacks since.
    let page = shop.must(LATER, "explain CLEAN", &[]).out;
    assert!(page.starts_with("Known of CLEAN: critical until a person judges it again"), "{page}");
    assert_eq!(page.matches("Known of").count(), 1, "{page}");
    let file = shop.folder.path().join("other.sqlite");
    let other = file.to_string_lossy().into_owned();
    let typed: Vec<&str> = grade.split_whitespace().chain(["R", "--book", &other]).collect();
    assert_eq!(call_at(NOON, &typed, None).code, 0);
    for typed in [&["explain", "R", "--book", &other][..], &["book", "--book", &other, "show", "1", "--json"]]
    {
        let page = call_at(LATER, typed, None).out;
        assert!(!page.is_empty() && !page.contains("Known of") && !page.contains("known_since"), "{page}");
    }
}

#[test]
fn a_watch_begins_with_what_is_known() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id W-1 --simulated sound --sign swollen=yes", &[]);
    let watch = "hot-cell-watch --hours 0.01 --simulated sound --id";
    let told = shop.at(LATER, &format!("{watch} W-1"), &[]);
    assert!(told.err.starts_with("Known before: W-1: swollen, 2026-11-25 (entry 1)"), "{}", told.err);
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(!shop.at(LATER, &format!("{watch} W-2"), &[]).err.contains("Known before"));
}

#[test]
fn a_name_without_a_book_is_told_that_no_book_was_asked() {
    let grade = ["grade", "traces/two_level.csv", "--no-signs", "--cell", "labels/scanner_cell.toml"];
    let note = "note: no book was asked about G-2";
    let told = call_at(NOON, &[&grade[..], &["--id", "G-2"]].concat(), None);
    assert!(told.code == 0 && told.err.contains(note) && told.err.contains("--book"), "{}", told.err);
    assert!(!call_at(NOON, &grade, None).err.contains("no book was asked"));
    let shop = Shop::new();
    let told = shop.must(NOON, &[&grade.join(" "), " --id G-2"].concat(), &[]);
    assert!(!told.err.contains("no book was asked"), "{}", told.err);
}
