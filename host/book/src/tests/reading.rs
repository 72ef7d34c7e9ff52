//! Reading: what a filter lets through, and what a search finds.

use serde_json::json;

use super::super::{Book, BookError, Filter, NewEntry, Subject};
use super::{Shelf, assessment, second};

/// Five cells of the workshop, one a minute.
fn five_cells(shelf: &Shelf) -> Book {
    let mut book = shelf.open();
    let cells = [
        ("tablet-1", Some("reuse"), "88 % of the rated capacity"),
        ("tablet-2", Some("recycle"), "50_% left"),
        ("scanner-1", Some("quarantine"), "swollen"),
        ("tablet-1", None, "note"),
        ("scanner-2", Some("recycle"), "Übertemperatur"),
    ];
    for (minute, (cell, fate, summary)) in cells.into_iter().enumerate() {
        let new = NewEntry {
            at: second(60 * minute as i64),
            fate: fate.map(str::to_owned),
            summary: summary.into(),
            inputs: json!({"drawer": {"name": format!("shelf {minute}"), "marks": ["dent", 42]}}),
            ..assessment(cell)
        };
        book.append(new).unwrap();
    }
    book
}

fn numbers(book: &Book, filter: Filter) -> Vec<u32> {
    book.entries(&filter).unwrap().iter().map(|entry| entry.number).collect()
}

#[test]
fn entries_come_newest_first_and_a_limit_keeps_the_newest() {
    let shelf = Shelf::new();
    let book = five_cells(&shelf);
    assert_eq!(numbers(&book, Filter::default()), [5, 4, 3, 2, 1]);
    assert_eq!(numbers(&book, Filter { limit: Some(2), ..Filter::default() }), [5, 4]);
    assert_eq!(numbers(&book, Filter { limit: Some(0), ..Filter::default() }), [0; 0]);
}

#[test]
fn each_part_of_a_filter_restricts_and_all_restrict_together() {
    let shelf = Shelf::new();
    let book = five_cells(&shelf);
    let cell = Filter { about: Some(Subject::cell("tablet-1")), ..Filter::default() };
    assert_eq!(numbers(&book, cell.clone()), [4, 1]);
    assert_eq!(numbers(&book, Filter { about: Some(Subject::cell("tablet")), ..Filter::default() }), [0; 0]);
    assert_eq!(numbers(&book, Filter { fate: Some("recycle".into()), ..Filter::default() }), [5, 2]);
    // From the second minute on, and before the fourth.
    let (since, until) = (Some(second(60)), Some(second(180)));
    assert_eq!(numbers(&book, Filter { since, until, ..Filter::default() }), [3, 2]);
    assert_eq!(numbers(&book, Filter { since, fate: Some("reuse".into()), ..Filter::default() }), [0; 0]);
    assert_eq!(numbers(&book, Filter { since, ..cell }), [4]);
}

#[test]
fn a_search_looks_at_cell_fate_kind_summary_and_values_of_the_inputs() {
    let shelf = Shelf::new();
    let book = five_cells(&shelf);
    let found = |text: &str| book.find(text).unwrap().iter().map(|entry| entry.number).collect::<Vec<_>>();
    assert_eq!(found("SCANNER"), [5, 3]);
    assert_eq!(found("quarant"), [3]);
    assert_eq!(found("swollen"), [3]);
    assert_eq!(found("shelf 3"), [4]);
    assert_eq!(found("dent").len(), 5);
    assert_eq!(found("drawer"), [0; 0], "a key of the inputs is not a word of the shop");
    assert_eq!(found("Über"), [5]);
}

#[test]
fn signs_with_a_meaning_in_a_pattern_mean_themselves() {
    let shelf = Shelf::new();
    let book = five_cells(&shelf);
    let found = |text: &str| book.find(text).unwrap().iter().map(|entry| entry.number).collect::<Vec<_>>();
    assert_eq!(found("8 %"), [1]);
    assert_eq!(found("_%"), [2]);
    assert_eq!(found(r"\"), [0; 0]);
    assert_eq!(found("' OR 1 --"), [0; 0]);
}

#[test]
fn several_questions_are_of_one_state_whatever_is_written_meanwhile() {
    let shelf = Shelf::new();
    let book = five_cells(&shelf);
    let mut other = shelf.open();
    let seen = book.at_one_state(|| {
        let before = book.last()?.unwrap().number;
        other.append(assessment("C-6"))?;
        // A question inside of it, and one after that, are of the same state.
        let inside = book.at_one_state(|| Ok::<_, BookError>(book.last()?.unwrap().number))?;
        Ok::<_, BookError>((before, inside, book.last()?.unwrap().number))
    });
    assert_eq!(seen.unwrap(), (5, 5, 5));
    assert_eq!(book.last().unwrap().unwrap().number, 6);
    let failed = book.at_one_state(|| Err::<(), _>(book.not_storable("x", "y")));
    assert!(failed.is_err());
    other.append(assessment("C-7")).unwrap();
    assert_eq!(book.last().unwrap().unwrap().number, 7, "an error ends it too");
}
