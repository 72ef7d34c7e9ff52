//! What is kept: custody from the decision to the hand-over, and a book that survives the end of its writer.

#[path = "book_survives_kill.rs"]
mod book_survives_kill;
#[path = "custody.rs"]
mod custody;
#[path = "custody_crash.rs"]
mod custody_crash;
#[path = "custody_words.rs"]
mod custody_words;
