//! Words about what was written: which known word was meant, and the TOML reader's own words for a person at the bench.

/// A word that differs by no more letters than this is taken for a typing mistake (our choice).
const SLIP: usize = 2;

/// Returns the known word that a written one probably stands for; `None` if none is close.
pub fn closest<'k>(written: &str, known: &[&'k str]) -> Option<&'k str> {
    let distance = |word: &str| strsim::levenshtein(written, word);
    known.iter().copied().min_by_key(|word| distance(word)).filter(|word| distance(word) <= SLIP)
}

/// Returns `; did you mean "x"?` if a known word is close to the written one, else an empty text.
pub fn suggestion(written: &str, known: &[&str]) -> String {
    closest(written, known).map_or(String::new(), |meant| format!("; did you mean \"{meant}\"?"))
}

/// Puts an error of the TOML reader into plain words: it speaks of Rust's types. A choice that is mistyped gets the word
/// that was probably meant.
pub(crate) fn plain_words(error: &toml::de::Error) -> String {
    let words = error.message().lines().collect::<Vec<_>>().join("; ");
    let meant = meant_choice(&words).map_or(String::new(), |meant| format!("; did you mean `{meant}`?"));
    words.replace("expected f64", "expected a number").replace("floating point", "number") + &meant
}

/// Returns the choice that was probably meant, from the reader's "unknown variant `x`, expected one of `a`, `b`".
fn meant_choice(words: &str) -> Option<&str> {
    if !words.starts_with("unknown variant `") && !words.starts_with("unknown field `") {
        return None;
    }
    // Every other part lies between backticks: what was written, then what is known.
    let mut quoted = words.split('`').skip(1).step_by(2);
    let written = quoted.next()?;
    closest(written, &quoted.collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_typing_mistake_is_told_from_another_word() {
        assert_eq!(
            (closest("kitten", &["sitting"]), closest("kitten", &["kittens"])),
            (None, Some("kittens"))
        );
        assert_eq!(suggestion("lefd", &["left"]), "; did you mean \"left\"?");
        assert_eq!(suggestion("up", &["left"]), "");
    }
}
