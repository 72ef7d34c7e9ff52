//! Writes the book of a shop's years and measures what it costs; `tests/bench book` runs it beside the release program.
//!
//! ```text
//! book_years write BOOK CELLS [--recordings]     the book, with what is drawn from it; entries and cells a second
//! book_years append BOOK TIMES                   durable writes beside bare SQLite on the same disk
//! book_years verify BOOK                         verification beside SHA-256 alone over as many bytes
//! book_years plain BOOK TO CELLS                 the same entries as the first format kept them, for its size
//! ```
//!
//! Each prints one line of JSON.

mod boxes;
mod compare;
mod pen;
mod plain;
mod templates;
mod varied;
mod write;
mod years;

fn main() {
    let typed: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = typed.iter().map(String::as_str).collect();
    let number = |text: &str| text.parse::<u32>().expect("a number");
    let told = match words.as_slice() {
        ["write", book, cells] => write::write(book.as_ref(), number(cells), false),
        ["write", book, cells, "--recordings"] => write::write(book.as_ref(), number(cells), true),
        ["append", book, times] => compare::append(book.as_ref(), number(times)),
        ["verify", book] => compare::verify(book.as_ref()),
        ["plain", book, to, cells] => plain::plain(book.as_ref(), to.as_ref(), number(cells)),
        _ => {
            eprintln!(
                "usage: book_years write|append|verify|plain BOOK ...; see tests/benchmarks/book/main.rs"
            );
            std::process::exit(2);
        }
    };
    println!("{told}");
}
