//! `assess` alone at a terminal asks for what is missing, one question a line, and leads on to judgement and container; how many keys
//! that takes.

use celltriage_host::settings::surroundings::Surroundings;
use celltriage_tests::Key::{Scan, ThenStop, Type};
use celltriage_tests::{Evening, Key, Shop, at_terminal, call, snapshot};

/// The label of the simulated cells, as the shop keeps it.
const TABLET: &str = "model = \"tablet-a\"\nrated_capacity_ah = 3.0\ncharge_limit_v = 4.35\nend_of_discharge_v = 3.0\n\
                      nominal_v = 3.85\nchemistry = \"lco\"\nform = \"pouch\"\nnominal_thickness_mm = 4.0\n";
const SCANNER: &str =
    "model = \"scanner-b\"\nrated_capacity_ah = 2.0\ncharge_limit_v = 4.2\nform = \"pouch\"\n";

/// A shop with two models in its library, and the settings of a person who has set place, person and qualification once.
fn shop() -> (Shop, Surroundings) {
    let shop = Shop::new();
    std::fs::create_dir_all(shop.path("models")).expect("a folder");
    shop.file("models/tablet-a.toml", TABLET);
    shop.file("models/scanner-b.toml", SCANNER);
    let around = Surroundings::with_settings_in(shop.folder());
    shop.file(
        "settings.toml",
        "book = \"book.sqlite\"\nplace = \"DE\"\nperson = \"Ines Harrow\"\n\
         qualification = \"battery technician with the maker's criteria\"\n",
    );
    (shop, around)
}

fn fits(evening: &Evening) {
    // A line of data is as long as it is, and so is what a scanner types.
    let others = evening.screen.lines().filter(|line| !line.starts_with("entry ") && !line.contains("://"));
    for line in others {
        assert!(line.trim_end().chars().count() <= 80, "{line}");
    }
    assert!(
        evening.most_lines <= 24,
        "{} lines between two questions: {}",
        evening.most_lines,
        evening.screen
    );
}

fn shown(shop: &Shop, evening: &Evening) -> String {
    let folder = shop.folder().to_string_lossy().into_owned();
    format!("exit code {}\n{}", evening.code, evening.screen.replace(&folder, "FOLDER"))
}

/// The words of a command line, as typed after the prompt of the shell.
fn typed(line: &str) -> usize {
    format!("celltriage {line}").chars().count() + 1
}

const SIMULATED: [&str; 3] = ["assess", "--simulated", "faded"];
/// Scan the id, no reaction, the first model, none of all signs, three thicknesses.
const ASSESSED: [Key<'_>; 7] =
    [Scan("PE-0412+O"), Type("n"), Type("2"), Type("0"), Type("4.0"), Type("4,0"), Type("4.0 mm")];

/// Rejected by what `assess` measures where nothing is said of it. What makes it simulated is typed by no shop, and not counted.
const HIGH: [&str; 3] = ["assess", "--simulated", "high-resistance"];

#[test]
fn from_clip_on_to_the_container_takes_at_most_sixty_keys() {
    let (shop, around) = shop();
    opened(&shop, &around);
    let tag = tag_of("PE-0412");
    let mut answers =
        vec![Scan(&tag), Type("n"), Type("2"), Type("0"), Type("4.0"), Type("4.0"), Type("4.0")];
    // As proposed, the bench's answers hold, two questions that the bench does not ask, write it; the container; its mass.
    answers.extend([Type(""), Type(""), Type("n"), Type("n"), Type(""), Type(""), Type("46")]);
    let done = at_terminal(Some(&around), &HIGH, &answers);
    assert_eq!((done.code, done.left), (0, 0), "{}", done.screen);
    fits(&done);
    assert!(done.screen.contains("put into container IN-1"), "{}", done.screen);
    let led_on = typed("assess") + done.keys;

    // The same by three commands: who waits in between types two more.
    let (other, around) = self::shop();
    opened(&other, &around);
    answers.truncate(7);
    answers.push(Type("q"));
    let assessed = at_terminal(Some(&around), &HIGH, &answers);
    let judged = at_terminal(
        Some(&around),
        &["judge", &tag],
        // Its page is longer than the screen: Enter for the rest.
        &[Type(""), Type(""), Type(""), Type("n"), Type("n"), Type(""), Type("q")],
    );
    let put = at_terminal(Some(&around), &["container", "put"], &[Scan(&tag), Type(""), Type("46")]);
    for one in [&assessed, &judged, &put] {
        assert_eq!((one.code, one.left), (0, 0), "{}", one.screen);
    }
    // The scanner types the id behind `judge `.
    let by_commands =
        typed("assess") + assessed.keys + typed("judge ") + judged.keys + typed("container put") + put.keys;
    snapshot!("calm_judge", shown(&other, &judged));
    snapshot!("calm_put", shown(&other, &put));
    println!(
        "keys from clip-on to container: {led_on} led on, {by_commands} by three commands; a scan is one key"
    );
    assert!(led_on <= 60, "{led_on} keys");
}

fn opened(shop: &Shop, around: &Surroundings) {
    celltriage_book::Book::open(shop.book_path()).expect("an empty book");
    let open = ["container", "open", "IN-1", "--kind", "intact", "--stands", "shelf 2"];
    // Place and person are set.
    let done = at_terminal(Some(around), &open, &[]);
    assert_eq!(done.code, 0, "{}", done.screen);
}

fn tag_of(cell: &str) -> String {
    call(&["tag", cell], None).out.trim().to_owned()
}

#[test]
fn the_whole_way_is_one_question_a_line() {
    let (shop, around) = shop();
    opened(&shop, &around);
    let tag = tag_of("PE-0412");
    let mut answers = ASSESSED.to_vec();
    answers[0] = Scan(&tag);
    answers.extend([Type(""), Type(""), Type("n"), Type("n"), Type(""), Type(""), Type("46")]);
    let done = at_terminal(Some(&around), &[&SIMULATED[..], &["--extent", "full"]].concat(), &answers);
    fits(&done);
    snapshot!("calm_run", shown(&shop, &done));
}

#[test]
fn a_model_that_is_not_known_is_asked_for_field_by_field_and_kept() {
    let shop = Shop::new();
    let book = shop.book();
    let command = ["assess", "--port", "/dev/no-such-port", "--book", &book];
    let label = [
        Type("tablet-z"),
        Type("3000"),
        Type("3000 mAh"),
        Type("lco"),
        Type(""),
        Type("b"),
        Type("LCO"),
        Type("4,35 V"),
        Type(""),
        Type("3.85"),
        Type("pouch"),
        Type("4"),
        Type(""),
        Type(""),
    ];
    let mut answers = vec![Type(""), Type("PE-1"), Type("n")];
    answers.extend(label);
    answers.extend([Type("0"), Type("")]);
    let done = at_terminal(None, &command, &answers);
    assert_eq!((done.code, done.left), (3, 0), "no fixture is there: {}", done.screen);
    fits(&done);
    snapshot!("calm_new_label", shown(&shop, &done));
    let kept = std::fs::read_to_string(shop.path("models/tablet-z.toml")).expect("it is kept");
    assert!(kept.contains("charge_limit_v = 4.35") && kept.contains("rated_capacity_ah = 3.0"), "{kept}");
    // The next cell of it: a part of the name, then Enter or its number.
    let again = at_terminal(None, &command, &[Type("PE-2"), Type("n"), Type("LET"), Type("1")]);
    assert!(
        again.screen.contains("1  tablet-z  3 Ah  4.35 V  pouch  4 mm  not used yet"),
        "{}",
        again.screen
    );
    // Its name alone is enough without a terminal too.
    let named = call(
        &[
            "assess",
            "--id",
            "PE-3",
            "--model",
            "tablet-z",
            "--no-signs",
            "--port",
            "/dev/no-such-port",
            "--book",
            &book,
        ],
        None,
    );
    assert!(named.code == 3 && named.err.contains("the label of tablet-z is that of"), "{}", named.err);
}

#[test]
fn a_scanned_link_is_offered_by_its_last_part_and_a_misread_tag_is_told() {
    let shop = Shop::new();
    let book = shop.book();
    let command = ["assess", "--simulated", "sound", "--book", &book];
    let link = "https://id.example.org/01/00012345678905/21/A-77";
    let wrong = format!("{}X", &tag_of("PE-0412")[..8]);
    let answers = [
        Scan(&wrong),
        Scan("https://example.org"),
        Scan(link),
        Type(""),
        Type("n"),
        Type(""),
        Type("0"),
        Type(""),
    ];
    let done = at_terminal(None, &command, &answers);
    assert_eq!((done.code, done.left), (0, 0), "{}", done.screen);
    fits(&done);
    assert!(done.screen.contains("does not fit") && done.screen.contains("cell A-77"), "{}", done.screen);
    assert!(done.screen.contains("Id of the cell [Enter A-77]"), "{}", done.screen);
    let entry = shop.open().entry(1).expect("a book").expect("an entry");
    assert_eq!(entry.inputs["observations"]["note"], format!("scanned: {link}"));
    snapshot!("calm_link", shown(&shop, &done));
}

#[test]
fn back_goes_over_all_questions_and_none_of_all_these_is_a_key_of_its_own() {
    let (shop, around) = shop();
    let answers = [
        Type("PE-9"),
        Type("n"),
        Type("b"),
        Type("PE-8"),
        Type("n"),
        Type("tab"),
        Type(""),
        // Two signs, back to the second, all others none; from the thickness back to the last sign.
        Type("n"),
        Type("n"),
        Type("b"),
        Type("0"),
        Type("b"),
        Type("n"),
        Type("4.0"),
        Type("b"),
        Type("4.1"),
        Type("3,3,3"),
        Type(""),
    ];
    let done = at_terminal(Some(&around), &["assess", "--simulated", "sound"], &answers);
    assert_eq!((done.code, done.left), (0, 0), "{}", done.screen);
    fits(&done);
    let entry = shop.open().entry(1).expect("a book").expect("an entry");
    assert_eq!(entry.subject.name, "PE-8");
    assert_eq!(entry.inputs["observations"]["thickness_mm"], serde_json::json!([4.1]));
    assert_eq!(entry.inputs["observations"]["assessor"], "Ines Harrow");
    assert_eq!(entry.inputs["nameplate"]["model"], "tablet-a");
    let signs = entry.inputs["observations"]["signs"].as_object().expect("signs");
    assert!(signs.len() == 9 && signs.values().all(|answer| answer == "no"), "{signs:?}");
    snapshot!("calm_back", shown(&shop, &done));
    // The next time the book has its label, and proposes it.
    let again =
        at_terminal(Some(&around), &["assess", "--simulated", "sound"], &[Type("PE-8"), Type("n"), Type("")]);
    assert!(again.screen.contains("Label as in entry 1: 3 Ah  4.35 V  pouch  4 mm?"), "{}", again.screen);
}

#[test]
fn without_a_terminal_nothing_is_asked() {
    let shop = Shop::new();
    let none = shop.run_unstated(&["assess", "--simulated", "sound", "--no-signs"]);
    assert!(none.code == 2 && none.err.contains("--id NAME"), "{}", none.err);
    assert!(!shop.book_path().exists(), "nothing was written");
    let judge = shop.run_unstated(&["container", "place"]);
    assert!(judge.code != 0, "{}", judge.err);
}

#[test]
fn a_cell_that_reacts_is_asked_about_no_further() {
    let (_shop, around) = shop();
    let done = at_terminal(Some(&around), &["assess", "--simulated", "sound"], &[Type("PE-7"), Type("y")]);
    assert_eq!(done.left, 0);
    assert!(!done.screen.contains("Which model") && !done.screen.contains("(ended)"), "{}", done.screen);
    let words = done.screen.find("STOP: hands off").expect("the words");
    assert!(words < done.screen.find("CRITICAL").or(done.screen.find("QUARANTINE")).unwrap_or(usize::MAX));
}

#[test]
fn who_has_ended_the_test_is_led_no_further() {
    let (_shop, around) = shop();
    let answers = [Type("PE-6"), Type("n"), Type("2"), Type("0"), ThenStop("")];
    let done = at_terminal(Some(&around), &HIGH, &answers);
    assert_eq!((done.code, done.left), (4, 0), "{}", done.screen);
    assert!(!done.screen.contains("Judge PE-6") && !done.screen.contains("(ended)"), "{}", done.screen);
}
