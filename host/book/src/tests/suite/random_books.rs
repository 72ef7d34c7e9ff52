//! Random steps with two books at a time: on every database the same comes of each, and the same rows are left.

use std::sync::Arc;

use proptest::prelude::*;

use super::between::Between;
use super::calls::Calls;
use super::dump::dump;
use super::steps::{Step, step};
use super::{Place, begin, second};
use crate::Book;

/// Takes steps, each with one of two books and beside the other; returns all that can be told of it.
fn take(new: super::New, seed: u64, steps: &[(bool, Step)]) -> Vec<String> {
    let places = [new(), new()];
    let mut books: Vec<Book> = Vec::new();
    for (index, place) in places.iter().enumerate() {
        let calls = Arc::new(Calls::seeded(seed + index as u64));
        let mut store = Between { inner: place.store(), calls };
        begin(&mut store, index as u8 + 1);
        books.push(Book::over(Box::new(store), "a book of the suite"));
    }
    let mut told = Vec::new();
    for (which, step) in steps {
        let (here, there) = (usize::from(*which), usize::from(!*which));
        told.push(step.take(&mut books[here], &*places[there].store()));
    }
    for (book, place) in books.iter().zip(&places) {
        let found = book.verify().unwrap();
        assert_eq!(found.faults, [], "{told:#?}");
        told.push(format!("{found:?}"));
        told.push(book.checkpoint(second(0)).unwrap().to_string());
        told.extend(dump(&*place.store()));
    }
    told
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn the_same_steps_lead_to_the_same_books(
        seed in any::<u32>(),
        steps in proptest::collection::vec((any::<bool>(), step()), 1..30),
    ) {
        let (sqlite, memory) =
            (take(Place::sqlite, seed.into(), &steps), take(Place::memory, seed.into(), &steps));
        for (one, other) in sqlite.iter().zip(&memory) {
            prop_assert_eq!(one, other);
        }
        prop_assert_eq!(sqlite.len(), memory.len());
    }
}

#[test]
fn other_random_bytes_lead_to_other_books() {
    // Were the seed not used, two databases would agree for another reason than that they do the same.
    let entry = proptest::strategy::ValueTree::current(
        &step().new_tree(&mut proptest::test_runner::TestRunner::deterministic()).unwrap(),
    );
    let blank = [(false, entry)];
    assert_eq!(take(Place::memory, 1, &blank), take(Place::memory, 1, &blank));
    let salts = |seed| Calls::seeded(seed).random();
    assert_ne!(salts(1), salts(2));
}
