//! The text of a printed tag: the name of a cell, `+`, and the check character, which is no part of the name.
//!
//! Why `+`: no new name may hold it, so a text with one is a tag or a mistake, and nothing in between; it is in the alphabets of the
//! usual bar codes (Code 39, Code 128, the alphanumeric mode of QR codes: from memory), it means nothing to a shell, and it may stand
//! in the name of a file. A hyphen, a dot or a blank would not do: names hold them. Where the check character is `*`, a shell may take
//! it for a pattern: typed by hand, such a tag goes into quotes.

use super::check_character::{check_character, may_be_one};

/// What stands between the name and the check character.
pub const SEPARATOR: char = '+';

/// Why a scanned or typed tag is not taken.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BadTag {
    /// The check character is not that of the name.
    #[error(
        "the check character `{found}` does not fit `{name}`: a letter was read or typed wrongly. Scan the tag again, or type the \
         name without `{SEPARATOR}{found}`"
    )]
    Wrong {
        /// The name as it was read.
        name: String,
        /// The character that was read.
        found: char,
    },
    /// No tag can have such a name.
    #[error(
        "`{0}` has no check character: that takes letters A to Z or digits, without marks. Write the name alone, without `{SEPARATOR}`"
    )]
    NoCheck(String),
}

/// Returns the text of the tag of a cell.
///
/// # Errors
/// There is no check character for the name.
pub fn tag_of(name: &str) -> Result<String, BadTag> {
    let check = check_character(name).ok_or_else(|| BadTag::NoCheck(name.to_owned()))?;
    Ok(format!("{name}{SEPARATOR}{check}"))
}

/// Returns the name on a tag; `None` if the text is no tag.
///
/// # Errors
/// It is a tag whose check character does not fit.
pub fn name_on(text: &str) -> Option<Result<&str, BadTag>> {
    let (name, check) = text.rsplit_once(SEPARATOR)?;
    let mut letters = check.chars();
    let found = letters.next().filter(|letter| letters.next().is_none() && may_be_one(*letter))?;
    Some(match check_character(name) {
        None => Err(BadTag::NoCheck(name.to_owned())),
        Some(right) if right == found.to_ascii_uppercase() => Ok(name),
        Some(_) => Err(BadTag::Wrong { name: name.to_owned(), found }),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_is_read_back_and_a_slip_in_it_is_told() {
        for name in ["PE-0001", "pe-0001", "12", "shelf 3, left"] {
            let tag = tag_of(name).unwrap();
            assert_eq!(name_on(&tag), Some(Ok(name)), "{tag}");
            assert_eq!(name_on(&tag.to_lowercase()), Some(Ok(name.to_lowercase().as_str())));
        }
        let tag = tag_of("PE-0001").unwrap();
        let check = tag.chars().last().unwrap();
        let slipped = name_on(&tag.replace("0001", "0010")).map(|read| read.map(str::to_owned));
        assert_eq!(slipped, Some(Err(BadTag::Wrong { name: "PE-0010".to_owned(), found: check })));
        let told = BadTag::Wrong { name: "PE-0010".to_owned(), found: check }.to_string();
        assert!(told.contains("Scan the tag again") && told.contains("without"), "{told}");
    }

    #[test]
    fn what_is_no_tag_is_left_alone() {
        for text in ["PE-0001", "PE-0001*", "A+BC", "A+", "A+-", "A+ä"] {
            assert_eq!(name_on(text), None, "{text}");
        }
        assert_eq!(tag_of("Ä-1"), Err(BadTag::NoCheck("Ä-1".to_owned())));
        assert_eq!(name_on("Ä-1+A"), Some(Err(BadTag::NoCheck("Ä-1".to_owned()))));
    }
}
