//! What is counted against a limit, in one line, and whom to verify something with.

use celltriage_custody::counters::Counter;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;

/// Returns whom to verify something with, where it must be.
pub fn verify(needed: bool, whom: &str) -> Text {
    if needed { Text::from(" ").and(say!(VerifyWith, whom = whom)) } else { Text::default() }
}

/// Writes what is counted in one line.
pub fn counter_line(counter: &Counter) -> Text {
    let limit = &counter.limit;
    let counted = counter.counted.as_ref().map_or(Phrase::NotCounted.into(), Text::from);
    let relief = limit.under.as_ref().map_or(String::new(), |name| format!(" ({name})"));
    let passed = match counter.passed {
        Some(true) => Phrase::LimitPassed,
        Some(false) => Phrase::LimitNotPassed,
        None => Phrase::NotKnown,
    };
    // Where a limit is plain in itself, its rule in words says it a second time.
    let plain = counter.until.is_some() || limit.under.is_some();
    let means = if plain { String::new() } else { format!(": {}", limit.means) };
    let doubt = limit.doubt.as_ref();
    let doubt = doubt.map_or_else(Text::default, |doubt| Text::from(" ").and(say!(InDoubt, doubt = doubt)));
    let notes: String = counter.notes.iter().map(|note| format!("; {note}")).collect();
    Text::from(format!("{}: ", limit.what.words()))
        .and(counted)
        .and(format!("; {} {}{relief}, ", limit.bound.words(), limit.limit.words()))
        .and(passed)
        .and(format!("{means} [{}]", limit.citation))
        .and(verify(limit.verify, &limit.verify_with))
        .and(doubt)
        .and(notes)
}
