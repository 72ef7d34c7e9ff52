//! Text of another program: seen, confirmed, graded to the numbers of the same trace in the open format, and judged again.

use celltriage_tests::{Call, NOON, Shop, call_at, read_of_project, snapshot};
use serde_json::Value;

const LABEL: [&str; 4] = ["--rated-capacity-ah", "3", "--charge-limit-v", "4.2"];

/// Writes the rows of a trace of the open format as a program of a German laboratory might: UTF-16, tabs, decimal commas, mV and mA,
/// no sign but a word for what is done, under some lines of its own.
fn rewritten() -> Vec<u8> {
    let comma = |value: f64, decimals: usize| format!("{value:.decimals$}").replace('.', ",");
    let mut text =
        "Messung 12\t\nPrüfer\tA. Lindqvist\n\nZeit [s]\tVorgang\tSpannung [mV]\tStrom [mA]\tTemperatur [°C]\tUmgebung [°C]\n".to_owned();
    for row in read_of_project("tests/traces/two_level.csv").lines().skip(1) {
        let values: Vec<f64> = row.split(',').map(|value| value.parse().expect("a number")).collect();
        let &[time, current, voltage, cell, air] = values.as_slice() else { panic!("five columns: {row}") };
        let word = if current < 0.0 { "Entladen" } else { "Pause" };
        let [time, voltage] = [comma(time, 2), comma(voltage * 1e3, 1)];
        let current = comma(current.abs() * 1e3, 0);
        let fields = [time, word.to_owned(), voltage, current, comma(cell, 2), comma(air, 2)];
        text.push_str(&format!("{}\n", fields.join("\t")));
    }
    let mark = [0xFF, 0xFE];
    mark.into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect()
}

fn shop() -> (Shop, String) {
    let shop = Shop::new();
    let path = shop.path("bench.txt");
    std::fs::write(&path, rewritten()).expect("a file");
    (shop, path)
}

/// Calls `columns`, which takes no book.
fn columns(typed: &[&str], answers: Option<&[&str]>) -> Call {
    call_at(NOON, &[&["columns"][..], typed].concat(), answers)
}

/// The same, which has to be done.
fn done(typed: &[&str]) -> Call {
    let call = columns(typed, None);
    assert_eq!(call.code, 0, "{typed:?}: {}{}", call.out, call.err);
    call
}

#[test]
fn a_file_of_another_program_is_graded_to_the_numbers_of_the_same_trace() {
    let (shop, trace) = shop();
    let refused = shop.run(NOON, &[&["grade", &trace][..], &LABEL].concat());
    assert_eq!(refused.code, 2);
    snapshot!("columns_hint", shop.shown(&refused));
    snapshot!("columns_guess", shop.shown(&done(&[&trace])));

    // Written down to be changed, it is a guess, and nothing is graded by it.
    let mapping = shop.path("bench.toml");
    done(&[&trace, "--out", &mapping]);
    let unconfirmed = shop.run(NOON, &[&["grade", &trace, "--columns", &mapping][..], &LABEL].concat());
    assert_eq!(unconfirmed.code, 2);
    assert!(unconfirmed.err.contains("nobody has confirmed"), "{}", unconfirmed.err);

    done(&[&trace, "--columns", &mapping, "--by", "R. Okafor"]);
    let given = [&["grade", &trace, "--columns", &mapping, "--json"][..], &LABEL].concat();
    let open = "tests/traces/two_level.csv";
    let text = read_of_project(open);
    let plain = shop.file("plain.csv", &text);
    let of_open = shop.run(NOON, &[&["grade", &plain, "--json"][..], &LABEL].concat()).json();
    let of_mapped = shop.run(NOON, &given).json();
    let (open, mapped) = (&of_open["estimates"], &of_mapped["estimates"]);
    let names: Vec<&String> = open.as_object().expect("estimates").keys().collect();
    assert!(names.iter().any(|name| *name == "resistance_10s_ohm"), "{names:?}");
    for name in names {
        let value = |of: &Value| of[name]["value"].as_f64().unwrap_or_else(|| panic!("{name}: {}", of[name]));
        let (a, b) = (value(open), value(mapped));
        assert!((a - b).abs() <= 1e-9 * a.abs().max(1.0), "{name}: {a} {b}");
    }
    assert_eq!(of_open["decision"]["fate"], of_mapped["decision"]["fate"]);
}

#[test]
fn the_book_keeps_text_and_mapping_and_judges_from_them_again() {
    let (shop, trace) = shop();
    done(&[&trace, "--by", "R. Okafor"]);
    let mapping = shop.path("bench.columns.toml");
    let typed = [&["grade", &trace, "--columns", &mapping, "--id", "PE-61"][..], &LABEL].concat();
    assert_eq!(shop.run(NOON, &typed).code, 0);
    let again = shop.must(NOON, "book recompute 1", &[]);
    assert!(again.out.contains("as in the entry"), "{}", again.out);
    let out = shop.path("exported");
    shop.must(NOON, "book export 1", &[&out]);
    let kept = |name: &str| std::fs::read(format!("{out}/{name}")).expect(name);
    assert_eq!(kept("trace.txt"), rewritten());
    assert!(String::from_utf8(kept("columns.toml")).expect("text").contains("R. Okafor"));
}

#[test]
fn whoever_looks_is_asked_and_no_file_is_overwritten() {
    let (shop, trace) = shop();
    let no = columns(&[&trace, "--by", "R. Okafor"], Some(&["n"]));
    assert_eq!(no.code, 0);
    assert!(!std::path::Path::new(&shop.path("bench.columns.toml")).exists(), "{}", no.err);
    let yes = columns(&[&trace, "--by", "R. Okafor"], Some(&["y"]));
    assert!(yes.err.contains("grade"), "{}", yes.err);
    let again = columns(&[&trace, "--by", "R. Okafor"], Some(&["y"]));
    assert_eq!(again.code, 2);
    assert!(again.err.contains("is there already"), "{}", again.err);
}

#[test]
fn what_gives_no_trace_cannot_be_confirmed() {
    let shop = Shop::new();
    let mut text = "time_s,mode,current_a,voltage_v\n".to_owned();
    for second in 0..60 {
        let (mode, current) = if second < 20 { ("pulse", 1.0) } else { ("discharge", 1.0) };
        text.push_str(&format!("{second},{mode},{current},3.7\n"));
    }
    let trace = shop.file("odd.csv", &text);
    let refused = columns(&[&trace, "--by", "R. Okafor"], None);
    assert_eq!(refused.code, 2);
    snapshot!("columns_no_trace", shop.shown(&refused));
}
