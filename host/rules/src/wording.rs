//! Words of a pack for people: they must say something, and promise nothing.

use crate::promise::promise_in;
use celltriage_written::{Fields, Found, Reading};

/// Takes words that must be there, say something and promise nothing.
pub(super) fn words(fields: &mut Fields<'_>, key: &str, reading: &mut Reading<'_>) -> Option<String> {
    let found = fields.need::<String>(key, reading)?;
    check_words(&found, reading);
    Some(found.value)
}

/// Notes words that say nothing, or promise something.
pub(super) fn check_words(found: &Found<String>, reading: &mut Reading<'_>) {
    if found.value.trim().is_empty() {
        reading.add(found.span.clone(), "this is empty: every rule needs its text and its source");
    }
    if let Some(promise) = promise_in(&found.value) {
        let what = format!("\"{promise}\" promises what no tool can; say what to do instead");
        reading.add(found.span.clone(), what);
    }
}
