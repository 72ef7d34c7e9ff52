//! A simulated cell says so wherever it is shown: page, list, label, papers, JSON and book.

use celltriage_tests::{BY, NOON, Shop};

fn first_line(text: &str) -> &str {
    text.lines().next().unwrap_or_default()
}

#[test]
fn it_says_so_in_the_first_line_of_page_list_label_and_papers_and_a_real_one_nowhere() {
    let (shop, real) = (Shop::of_the_demo(), Shop::of_a_real_day());
    for shop in [&shop, &real] {
        shop.boxes("DE", "BOX", "PE-0402");
        shop.drafts("S-1", "BOX");
    }
    for (typed, lines) in [
        // Measured, and kept off the bench for its looks.
        (&["book", "show", "entry:5"][..], 1),
        (&["book", "show", "entry:7"], 1),
        (&["judge", "PE-0402"], 1),
        (&["container", "show", "BOX"], 1),
        (&["container", "label", "BOX"], 1),
        (&["container", "list"], 1),
        (&["shipment", "show", "S-1"], 1),
        (&["shipment", "list"], 1),
        (&["container", "label", "BOX", "--html"], 6),
        (&["shipment", "show", "S-1", "--html"], 60),
    ] {
        let told = shop.prints(typed);
        let head: Vec<&str> = told.lines().take(lines).collect();
        assert!(head.iter().any(|line| line.contains("SIMULATED")), "{typed:?}: {}", first_line(&told));
        let told = real.prints(typed);
        assert!(!told.contains("SIMULATED") && !told.contains("imulated"), "{typed:?}: {told}");
    }
    let list = shop.prints(&["book", "list"]);
    let cells: Vec<&str> = list.lines().filter(|line| line.contains("PE-04")).take(8).collect();
    assert!(cells.len() == 8 && cells.iter().all(|line| line.contains("SIMULATED")), "{list}");
    // Each of the words that are stuck on says so as well.
    let page = shop.prints(&["container", "label", "BOX", "--html"]);
    assert!(page.matches("SIMULATED").count() > page.matches("class=\"words\"").count(), "{page}");
}

/// A simulated fixture's clock runs far ahead of that on the wall.
#[test]
fn no_entry_of_a_simulated_watch_lies_in_the_future() {
    let shop = Shop::new();
    let typed = "hot-cell-watch --id PE-1 --hours 16 --simulated self-warming";
    let watched = shop.unstated(NOON, typed, None);
    assert_eq!(watched.code, 6, "{}", watched.err);
    let entries = shop.entries();
    assert!(entries.len() > 1);
    let began: jiff::Timestamp = NOON.parse().expect("a time");
    for entry in entries {
        // The run takes seconds; the simulated hours are sixteen.
        let ahead = entry.at.duration_since(began).as_secs();
        assert!((0..600).contains(&ahead), "entry {} lies {ahead} s ahead", entry.number);
        assert!(entry.summary.contains("SIMULATED"), "{}", entry.summary);
    }
}

#[test]
fn what_explains_or_shows_it_again_says_so_and_the_sealed_record_keeps_its_bytes() {
    let (shop, real) = (Shop::of_the_demo(), Shop::of_a_real_day());
    let json = |shop: &Shop, typed: &[&str]| -> serde_json::Value {
        serde_json::from_str(&shop.prints(typed)).expect("JSON")
    };
    for typed in [&["explain", "PE-0402"][..], &["book", "show", "PE-0402"]] {
        assert!(first_line(&shop.prints(typed)).contains("SIMULATED"), "{typed:?}: {}", shop.prints(typed));
        assert!(!real.prints(typed).contains("SIMULATED"), "{typed:?}");
    }
    for typed in [
        &["explain", "PE-0402", "--json"][..],
        &["book", "show", "PE-0402", "--json"],
        &["book", "show", "entry:5", "--json"],
    ] {
        assert_eq!(json(&shop, typed)["simulated"], true, "{typed:?}");
        assert!(json(&real, typed).get("simulated").is_none(), "{typed:?}");
    }
    let assess = ["assess", "--simulated", "sound", "--no-signs", "--id", "PE-9", "--json"];
    let printed = json(&shop, &assess);
    assert_eq!(printed["simulated"], true);
    let book = shop.open();
    let sealed = book.entry(shop.newest()).expect("readable").expect("there").result;
    assert!(sealed.get("simulated").is_none(), "only printed");
    // What is printed can be read again.
    let file = shop.file("printed.json", &printed.to_string());
    assert!(first_line(&shop.prints(&["explain", &file])).contains("SIMULATED"));
    shop.prints(&["book", "verify"]);
}

#[test]
fn what_is_done_with_it_says_so_in_the_book() {
    let (shop, real) = (Shop::of_the_demo(), Shop::of_a_real_day());
    for shop in [&shop, &real] {
        shop.prints(&[&["container", "escalate", "PE-0401", "--because", "smoke"][..], &BY].concat());
        shop.boxes("DE", "BOX", "PE-0402");
        shop.drafts("S-1", "BOX");
        shop.prints(&[&["shipment", "agree", "S-1", "--reference", "letter"][..], &BY].concat());
    }
    for text in ["CRITICAL: smoke", "judged", "put into container", "papers drafted", "receiver agreed"] {
        let list = |shop: &Shop| {
            let list = shop.prints(&["book", "find", text]);
            assert!(!list.is_empty(), "{text}");
            list
        };
        let told = list(&shop);
        assert!(told.lines().all(|line| line.contains("[SIMULATED]")), "{text}: {told}");
        assert!(!list(&real).contains("SIMULATED"), "{text}");
    }
    let entry = shop.open().find("smoke").expect("entries").remove(0);
    let number = entry.number.to_string();
    assert!(first_line(&shop.prints(&["book", "show", &format!("entry:{number}")])).contains("SIMULATED"));
    let shown: serde_json::Value =
        serde_json::from_str(&shop.prints(&["book", "show", &format!("entry:{number}"), "--json"]))
            .expect("JSON");
    assert_eq!(shown["simulated"], true);
}

#[test]
fn each_step_of_a_capacity_run_says_so() {
    let shop = Shop::new();
    let first = ["guided", "--id", "PE-9", "--simulated", "sound", "--no-signs", "--thickness-mm", "4.0"];
    let charge = shop.prints(&first);
    assert!(first_line(&charge).contains("SIMULATED") && charge.contains("charge PE-9"), "{charge}");
    let rest = shop.prints(&["guided", "--id", "PE-9", "--charged"]);
    assert!(first_line(&rest).contains("SIMULATED") && rest.contains("let PE-9 rest"), "{rest}");
    assert!(first_line(&shop.prints(&["guided", "--list"])).contains("SIMULATED"));
    for (typed, place) in
        [(&["guided", "--id", "PE-9", "--json"][..], ""), (&["guided", "--list", "--json"], "/runs/0")]
    {
        let told: serde_json::Value = serde_json::from_str(&shop.prints(typed)).expect("JSON");
        assert_eq!(told.pointer(place).expect("there")["simulated"], true, "{typed:?}: {told}");
    }
    let list = shop.prints(&["book", "list"]);
    assert!(list.lines().all(|line| line.contains("SIMULATED")), "{list}");
}
