//! The book's copies, checkpoints, merges and blanked names, as somebody at the terminal gives the commands.

use celltriage_book::{Book, NewEntry, PATIENCE, Subject, SubjectKind};
use celltriage_tests::{BY, Call, EVENING, NOON, Shop, call};
use std::fs;
use std::path::Path;

/// One more entry in the book of a shop.
fn note(shop: &Shop, text: &str) {
    write(Path::new(&shop.book()), "PE-1", text);
}

fn write(book: &Path, cell: &str, text: &str) {
    let at = NOON.parse().expect("a time");
    let entry = NewEntry {
        summary: text.to_owned(),
        ..NewEntry::of("note", Subject::new(SubjectKind::Cell, cell), at)
    };
    Book::open(book).expect("opened").append(entry).expect("written");
}

fn book(shop: &Shop, line: &str) -> Call {
    shop.unstated(NOON, &format!("book {line}"), None)
}

/// The same, to be done.
fn done(shop: &Shop, line: &str) -> Call {
    let done = book(shop, line);
    assert_eq!(done.code, 0, "{line}: {}{}", done.out, done.err);
    done
}

/// The same, to end with this code and say why.
fn ends(shop: &Shop, line: &str, code: u8, why: &str) -> Call {
    let ended = book(shop, line);
    assert!(
        ended.code == code && ended.err.contains(why),
        "{line}: {} {}{}",
        ended.code,
        ended.out,
        ended.err
    );
    ended
}

fn gone(shop: &Shop) {
    for ending in ["", "-wal", "-shm"] {
        let _may_not_be_there = fs::remove_file(format!("{}{ending}", shop.book()));
    }
}

#[test]
fn a_book_is_copied_and_restored() {
    let shop = Shop::new();
    ["one", "two"].iter().for_each(|text| note(&shop, text));
    let copy = shop.path("copy.sqlite");
    let told = done(&shop, &format!("backup {copy} --check"));
    assert!(
        told.out.contains("copy.sqlite: 2 entries") && told.out.contains("each entry as it was written"),
        "{}",
        told.out
    );
    assert!(told.err.contains("it lies beside the book"), "{}", told.err);
    let last = shop.open().last().expect("read").expect("there").digest.to_string();
    assert!(told.out.contains(&last), "{}", told.out);
    let json = done(&shop, &format!("backup {} --json", shop.path("other.sqlite"))).json();
    assert_eq!((json["entries"].as_u64(), json["digest_of_last"].as_str()), (Some(2), Some(&*last)));
    assert!(json["faults"].is_null(), "nobody has verified it");
    shop.file("third.sqlite.part", "half of a copy");
    ends(&shop, &format!("backup {}", shop.path("third.sqlite")), 5, "left that was broken off");
    ends(&shop, &format!("backup {copy}"), 2, "is there already; nothing was written over it");
    ends(&shop, &format!("restore {copy}"), 2, "is there already");
    gone(&shop);
    fs::write(format!("{}-wal", shop.book()), "left").expect("written");
    ends(&shop, &format!("restore {copy}"), 2, "left of a book that is not there any more");
    gone(&shop);
    let told = done(&shop, &format!("restore {copy}"));
    assert!(told.out.contains("2 entries, each as it was written"), "{}", told.out);
    assert!(told.err.contains("do not write to it any more"), "{}", told.err);
    note(&shop, "three");
    assert_eq!(shop.newest(), 3);
}

#[test]
fn a_cut_tail_and_a_chain_computed_again_are_told_beside_what_was_noted_elsewhere() {
    let (shop, elsewhere) = (Shop::new(), Shop::new());
    note(&shop, "one");
    let copy = elsewhere.path("copy.sqlite");
    done(&shop, &format!("backup {copy}"));
    note(&shop, "two");
    let (file, key) = (elsewhere.path("noted.txt"), elsewhere.path("key"));
    let public = done(&shop, &format!("key {key}")).out.trim().to_owned();
    ends(&shop, &format!("key {key}"), 2, "is there already");
    ends(&shop, &format!("key {}", shop.path("key")), 2, "lies in the folder of the book");
    ends(&shop, &format!("checkpoint --to {}", shop.path("noted.txt")), 2, "it would prove nothing");
    assert!(!Path::new(&shop.path("noted.txt")).exists() && !Path::new(&shop.path("key")).exists());
    let told = done(&shop, &format!("checkpoint --to {file} --sign {key}"));
    assert_eq!(fs::read_to_string(&file).expect("noted"), told.out, "what is printed is what is noted");
    for said in
        ["it covers 2 entries", "whoever holds the key noted it", "not that it verified", "--expect 2:"]
    {
        assert!(told.err.contains(said), "{said}: {}", told.err);
    }
    let json = done(&shop, "checkpoint --json").json();
    assert_eq!((json["chains"][0]["entries"].as_u64(), json["signed_by"].is_null()), (Some(2), true));
    let on_paper = format!("2:{}", json["chains"][0]["digest"].as_str().expect("a digest"));
    let expecting = [format!("{file} --signed-by {public}"), file.clone(), on_paper.clone()];
    for expected in &expecting {
        let told = done(&shop, &format!("verify --expect {expected}"));
        assert!(told.out.contains("the book still holds what it held then"), "{}", told.out);
    }
    ends(&shop, &format!("verify --expect {on_paper} --signed-by {public}"), 2, "bears no signature");
    ends(&shop, &format!("verify --expect {file} --signed-by abc"), 2, "64 hexadecimal digits");
    let other = done(&shop, &format!("key {}", elsewhere.path("other"))).out;
    let refused = ends(&shop, &format!("verify --expect {file} --signed-by {}", other.trim()), 5, "1 fault");
    assert!(refused.out.contains("it is signed with another key"), "{}", refused.out);

    let beside = shop.path("carried");
    fs::copy(&file, &beside).expect("carried there");
    assert!(done(&shop, &format!("verify --expect {beside}")).err.contains("so it proves nothing"));

    gone(&shop);
    done(&shop, &format!("restore {copy}"));
    let alone = done(&shop, "verify");
    assert!(alone.err.contains("cannot show that the last entries were cut off"), "{}", alone.err);
    for expected in &expecting {
        let cut = ends(&shop, &format!("verify --expect {expected}"), 5, "1 fault in 1 entry");
        assert!(
            cut.out.contains("the last entries are missing: the chain had 2, now it has 1"),
            "{}",
            cut.out
        );
        let json = book(&shop, &format!("verify --json --expect {expected}")).json();
        assert_eq!(json["faults"].as_array().map(Vec::len), Some(0), "{json}");
        assert_eq!(json["expected"][0]["faults"].as_array().map(Vec::len), Some(1), "{json}");
    }
    ends(&shop, &format!("checkpoint --to {file}"), 5, "does not fit the checkpoints");
    note(&shop, "another second entry");
    for expected in &expecting {
        let again = ends(&shop, &format!("verify --expect {expected}"), 5, "1 fault in 2 entries");
        assert!(
            again.out.contains("entry 2: it, or one before it, is not the one that was written"),
            "{}",
            again.out
        );
    }
}

#[test]
fn what_another_bench_wrote_is_told_with_its_bench_and_number_there() {
    let (shop, other) = (Shop::new(), Shop::new());
    ["one", "two"].iter().for_each(|text| note(&shop, text));
    drop(Book::open_at(other.book_path(), PATIENCE, "left bench").expect("begun"));
    note(&other, "there");
    let told = done(&shop, &format!("merge {}", other.book()));
    assert!(told.out.contains("1 new entry (1 of left bench); 0 entries were known already"), "{}", told.out);
    assert!(told.err.contains("written as entry 3 of"), "{}", told.err);
    assert!(done(&shop, "list").out.ends_with("there [from left bench, entry 1 there]\n"));
    assert!(done(&shop, "show entry:3").out.contains("it came from left bench, entry 1 there"));
    assert!(!done(&shop, "show entry:2").out.contains("it came"));
    let listed = done(&shop, "list --json").json();
    assert_eq!(
        (listed[2]["from"]["bench"].as_str(), listed[2]["from"]["number"].as_u64()),
        (Some("left bench"), Some(1))
    );
    assert!(listed[1].get("from").is_none());
    assert_eq!(done(&shop, "show entry:3 --json").json()["from"]["bench"], "left bench");
    let again = done(&shop, &format!("merge {} --json", other.book())).json();
    assert_eq!((again["known"].as_u64(), again["entries"].as_array().map(Vec::len)), (Some(1), Some(0)));
    // A mistyped path begins no book.
    let missing = shop.path("no.sqlite");
    let mistyped = call(&["book", "--book", &missing, "merge", &other.book()], None);
    assert!(mistyped.code == 5 && !Path::new(&missing).exists(), "{}", mistyped.err);
}

#[test]
fn an_assessment_of_another_bench_says_so_for_machines() {
    let (shop, demo) = (Shop::new(), Shop::of_the_demo());
    write(&shop.book_path(), "PE-1", "a book that is there");
    let demo_book = demo.path("celltriage-demo/book.sqlite");
    let from = if Path::new(&demo_book).exists() { demo_book } else { demo.book() };
    done(&shop, &format!("merge {from}"));
    let listed = done(&shop, "list");
    assert!(listed.out.starts_with("SIMULATED: this book is of simulated cells"), "{}", listed.out);
    let shown = done(&shop, "show entry:6 --json").json();
    assert_eq!(
        (shown["schema"].as_str(), shown["from"]["number"].as_u64()),
        (Some("celltriage.assessment/1"), Some(5))
    );
    let real = Shop::of_a_real_day();
    assert!(!done(&real, "list").out.contains("SIMULATED"));
}

#[test]
fn names_are_blanked_for_good_and_a_person_is_asked() {
    let shop = Shop::of_a_real_day();
    let why = ["--because", "asked for in writing", "--by", "Tom Weller"];
    let judged =
        ["--state", "damaged_or_defective", "--qualification", "battery technician", "--as-recorded"];
    let judged = shop.at(EVENING, "judge PE-0404", &[&judged[..], &BY[..]].concat());
    assert_eq!(judged.code, 0, "{}{}", judged.out, judged.err);
    let number = shop.newest().to_string();
    let name = BY[1];
    let show = format!("book show entry:{number} --json");
    assert!(shop.must(EVENING, &show, &[]).out.contains(name));
    let line = format!("book blank {number}");
    let set_back = shop.run_unstated(&[&["book", "blank", &number], &why[..]].concat());
    assert!(set_back.code == 2 && set_back.err.contains("nothing was written"), "{}", set_back.err);
    let no = shop.asked(EVENING, &line, &why, Some(&["n"]));
    assert!(no.code == 2 && no.err.contains("nobody has said yes"), "{}", no.err);
    let naming = shop.at(EVENING, &line, &["--because", &format!("for {name}"), "--by", "Tom Weller"]);
    assert!(naming.code == 2 && naming.err.contains("say why without the name"), "{}", naming.err);
    let blanked = shop.must(EVENING, &line, &why);
    assert!(blanked.out.contains("1 text about a person is blanked; it cannot be undone"), "{}", blanked.out);
    assert!(blanked.err.contains("copies and backups of the book still hold"), "{}", blanked.err);
    let shown = shop.must(EVENING, &show, &[]);
    assert!(shop.must(EVENING, &format!("book show entry:{number}"), &[]).out.contains("(blanked)"));
    assert!(shown.out.contains("(blanked)") && !shown.out.contains(name), "{}", shown.out);
    let again = shop.at(EVENING, &line, &why);
    assert!(again.code == 2 && again.err.contains("blanked already"), "{} {}", again.code, again.err);
    assert_eq!(shop.at(EVENING, "book verify", &[]).code, 0);
}

#[test]
fn what_a_damaged_book_has_lost_is_told_by_number_with_the_code_of_a_book_that_does_not_verify() {
    let shop = Shop::new();
    for number in 1..=60 {
        note(&shop, &format!("{}note {number}", "of a long day ".repeat(20)));
    }
    let sound = done(&shop, &format!("rescue {} --to {}", shop.book(), shop.path("sound")));
    assert!(sound.out.contains("60 entries and 0 recordings saved whole"), "{}", sound.out);
    assert!(sound.err.contains("cannot be told from the file"), "{}", sound.err);
    let copy = shop.path("copy");
    done(&shop, &format!("backup {copy}"));
    let bytes = fs::read(&copy).expect("read");
    let mut lost = 0;
    for page in 1..bytes.len() / 4096 {
        let mut spoilt = bytes.clone();
        spoilt[page * 4096..(page + 1) * 4096].fill(0xA5);
        fs::write(&copy, &spoilt).expect("written");
        let told = book(&shop, &format!("rescue {copy} --to {}", shop.path(&format!("saved-{page}"))));
        if told.out.contains("LOST, nothing is left of them: entries ") {
            lost += 1;
        }
        let whole = told.out.contains("nothing that the file tells of is lost");
        assert_eq!(told.code, if whole { 0 } else { 5 }, "page {page}: {}{}", told.out, told.err);
    }
    assert!(lost > 0, "no page has taken an entry away");
}

#[test]
fn a_filter_takes_a_fate_in_either_case_and_refuses_a_word_that_is_none() {
    let shop = Shop::of_the_demo();
    for fate in ["reuse", "REUSE", "Reuse"] {
        let told = done(&shop, &format!("list --fate {fate}"));
        assert!(told.out.contains("PE-0401") && !told.out.contains("PE-0402"), "{}", told.out);
    }
    ends(&shop, "list --fate reycle", 2, "recycle");
    ends(&shop, "list --fate scrap", 2, "possible values");
}
