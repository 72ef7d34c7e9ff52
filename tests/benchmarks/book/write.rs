//! Writes the book: one thread makes entries, another puts them in, many to a commit.

use crate::pen::Written;
use crate::templates::Templates;
use crate::years::Years;
use celltriage_book::{Book, NewEntry};
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde_json::{Value, json};
use std::path::Path;
use std::sync::mpsc::sync_channel;
use std::time::Instant;

/// Cells to a commit.
const AT_ONCE: u32 = 200;
/// Bytes of a recording to a commit.
const CHUNK: usize = 64 * 1024;

/// Writes the book of so many cells; a recording for every tenth where they are wanted.
pub fn write(path: &Path, cells: u32, recordings: bool) -> Value {
    let now = Timestamp::now();
    let templates = Templates::make();
    let frames: Vec<Vec<u8>> =
        (0..templates.decisions.len()).map(|kind| Years::frames(&templates, kind)).collect();
    let mut years = Years::new(templates, cells, now);
    let (give, take) = sync_channel::<Vec<Written>>(4);
    let began = Instant::now();
    let maker = std::thread::spawn(move || {
        let mut making = 0.0;
        loop {
            let begun = Instant::now();
            let batch = years.next(AT_ONCE);
            making += begun.elapsed().as_secs_f64();
            if batch.is_empty() || give.send(batch).is_err() {
                return making;
            }
        }
    });
    let of: &[Vec<u8>] = if recordings { &frames } else { &[] };
    let mut book = Book::open(path).expect("a new book");
    let (mut entries, mut putting, mut recorded_bytes) = (0, 0.0, 0);
    for batch in take {
        let begun = Instant::now();
        let new: Vec<NewEntry> =
            batch.into_iter().map(|written| recorded(&mut book, written, of, &mut recorded_bytes)).collect();
        entries += new.len();
        let written = book.append_all(new).expect("written");
        assert_eq!(written.last().map(|entry| entry.number as usize), Some(entries), "numbered as expected");
        putting += begun.elapsed().as_secs_f64();
    }
    let making = maker.join().expect("made");
    let writing = began.elapsed().as_secs_f64();
    let folding = Instant::now();
    let clock = HeldClock::at(now);
    let mut shop = Workshop::new(book, &clock, TimeZone::UTC);
    shop.keep_up(&mut |_| {}).expect("kept");
    let keeping = folding.elapsed().as_secs_f64();
    // Closed, the file is whole without its log.
    drop(shop);
    json!({
        "cells": cells,
        "entries": entries,
        "seconds": writing,
        "cells_a_second": f64::from(cells) / writing,
        "making_s": making,
        "putting_s": putting,
        "keeping_s": keeping,
        "recorded_bytes": recorded_bytes,
        "bytes": std::fs::metadata(path).expect("the book").len(),
    })
}

fn recorded(book: &mut Book, written: Written, frames: &[Vec<u8>], bytes: &mut usize) -> NewEntry {
    let mut new = written.entry;
    let frames = written.frames.and_then(|kind| frames.get(kind)).filter(|frames| !frames.is_empty());
    if let Some(frames) = frames {
        let number = book.begin_recording(&new.subject.name, new.at).expect("begun");
        for chunk in frames.chunks(CHUNK) {
            book.append_recording(number, chunk).expect("recorded");
        }
        *bytes += frames.len();
        new.recordings.push(number);
    }
    new
}
