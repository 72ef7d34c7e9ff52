//! Names of cells, their tags, and numbers: through the command line.

use celltriage_tests::{EVENING, NOON, Shop, call};

#[test]
fn a_scanned_tag_stands_for_its_cell_everywhere() {
    let shop = Shop::new();
    let tag = call(&["tag", "PE-0001"], None).out.trim().to_owned();
    let check = tag.strip_prefix("PE-0001+").expect("name, sign and check character").to_owned();
    let json = call(&["tag", "--json", "PE-0001", "12"], None).json();
    assert_eq!(json["tags"][0]["tag"], tag.as_str());
    assert_eq!(call(&["tag", &tag], None).out.trim(), tag);
    shop.must(NOON, "assess --simulated sound --no-signs --id", &[&tag]);
    assert_eq!(shop.entries()[0].subject.name, "PE-0001", "the check character is no part of the name");
    for typed in ["explain", "book show", "judge", "book find"] {
        let by_tag = shop.must(EVENING, typed, &[&tag]);
        assert_eq!(by_tag.out, shop.must(EVENING, typed, &["PE-0001"]).out, "{typed}");
    }
    let wrong = format!("PE-0010+{check}");
    for typed in [
        "assess --simulated sound --no-signs --id",
        "judge",
        "book show",
        "explain",
        "container weigh --mass-g 40 --by B",
    ] {
        let refused = shop.at(EVENING, typed, &[&wrong]);
        assert_eq!((refused.code, refused.out.as_str()), (2, ""), "{typed}: {}", refused.err);
        assert!(
            refused.err.contains("Scan the tag again") && refused.err.contains("PE-0010"),
            "{}",
            refused.err
        );
    }
    assert_eq!(call(&["tag", "Ä-1"], None).code, 2);
}

#[test]
fn a_number_is_a_cell_and_an_entry_is_said_to_be_one() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id PE-9 --simulated sound --no-signs", &[]);
    for typed in ["book show 1", "explain 1", "explain 1 --json"] {
        let refused = shop.at(EVENING, typed, &[]);
        assert_eq!(refused.code, 2, "{}", refused.out);
        assert!(
            refused.err.contains("for the entry: celltriage ") && refused.err.contains(" entry:1"),
            "{}",
            refused.err
        );
    }
    for typed in ["judge 1", "container weigh 1 --mass-g 40 --by B"] {
        let refused = shop.at(EVENING, typed, &[]);
        assert!(refused.code == 2 && refused.err.contains("entry:1 is about PE-9"), "{}", refused.err);
    }
    assert!(!shop.at(EVENING, "book show 99", &[]).err.contains("entry:"));
    let page = shop.must(EVENING, "book show entry:1", &[]).out;
    // A cell that bears a number is meant by the number, also where an entry has it.
    shop.must(EVENING, "assess --id 1 --simulated sound --no-signs", &[]);
    assert!(!shop.must(EVENING, "book show 1", &[]).out.contains("PE-9"));
    assert_eq!(shop.must(EVENING, "book show entry:1", &[]).out, page);
    assert_eq!(shop.must(EVENING, "explain entry:2", &[]).out, shop.must(EVENING, "explain 1", &[]).out);
    let folder = shop.path("out");
    for typed in ["book recompute 1", "book recompute entry:1"] {
        assert_eq!(shop.at(EVENING, typed, &[]).code, 0);
    }
    for entry in ["1", "entry:1"] {
        shop.must(EVENING, &format!("book export {entry}"), &[&folder]);
    }
    shop.must(EVENING, "container correct entry:2 --because looked --by B", &[]);
    let refused = shop.at(EVENING, "judge entry:1", &[]);
    assert!(refused.code == 2 && refused.err.contains("a cell is asked for here"), "{}", refused.err);
}

#[test]
fn a_name_that_looks_like_a_known_one_is_told_and_asked_about() {
    let shop = Shop::new();
    shop.must(NOON, "assess --id PE-0001 --simulated sound --no-signs", &[]);
    let assess = "assess --simulated sound --no-signs --id";
    for (alike, n) in [("pe-0001", 2), ("PE-OOO1", 3)] {
        let told = shop.at(NOON, assess, &[alike]);
        assert_eq!((told.code, shop.newest()), (0, n), "{}", told.err);
        assert!(told.err.contains(&format!("the book has PE-0001; typed {alike}")), "{}", told.err);
    }
    let no = shop.asked(NOON, assess, &["РЕ-0001"], Some(&["n"]));
    assert!(no.code == 2 && no.err.contains("write PE-0001"), "{}", no.err);
    let yes = shop.asked(NOON, assess, &["PE 0001"], Some(&["y", ""]));
    assert_eq!(yes.code, 0, "{}", yes.err);
    assert!(!shop.at(NOON, assess, &["pe-0001"]).err.contains("typed pe-0001"), "a known name is no slip");
    for bad in ["PE\u{200b}2", " PE-2", "PE-2+", "entry:x", "cell:PE\u{202e}2"] {
        let refused = shop.at(NOON, assess, &[bad]);
        assert_eq!(refused.code, 2, "{bad:?}: {}{}", refused.out, refused.err);
    }
    assert_eq!(shop.newest(), 5);
}
