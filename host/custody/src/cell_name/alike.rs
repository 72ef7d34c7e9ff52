//! Names that look the same on a tag: case, blanks, signs, letters that do not show, and letters of other scripts with the same shape.
//!
//! The letters below are those of the Cyrillic, Greek and Armenian scripts whose capital or small form is drawn as a Latin one (after
//! the confusable characters of Unicode Technical Standard 39, from memory, and by far not all of them); digits and letters that
//! people take for each other (0 and O; 1, I and l) are common practice. Wide, round and other shapes of one letter are one by
//! Normalization Form KC. Two names too many told alike cost a look, two too few a cell taken for another.

use unicode_normalization::UnicodeNormalization;

/// Small letters of other scripts, and what stands beside each looks like.
const SHAPES: [(&str, &str); 4] = [
    ("авекмнорстухіјѕһԁԛԝүѵз", "abekmhopctyxijshdqwyv3"),
    ("αβεζηικμνορτυχ", "abezhikmnoptyx"),
    ("օոսհց", "onuhg"),
    ("ıɑɡ", "iag"),
];

/// Returns what two names have in common that look the same.
pub fn spelling(name: &str) -> String {
    name.nfkc()
        .filter(|letter| letter.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .filter(|letter| letter.is_alphanumeric())
        .map(|letter| taken_for(shape(letter)))
        .collect()
}

/// The small letter that is drawn the same.
fn shape(letter: char) -> char {
    let found = SHAPES.iter().find_map(|(letters, shapes)| {
        let place = letters.chars().position(|one| one == letter)?;
        shapes.chars().nth(place)
    });
    found.unwrap_or(letter)
}

const fn taken_for(letter: char) -> char {
    match letter {
        '0' => 'o',
        '1' | 'i' => 'l',
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shape_has_its_letter() {
        for (letters, shapes) in SHAPES {
            assert_eq!(letters.chars().count(), shapes.chars().count(), "{letters}");
            assert!(shapes.is_ascii(), "{shapes}");
        }
    }

    #[test]
    fn names_that_look_the_same_are_spelt_the_same() {
        for alike in [
            "pe-0001",
            "PE 0001",
            "PE0001",
            "PE-000l",
            "PE-OOO1",
            "PE\u{200b}-0001",
            "РЕ-0001",
            "ＰＥ-０００１",
            "ΡΕ-0001",
            "PE\u{2011}000І",
        ] {
            assert_eq!(spelling(alike), spelling("PE-0001"), "{alike}");
        }
        for another in ["PE-0002", "PE-001", "PF-0001", "PE-0001a", "PÉ-0001"] {
            assert_ne!(spelling(another), spelling("PE-0001"), "{another}");
        }
    }
}
