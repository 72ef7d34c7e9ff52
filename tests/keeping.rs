//! What is kept: custody from the decision to the hand-over, and a book that survives the end of its writer.

#[path = "book_commands.rs"]
mod book_commands;
#[path = "book_survives_kill.rs"]
mod book_survives_kill;
#[path = "custody_as_it_was.rs"]
mod custody_as_it_was;
#[path = "custody_boxes.rs"]
mod custody_boxes;
#[path = "custody_calendar.rs"]
mod custody_calendar;
#[path = "custody_crash.rs"]
mod custody_crash;
#[path = "custody_danger.rs"]
mod custody_danger;
#[path = "custody_intake.rs"]
mod custody_intake;
#[path = "custody_irregular.rs"]
mod custody_irregular;
#[path = "custody_records.rs"]
mod custody_records;
#[path = "custody_recycling.rs"]
mod custody_recycling;
#[path = "custody_words.rs"]
mod custody_words;
#[path = "old_book.rs"]
mod old_book;
#[cfg(feature = "paper")]
#[path = "papers_printed.rs"]
mod papers_printed;
