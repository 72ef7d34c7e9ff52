//! `grade --many`: a file of many cells gives what grading each alone gives, in order, and a bad one stops nothing.

use celltriage_tests::{Call, call};
use serde_json::Value;
use std::path::Path;

const LABEL: &str = "labels/scanner_cell.toml";

fn rows(name: &str) -> (String, Vec<String>) {
    let text = std::fs::read_to_string(format!("traces/{name}.csv")).expect("a trace");
    let mut lines = text.lines().map(str::to_owned);
    (lines.next().expect("a header"), lines.collect())
}

/// Writes a file of many cells; each is a name with its rows.
fn write(path: &Path, header: &str, cells: &[(&str, Vec<String>)]) {
    let mut text = format!("Cell ID,{header}\n");
    for (name, rows) in cells {
        for row in rows {
            text.push_str(&format!("{name},{row}\n"));
        }
    }
    std::fs::write(path, text).expect("written");
}

fn many(path: &Path, more: &[&str]) -> Call {
    let path = path.display().to_string();
    let mut typed = vec!["grade", &path, "--many", "--cell", LABEL];
    typed.extend(more);
    call(&typed, None)
}

fn lines(call: &Call) -> Vec<Value> {
    call.out.lines().map(|line| serde_json::from_str(line).expect("a line of JSON")).collect()
}

#[test]
fn cells_come_out_in_order_with_the_numbers_they_have_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let (header, good) = rows("two_level");
    let names: Vec<String> = (1..=20).map(|number| format!("PE-{number:04}")).collect();
    let cells: Vec<_> = names.iter().map(|name| (name.as_str(), good.clone())).collect();
    let path = folder.path().join("day.csv");
    write(&path, &header, &cells);
    let call_many = many(&path, &[]);
    assert_eq!(call_many.code, 0, "{}", call_many.err);
    assert!(call_many.err.contains("20 cells in "), "{}", call_many.err);

    let alone = call(&["grade", "traces/two_level.csv", "--cell", LABEL, "--json"], None);
    let alone: Value = serde_json::from_str(&alone.out).expect("JSON");
    let found = lines(&call_many);
    assert_eq!(found.len(), names.len());
    for (line, name) in found.iter().zip(&names) {
        assert_eq!(line["cell"]["id"].as_str(), Some(name.as_str()));
        assert_eq!(line["estimates"], alone["estimates"]);
        assert_eq!(line["verdict"], alone["verdict"]);
        assert_eq!(line["cautions"], alone["cautions"]);
    }
}

#[test]
fn a_bad_cell_is_told_with_its_place_and_the_others_are_graded() {
    let folder = tempfile::tempdir().expect("a folder");
    let (header, good) = rows("two_level");
    let (_, wrong_sign) = rows("wrong_sign");
    let torn: Vec<String> = good
        .iter()
        .enumerate()
        .map(|(row, text)| if row % 9 == 4 { text[..7].to_owned() } else { text.clone() })
        .collect();
    let path = folder.path().join("day.csv");
    write(
        &path,
        &header,
        &[("PE-0001", good.clone()), ("PE-0002", torn), ("PE-0003", wrong_sign), ("PE-0004", good.clone())],
    );
    // A line torn in the middle of the last cell, so that another name appears in its rows.
    let text = std::fs::read_to_string(&path).expect("text");
    let mut all: Vec<&str> = text.lines().collect();
    let last = all.len() - 100;
    all[last] = "PE-00";
    std::fs::write(&path, format!("{}\nPE-0005,0.00,0.000\n", all.join("\n"))).expect("written");

    let call = many(&path, &[]);
    assert_eq!(call.code, 2, "{}", call.err);
    let found = lines(&call);
    assert_eq!(found.len(), 5);
    assert_eq!(found[0]["schema"], "celltriage.assessment/1");
    for (line, expected) in found[1..].iter().zip([
        ("PE-0002", "line 1230"),
        ("PE-0003", "turn the sign"),
        ("PE-0004", "a row of cell `PE-00` among those of cell `PE-0004`"),
        ("PE-0005", "0 usable rows"),
    ]) {
        assert_eq!(line["schema"], "celltriage.unreadable/1");
        assert_eq!(line["cell"], expected.0);
        let error = line["error"].as_str().expect("words");
        assert!(error.contains(expected.1), "{error}");
    }
    assert_eq!(found[3]["first_line"], 2 + 3 * good.len());
    assert_eq!(found[3]["last_line"], 1 + 4 * good.len());
    assert!(call.err.contains("4 unreadable"), "{}", call.err);
}

#[test]
fn what_cannot_be_meant_is_refused_before_anything_is_read() {
    let folder = tempfile::tempdir().expect("a folder");
    let call_without = many(Path::new("traces/two_level.csv"), &[]);
    assert_eq!(call_without.code, 2);
    assert!(call_without.err.contains("column `Cell ID` is missing"), "{}", call_without.err);
    let (header, good) = rows("two_level");
    let path = folder.path().join("day.csv");
    write(&path, &header, &[("PE-0001", good.clone()), ("PE-0002", good)]);
    for one_cell in
        [["--no-signs"].as_slice(), &["--id", "PE-1"], &["--thickness-mm", "4.5"], &["--book", "b"]]
    {
        let call = many(&path, one_cell);
        assert_eq!((call.code, call.out.as_str()), (2, ""), "{one_cell:?}");
    }
    // Without the option such a file is refused as the trace of one cell, and the message names the option.
    let single = call(&["grade", &path.display().to_string(), "--cell", LABEL], None);
    assert_eq!(single.code, 2);
    assert!(single.err.contains("`grade --many`"), "{}", single.err);
}
