//! Transactions: nothing of a request that fails, nothing seen before it ends, one writer at a time, reading at one state.

use std::sync::mpsc::channel;
use std::time::{Duration, Instant};

use super::dump::{difference, dump};
use super::{New, assessment, file, fill, on_each_store, read, write};
use crate::store::KeptTo;
use crate::{Digest, Problem};

on_each_store! {
    a_request_that_fails_leaves_nothing_and_one_that_panics_too,
    a_request_sees_what_it_has_written_and_others_only_when_it_has_ended,
    all_that_is_read_in_one_request_is_of_one_state,
    what_is_held_is_of_one_state_until_it_is_let_go,
    who_waits_too_long_is_told_that_it_is_locked,
    two_handles_take_turns,
}

fn kept_to(number: i64) -> KeptTo {
    KeptTo { version: 1, number, digest: Digest::of(&number.to_le_bytes()) }
}

fn a_request_that_fails_leaves_nothing_and_one_that_panics_too(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    let mut store = place.store();
    let before = dump(&*store);
    let all = |rows: &mut dyn super::RowsMut| {
        rows.add_attachment(4, 1, &file("a", b"never"))?;
        rows.add_words(4, "never")?;
        rows.set_kept_to("story", &kept_to(3))?;
        rows.add_chunk(4, 2, b"never")?;
        rows.clear_all_kept()
    };
    let failed = write(&mut *store, |rows| all(rows).and(Err(Problem::Grown)));
    assert!(matches!(failed, Err(Problem::Grown)));
    assert_eq!(difference(&dump(&*store), &before), [""; 0]);
    let panicked = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        let _never = write(&mut *store, |rows| all(rows).map(|()| panic!("in the middle of a request")));
    }));
    assert!(panicked.is_err());
    assert_eq!(difference(&dump(&*store), &before), [""; 0]);
    assert_eq!(difference(&dump(&*place.store()), &before), [""; 0]);
    assert_eq!(place.book().append(assessment("C-1")).unwrap().number, 4, "the lock is free again");
}

fn a_request_sees_what_it_has_written_and_others_only_when_it_has_ended(new: New) {
    let place = new();
    drop(place.begin(1));
    let (mut writer, reader) = (place.store(), place.store());
    write(&mut *writer, |rows| {
        rows.set_kept_to("story", &kept_to(3))?;
        assert_eq!(rows.kept_to("story")?, Some(kept_to(3)));
        assert_eq!(read(&*reader, |rows| rows.kept_to("story")), None);
        Ok(())
    })
    .unwrap();
    assert_eq!(read(&*reader, |rows| rows.kept_to("story")), Some(kept_to(3)));
}

fn what_is_held_is_of_one_state_until_it_is_let_go(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    let (store, mut other) = (place.store(), place.store());
    let last = |store: &dyn super::Store| read(store, |rows| Ok(rows.kept_to("held")?.map(|to| to.number)));
    assert!(store.hold().unwrap());
    assert_eq!(last(&*store), None);
    assert!(!store.hold().unwrap(), "it is held already");
    write(&mut *other, |rows| rows.set_kept_to("held", &kept_to(3))).unwrap();
    assert_eq!((last(&*store), last(&*other)), (None, Some(3)));
    store.let_go();
    assert_eq!(last(&*store), Some(3));
}

fn all_that_is_read_in_one_request_is_of_one_state(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    let (mut book, reader) = (place.book(), place.store());
    read(&*reader, |rows| {
        let before = (rows.last()?, rows.last_link()?);
        Ok(before)
    });
    let mut written = false;
    reader
        .read(&mut |rows| {
            let before = rows.last()?;
            if !written {
                book.append(assessment("C-9")).unwrap();
                written = true;
            }
            assert_eq!((rows.last()?, rows.entry(4)?, rows.names("cell")?.len()), (before, None, 2));
            Ok(())
        })
        .unwrap();
    assert_eq!(read(&*reader, |rows| rows.last()).unwrap().number, 4);
}

fn who_waits_too_long_is_told_that_it_is_locked(new: New) {
    let place = new();
    drop(place.begin(1));
    let (mut first, mut second) = (place.store(), place.store());
    second.wait_at_most(Duration::from_millis(60)).unwrap();
    let began = Instant::now();
    let mut ran = false;
    write(&mut *first, |_| {
        let refused = write(&mut *second, |_| {
            ran = true;
            Ok(())
        });
        assert!(matches!(refused, Err(Problem::Locked)), "{refused:?}");
        // Reading waits for nobody.
        read(&*second, |rows| rows.last());
        Ok(())
    })
    .unwrap();
    assert!(!ran && began.elapsed() >= Duration::from_millis(50), "{:?}", began.elapsed());
    write(&mut *second, |_| Ok(())).unwrap();
    // One that has patience gets its turn when the other has ended.
    second.wait_at_most(Duration::from_secs(20)).unwrap();
    let (begun, is_begun) = channel();
    std::thread::scope(|scope| {
        let waiting = scope.spawn(move || {
            begun.send(()).unwrap();
            write(&mut *second, |rows| rows.set_kept_to("story", &kept_to(2)))
        });
        write(&mut *first, |rows| {
            is_begun.recv_timeout(Duration::from_secs(5)).ok();
            std::thread::sleep(Duration::from_millis(50));
            rows.set_kept_to("story", &kept_to(1))
        })
        .unwrap();
        waiting.join().unwrap().unwrap();
    });
    let last = read(&*first, |rows| rows.kept_to("story")).unwrap().number;
    assert!(last == 1 || last == 2, "{last}");
}

fn two_handles_take_turns(new: New) {
    let place = new();
    drop(place.begin(1));
    let mut numbers: Vec<u32> = std::thread::scope(|scope| {
        let write_some = |mut book: super::Book| {
            move || (0..25).map(|_| book.append(assessment("C-1")).unwrap().number).collect::<Vec<_>>()
        };
        let threads: Vec<_> = (0..3).map(|_| scope.spawn(write_some(place.book()))).collect();
        threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=75).collect::<Vec<u32>>());
    let found = place.book().verify().unwrap();
    assert_eq!((found.entries, found.faults), (75, vec![]));
}
