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
const ROUND: u32 = 50;
/// Bytes that are hashed at a time: about a text of an entry.
const PIECE: usize = 16 * 1024;
/// The bytes of all values of an entry, in whatever table; an integer counts as two.
const BYTES_OF: &str =
    "SELECT (SELECT length(kind || subject_kind || subject || coalesce(fate, '') || summary || program)
        + 5 * 32 + 10 * 2 FROM entry WHERE number = $1)
    + (SELECT sum(length(bytes) + 2) FROM text WHERE number IN (2 * $1, 2 * $1 + 1))
    + (SELECT length(text) FROM words WHERE entry = $1)
    + (SELECT sum(length(subject_kind || subject) + 4) FROM about WHERE entry = $1)
    + (SELECT coalesce(sum(length(text) + 16 + 32 + 4), 0) FROM personal WHERE entry = $1)";

/// What writes of one sort took.
#[derive(Default)]
struct Spent {
    wall_s: Vec<f64>,
    cpu_s: f64,
}

impl Spent {
    fn time(&mut self, work: impl FnOnce()) {
        let (cpu, begun) = (cpu_s(), Instant::now());
        work();
        self.wall_s.push(begun.elapsed().as_secs_f64());
        self.cpu_s += cpu_s() - cpu;
    }

    fn median_ms(&mut self) -> f64 {
        self.wall_s.sort_by(f64::total_cmp);
        self.wall_s[self.wall_s.len() / 2] * 1e3
    }

    fn mean_ms(&self) -> f64 {
        self.wall_s.iter().sum::<f64>() / self.wall_s.len() as f64 * 1e3
    }

    fn cpu_ms(&self) -> f64 {
        self.cpu_s / self.wall_s.len() as f64 * 1e3
    }
}

/// The processor time of this thread, by Linux's count (man 5 proc, schedstat); 0 elsewhere.
fn cpu_s() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    told.split(' ').next().and_then(|nanoseconds| nanoseconds.parse::<f64>().ok()).unwrap_or(0.0) / 1e9
}

/// Times durable writes: an event through the workshop, by which another cell of a box is weighed each time; an entry by itself; and,
/// in turn with each, a row of as many bytes in bare SQLite with the same log and syncs. All stay open, as in a shop.
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
    let cells: Vec<String> = state.cells.iter().filter_map(standing).take(40).collect();
    let mass = Milligrams(68_400);
    let weigh = |shop: &mut Workshop<'_>, cell: &str| {
        let weighed = CellWeighed { cell: cell.to_owned(), mass };
        shop.weigh(&signer, &rules, weighed).expect("weighed").entry
    };
    let first = weigh(&mut shop, &cells[0]);
    let length: u32 = Connection::open(path)
        .and_then(|book| book.query_row(BYTES_OF, [first.number], |row| row.get(0)))
        .expect("the entry");
    let bare_path = path.with_extension("bare");
    let bare = bare_sqlite(&bare_path);
    let row = vec![7_u8; length as usize];
    let insert = |bare: &Connection| {
        let mut insert = bare.prepare_cached("INSERT INTO row (bytes) VALUES ($1)").expect("prepared");
        insert.execute([&row]).expect("written");
    };
    let mut book = Book::open(path).expect("a book");
    let mut spent: [Spent; 4] = Default::default();
    for _ in 0..times.div_ceil(ROUND) {
        // One of each in turn, so that both see the same disk.
        for cell in cells.iter().cycle().take(ROUND as usize) {
            spent[0].time(|| insert(&bare));
            spent[1].time(|| drop(weigh(&mut shop, cell)));
        }
        for cell in cells.iter().cycle().take(ROUND as usize) {
            let new = NewEntry {
                simulated: Some(false),
                summary: first.summary.clone(),
                inputs: first.inputs.clone(),
                personal: vec![signer.by.clone()],
                ..NewEntry::of("benchmark", Subject::cell(cell), Timestamp::now())
            };
            spent[2].time(|| insert(&bare));
            spent[3].time(|| drop(book.append(new).expect("written")));
        }
    }
    drop(bare);
    for ending in ["bare", "bare-wal", "bare-shm"] {
        let _may_be_gone = std::fs::remove_file(path.with_extension(ending));
    }
    let [bare_beside_event, event, bare_beside_entry, entry] = &mut spent;
    let of_bare = |bare: &mut Spent, other: &mut Spent| bare.median_ms() / other.median_ms();
    json!({
        "times": times,
        "row_bytes": length,
        "bare_ms": (bare_beside_event.median_ms() + bare_beside_entry.median_ms()) / 2.0,
        "bare_cpu_ms": bare_beside_event.cpu_ms(),
        "event_ms": event.median_ms(),
        "event_mean_ms": event.mean_ms(),
        "event_cpu_ms": event.cpu_ms(),
        "entry_ms": entry.median_ms(),
        "entry_cpu_ms": entry.cpu_ms(),
        "event_of_bare": of_bare(bare_beside_event, event),
        "entry_of_bare": of_bare(bare_beside_entry, entry),
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
        "threads": std::thread::available_parallelism().map_or(1, usize::from).min(4) + 1,
    })
}
