//! Containers live: two drums become one, a box moves, and two boxes leave on one lorry, through the command line.

use celltriage_tests::Shop;
use serde_json::Value;

/// The words of a text without its lines.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn opened(shop: &Shop, name: &str, kind: &str) {
    shop.does(&["container", "open", name, "--kind", kind, "--place", "DE", "--stands", "yard"]);
}

const WHY: [&str; 2] = ["--because", "one is enough"];

#[test]
fn a_drum_is_merged_split_moved_and_emptied_and_nothing_damaged_gets_among_intact_cells() {
    let shop = Shop::of_a_real_day();
    shop.boxes("DE", "IN-1", "PE-0402");
    for (name, kind) in [("DD-1", "damaged"), ("DD-2", "damaged")] {
        opened(&shop, name, kind);
    }
    shop.does(&["container", "place", "DD-1", "PE-0404", "--inner", "a", "--mass-g", "71"]);
    let merge = ["container", "merge", "DD-1", "IN-1"];
    let told = shop.refuses(&[&merge[..], &WHY].concat());
    assert!(told.contains("never mixed") && told.contains("--irregular"), "{told}");
    let done = shop.does(&[&["container", "merge", "DD-1", "DD-2"][..], &WHY].concat());
    assert!(done.out.contains("repacked into container DD-2, all of it, 1 cell or thing"), "{}", done.out);
    assert!(flat(&shop.prints(&["container", "show", "DD-2"])).contains("PE-0404"));
    assert!(flat(&shop.story("PE-0404")).contains("in container DD-2, inner packing a"));
    let none = shop.refuses(&[&["container", "empty", "DD-1"][..], &WHY].concat());
    assert!(none.contains("container DD-1 is empty"), "{none}");

    let moved =
        shop.does(&["container", "move", "DD-2", "--stands", "drum, north wall", "--because", "rain"]);
    assert!(moved.out.contains("container moved to DE, drum, north wall: rain"), "{}", moved.out);
    let corrected = ["container", "move", "DD-2", "--place", "AT", "--corrects", "--because", "a slip"];
    assert!(shop.does(&corrected).out.contains("was written down wrongly: AT, drum, north wall"));
    assert!(shop.prints(&["container", "list"]).contains("AT drum, north wall"));

    let action = ["--irregular", "sorted out at once"];
    let split = ["container", "split", "DD-2", "IN-1", "PE-0404"];
    let told = shop.does(&[&split[..], &WHY, &action].concat());
    assert!(told.out.contains("IRREGULAR: repacked into container IN-1"), "{}", told.out);
    let entry = shop.newest().to_string();
    assert!(flat(&shop.prints(&["due"])).contains("IRREGULAR since"));
    shop.does(&[&["container", "split", "IN-1", "DD-2", "PE-0404"][..], &["--because", "back"]].concat());
    shop.does(&["irregularity", "remedy", &entry, "--done", "back in the drum"]);
    shop.does(&[&["container", "empty", "DD-2"][..], &WHY].concat());
    assert!(flat(&shop.prints(&["due"])).contains("put it into a container"));
    assert!(shop.prints(&["book", "verify"]).contains("each as it was written"));
}

#[test]
fn two_boxes_leave_on_one_lorry_and_count_together() {
    let shop = Shop::of_a_real_day();
    shop.boxes("DE", "IN-1", "PE-0402");
    opened(&shop, "IN-2", "intact");
    opened(&shop, "DD-1", "damaged");
    let lot = ["receive", "LOT-1", "--what", "lot", "--found", "shelf", "--whose", "ours", "--no-signs"];
    let heavy = ["--count", "7000", "--mass-g", "333000", "--mass-is", "measured", "--energy-wh", "70000"];
    let small = ["--heaviest-g", "49", "--largest-wh", "12"];
    shop.does(&[&lot[..], &heavy, &small].concat());
    shop.judge("LOT-1", "intact_waste", &["--answer", "cannot_be_diagnosed=no", "--because", "looked at"]);
    shop.does(&["container", "place", "IN-2", "LOT-1"]);
    let draft =
        ["shipment", "draft", "S-1", "--mode", "road", "--receiver", "Gull Point", "--gross-kg", "340"];
    let with = |names: &[&'static str]| -> Vec<&str> {
        draft.iter().copied().chain(names.iter().flat_map(|name| ["--container", name])).collect()
    };
    shop.does(&["container", "place", "DD-1", "PE-0404", "--inner", "a", "--mass-g", "71"]);
    let told = shop.refuses(&with(&["IN-1", "DD-1"]));
    assert!(told.contains("only from one place and for one kind of cells"), "{told}");
    let papers = flat(&shop.does(&with(&["IN-1", "IN-2"])).out);
    assert!(papers.contains("cells for one vehicle: 333.068 kg; at most 333 kg"), "{papers}");
    assert!(papers.contains("PASSED") && papers.contains("LOT-1 (in IN-2)"), "{papers}");
    let shown: Value =
        serde_json::from_str(&shop.prints(&["shipment", "show", "S-1", "--json"])).expect("JSON");
    assert_eq!(shown["draft"]["more"][0], "IN-2");
    let told = shop.refuses(&["container", "take-out", "LOT-1", "--because", "x"]);
    assert!(told.contains("papers are drafted for container IN-2"), "{told}");
    shop.does(&["shipment", "withdraw", "S-1", "--because", "too heavy"]);
    shop.does(&["container", "take-out", "LOT-1", "--because", "x"]);
}
