//! Damaged, critical and reacting cells in custody: a way of their own, the emergency text first, no question after it.

use celltriage_tests::{ABLE, BY, NOON, Shop};

#[test]
fn damaged_and_critical_cells_take_their_own_way() {
    let shop = Shop::of_a_real_day();
    shop.does(&["container", "open", "IN-1", "--kind", "intact", "--place", "US", "--stands", "shelf"]);
    shop.does(&[
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
    shop.does(&[
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

    // PE-0405 was warm at rest; then it reacts: critical, before anybody has judged it.
    shop.does(&[
        "container",
        "hold",
        "PE-0405",
        "--because",
        "warm in its drawer",
        "--stands",
        "concrete floor, yard",
    ]);
    let active = shop.does(&["container", "inspect", "PE-0405", "--look", "active"]);
    assert!(active.err.starts_with("DANGER: STOP"), "{}", active.err);
    let told = shop.refuses(&["container", "place", "Q-1", "PE-0405", "--inner", "a"]);
    assert!(told.contains("critical: it is not moved and not sent"), "{told}");
    let due = shop.prints(&["due"]);
    assert!(due.lines().next().unwrap().contains("CRITICAL: do not move it"), "{due}");
    assert!(due.contains("look at it") && due.contains("2026-12-23"), "{due}");
    assert!(shop.refuses(&["container", "release", "PE-0405", "--because", "x"]).contains("critical"));

    // PE-0404 is swollen: damaged, one inner packing, no papers before a person has judged it.
    let told = shop.refuses(&["container", "place", "DD-1", "PE-0404"]);
    assert!(told.contains("inner packing of its own"), "{told}");
    shop.does(&["container", "place", "DD-1", "PE-0404", "--inner", "a", "--mass-g", "71"]);
    let told = shop.refuses(&["container", "place", "DD-1", "PE-0407", "--inner", "a"]);
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
    assert!(shop.refuses(&draft).contains("nobody has judged cell PE-0404"));
    let told = shop.refuses(
        &[&["judge", "PE-0404", "--state", "intact_waste", "--as-recorded", "--because", "x"][..], &ABLE]
            .concat(),
    );
    assert!(told.contains("counts as damaged: swollen") && told.contains("only striking"), "{told}");
    shop.judge("PE-0404", "damaged_or_defective", &[]);
    let drafted = shop.does(&draft);
    for part in [
        "\"Damaged/defective lithium ion battery\", letters at least 12 mm high",
        "173.185(f)",
        "at least 1;",
        "verify with",
    ] {
        assert!(drafted.out.contains(part), "{part}: {}", drafted.out);
    }
    // It becomes critical after the draft: nothing leaves.
    shop.does(&["shipment", "agree", "S-2", "--reference", "telephone"]);
    let alarm = shop.does(&["container", "escalate", "PE-0404", "--because", "hisses"]);
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
    assert!(shop.refuses(&hand_over).contains("cell PE-0404 is critical"));
    assert!(shop.story("PE-0404").contains("CRITICAL: hisses"));
}

/// What must be done first differs from place to place; the text of where the cell is comes first.
#[test]
fn the_emergency_text_is_that_of_where_the_cell_is() {
    let shop = Shop::of_a_real_day();
    let rules = tempfile::tempdir().unwrap();
    let pack = "schema = \"celltriage.rules/1\"\nplace = \"NZ\"\ntitle = \"ours\"\nversion = \"1\"\n\
                checked_on = \"2026-11-25\"\nreview_by = \"2027-05-25\"\nauthority = \"the fire officer\"\n\
                [[rule]]\nid = \"nz.out\"\nkind = \"emergency\"\nconditions = [\"critical\"]\nseverity = \"danger\"\n\
                text = \"Go to the meeting point at the harbour wall.\"\ncite = \"fire plan\"\nseen = \"official\"\n";
    std::fs::write(rules.path().join("ours.toml"), pack).unwrap();
    let folder = rules.path().to_str().unwrap();
    let told = |typed: &[&str]| {
        let done = shop.call(NOON, &[typed, &["--rules", folder], &BY].concat(), None);
        assert_eq!(done.code, 0, "{typed:?}: {}", done.err);
        done.err.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let ours = "Go to the meeting point at the harbour wall.";
    let judged = ["judge", "PE-0404", "--state", "critical", "--answer", "acute_hazard=yes"];
    assert!(!told(&[&judged[..], &ABLE].concat()).contains(ours), "no place is known");
    assert!(told(&[&judged[..], &ABLE, &["--place", "NZ"]].concat()).contains(ours));
    assert!(told(&["judge", "PE-0404", "--place", "NZ"]).contains(ours), "it is critical");
    let mistyped = shop.call(NOON, &[&judged[..], &ABLE, &BY, &["--place", "New Zealand"]].concat(), None);
    assert!(mistyped.code == 2 && mistyped.err.starts_with("DANGER: STOP"), "{}", mistyped.err);
    shop.does(&["container", "open", "DD-1", "--kind", "damaged", "--place", "NZ", "--stands", "yard"]);
    shop.judge("PE-0406", "damaged_or_defective", &[]);
    shop.does(&["container", "place", "DD-1", "PE-0406", "--inner", "A", "--mass-g", "68"]);
    shop.does(&["container", "take-out", "PE-0406", "--because", "warm"]);
    shop.does(&["container", "open", "Q-1", "--kind", "quarantine", "--place", "NZ", "--stands", "yard"]);
    shop.does(&["container", "hold", "PE-0406", "--because", "warm", "--stands", "yard"]);
    shop.does(&["container", "place", "Q-1", "PE-0406", "--inner", "B"]);
    assert!(told(&["container", "inspect", "PE-0406", "--look", "active"]).contains(ours));
    assert!(told(&["container", "escalate", "PE-0406", "--because", "hisses"]).contains(ours));
}

/// Also where the judgement is critical and the hazard is over, no question follows that scrolls the alarm away.
#[test]
fn no_question_follows_a_critical_judgement() {
    let shop = Shop::of_a_real_day();
    let typed = ["judge", "PE-0407", "--state", "critical"];
    let told = shop.call(NOON, &[&typed[..], &ABLE, &BY].concat(), Some(&["n", "n", "n"]));
    assert_eq!(told.code, 0, "{}", told.err);
    assert_eq!(told.err.matches("asked: ").count(), 1, "{}", told.err);
}

#[test]
fn a_reacting_cell_is_told_of_before_anything_else_and_stops_the_questions() {
    let shop = Shop::of_a_real_day();
    let typed = ["judge", "PE-0407", "--state", "critical"];
    let told = shop.call(NOON, &[&typed[..], &ABLE, &BY].concat(), Some(&["y", "n", "n"]));
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(told.err.starts_with("DANGER: STOP"), "{}", told.err);
    assert_eq!(told.err.matches("asked: ").count(), 1, "nobody stays beside it to answer: {}", told.err);
    for typed in [
        &["container", "hold", "PE-0407", "--because", "hisses", "--stands", "yard"][..],
        &["container", "inspect", "PE-0407", "--look", "active"],
        &["container", "escalate", "PE-0407", "--because", "smokes"],
    ] {
        let told = shop.does(typed);
        assert_eq!(told.err.starts_with("DANGER: STOP"), typed[1] != "hold", "{typed:?}: {}", told.err);
    }
    let told = shop.call(NOON, &["book", "show", "PE-0407"], None).out;
    assert!(told.contains("legal state  critical") && told.contains("CRITICAL: do not move it"), "{told}");
}
