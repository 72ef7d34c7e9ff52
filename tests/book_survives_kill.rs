//! The book survives `kill -9` at any moment: what was acknowledged is there, and nothing is there by half.
//!
//! The test starts itself again as one or two children that write for ever and print each number *after* the book
//! acknowledged it. The parent kills them with SIGKILL at varied moments, again and again on the same book, and compares
//! what was printed with what is stored. A kill leaves the operating system's cache alone, so this shows that writes
//! are whole and recovered, not that they outlive a power cut; for that the book's own tests hold the sync setting.

#![expect(clippy::unwrap_used, reason = "in a test a panic is the verdict, in its helper functions too")]

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Sender, channel};
use std::time::{Duration, Instant};

use celltriage_book::{Book, BookError, NewAttachment, NewEntry, Problem, RecordingNumber, Subject};
use jiff::Timestamp;
use serde_json::json;

/// Tells a process that it is the child, and on which book.
const CHILD: &str = "CELLTRIAGE_TEST_CHILD_WRITES_TO";
/// How often children are killed, at least.
const ROUNDS: u64 = 25;
/// How many of the kills must fall after an entry's writing began and before it was whole.
const CUT_OFF: u64 = 5;
/// Every third entry's large attachment: beyond SQLite's page cache of 2 MB, so that part of the unfinished transaction
/// is already in the log when the kill comes.
const LARGE: usize = 2_500_000;

/// How long a large entry takes to be made, about.
const MAKING: Duration = Duration::from_millis(12);
/// What is larger than the page cache comes with each third recording.
const LARGE_EVERY: i64 = 3;

/// From when on a kill is timed.
#[derive(Clone, Copy, PartialEq)]
enum Moment {
    /// The start of the children: it may be over before one has opened the book.
    Start,
    /// The first chunk that each has acknowledged.
    Chunk,
    /// The same, and that one of them has begun to write a large entry.
    LargeEntry,
}

/// Chunks of a recording before an entry finishes it.
const CHUNKS: u32 = 5;

/// What a child said before it died.
#[derive(Default)]
struct Said {
    /// Highest chunk acknowledged, by recording.
    chunks: BTreeMap<i64, u32>,
    /// Entries acknowledged, and the recording each finished.
    entries: BTreeMap<u32, i64>,
    /// The recording of an entry that was begun and not acknowledged.
    in_hand: Option<i64>,
}

#[test]
fn every_acknowledged_record_survives_kill_nine_and_none_is_half_there() {
    if let Ok(path) = std::env::var(CHILD) {
        write_until_killed(Path::new(&path));
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cells.book");
    let (mut chunks, mut entries) = (BTreeMap::new(), BTreeMap::new());
    let (mut rounds, mut cut_off) = (0, 0);
    // The test would prove little if the kills fell between two requests: it goes on until enough did not.
    let most = celltriage_tests::rounds(ROUNDS);
    let work = time_of_two_entries();
    while rounds < most || cut_off < CUT_OFF {
        assert!(rounds < 20 * most, "only {cut_off} kills fell between the statements of an entry");
        // From the first acknowledgement to well into the work, or while an entry is made; every third round two children
        // write at once. On a slow disk most time is spent waiting for it, when all of an entry is written already.
        let children = (0..1 + rounds % 3 / 2).map(|_| start_child(&path)).collect();
        let share = (rounds * 7_919 % 30_000) as f64 / 30_000.0;
        let all_said = match rounds % 2 {
            0 => kill_after(children, Moment::Chunk, work.mul_f64(share)),
            _ => kill_after(children, Moment::LargeEntry, MAKING.mul_f64(share)),
        };
        rounds += 1;

        let book = Book::open(&path).unwrap();
        let unfinished = book.unfinished_recordings().unwrap();
        for said in all_said {
            assert!(!said.chunks.is_empty(), "a child was killed before it was heard");
            chunks.extend(said.chunks);
            for (entry, recording) in said.entries {
                assert_eq!(entries.insert(entry, recording), None, "entry {entry} was acknowledged twice");
            }
            let mut left = unfinished.iter().map(|recording| i64::from(recording.number));
            cut_off += u64::from(said.in_hand.is_some_and(|in_hand| left.any(|number| number == in_hand)));
        }
        check(&book, &chunks, &entries);
    }
    println!(
        "{rounds} rounds: {} entries and {} recordings acknowledged; {cut_off} kills fell between an entry's statements",
        entries.len(),
        chunks.len(),
    );
}

#[test]
fn a_kill_while_the_book_is_begun_leaves_a_book_that_opens() {
    // Each time a new book and a kill half a millisecond later, until a child came as far as its first chunk.
    for step in 0..10_000 {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("cells.book");
        let said = kill_after(vec![start_child(&path)], Moment::Start, Duration::from_micros(500 * step));
        let chunks: BTreeMap<i64, u32> = said.into_iter().flat_map(|said| said.chunks).collect();
        check(&Book::open(&path).unwrap(), &chunks, &BTreeMap::new());
        if !chunks.is_empty() {
            println!("{step} kills before the first chunk was acknowledged");
            assert!(step > 0, "no kill came before the book was begun");
            return;
        }
    }
    panic!("no child came as far as its first chunk within 5 s");
}

/// Compares the whole book with everything acknowledged so far.
fn check(book: &Book, chunks: &BTreeMap<i64, u32>, entries: &BTreeMap<u32, i64>) {
    let found = book.verify().unwrap();
    assert!(found.passed(), "{:?}", found.faults);
    for (entry, recording) in entries {
        assert!(book.entry(*entry).unwrap().is_some(), "entry {entry} was acknowledged and is gone");
        assert_eq!(i64::from(book.recordings_of(*entry).unwrap()[0].number), *recording);
    }
    // Acknowledged or not: an entry that is there is there with all that belongs to it.
    let stored = book.entries(&Default::default()).unwrap();
    assert_eq!(stored.len() as u32, found.entries);
    let mut recordings: Vec<(RecordingNumber, bool)> = Vec::new();
    for entry in stored {
        assert_eq!(
            book.attachments_of(entry.number).unwrap().len(),
            2,
            "entry {} is half there",
            entry.number
        );
        let finished = book.recordings_of(entry.number).unwrap();
        assert_eq!(finished.len(), 1, "entry {} is half there", entry.number);
        recordings.push((finished[0].number, true));
    }
    recordings
        .extend(book.unfinished_recordings().unwrap().iter().map(|recording| (recording.number, false)));
    let mut lengths = BTreeMap::new();
    for (number, finished) in recordings {
        let bytes = book.recording(number).unwrap().unwrap();
        let whole: Vec<u8> = (1..=CHUNKS).flat_map(chunk).collect();
        assert!(whole.starts_with(&bytes), "recording {number} holds something else");
        assert_eq!(bytes.len() % chunk(1).len(), 0, "recording {number} holds half a chunk");
        assert!(!finished || bytes.len() == whole.len(), "recording {number} was finished too early");
        lengths.insert(i64::from(number), (bytes.len() / chunk(1).len()) as u32);
    }
    for (recording, acknowledged) in chunks {
        assert!(lengths.get(recording) >= Some(acknowledged), "recording {recording} lost a chunk");
    }
}

fn start_child(path: &Path) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args([
            "--exact",
            concat!(module_path!(), "::every_acknowledged_record_survives_kill_nine_and_none_is_half_there")
                .trim_start_matches("keeping::"),
            "--nocapture",
        ])
        .env(CHILD, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .unwrap()
}

/// How long a child takes on this disk from its first chunk to its second entry: a few milliseconds here, a second there.
fn time_of_two_entries() -> Duration {
    let folder = tempfile::tempdir().unwrap();
    let mut child = start_child(&folder.path().join("cells.book"));
    let lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
    let mut chunks = lines.filter(|line| line.starts_with("chunk "));
    let begun = chunks.next().map(|_| Instant::now());
    // The third recording begins behind the second entry.
    let third = chunks.find(|line| line.starts_with("chunk 3 ")).map(|_| Instant::now());
    child.kill().unwrap();
    child.wait().unwrap();
    third.unwrap() - begun.unwrap()
}

/// Kills all children and returns what each said; `patience` counts from that moment.
fn kill_after(mut children: Vec<Child>, from: Moment, patience: Duration) -> Vec<Said> {
    let (chunk, chunks) = channel();
    let (large, larges) = channel();
    let mut outputs = Vec::new();
    for child in &mut children {
        let (output, heard) = (child.stdout.take().unwrap(), [chunk.clone(), large.clone()]);
        outputs.push(std::thread::spawn(move || listen(BufReader::new(output), &heard)));
    }
    let patiently = Duration::from_secs(60);
    for _ in children.iter().filter(|_| from != Moment::Start) {
        chunks.recv_timeout(patiently).unwrap();
    }
    if from == Moment::LargeEntry {
        // What was begun before all had been heard is long done.
        while larges.try_recv().is_ok() {}
        larges.recv_timeout(patiently).unwrap();
    }
    std::thread::sleep(patience);
    for child in &mut children {
        assert_eq!(child.try_wait().unwrap(), None, "a child ended by itself");
        child.kill().unwrap();
        child.wait().unwrap();
    }
    outputs.into_iter().map(|output| output.join().unwrap()).collect()
}

/// Reads what a child says to its end, and passes on that it acknowledged something and that it begins a large entry. A last
/// line without its end was not said.
fn listen(mut output: impl BufRead, [chunk, large]: &[Sender<()>; 2]) -> Said {
    let mut said = Said::default();
    let mut line = String::new();
    while output.read_line(&mut line).unwrap() > 0 && line.ends_with('\n') {
        let words: Vec<&str> = line.split_whitespace().collect();
        match words[..] {
            ["chunk", recording, count] => {
                if said.chunks.is_empty() {
                    chunk.send(()).unwrap();
                }
                said.chunks.insert(recording.parse().unwrap(), count.parse().unwrap());
            }
            ["writing", recording] => {
                let recording = recording.parse().unwrap();
                if recording % LARGE_EVERY == 0 {
                    // Nobody may listen any more.
                    let _ = large.send(());
                }
                said.in_hand = Some(recording);
            }
            ["entry", entry, recording] => {
                said.entries.insert(entry.parse().unwrap(), recording.parse().unwrap());
                said.in_hand = None;
            }
            // The test harness says something before the child does.
            _ => {}
        }
        line.clear();
    }
    said
}

/// The child: recordings and entries without end. It ends by itself only when nobody listens any more, or after a time
/// no round takes. A lock goes to whoever happens to ask while it is free, so each child leaves it free for a while after
/// each entry, as benches do: two that write without a pause on a slow disk can keep each other out for a minute.
fn write_until_killed(path: &Path) {
    let begun = Instant::now();
    let mut book = once_free(|| Book::open(path));
    let say = |words: String| std::io::stdout().write_all(format!("{words}\n").as_bytes()).is_ok();
    while begun.elapsed() < Duration::from_secs(60) {
        let entry_begun = Instant::now();
        let number = once_free(|| book.begin_recording("C-1", Timestamp::now()));
        let recording = i64::from(number);
        for count in 1..=CHUNKS {
            once_free(|| book.append_recording(number, &chunk(count)));
            if !say(format!("chunk {recording} {count}")) {
                return;
            }
        }
        let large = if recording % LARGE_EVERY == 0 { LARGE } else { 2_000 };
        let new = NewEntry {
            at: Timestamp::now(),
            kind: "assessment".into(),
            subject: Subject::cell("C-1"),
            about: Vec::new(),
            simulated: Some(false),
            personal: Vec::new(),
            fate: Some("undecided".into()),
            summary: format!("finishes recording {recording}"),
            program: "the test's child".into(),
            inputs: json!({"recording": recording}),
            result: json!(null),
            corrects: None,
            attachments: vec![
                attachment("small.csv", recording, 100),
                attachment("large.csv", recording, large),
            ],
            recordings: vec![number],
        };
        say(format!("writing {recording}"));
        let entry = once_free(|| book.append(new.clone()));
        if !say(format!("entry {} {recording}", entry.number)) {
            return;
        }
        std::thread::sleep(entry_begun.elapsed() / 2);
    }
}

/// What a book answers once the other child does not hold its lock: one that is told to wait tries again.
fn once_free<T>(mut ask: impl FnMut() -> Result<T, BookError>) -> T {
    loop {
        match ask() {
            Err(error) if matches!(error.problem, Problem::Locked) => continue,
            answer => return answer.unwrap(),
        }
    }
}

/// The bytes of a recording's n-th chunk: of one length, each different.
fn chunk(count: u32) -> Vec<u8> {
    count.to_le_bytes().repeat(100)
}

fn attachment(name: &str, recording: i64, length: usize) -> NewAttachment {
    let mut bytes = format!("{name} of recording {recording} ").into_bytes();
    bytes.resize(length, b'.');
    NewAttachment { name: name.into(), media_type: "text/csv".into(), bytes }
}
