//! The whole way of a cell through the command line: from the demo's day over judgement and container to hand-over.

#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests: a panic is the verdict

use celltriage_book::Book;
use celltriage_tests::{Call, call, call_at, call_in, real_day};
use std::path::PathBuf;

/// A workshop with the book that `demo` leaves behind, as if a real fixture had measured its cells.
struct Workshop {
    _folder: tempfile::TempDir,
    book: PathBuf,
}

const WHO: [&str; 2] = ["--by", "Ines Harrow"];
const ABLE: [&str; 2] = ["--qualification", "battery technician with the maker's criteria"];

impl Workshop {
    fn after_the_demo() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let book = folder.path().join("book.sqlite");
        real_day(&book);
        Self { book, _folder: folder }
    }

    fn run(&self, typed: &[&str], answers: Option<&[&str]>) -> Call {
        let book = self.book.to_str().unwrap();
        let (command, rest) = typed.split_first().unwrap();
        let all: Vec<&str> = [*command, "--book", book].into_iter().chain(rest.iter().copied()).collect();
        call(&all, answers)
    }

    /// Runs a command that reads.
    fn ask(&self, typed: &[&str]) -> String {
        let done = self.run(typed, None);
        assert_eq!(done.code, 0, "{typed:?}: {}", done.err);
        done.out
    }

    /// Runs a command that writes.
    fn must(&self, typed: &[&str]) -> Call {
        let done = self.run(&[typed, &WHO].concat(), None);
        assert_eq!(done.code, 0, "{typed:?}: {}", done.err);
        done
    }

    /// Runs a command that is refused, and returns what it says.
    fn refused(&self, typed: &[&str]) -> String {
        let before = self.last_entry();
        let done = self.run(&[typed, &WHO].concat(), None);
        assert_eq!(done.code, 2, "{typed:?}: {}{}", done.out, done.err);
        assert!(done.err.starts_with("error: ") && done.err.contains("\nhint: "), "{}", done.err);
        assert_eq!((done.out.as_str(), self.last_entry()), ("", before), "nothing printed, nothing written");
        done.err
    }

    fn judge(&self, cell: &str, state: &str, more: &[&str]) -> Call {
        let typed = ["judge", cell, "--state", state, "--as-recorded"];
        let rest = ["--answer", "short_circuit_protection=no", "--answer", "safety_features=no"];
        self.must(&[&typed[..], &rest, &ABLE, more].concat())
    }

    fn last_entry(&self) -> u32 {
        let entries = Book::open_read_only(&self.book).unwrap().entries(&Default::default()).unwrap();
        entries.first().map_or(0, |entry| entry.number)
    }

    fn story(&self, cell: &str) -> String {
        self.ask(&["book", "show", cell])
    }
}

#[test]
fn a_faded_cell_goes_from_the_demo_to_the_recycler() {
    let shop = Workshop::after_the_demo();
    let page = shop.ask(&["judge", "PE-0402"]);
    // It fits a screen: what was answered with no stands there by its name.
    assert!(page.lines().count() <= 30 && page.contains("no at the bench: acute_hazard"), "{page}");
    assert!(page.contains("handled as  unknown, to be treated as damaged"), "{page}");
    assert!(
        page.contains("proposed    waste without damage")
            && page.contains("graded      recycle on 2026-11-25"),
        "{page}"
    );
    assert!(page.contains("short_circuit_protection") && page.contains("[SP 376 note (d)]"), "{page}");

    // Without every answer it stays damaged.
    let told = shop
        .refused(&[&["judge", "PE-0402", "--state", "intact_waste", "--as-recorded"][..], &ABLE].concat());
    assert!(told.contains("not answered: short_circuit_protection, safety_features"), "{told}");
    shop.must(&[
        "container",
        "open",
        "IN-1",
        "--kind",
        "intact",
        "--place",
        "DE",
        "--stands",
        "steel shelf, yard",
        "--tare-kg",
        "2.5",
    ]);
    let told = shop.refused(&["container", "place", "IN-1", "PE-0402"]);
    assert!(told.contains("never mixed") && told.contains("nothing was written"), "{told}");

    let from = ["--device", "scanner 17", "--removed-on", "2026-11-20", "--photo", "album 3, page 2"];
    shop.judge("PE-0402", "intact_waste", &from);
    let placed = shop.must(&["container", "place", "IN-1", "PE-0402"]);
    assert!(placed.err.contains("mass of cell PE-0402 is not known, so it counts as 2 kg"), "{}", placed.err);
    assert!(placed.err.contains("warning: limit passed: heaviest cell"), "{}", placed.err);
    shop.must(&["container", "weigh", "PE-0402", "--mass-g", "68.4"]);
    let shown = shop.ask(&["container", "show", "IN-1"]);
    assert!(shown.contains("1 cell, 68.4 g") && shown.contains("discarded 2026-11-25"), "{shown}");
    assert!(
        shown.contains(
            "gross mass of the package: 2.569 kg; at most 30 kg (easy road rule SP 636), not passed"
        ),
        "{shown}"
    );

    let draft = [
        "shipment",
        "draft",
        "S-1",
        "--container",
        "IN-1",
        "--receiver",
        "Gull Point Recycling",
        "--gross-kg",
        "2.6",
    ];
    let told = shop.refused(&[&draft[..], &["--mode", "air"]].concat());
    assert!(told.contains("no papers for air") && told.contains("A183"), "{told}");
    let drafted = shop.must(&[&draft[..], &["--mode", "road"]].concat());
    for part in [
        "DRAFT, TO BE CHECKED BY A TRAINED PERSON",
        "UN 3480",
        "SP 636",
        "\"LITHIUM BATTERIES FOR RECYCLING\"",
        "16 06 05",
        "receiver agreed    NOT YET",
        "Ines Harrow, battery",
    ] {
        assert!(drafted.out.contains(part), "{part}: {}", drafted.out);
    }
    let told = shop.refused(&["container", "take-out", "PE-0402", "--because", "second thoughts"]);
    assert!(told.contains("papers are drafted"), "{told}");

    let hand_over = [
        "shipment",
        "hand-over",
        "S-1",
        "--document",
        "D-17",
        "--received-by",
        "driver Okoro",
        "--checked-by",
        "Ines Harrow",
        "--training",
        "dangerous goods, 3 March 2026",
    ];
    assert!(shop.refused(&hand_over).contains("no receiver has agreed"));
    shop.must(&["shipment", "agree", "S-1", "--reference", "letter of 20 November"]);
    let told = shop.refused(&hand_over);
    assert!(told.contains("on that day: 16 06 05, 20 01 34, 20 01 33*"), "{told}");
    let told = shop.refused(&[&hand_over[..], &["--waste-code", "16 06 07*"]].concat());
    assert!(told.contains("may not be used on 2026-11-25"), "{told}");
    shop.must(&[&hand_over[..], &["--waste-code", "16 06 05"]].concat());

    for typed in [
        &["container", "weigh", "PE-0402", "--mass-g", "70"][..],
        &["container", "take-out", "PE-0402", "--because", "x"],
        &["container", "place", "IN-1", "PE-0402"],
        &["container", "hold", "PE-0402", "--because", "x", "--stands", "yard"],
    ] {
        let told = shop.refused(typed);
        assert!(told.contains("was handed over with shipment S-1 on 2026-11-25"), "{told}");
    }
    let json: serde_json::Value =
        serde_json::from_str(&shop.ask(&["shipment", "show", "S-1", "--json"])).unwrap();
    assert_eq!(json["notice"], "draft, to be checked by a trained person");
    assert_eq!(
        (&json["stage"], &json["handed_over"]["waste_code"]),
        (&"handed_over".into(), &"16 06 05".into())
    );
    assert_eq!(json["draft"]["contents"][0]["mass"], 68_400);
    assert!(shop.ask(&["shipment", "list"]).contains("handed over on 2026-11-25"));

    let told = shop.story("PE-0402");
    let kinds = [
        "PE-0402 RECYCLE",
        "PE-0402 judged: waste without damage",
        "answered no: acute_hazard",
        "taken out of scanner 17 on 2026-11-20",
        "photograph: album 3, page 2",
        "PE-0402 put into container IN-1",
        "PE-0402 weighed 68.4 g",
        "S-1 papers drafted for container IN-1",
        "S-1 receiver agreed: letter of 20 November",
        "S-1 handed over to driver Okoro, document D-17, waste code 16 06 05",
        "\nNOW\n",
        "legal state  waste without damage",
        "where        handed over with shipment S-1 on 2026-11-25",
    ];
    let places: Vec<usize> =
        kinds.iter().map(|kind| told.find(kind).unwrap_or_else(|| panic!("{kind}: {told}"))).collect();
    assert!(places.is_sorted(), "{told}");
    // By the number of its entry the decision comes first, then what happened since.
    let in_full = shop.ask(&["book", "show", "5"]);
    assert!(in_full.contains("PE-0402") && in_full.ends_with(&told), "{in_full}");
    let judged = shop.ask(&["book", "show", "14"]);
    assert!(
        judged.contains("judged: waste without damage") && judged.contains("decided to discard"),
        "{judged}"
    );
    let json: serde_json::Value =
        serde_json::from_str(&shop.ask(&["book", "show", "PE-0402", "--json"])).unwrap();
    assert_eq!(
        (&json["schema"], &json["now"]["legal_state"][0]),
        (&"celltriage.story/1".into(), &"waste without damage".into())
    );
    assert_eq!(json["happened"].as_array().unwrap().len(), 7);
    assert!(shop.run(&["book", "show", "PE-9999"], None).err.contains("knows no cell PE-9999"));
    assert!(!shop.story("PE-0403").contains("S-1"), "another cell's story");
    assert!(shop.ask(&["book", "verify"]).contains("each as it was written"));
}

#[test]
fn damaged_and_critical_cells_take_their_own_way() {
    let shop = Workshop::after_the_demo();
    shop.must(&["container", "open", "IN-1", "--kind", "intact", "--place", "US", "--stands", "shelf"]);
    shop.must(&[
        "container",
        "open",
        "DD-1",
        "--kind",
        "damaged",
        "--place",
        "US",
        "--stands",
        "drum in the yard",
    ]);
    shop.must(&[
        "container",
        "open",
        "Q-1",
        "--kind",
        "quarantine",
        "--place",
        "US",
        "--stands",
        "sand box in the yard",
    ]);

    // PE-0405 warms by itself: critical as it is proposed, before anybody has judged it.
    let told = shop.refused(&["container", "place", "Q-1", "PE-0405", "--inner", "a"]);
    assert!(told.contains("critical: it is not moved and not sent"), "{told}");
    shop.must(&[
        "container",
        "hold",
        "PE-0405",
        "--because",
        "warm in its drawer",
        "--stands",
        "concrete floor, yard",
    ]);
    let active = shop.must(&["container", "inspect", "PE-0405", "--look", "active"]);
    assert!(active.err.starts_with("DANGER: STOP"), "{}", active.err);
    let due = shop.ask(&["due"]);
    assert!(due.lines().next().unwrap().contains("CRITICAL: do not move it"), "{due}");
    assert!(due.contains("look at it") && due.contains("2026-12-23"), "{due}");
    assert!(shop.refused(&["container", "release", "PE-0405", "--because", "x"]).contains("critical"));

    // PE-0404 is swollen: damaged, one inner packing, no papers before a person has judged it.
    let told = shop.refused(&["container", "place", "DD-1", "PE-0404"]);
    assert!(told.contains("inner packing of its own"), "{told}");
    shop.must(&["container", "place", "DD-1", "PE-0404", "--inner", "a", "--mass-g", "71"]);
    let told = shop.refused(&["container", "place", "DD-1", "PE-0407", "--inner", "a"]);
    assert!(told.contains("holds cell PE-0404 already"), "{told}");
    let draft = [
        "shipment",
        "draft",
        "S-2",
        "--container",
        "DD-1",
        "--mode",
        "road",
        "--receiver",
        "Gull Point",
        "--gross-kg",
        "4",
    ];
    assert!(shop.refused(&draft).contains("nobody has judged cell PE-0404"));
    let told = shop.refused(
        &[&["judge", "PE-0404", "--state", "intact_waste", "--as-recorded", "--because", "x"][..], &ABLE]
            .concat(),
    );
    assert!(told.contains("answered yes: cannot_be_diagnosed, swollen"), "{told}");
    shop.judge("PE-0404", "damaged_or_defective", &[]);
    let drafted = shop.must(&draft);
    for part in [
        "\"Damaged/defective lithium ion battery\", letters at least 12 mm high",
        "173.185(f)",
        "at least 1;",
        "verify with",
    ] {
        assert!(drafted.out.contains(part), "{part}: {}", drafted.out);
    }
    // It becomes critical after the draft: nothing leaves.
    shop.must(&["shipment", "agree", "S-2", "--reference", "telephone"]);
    let alarm = shop.must(&["container", "escalate", "PE-0404", "--because", "hisses"]);
    assert!(alarm.err.starts_with("DANGER: STOP"), "{}", alarm.err);
    let hand_over = [
        "shipment",
        "hand-over",
        "S-2",
        "--document",
        "D-18",
        "--received-by",
        "driver",
        "--checked-by",
        "Ines Harrow",
        "--training",
        "2026",
    ];
    assert!(shop.refused(&hand_over).contains("cell PE-0404 is critical"));
    assert!(shop.story("PE-0404").contains("CRITICAL: hisses"));
}

#[test]
fn a_used_cell_gets_its_test_record_only_after_judgement_and_recall_check() {
    let shop = Workshop::after_the_demo();
    let typed = [
        "shipment",
        "used-record",
        "PE-0401",
        "--item",
        "tablet cell 5.1 Ah",
        "--company",
        "Port Ellery Workshop",
        "--address",
        "3 Quay Row, Port Ellery",
        "--recall-checked-on",
        "2026-11-25",
        "--recall-looked-in",
        "maker's list",
    ];
    assert!(shop.refused(&typed).contains("nobody has judged it"));
    shop.judge("PE-0401", "not_waste", &[]);
    shop.must(&["container", "open", "IN-1", "--kind", "intact", "--place", "DE", "--stands", "shelf"]);
    assert!(shop.refused(&["container", "place", "IN-1", "PE-0401"]).contains("reuse"));
    assert!(shop.refused(&[&typed[..], &["--recall-listed"]].concat()).contains("recall list"));
    let made = shop.must(&typed).out;
    for part in [
        "Test record of a used cell",
        "PE-0401",
        "not listed; looked up on 2026-11-25",
        "capacity of rated",
        "annex XIV",
    ] {
        assert!(made.contains(part), "{part}: {made}");
    }
    // Without day and lists it is asked for; without an answer there is no record.
    let without = &typed[..9];
    assert!(shop.refused(without).contains("recall lists"));
    let asked = shop.run(&[without, &WHO].concat(), Some(&["2026-11-24", "maker's list", "n"]));
    assert!(
        asked.code == 0 && asked.out.contains("not listed; looked up on 2026-11-24 in maker's list"),
        "{}",
        asked.err
    );
    let asked = shop.run(&[without, &WHO].concat(), Some(&["2026-11-24", "maker's list", "y"]));
    assert!(asked.code == 2 && asked.err.contains("it is on a recall list"), "{}", asked.err);
    let page = shop.must(&[&typed[..], &["--html"]].concat()).out;
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("declaration of the holder"), "{page}");
    let json = shop.must(&[&typed[..], &["--json"]].concat()).out;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["record"]["recall"]["on"], "2026-11-25");
    assert!(json["record"]["results"].as_array().unwrap().len() >= 3, "{json}");
    // A faded cell gets none.
    let mut other = typed;
    other[2] = "PE-0402";
    assert!(shop.refused(&other).contains("does not grade it for reuse"));
}

#[test]
fn questions_are_asked_and_corrections_are_events() {
    let shop = Workshop::after_the_demo();
    let all = [&["judge", "PE-0402", "--state", "intact_waste", "--as-recorded"][..], &ABLE, &WHO].concat();
    let asked = shop.run(&all, Some(&["n", "n"]));
    assert_eq!(asked.code, 0, "{}", asked.err);
    assert!(asked.err.contains("asked: Voltage or insulation out of limits?"), "{}", asked.err);
    let entry = shop.last_entry();
    shop.must(&["container", "open", "IN-1", "--kind", "intact", "--place", "US", "--stands", "shelf"]);
    let place = [&["container", "place", "IN-1", "PE-0402"][..], &WHO].concat();
    let weighed = shop.run(&place, Some(&["68,4"]));
    assert_eq!(weighed.code, 0, "{}", weighed.err);
    assert!(shop.ask(&["container", "list"]).contains("68.4 g"));
    assert!(shop.ask(&["due"]).contains("2027-11-25  365 days left"));

    let number = entry.to_string();
    let struck =
        shop.must(&["container", "correct", &number, "--because", "wrong cell in the hand", "--strike"]);
    assert!(struck.out.contains(&format!("struck to entry {number} (judgement)")), "{}", struck.out);
    let due = shop.ask(&["due"]).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(due.contains("take it out of its container: cell PE-0402 is unknown"), "{due}");
    for strike in [&["--strike"][..], &[]] {
        let missing = [&["container", "correct", "999", "--because", "x"][..], strike].concat();
        let told = shop.refused(&missing);
        assert!(told.contains("no entry 999") && !told.contains("--strike"), "{told}");
    }
    let told = shop.refused(&["container", "correct", "1", "--because", "x", "--strike"]);
    assert!(told.contains("no event of a cell's custody"), "{told}");
    let json: serde_json::Value =
        serde_json::from_str(&shop.ask(&["due", "--json", "--within", "0"])).unwrap();
    assert!(json["due"].as_array().unwrap().iter().all(|item| item["days_left"].as_i64().unwrap() <= 0));
    assert_eq!(json["site"][0]["unit"], "mg");
}

/// A list that promises the overdue first must not put a thing of today before one that is a year late.
#[test]
fn what_is_overdue_stands_before_what_is_wrong_today() {
    let shop = Workshop::after_the_demo();
    shop.judge("PE-0402", "intact_waste", &[]);
    shop.must(&["container", "open", "IN-1", "--kind", "intact", "--place", "US", "--stands", "shelf"]);
    shop.must(&["container", "place", "IN-1", "PE-0402", "--mass-g", "68.4"]);
    shop.judge("PE-0408", "intact_waste", &["--because", "no use for it"]);
    let book = shop.book.to_str().unwrap();
    let late = call_at("2028-11-25T12:00:00Z", &["due", "--book", book, "--json"], None);
    let json: serde_json::Value = serde_json::from_str(&late.out).unwrap();
    let items: Vec<(&str, i64)> = json["due"]
        .as_array()
        .unwrap()
        .iter()
        .map(|item| (item["urgency"].as_str().unwrap(), item["days_left"].as_i64().unwrap()))
        .collect();
    assert!(items.contains(&("now", 0)) && items.contains(&("dated", -366)), "{}", late.out);
    assert!(items.is_sorted_by_key(|(urgency, left)| (*urgency != "alarm", *left)), "{items:?}");
}

/// What must be done first differs from place to place; the text of where the cell is comes first.
#[test]
fn the_emergency_text_is_that_of_where_the_cell_is() {
    let shop = Workshop::after_the_demo();
    let rules = tempfile::tempdir().unwrap();
    let pack = "schema = \"celltriage.rules/1\"\nplace = \"NZ\"\ntitle = \"ours\"\nversion = \"1\"\n\
                checked_on = \"2026-11-25\"\nreview_by = \"2027-05-25\"\nauthority = \"the fire officer\"\n\
                [[rule]]\nid = \"nz.out\"\nkind = \"emergency\"\nconditions = [\"critical\"]\nseverity = \"danger\"\n\
                text = \"Go to the meeting point at the harbour wall.\"\ncite = \"fire plan\"\nseen = \"official\"\n";
    std::fs::write(rules.path().join("ours.toml"), pack).unwrap();
    let folder = rules.path().to_str().unwrap();
    let told = |typed: &[&str]| {
        let done = shop.run(&[typed, &["--rules", folder], &WHO].concat(), None);
        assert_eq!(done.code, 0, "{typed:?}: {}", done.err);
        done.err.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let ours = "Go to the meeting point at the harbour wall.";
    let judged = ["judge", "PE-0404", "--state", "critical", "--answer", "acute_hazard=yes"];
    assert!(!told(&[&judged[..], &ABLE].concat()).contains(ours), "no place is known");
    assert!(told(&[&judged[..], &ABLE, &["--place", "NZ"]].concat()).contains(ours));
    assert!(told(&["judge", "PE-0404", "--place", "NZ"]).contains(ours), "it is critical");
    let mistyped = shop.run(&[&judged[..], &ABLE, &WHO, &["--place", "New Zealand"]].concat(), None);
    assert!(mistyped.code == 2 && mistyped.err.starts_with("DANGER: STOP"), "{}", mistyped.err);
    shop.must(&["container", "open", "DD-1", "--kind", "damaged", "--place", "NZ", "--stands", "yard"]);
    shop.judge("PE-0406", "damaged_or_defective", &[]);
    shop.must(&["container", "place", "DD-1", "PE-0406", "--inner", "A", "--mass-g", "68"]);
    shop.must(&["container", "take-out", "PE-0406", "--because", "warm"]);
    shop.must(&["container", "open", "Q-1", "--kind", "quarantine", "--place", "NZ", "--stands", "yard"]);
    shop.must(&["container", "hold", "PE-0406", "--because", "warm", "--stands", "yard"]);
    shop.must(&["container", "place", "Q-1", "PE-0406", "--inner", "B"]);
    assert!(told(&["container", "inspect", "PE-0406", "--look", "active"]).contains(ours));
    assert!(told(&["container", "escalate", "PE-0406", "--because", "hisses"]).contains(ours));
}

/// Also where the judgement is critical and the hazard is over, no question follows that scrolls the alarm away.
#[test]
fn no_question_follows_a_critical_judgement() {
    let shop = Workshop::after_the_demo();
    let typed = ["judge", "PE-0407", "--state", "critical"];
    let told = shop.run(&[&typed[..], &ABLE, &WHO].concat(), Some(&["n", "n", "n"]));
    assert_eq!(told.code, 0, "{}", told.err);
    assert_eq!(told.err.matches("asked: ").count(), 1, "{}", told.err);
}

#[test]
fn the_book_may_be_named_before_or_after_what_is_done_with_it() {
    let shop = Workshop::after_the_demo();
    let book = shop.book.to_str().unwrap();
    shop.must(&["container", "open", "IN-1", "--kind", "intact", "--place", "DE", "--stands", "shelf"]);
    for (command, rest) in [
        ("book", &["list"][..]),
        ("book", &["show", "PE-0402"]),
        ("container", &["show", "IN-1"]),
        ("shipment", &["list"]),
    ] {
        let before = call(&[&[command, "--book", book][..], rest].concat(), None);
        let after = call(&[&[command][..], rest, &["--book", book]].concat(), None);
        assert_eq!((before.code, after.code), (0, 0), "{command}: {}{}", before.err, after.err);
        assert_eq!(before.out, after.out);
        assert_eq!(before.out.is_empty(), command == "shipment", "{command}: {}", before.out);
    }
}

#[test]
fn a_mistyped_book_is_an_error_and_no_new_book() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("typo.sqlite");
    let path = book.to_str().unwrap();
    for typed in [
        &["due", "--book", path][..],
        &["judge", "--book", path, "PE-1"],
        &[
            "container",
            "--book",
            path,
            "open",
            "A",
            "--kind",
            "intact",
            "--place",
            "DE",
            "--stands",
            "x",
            "--by",
            "y",
        ],
        &["shipment", "--book", path, "list"],
    ] {
        let done = call(typed, None);
        assert_eq!(done.code, 5, "{typed:?}: {}", done.err);
        assert!(!book.exists());
    }
}

/// The waste codes change at midnight where the shop is, not in Greenwich: OJ L, 2025/90657, 9 December 2026.
#[test]
fn a_day_begins_where_the_shop_is() {
    let shop = Workshop::after_the_demo();
    shop.judge("PE-0402", "intact_waste", &[]);
    shop.must(&["container", "open", "IN-1", "--kind", "intact", "--place", "DE", "--stands", "shelf"]);
    shop.must(&["container", "place", "IN-1", "PE-0402", "--mass-g", "68.4"]);
    let book = shop.book.to_str().unwrap();
    // 22:59 and 23:01 in Greenwich are the two sides of midnight in Germany; so are 10:59 and 11:01 in Auckland's summer.
    for (index, (now, hours, code)) in [
        ("2026-12-08T22:59:00Z", 1, "16 06 05"),
        ("2026-12-08T23:01:00Z", 1, "16 06 07*"),
        ("2026-12-08T10:59:00Z", 13, "16 06 05"),
        ("2026-12-08T11:01:00Z", 13, "16 06 07*"),
        ("2026-12-09T07:59:00Z", -8, "16 06 05"),
        ("2026-12-09T08:01:00Z", -8, "16 06 07*"),
    ]
    .into_iter()
    .enumerate()
    {
        let name = format!("S-{index}");
        let typed = ["shipment", "--book", book, "draft", &name, "--container", "IN-1", "--mode", "road"];
        let rest = ["--receiver", "Gull Point", "--gross-kg", "2", "--json"];
        let zone = jiff::tz::TimeZone::fixed(jiff::tz::offset(hours));
        let made = call_in(now, zone.clone(), &[&typed[..], &rest, &WHO].concat(), None);
        assert_eq!(made.code, 0, "{now}: {}", made.err);
        let papers: serde_json::Value = serde_json::from_str(&made.out).unwrap();
        assert_eq!(papers["draft"]["waste_codes"][0]["code"], code, "{now} {hours:+}");
        let give_up = ["shipment", "--book", book, "withdraw", &name, "--because", "a test"];
        assert_eq!(call_in(now, zone, &[&give_up[..], &WHO].concat(), None).code, 0);
    }
}

#[test]
fn a_reacting_cell_is_told_of_before_anything_else_and_stops_the_questions() {
    let shop = Workshop::after_the_demo();
    let typed = ["judge", "PE-0407", "--state", "critical"];
    let told = shop.run(&[&typed[..], &ABLE, &WHO].concat(), Some(&["y", "n", "n"]));
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(told.err.starts_with("DANGER: STOP"), "{}", told.err);
    assert_eq!(told.err.matches("asked: ").count(), 1, "nobody stays beside it to answer: {}", told.err);
    for typed in [
        &["container", "hold", "PE-0407", "--because", "hisses", "--stands", "yard"][..],
        &["container", "inspect", "PE-0407", "--look", "active"],
        &["container", "escalate", "PE-0407", "--because", "smokes"],
    ] {
        let told = shop.must(typed);
        assert_eq!(told.err.starts_with("DANGER: STOP"), typed[1] != "hold", "{typed:?}: {}", told.err);
    }
    let told = shop.run(&["book", "show", "PE-0407"], None).out;
    assert!(told.contains("legal state  critical") && told.contains("CRITICAL: do not move it"), "{told}");
}
