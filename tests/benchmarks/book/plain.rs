//! The same entries in the tables of the first format, texts as they are: how large a book was before.

use celltriage_book::{Book, Entry};
use rusqlite::{Connection, params};
use serde_json::{Value, json};
use std::path::Path;

/// The first format's tables and triggers.
const FORMAT_1: &str = include_str!("../../../host/book/src/sqlite/version_1.sql");
/// Entries to a commit.
const AT_ONCE: u32 = 500;

/// Writes the entries of the first so many cells into a file of the first format; recordings are left out.
pub fn plain(from: &Path, to: &Path, cells: u32) -> Value {
    let book = Book::open_read_only(from).expect("a book");
    let mut file = Connection::open(to).expect("a file");
    file.execute_batch(FORMAT_1).expect("tables");
    let (mut after, mut seen, mut texts) = (0, 0, 0);
    while seen < cells {
        let entries = book.entries_after(after, AT_ONCE).expect("entries");
        let Some(last) = entries.last() else { break };
        after = last.number;
        let transaction = file.transaction().expect("a transaction");
        for entry in &entries {
            seen += u32::from(entry.kind == "assessment");
            texts += add(&transaction, &book, entry);
        }
        transaction.commit().expect("written");
    }
    file.close().expect("closed");
    let bytes = std::fs::metadata(to).expect("the file").len();
    json!({
        "cells": seen,
        "entries": after,
        "bytes": bytes,
        "bytes_a_cell": bytes as f64 / f64::from(seen),
        "text_a_cell": texts as f64 / f64::from(seen),
    })
}

fn add(file: &Connection, book: &Book, entry: &Entry) -> usize {
    let (inputs, result) = (entry.inputs.to_string(), entry.result.to_string());
    for (position, kept) in (1..).zip(book.attachments_of(entry.number).expect("attachments")) {
        let sha256: &[u8] = kept.sha256.as_ref();
        let known: bool = file
            .query_row("SELECT EXISTS (SELECT 1 FROM content WHERE sha256 = $1)", [sha256], |row| row.get(0))
            .expect("asked");
        if !known {
            let bytes = book.attachment(kept.sha256).expect("readable").expect("there");
            file.execute("INSERT INTO content (number, sha256, bytes) SELECT coalesce(max(number), 0) + 1, $1, $2 FROM content", params![sha256, bytes])
                .expect("written");
        }
        file.execute(
            "INSERT INTO attachment (entry, position, name, media_type, sha256) VALUES ($1, $2, $3, $4, $5)",
            params![entry.number, position, kept.name, kept.media_type, sha256],
        )
        .expect("written");
    }
    file.execute(
        "INSERT INTO entry (number, at_ms, kind, cell_id, fate, summary, program, inputs, result, corrects, previous, digest)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)",
        params![
            entry.number,
            entry.at.as_millisecond(),
            entry.kind,
            entry.subject.name,
            entry.fate,
            entry.summary,
            entry.program,
            inputs,
            result,
            entry.corrects,
            entry.previous.as_ref(),
            entry.digest.as_ref(),
        ],
    )
    .expect("written");
    inputs.len() + result.len()
}
