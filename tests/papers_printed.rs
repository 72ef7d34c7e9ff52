//! Labels and reports as files, through the command line; what reads them back is in `host/print` and `tests/paper`.

use celltriage_host::settings::surroundings::Surroundings;
use celltriage_tests::{EVENING, NOON, Shop, call_around};
use std::fs;

/// The day's book as if real, with a box of a place whose rules ask for words on it.
fn with_a_box() -> Shop {
    let shop = Shop::of_a_real_day();
    shop.must(NOON, "container open DD-1 --kind damaged --place US --stands shelf --by", &["Ines Harrow"]);
    shop
}

#[test]
fn the_label_of_a_cell_says_what_was_decided_and_names_its_files() {
    let shop = Shop::of_the_demo();
    let (png, pdf) = (shop.path("label.png"), shop.path("label.pdf"));
    let done = shop.must(EVENING, "label PE-0402 --dpi 300 --json --png", &[&png, "--pdf", &pdf]);
    let label = done.json();
    assert_eq!(label["schema"], "celltriage.label/1");
    assert_eq!(label["dots"], serde_json::json!([590, 354]));
    let code = label["code"].as_str().expect("a code");
    assert!(code.starts_with("PE-0402+"), "{code}");
    assert_eq!(label["says"][0], code);
    assert_eq!(label["says"][1], "RECYCLE");
    assert_eq!(label["notices"][0], "SIMULATED: not a real cell, nothing to act on");
    assert_eq!(label["files"][0]["path"], png.as_str());
    assert!(fs::read(&png).expect("a picture").starts_with(b"\x89PNG"));
    assert!(fs::read(&pdf).expect("a PDF").starts_with(b"%PDF-"));
    // The same words without a file.
    let text = shop.must(EVENING, "label PE-0402", &[]).out;
    assert!(text.contains(code) && text.contains("RECYCLE") && text.starts_with("SIMULATED"), "{text}");
}

#[test]
fn size_and_folder_of_labels_are_set_once() {
    let shop = Shop::of_the_demo();
    let around = Surroundings::with_settings_in(shop.folder());
    let typed = ["label", "PE-0402", "--files", "--json"];
    shop.file("settings.toml", "book = \"book.sqlite\"\n");
    let nowhere = call_around(&around, &typed, None);
    assert!(nowhere.code == 2 && nowhere.err.contains("no folder of labels is set"), "{}", nowhere.err);
    shop.file(
        "settings.toml",
        "book = \"book.sqlite\"\nlabel_width_mm = 60\nlabel_dpi = 300\nlabel_folder = \"labels\"\n",
    );
    let done = call_around(&around, &typed, None);
    assert_eq!(done.code, 0, "{}", done.err);
    // 60 mm and 30 mm in whole dots of 300 to the inch.
    assert_eq!(done.json()["dots"], serde_json::json!([708, 354]));
    for ending in ["png", "pdf"] {
        assert!(fs::metadata(shop.path(&format!("labels/PE-0402.{ending}"))).is_ok(), "{ending}");
    }
    // What is typed wins.
    let typed = [&typed[..], &["--width-mm", "50", "--dpi", "203"]].concat();
    assert_eq!(call_around(&around, &typed, None).json()["dots"], serde_json::json!([400, 240]));
}

#[test]
fn a_month_is_counted_on_a_page_and_for_machines() {
    let shop = Shop::of_a_real_day();
    shop.boxes("DE", "IN-1", "PE-0402");
    let told = shop.must(EVENING, "report month 2026-11 --json", &[]).json();
    assert_eq!(told["schema"], "celltriage.month/1");
    let summary = &told["summary"];
    let listed = shop.must(EVENING, "book list --json", &[]).json();
    let decided = listed.as_array().expect("a list").iter().filter(|entry| entry["kind"] == "assessment");
    assert_eq!(summary["decisions"], decided.count());
    assert_eq!(
        (&summary["judged"], &summary["placed"], &summary["simulated"]),
        (&1.into(), &1.into(), &false.into())
    );
    assert!(summary["cells"]["recycle"].as_u64().is_some_and(|count| count > 0), "{summary}");
    let page = shop.must(EVENING, "report month 2026-11", &[]).out;
    assert!(
        page.contains("Month 2026-11") && page.contains(" recycle") && !page.contains("SIMULATED"),
        "{page}"
    );
    // Without a month it is the one before.
    assert!(shop.must(EVENING, "report month", &[]).out.contains("Month 2026-10"));
    assert!(shop.must(EVENING, "report cell:PE-0402", &[]).out.contains("PE-0402"));
    let wrong = shop.at(EVENING, "report month November", &[]);
    assert!(wrong.code == 2 && wrong.err.contains("write year and month, as 2026-11"), "{}", wrong.err);
    assert!(Shop::of_the_demo().must(EVENING, "report month 2026-11", &[]).out.contains("SIMULATED"));
}

#[test]
fn what_has_no_room_or_no_cell_is_told_and_nothing_is_written() {
    let shop = Shop::of_the_demo();
    let png = shop.path("label.png");
    let refused = shop.at(EVENING, "label PE-0402 --width-mm 20 --height-mm 10 --png", &[&png]);
    assert_eq!(refused.code, 2);
    for words in ["does not fit on 20 x 10 mm; it would on ", "nothing was written", "--width-mm"] {
        assert!(refused.err.contains(words), "{}", refused.err);
    }
    assert!(fs::metadata(&png).is_err());
    assert_eq!(shop.at(EVENING, "label PE-9999 --png", &[&png]).code, 2);
    assert_eq!(shop.at(EVENING, "report PE-9999", &[]).code, 2);
}

/// What stands against a cell since is read at the shelf too: no label says "reuse" then.
#[test]
fn a_cell_of_reuse_with_something_against_it_is_on_hold() {
    let shop = Shop::of_a_real_day();
    assert!(shop.must(EVENING, "label PE-0401", &[]).out.contains("REUSE"));
    shop.must(EVENING, "trial incident PE-0401 --what wetted --by", &["Ines Harrow"]);
    let text = shop.must(EVENING, "label PE-0401", &[]).out;
    assert!(text.contains("HOLD") && !text.contains("REUSE") && text.contains("wet"), "{text}");
}

#[test]
fn words_of_the_law_stand_on_a_label_that_has_room_for_their_letters() {
    let shop = with_a_box();
    let pdf = shop.path("label.pdf");
    let on = |size: &str| shop.must(EVENING, &format!("container label DD-1 {size} --json --pdf"), &[&pdf]);
    let large = on("--width-mm 100 --height-mm 62");
    assert_eq!(large.json()["marks_elsewhere"], false);
    assert_eq!(large.json()["marks"], serde_json::json!(["Universal Waste—Battery(ies)"]));
    assert_eq!(large.json()["code"], "DD-1");
    // The longest word alone is wider than this label in letters that are easy to read.
    let small = on("--width-mm 30 --height-mm 50");
    assert_eq!(small.json()["marks_elsewhere"], true, "{}", small.out);
    assert!(small.err.contains("celltriage container sheet DD-1 --pdf"), "{}", small.err);
    let html = shop.path("sheet.html");
    shop.must(EVENING, "container sheet DD-1 --html", &[&html, "--pdf", &pdf]);
    assert!(fs::read_to_string(&html).expect("a page").contains("Universal Waste—Battery(ies)"));
}

#[test]
fn draft_papers_are_a_pdf_too_and_the_same_twice() {
    let shop = Shop::of_a_real_day();
    shop.boxes("DE", "IN-1", "PE-0402");
    shop.drafts("S-1", "IN-1");
    let (first, second) = (shop.path("first.pdf"), shop.path("second.pdf"));
    shop.must(EVENING, "shipment show S-1 --pdf", &[&first]);
    shop.must(EVENING, "shipment show S-1 --pdf", &[&second]);
    let bytes = fs::read(&first).expect("a PDF");
    assert!(bytes.starts_with(b"%PDF-") && bytes == fs::read(&second).expect("a PDF"));
}

#[test]
fn a_report_is_tied_to_its_entry_and_the_same_twice() {
    let shop = Shop::of_the_demo();
    let (pdf, html) = (shop.path("report.pdf"), shop.path("report.html"));
    let made = || {
        let done = shop.must(EVENING, "report PE-0402 --json --pdf", &[&pdf, "--html", &html]);
        (done.json(), fs::read(&pdf).expect("a PDF"), fs::read_to_string(&html).expect("a page"))
    };
    let (of, bytes, page) = made();
    assert_eq!(made(), (of.clone(), bytes, page.clone()));
    let digest = of["digest"].as_str().expect("a digest");
    let entry =
        shop.entries().into_iter().find(|entry| entry.head.digest.to_string() == digest).expect("an entry");
    assert_eq!((entry.subject.name.as_str(), of["entry"].as_u64()), ("PE-0402", Some(entry.number.into())));
    for words in [digest, "RECYCLE", "69.4", "<polyline", "not through whom"] {
        assert!(page.contains(words), "{words} is missing");
    }
}

#[test]
fn photographs_are_shown_and_what_is_none_is_refused() {
    let shop = Shop::of_the_demo();
    let (pdf, photo) = (shop.path("report.pdf"), shop.path("front.png"));
    shop.must(EVENING, "label PE-0404 --png", &[&photo]);
    let without = shop.must(EVENING, "report PE-0404 --pdf", &[&pdf]);
    let bare = fs::metadata(&pdf).expect("a PDF").len();
    shop.must(EVENING, "report PE-0404 --pdf", &[&pdf, "--photo", &photo]);
    assert!(fs::metadata(&pdf).expect("a PDF").len() > bare, "{}", without.err);
    fs::write(shop.path("notes.txt"), "no photograph").expect("a file");
    let refused = shop.at(EVENING, "report PE-0404 --photo", &[&shop.path("notes.txt")]);
    assert!(refused.code == 2 && refused.err.contains("neither a JPEG nor a PNG"), "{}", refused.err);
}
