//! A batch through the command line: each cell by itself, and what is recorded when a person stops it.

use celltriage_tests::{NOON, Shop, call_stopped_at, snapshot};

const BATCH: &str = r#"
[[cell]]
id = "PE-51"
simulated = "sound"
no_signs = true
thickness_mm = [4.05, 4.03]
extent = "full"

[[cell]]
id = "PE-52"
port = "/dev/no-such-port"
cell = "label.toml"
no_signs = true
extent = "full"

[[cell]]
id = "PE-53"
simulated = "faded"
no_signs = true
extent = "full"

[[cell]]
id = "PE-54"
simulated = "high-resistance"
no_signs = true
extent = "screen"
"#;

#[test]
fn a_batch_records_each_cell_by_itself_and_one_that_fails_leaves_the_others_running() {
    let shop = Shop::new();
    shop.file("label.toml", "rated_capacity_ah = 3.0\ncharge_limit_v = 4.35\n");
    let file = shop.file("night.toml", BATCH);
    let call = shop.run(NOON, &["batch", &file, "--json"]);
    let outcome = call.json();
    let cells = outcome["cells"].as_array().expect("cells");
    let fates: Vec<_> = cells.iter().map(|cell| cell["fate"].as_str()).collect();
    assert_eq!(fates, [Some("reuse"), None, Some("recycle"), Some("recycle")], "{}", call.err);
    assert!(cells[1]["error"].as_str().expect("an error").contains("/dev/no-such-port"));
    assert_eq!(call.code, 3, "a cell that could not be measured shows in the exit code");
    for line in call.err.lines().skip(1) {
        assert!(line.starts_with("PE-5") || line.starts_with("hint"), "every line names its cell: {line}");
    }
    assert!(
        call.err.contains("PE-53") && call.err.contains("50 %"),
        "long runs tell how far they are: {}",
        call.err
    );
    assert_eq!(shop.run(NOON, &["book", "verify"]).code, 0);

    let twice =
        shop.file("twice.toml", &BATCH.replace("simulated = \"sound\"", "port = \"/dev/no-such-port\""));
    snapshot!("batch_port_twice", shop.shown(&shop.run(NOON, &["batch", &twice])));
}

#[test]
fn a_batch_that_a_person_stops_records_what_was_begun_and_says_what_was_not() {
    let shop = Shop::new();
    let cell = |id: &str| format!("[[cell]]\nid = \"{id}\"\nsimulated = \"faded\"\nno_signs = true\n");
    let (one, two) =
        (shop.file("one.toml", &cell("PE-71")), shop.file("two.toml", &(cell("PE-72") + &cell("PE-73"))));
    let book = shop.book();
    // As soon as the fixture has said who it is: in its rest.
    let call = call_stopped_at("board, serial", &["batch", &one, "--book", &book, "--json"]);
    assert_eq!(call.code, 4, "{}\n{}", call.out, call.err);
    let told = &call.json()["cells"][0];
    assert!(told["entry"].is_number() && told["fate"] != "reuse", "{told}");
    assert!(told["statement"].as_str().is_some_and(|why| why.contains("stopped by a person")), "{told}");
    let listed = || shop.run(NOON, &["book", "list"]).out;
    assert!(listed().contains("PE-71"), "{}", listed());

    let call = call_stopped_at("", &["batch", &two, "--book", &book]);
    assert_eq!(call.code, 3, "{}\n{}", call.out, call.err);
    assert_eq!(call.out.matches("NOT BEGUN").count(), 2, "{}\n{}", call.out, call.err);
    assert!(!listed().contains("PE-72") && !listed().contains("PE-73"), "{}", listed());
    let call = call_stopped_at("", &["batch", &two, "--book", &book, "--json"]);
    assert!(call.json()["cells"][1]["error"].as_str().is_some_and(|why| why.starts_with("not begun")));
}
