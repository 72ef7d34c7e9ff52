//! What comes in without a test, through the command line: a customer's tablet with a swollen battery, and a bucket of loose cells.

use celltriage_tests::{ABLE, BY, NOON, Shop};
use serde_json::Value;

/// The words of a text without its lines.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Answers to all that a receipt leaves open.
const REST: [&str; 6] = [
    "--answer",
    "short_circuit_protection=no",
    "--answer",
    "safety_features=no",
    "--answer",
    "cannot_be_diagnosed=no",
];

fn picture(shop: &Shop) -> String {
    let path = shop.path("front.png");
    std::fs::write(&path, b"\x89PNG\r\n\x1a\n and the rest of it").expect("a file");
    path
}

#[test]
fn a_customer_s_tablet_with_a_swollen_battery_is_kept_apart_until_its_owner_agrees() {
    let shop = Shop::new();
    let photo = picture(&shop);
    let bare = ["receive", "TAB-7", "--what", "device-within"];
    assert!(shop_refuses(&shop, &bare).contains("who brought it or where it was found"));
    let typed = ["receive", "TAB-7", "--what", "device-within", "--labelled", "no", "--from", "Mara Quill"];
    let seen = ["--sign", "swollen=yes", "--sign", "leaked=no", "--sign", "recalled=cannot-be-told"];
    let rest = [
        "--whose",
        "bringer",
        "--photo",
        &photo,
        "--mass-g",
        "512",
        "--mass-is",
        "measured",
        "--energy-wh",
        "19",
    ];
    let told = shop.does(&[&typed[..], &seen, &rest].concat());
    let line = flat(&told.out);
    assert!(
        line.contains("received: a device with its battery in it; not labelled; from Mara Quill"),
        "{line}"
    );
    assert!(
        line.contains("SHOWS: swollen") && line.contains("512 g (measured); 19 Wh (estimated)"),
        "{line}"
    );
    assert!(told.err.contains("consent to discard not asked"), "{}", told.err);
    assert!(told.err.contains("nobody has looked for 6 of 9 signs"), "{}", told.err);
    let entry = shop.newest();
    assert!(shop.prints(&["book", "show", &format!("entry:{entry}")]).contains("kept: front.png"));

    let due = flat(&shop.prints(&["due"]));
    assert!(
        due.contains("TAB-7 keep it apart, judge it and put it into a container for damaged cells"),
        "{due}"
    );
    assert!(due.contains("ask whether it may be discarded, or hand it back"), "{due}");
    let shown = flat(&shop.prints(&["judge", "TAB-7", "--place", "DE"]));
    assert!(shown.contains("a device with its battery in it, on 2026-11-25"), "{shown}");
    assert!(shown.contains("damaged or defective") && shown.contains("swollen on receipt"), "{shown}");
    let mild = ["judge", "TAB-7", "--state", "intact_waste", "--as-recorded", "--because", "x"];
    assert!(shop_refuses(&shop, &[&mild[..], &ABLE].concat()).contains("swollen"));
    shop.does(
        &[&["judge", "TAB-7", "--state", "damaged_or_defective", "--as-recorded"][..], &REST, &ABLE].concat(),
    );

    for (name, kind) in [("IN-1", "intact"), ("DD-1", "damaged")] {
        shop.does(&["container", "open", name, "--kind", kind, "--place", "DE", "--stands", "yard"]);
    }
    let wrong = shop_refuses(&shop, &["container", "place", "IN-1", "TAB-7"]);
    assert!(wrong.contains("never mixed"), "{wrong}");
    shop.does(&["container", "place", "DD-1", "TAB-7", "--inner", "a"]);
    let held = flat(&shop.prints(&["container", "show", "DD-1"]));
    assert!(
        held.contains("a device with its battery in it: damaged") && held.contains("19 Wh (estimated)"),
        "{held}"
    );
    assert!(held.contains("512 g, 19 Wh (with what is only estimated)"), "{held}");
    let list = shop.prints(&["container", "list"]);
    assert!(list.contains("(with what is only estimated)"), "{list}");

    let draft =
        ["shipment", "draft", "S-1", "--container", "DD-1", "--mode", "road", "--receiver", "Gull Point"];
    let draft = [&draft[..], &["--gross-kg", "4"]].concat();
    let told = shop_refuses(&shop, &draft);
    assert!(told.contains("not to be discarded: it is of whoever brought it"), "{told}");
    assert!(told.contains("celltriage receive CELL --consent yes"), "{told}");
    shop.does(&["receive", "TAB-7", "--consent", "yes"]);
    let papers = shop.does(&draft).out;
    let flat_papers = flat(&papers);
    for part in ["UN 3481", "CONTAINED IN EQUIPMENT", "512 g (measured)", "\"UN 3481 WASTE\"", "SP 376"] {
        assert!(flat_papers.contains(part), "{part}: {papers}");
    }
    assert!(!flat_papers.contains("\"UN 3480\"") && !flat_papers.contains("UN 3480 Abfall"), "{papers}");
    let story = flat(&shop.story("TAB-7"));
    for part in
        ["recalled", "consent to discard given", "photographs kept with it: front.png", "papers drafted"]
    {
        assert!(story.contains(part), "{part}: {story}");
    }
    // The customer's name can be taken out of the book again.
    shop.does(&["book", "blank", &entry.to_string(), "--because", "she asked for it"]);
    let story = shop.story("TAB-7");
    assert!(!story.contains("Mara Quill") && story.contains("whose"), "{story}");
    assert!(shop.prints(&["book", "verify"]).contains("each as it was written"));
}

#[test]
fn a_bucket_of_cells_is_weighed_counted_boxed_and_sent_as_one() {
    let shop = Shop::new();
    let typed =
        ["receive", "BUCKET-1", "--what", "lot", "--found", "at the door", "--whose", "ours", "--no-signs"];
    let told = shop_refuses(&shop, &[&typed[..], &["--count", "45"]].concat());
    assert!(told.contains("a lot is counted and weighed"), "{told}");
    let figures = [
        "--count",
        "45",
        "--mass-g",
        "2025",
        "--mass-is",
        "measured",
        "--energy-wh",
        "480",
        "--heaviest-g",
        "49",
        "--largest-wh",
        "12.6",
    ];
    let done = shop.does(&[&typed[..], &figures, &["--json"]].concat());
    let told: Value = serde_json::from_str(&done.out).expect("JSON");
    assert_eq!(told["entered"][0]["kind"], "received");
    assert_eq!(told["entered"][0]["event"]["event"]["mass"]["rests_on"], "measured");
    shop.does(
        &[
            &["judge", "BUCKET-1", "--state", "intact_waste", "--as-recorded", "--because", "each looked at"]
                [..],
            &REST,
            &ABLE,
        ]
        .concat(),
    );
    shop.does(&["container", "open", "IN-1", "--kind", "intact", "--place", "US", "--stands", "shelf"]);
    shop.does(&["container", "place", "IN-1", "BUCKET-1"]);
    let shown: Value =
        serde_json::from_str(&shop.prints(&["container", "show", "IN-1", "--json"])).expect("JSON");
    let one = &shown["cells"][0];
    assert_eq!(
        (&one["is"], &one["cells"], &one["energy_rests_on"]),
        (&"lot".into(), &45.into(), &"estimated".into())
    );
    let held = flat(&shop.prints(&["container", "show", "IN-1"]));
    assert!(held.contains("45 cells, 2.025 kg") && held.contains("a lot of loose cells, 45 cells"), "{held}");
    assert!(held.contains("energy estimated: BUCKET-1"), "{held}");
    assert!(flat(&shop.prints(&["due"])).contains("hand over: cell BUCKET-1 was discarded on 2026-11-25"));
    let draft =
        ["shipment", "draft", "S-1", "--container", "IN-1", "--mode", "road", "--receiver", "Gull Point"];
    let papers = flat(&shop.does(&[&draft[..], &["--gross-kg", "3"]].concat()).out);
    for part in [
        "UN3480",
        "BUCKET-1: a lot",
        "of loose cells,",
        "cells, net mass 45, 2.025 kg",
        "largest cell: 12.6 Wh",
    ] {
        assert!(papers.contains(part), "{part}: {papers}");
    }
    shop.does(&["shipment", "agree", "S-1", "--reference", "letter 17"]);
    let left = ["shipment", "hand-over", "S-1", "--document", "D-1", "--received-by", "Okoro"];
    shop.does(&[&left[..], &["--checked-by", "Ines Harrow", "--training", "3 March 2026"]].concat());
    assert!(shop.story("BUCKET-1").contains("handed over"));
}

#[test]
fn before_something_is_mailed_nothing_is_written_and_nothing_promised() {
    let shop = Shop::new();
    for (more, told) in [
        (&["--sign", "swollen=yes"][..], "Told of it: swollen. Do not send it"),
        (&[], "Not looked for, or nobody can tell: active now, leaked"),
        (&["--no-signs"], "that is no leave to send it"),
        (&["--no-signs", "--sign", "misused=cannot-be-told"], "nobody can tell: misused"),
    ] {
        for place in ["US", "DE", "ZZ"] {
            let typed = [&["receive", "--before-mailing", "--place", place][..], more].concat();
            let done = shop.run(NOON, &typed);
            assert_eq!(done.code, 0, "{typed:?}: {}", done.err);
            let first = done.out.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
            assert!(
                first.contains("Swollen, hot, leaking, wet or damaged: do not send it."),
                "{typed:?}: {first}"
            );
            let text = flat(&done.out);
            assert!(text.contains(told), "{typed:?}: {text}");
            assert_eq!(celltriage_rules::promise_in(&text), None, "{text}");
            assert!(place != "US" || text.contains("By post: devices that are used, damaged"), "{text}");
        }
    }
    let json = shop.prints(&["receive", "--before-mailing", "--sign", "leaked=yes", "--json"]);
    let told: Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(
        (&told["schema"], &told["shows"][0]),
        (&"celltriage.before-mailing/1".into(), &"leaked".into())
    );
    let hot = shop.run(NOON, &["receive", "--before-mailing", "--sign", "active_now=yes"]);
    assert!(hot.err.starts_with("DANGER: STOP"), "{}", hot.err);
    assert!(!std::path::Path::new(&shop.book()).exists(), "nothing was written");
}

#[test]
fn a_reacting_thing_is_written_down_with_nothing_but_its_name() {
    let shop = Shop::new();
    let told = shop.does(&["receive", "DOOR-1", "--sign", "active_now=yes"]);
    assert!(told.err.starts_with("DANGER: STOP"), "{}", told.err);
    assert!(!told.err.contains("next:"), "nothing else is asked for now: {}", told.err);
    assert!(shop.prints(&["due"]).lines().next().unwrap_or_default().contains("CRITICAL: do not move it"));
}

/// A refusal, also where the book is begun by it.
fn shop_refuses(shop: &Shop, typed: &[&str]) -> String {
    let done = shop.run(NOON, &[typed, &BY].concat());
    assert_eq!(done.code, 2, "{typed:?}: {}{}", done.out, done.err);
    assert!(done.err.contains("\nhint: "), "{}", done.err);
    done.err
}
