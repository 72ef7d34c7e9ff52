//! The book beside what it is made of: its durable writes beside bare SQLite, its verification beside SHA-256 alone.

use celltriage_book::{Book, Digest, NewEntry, Subject};
use celltriage_custody::event::CellWeighed;
use celltriage_custody::units::Milligrams;
use celltriage_custody::{PackRules, Scope};
use celltriage_rules::Packs;
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::clock_word::ClockWord;
use celltriage_workshop::signer::Signer;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use rusqlite::Connection;
use serde_json::{Value, json};
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

/// Writes of each sort in one round.
const ROUND: u32 = 20;
/// Bytes that are hashed at a time: about a text of an entry.
const PIECE: usize = 16 * 1024;

/// Times durable writes: an event through the workshop, an entry by itself, and a row of the same size in bare SQLite.
pub fn append(path: &Path, times: u32) -> Value {
    let clock = HeldClock::at(Timestamp::now());
    let mut shop = Workshop::new(Book::open(path).expect("a book"), &clock, TimeZone::UTC);
    shop.keep_up(&mut |_| {}).expect("kept");
    let rules = PackRules::new(Packs::built_in().expect("packs"));
    let today = shop.today();
    let signer = Signer { by: "Ines Harrow".to_owned(), on: None, clock: ClockWord::Stated(today) };
    let state = shop.state(Scope::Shop).expect("the shop");
    let standing = |(name, cell): (&String, &celltriage_custody::cell::Cell)| {
        (cell.container().is_some()).then(|| name.clone())
    };
    let cell = state.cells.iter().find_map(standing).expect("a cell in a box");
    let mass = Milligrams(68_400);
    let first = shop.weigh(&signer, &rules, CellWeighed { cell: cell.clone(), mass }).expect("weighed").entry;
    let length = first.inputs.to_string().len() + first.summary.len() + 5 * 32 + 100;
    let bare_path = path.with_extension("bare");
    let bare = bare_sqlite(&bare_path);
    let row = vec![7_u8; length];
    let mut spent = [const { Vec::new() }; 4];
    let mut timed = |sort: usize, work: &mut dyn FnMut()| {
        let begun = Instant::now();
        work();
        spent[sort].push(begun.elapsed().as_secs_f64());
    };
    for _ in 0..times.div_ceil(ROUND) {
        // One of each in turn, so that both see the same disk.
        for _ in 0..ROUND {
            timed(0, &mut || {
                bare.execute("INSERT INTO row (bytes) VALUES ($1)", [&row]).expect("written");
            });
            let weighed = CellWeighed { cell: cell.clone(), mass };
            timed(1, &mut || {
                shop.weigh(&signer, &rules, weighed.clone()).expect("weighed");
            });
        }
        drop(shop);
        let mut book = Book::open(path).expect("a book");
        for _ in 0..ROUND {
            timed(2, &mut || {
                bare.execute("INSERT INTO row (bytes) VALUES ($1)", [&row]).expect("written");
            });
            let new = NewEntry {
                simulated: Some(false),
                summary: first.summary.clone(),
                inputs: first.inputs.clone(),
                personal: vec![signer.by.clone()],
                ..NewEntry::of(&first.kind, Subject::cell(&cell), Timestamp::now())
            };
            timed(3, &mut || {
                book.append(new.clone()).expect("written");
            });
        }
        shop = Workshop::new(book, &clock, TimeZone::UTC);
        shop.keep_up(&mut |_| {}).expect("kept");
    }
    drop(bare);
    for ending in ["bare", "bare-wal", "bare-shm"] {
        let _may_be_gone = std::fs::remove_file(path.with_extension(ending));
    }
    let [bare_beside_event, event_ms, bare_beside_entry, entry_ms] = spent.map(median_ms);
    json!({
        "times": times,
        "row_bytes": length,
        "bare_ms": (bare_beside_event + bare_beside_entry) / 2.0,
        "event_ms": event_ms,
        "entry_ms": entry_ms,
        "event_of_bare": bare_beside_event / event_ms,
        "entry_of_bare": bare_beside_entry / entry_ms,
    })
}

fn bare_sqlite(path: &Path) -> Connection {
    let _may_not_be_there = std::fs::remove_file(path);
    let bare = Connection::open(path).expect("a database");
    bare.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(())).expect("a log");
    bare.pragma_update(None, "synchronous", "full").expect("full syncs");
    bare.execute_batch("CREATE TABLE row (number INTEGER PRIMARY KEY, bytes BLOB NOT NULL) STRICT")
        .expect("a table");
    bare
}

fn median_ms(mut spent: Vec<f64>) -> f64 {
    spent.sort_by(f64::total_cmp);
    spent[spent.len() / 2] * 1e3
}

/// Verifies a book, then hashes as many bytes with the same code and nothing else.
pub fn verify(path: &Path) -> Value {
    let book = Book::open_read_only(path).expect("a book");
    let begun = Instant::now();
    let found = book.verify().expect("verified");
    let verify_s = begun.elapsed().as_secs_f64();
    assert!(found.passed(), "{:?}", found.faults.first());
    let piece = vec![0x5a_u8; PIECE];
    let begun = Instant::now();
    for _ in 0..found.bytes / PIECE as u64 {
        black_box(Digest::of(black_box(&piece)));
    }
    let hash_s = begun.elapsed().as_secs_f64();
    let megabytes = found.bytes as f64 / 1e6;
    json!({
        "entries": found.entries,
        "megabytes": megabytes,
        "verify_mb_s": megabytes / verify_s,
        "hash_mb_s": megabytes / hash_s,
        "of_hash": hash_s / verify_s,
    })
}
