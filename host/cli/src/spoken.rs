//! A typed line as an answer to a question that yes or no answers.

use celltriage_measure::observation::Answer;

/// Returns what a line answers; `None` if it is neither yes nor no nor empty.
///
/// A first word that says yes counts, whatever follows: who types "yes it smokes" is not asked again. A no with more
/// words behind it counts only where a mark ends it ("no, nothing"): "no idea" says that nobody knows.
pub fn spoken(line: &str) -> Option<Answer> {
    let line = line.trim().to_lowercase();
    let word: String = line.chars().take_while(|letter| letter.is_alphanumeric()).collect();
    let rest = line.get(word.len()..).unwrap_or_default();
    match word.as_str() {
        "y" | "yes" => Some(Answer::Yes),
        "n" | "no" if rest.is_empty() || rest.starts_with([',', '.', ';', ':', '!']) => Some(Answer::No),
        "" if rest.is_empty() => Some(Answer::NotObserved),
        _ => None,
    }
}

/// Reads yes or no where an option asks for one of both.
pub fn yes_or_no(typed: &str) -> Result<bool, &'static str> {
    match spoken(typed) {
        Some(Answer::Yes) => Ok(true),
        Some(Answer::No) => Ok(false),
        _ => Err("write yes or no"),
    }
}

/// Returns whether a line agrees to what is about to be done: with yes and nothing else.
pub fn agrees(line: &str) -> bool {
    matches!(line.trim().to_lowercase().as_str(), "y" | "yes")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_word_answers_and_what_is_doubtful_is_asked_again() {
        for line in ["y", "Yes", " yes it smokes", "YES!!!", "y, hot", "yes/no"] {
            assert_eq!(spoken(line), Some(Answer::Yes), "{line}");
        }
        for line in ["n", "No ", "no, nothing", "no. Looked twice"] {
            assert_eq!(spoken(line), Some(Answer::No), "{line}");
        }
        for line in ["", "  ", "\n"] {
            assert_eq!(spoken(line), Some(Answer::NotObserved), "{line:?}");
        }
        for line in ["no idea", "n/a", "not looked", "yesterday", "?", "it smokes", "-", "north"] {
            assert_eq!(spoken(line), None, "{line}");
        }
    }
}
