//! Two processes move cells in one book and are killed with SIGKILL at varied moments: no cell is lost or in two places,
//! no inner packing holds two, and what was acknowledged is in the book.
//!
//! The test starts itself again as children that call the program's own commands without end and print each line that the
//! program printed as data, after it was printed. A refusal is an answer; anything else than done or refused is a fault.

#![expect(clippy::unwrap_used, reason = "in a test a panic is the verdict, in its helper functions too")]

use celltriage_book::Book;
use celltriage_custody::State;
use celltriage_custody::cell::Whereabouts;
use celltriage_custody::kept_state::kept_fits;
use celltriage_tests::{BY, NOON, Shop, call, rounds};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, BufReader, Write};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Tells a process that it is a child, on which book it works, and with which numbers it begins.
const CHILD: &str = "CELLTRIAGE_TEST_CHILD_MOVES_CELLS_IN";
const SEED: &str = "CELLTRIAGE_TEST_CHILD_SEED";
const CELLS: [&str; 4] = ["PE-1", "PE-2", "PE-3", "PE-4"];
const CONTAINERS: [&str; 2] = ["Q-1", "Q-2"];
/// How often two children are started and killed.
const ROUNDS: u64 = 8;
/// Acknowledged lines that are waited for in a round before the kill.
const LINES: usize = 6;

#[test]
fn no_kill_and_no_second_hand_loses_a_cell_or_puts_it_in_two_places() {
    if let Ok(book) = std::env::var(CHILD) {
        move_cells_without_end(&book);
    }
    let shop = Shop::new();
    for cell in CELLS {
        shop.must(NOON, &format!("assess --id {cell} --simulated sound --no-signs --sign swollen=yes"), &[]);
    }
    for name in CONTAINERS {
        shop.does(&["container", "open", name, "--kind", "quarantine", "--place", "US", "--stands", "yard"]);
    }
    let mut acknowledged = BTreeMap::new();
    let rounds = rounds(ROUNDS);
    for round in 0..rounds {
        let children: Vec<Child> = (0..2).map(|side| start(&shop.book(), round * 2 + side)).collect();
        for said in kill_after(children, Duration::from_micros(round * 7_919 % 20_000)) {
            let number: u32 =
                said.strip_prefix("entry ").unwrap().split(':').next().unwrap().parse().unwrap();
            let summary = said.split_once(": ").unwrap().1.to_owned();
            assert_eq!(
                acknowledged.insert(number, summary),
                None,
                "two were told that they wrote entry {number}"
            );
        }
        holds(&shop.book_path(), &acknowledged);
    }
    assert!(acknowledged.len() >= LINES * rounds as usize, "{} lines only", acknowledged.len());
}

fn holds(path: &std::path::Path, acknowledged: &BTreeMap<u32, String>) {
    // Opening to write recovers what the kill left behind.
    let book = Book::open(path).unwrap();
    assert!(book.verify().unwrap().passed());
    for (number, summary) in acknowledged {
        let entry = book.entry(*number).unwrap().unwrap();
        assert_eq!(entry.summary.trim_end(), summary.trim_end(), "entry {number}");
    }
    let state = State::read(&book).unwrap();
    assert!(kept_fits(&book, true, &mut |_| {}).unwrap(), "what is kept is what the entries say");
    assert_eq!(
        state.cells.keys().map(String::as_str).collect::<Vec<_>>(),
        CELLS,
        "no cell is lost, none appears"
    );
    let mut packings = BTreeSet::new();
    let mut counted = 0;
    for (name, cell) in &state.cells {
        if let Whereabouts::In { container, inner, .. } = &cell.whereabouts {
            assert!(
                packings.insert((container.clone(), inner.clone())),
                "{name} shares {inner:?} of {container}"
            );
            counted += 1;
        }
    }
    let standing: usize = CONTAINERS.iter().map(|name| state.cells_in(name).count()).sum();
    assert_eq!(standing, counted, "each cell counts once");
}

fn start(book: &str, seed: u64) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args([
            "--exact",
            concat!(module_path!(), "::no_kill_and_no_second_hand_loses_a_cell_or_puts_it_in_two_places")
                .trim_start_matches("keeping::"),
            "--nocapture",
        ])
        .env(CHILD, book)
        .env(SEED, seed.to_string())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Waits until each child has done something, kills both, and returns every whole line that they acknowledged.
fn kill_after(mut children: Vec<Child>, pause: Duration) -> Vec<String> {
    let mut lines = Vec::new();
    let mut readers: Vec<_> =
        children.iter_mut().map(|child| BufReader::new(child.stdout.take().unwrap()).lines()).collect();
    for reader in &mut readers {
        let said = reader.by_ref().map_while(Result::ok).filter(|line| told(line));
        lines.extend(said.take(LINES));
    }
    std::thread::sleep(pause);
    for child in &mut children {
        child.kill().unwrap();
        child.wait().unwrap();
    }
    for reader in readers {
        lines.extend(reader.map_while(Result::ok).filter(|line| told(line)));
    }
    // A line that the kill cut off does not count as acknowledged: its end is missing.
    lines.into_iter().filter_map(|line| line.strip_suffix('.').map(str::to_owned)).collect()
}

fn told(line: &str) -> bool {
    assert!(!line.starts_with("FAULT"), "{line}");
    line.starts_with("entry ")
}

fn move_cells_without_end(book: &str) -> ! {
    let mut number: u64 = std::env::var(SEED).unwrap().parse().unwrap();
    loop {
        // A linear congruential step (Knuth's constants): the children need variety, not quality.
        number = number.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let pick = |shift: u32, of: usize| (number >> shift) as usize % of;
        let (cell, container) = (CELLS[pick(40, CELLS.len())], CONTAINERS[pick(50, CONTAINERS.len())]);
        let inner = ["a", "b"][pick(33, 2)];
        let done = if pick(36, 2) == 0 {
            let typed = ["container", "--book", book, "place", container, cell, "--inner", inner];
            call(&[&typed[..], &BY].concat(), None)
        } else {
            let typed = ["container", "--book", book, "take-out", cell, "--because", "next box"];
            call(&[&typed[..], &BY].concat(), None)
        };
        let mut out = std::io::stdout();
        match done.code {
            0 => writeln!(out, "{}.", done.out.trim_end()).unwrap(),
            2 => {}
            code => writeln!(out, "FAULT {code}: {}", done.err.replace('\n', " ")).unwrap(),
        }
        out.flush().unwrap();
    }
}
