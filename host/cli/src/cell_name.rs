//! The shop's name for a cell as it is typed: checked before anything is opened, measured or asked.
//!
//! A name that looks like another one makes two cells of one. Names that a book has already are read as they are.

/// Most letters of a name (our choice: a tag holds no more, and a line of a page shows it whole beside a decision).
const MOST_LETTERS: usize = 64;

/// Takes a name as typed.
///
/// # Errors
/// A sentence that says what is wrong with it.
pub fn cell_name(typed: &str) -> Result<String, String> {
    let letters = typed.chars().count();
    if typed.trim().is_empty() {
        return Err("a cell needs a name: write what stands on its tag".to_owned());
    }
    if typed.trim() != typed {
        return Err("a name has no blank at its ends: leave it out".to_owned());
    }
    if letters > MOST_LETTERS {
        return Err(format!("a name has at most {MOST_LETTERS} letters, this one has {letters}: shorten it"));
    }
    Ok(typed.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_not_empty_has_no_blank_at_its_ends_and_at_most_64_letters() {
        let longest = "ä".repeat(64);
        for name in ["S1", "shelf 3, left", longest.as_str()] {
            assert_eq!(cell_name(name).as_deref(), Ok(name));
        }
        let too_long = "x".repeat(65);
        for name in ["", " ", " S1", "S1 ", "S1\t", "\u{a0}S1", "S1\n", too_long.as_str()] {
            assert!(cell_name(name).is_err(), "{name:?}");
        }
    }
}
