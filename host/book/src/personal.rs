//! Texts about persons, kept apart from what is sealed, so that they can be blanked and every seal still fits.
//!
//! A text such as a name is taken out of summary, inputs and result before the entry is sealed; a mark with its number stands
//! there instead, and the seal covers a digest over a random salt and the text. Whoever reads the entry sees the text in its
//! place again. Blanking removes text and salt for good; the digest stays, and nobody can find the text by trying names,
//! since the salt is gone too.

use serde_json::Value;

use super::digest::Digester;
use super::store::PersonalRow;
use super::{Digest, Problem};

/// What a blanked text reads as.
pub const BLANKED: &str = "(blanked)";
/// Marks begin and end with characters of Unicode's private use area, which no keyboard types.
const BEGIN: char = '\u{E000}';
const END: char = '\u{E001}';

/// Takes texts out of an entry.
pub(super) struct TakeOut<'a>(pub(super) &'a [String]);

impl TakeOut<'_> {
    /// Returns a text with marks for what is taken out.
    pub(super) fn text(&self, text: &str) -> String {
        let mut left = text.to_owned();
        for (index, personal) in self.0.iter().enumerate() {
            left = replace_words(&left, personal, &mark(index + 1));
        }
        left
    }

    /// Does the same in all texts of a value.
    pub(super) fn value(&self, value: &mut Value) {
        if !self.0.is_empty() {
            in_texts(value, &mut |text| {
                if self.0.iter().any(|personal| text.contains(personal.as_str())) {
                    *text = self.text(text);
                }
            });
        }
    }
}

/// Puts texts back where their marks are.
pub(super) struct PutBack<'a>(pub(super) &'a [PersonalRow]);

impl PutBack<'_> {
    pub(super) fn text(&self, text: &mut String) {
        if !text.contains(BEGIN) {
            return;
        }
        // The highest first, since a text that was put back may look like a mark.
        for (index, row) in self.0.iter().enumerate().rev() {
            let known = row.text.as_ref().map_or(BLANKED, |(_, text)| text);
            *text = text.replace(&mark(index + 1), known);
        }
    }

    pub(super) fn value(&self, value: &mut Value) {
        if !self.0.is_empty() {
            in_texts(value, &mut |text| self.text(text));
        }
    }
}

impl PersonalRow {
    pub(super) fn of(salt: [u8; 16], text: &str) -> Self {
        Self { digest: digest_of(&salt, text), text: Some((salt, text.to_owned())) }
    }

    /// Returns whether the text, where it is still there, is the one that was sealed.
    pub(super) fn fits(&self) -> bool {
        self.text.as_ref().is_none_or(|(salt, text)| digest_of(salt, text) == self.digest)
    }
}

/// Refuses texts in which a mark could not be told from what was written.
pub(super) fn without_marks(field: &'static str, text: &str) -> Result<(), Problem> {
    if text.contains([BEGIN, END]) {
        return Err(Problem::BadText { field, what: "holds a character of the private use area" });
    }
    Ok(())
}

/// The same of all texts and names in a value.
pub(super) fn value_without_marks(field: &'static str, value: &Value) -> Result<(), Problem> {
    match value {
        Value::String(text) => without_marks(field, text),
        Value::Array(list) => list.iter().try_for_each(|one| value_without_marks(field, one)),
        Value::Object(fields) => fields.iter().try_for_each(|(name, one)| {
            without_marks(field, name)?;
            value_without_marks(field, one)
        }),
        _ => Ok(()),
    }
}

fn digest_of(salt: &[u8; 16], text: &str) -> Digest {
    let mut digester = Digester::fields("celltriage book personal 1");
    digester.field(salt);
    digester.field(text);
    digester.finish()
}

fn mark(number: usize) -> String {
    format!("{BEGIN}{number}{END}")
}

fn in_texts(value: &mut Value, change: &mut impl FnMut(&mut String)) {
    match value {
        Value::String(text) => change(text),
        Value::Array(list) => list.iter_mut().for_each(|one| in_texts(one, change)),
        Value::Object(fields) => fields.values_mut().for_each(|one| in_texts(one, change)),
        _ => {}
    }
}

/// Replaces `word` where it is not part of a longer word: a person called Li is not in "lithium".
fn replace_words(text: &str, word: &str, by: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    let mut before = None;
    while let Some(place) = rest.find(word).filter(|_| !word.is_empty()) {
        let (head, tail) = rest.split_at(place);
        let after = tail.get(word.len()..).unwrap_or_default();
        let joined = |letter: Option<char>| letter.is_some_and(char::is_alphanumeric);
        out.push_str(head);
        if joined(head.chars().next_back().or(before)) || joined(after.chars().next()) {
            out.push_str(word);
        } else {
            out.push_str(by);
        }
        before = word.chars().next_back();
        rest = after;
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    fn rows(names: &[String]) -> Vec<PersonalRow> {
        names.iter().map(|name| PersonalRow::of([7; 16], name)).collect()
    }

    #[test]
    fn a_name_is_taken_out_wherever_it_is_a_word_and_comes_back() {
        let names = ["Li".to_owned(), "M. Orme".to_owned()];
        let original = json!({"by": "Li", "chemistry": "Lithium ion", "list": ["seen by Li, M. Orme", 3]});
        let mut value = original.clone();
        TakeOut(&names).value(&mut value);
        let text = value.to_string();
        assert!(!text.contains("Orme") && !text.contains("\"Li\"") && text.contains("Lithium ion"), "{text}");
        PutBack(&rows(&names)).value(&mut value);
        assert_eq!(value, original);
    }

    #[test]
    fn what_is_blanked_says_so_and_its_digest_stays() {
        let names = ["M. Orme".to_owned()];
        let mut line = TakeOut(&names).text("judged [M. Orme, 2026-11-28]");
        let mut row = rows(&names).remove(0);
        assert!(row.fits());
        row.text = None;
        assert!(row.fits());
        PutBack(&[row]).text(&mut line);
        assert_eq!(line, "judged [(blanked), 2026-11-28]");
        assert!(!PersonalRow { digest: Digest::BEGINNING, text: Some(([7; 16], "M. Orme".into())) }.fits());
    }

    proptest! {
        #[test]
        fn whatever_is_taken_out_comes_back(text in "[a-c .]{0,40}", names in proptest::collection::vec("[a-c.]{1,4}", 0..4)) {
            let mut line = TakeOut(&names).text(&text);
            PutBack(&rows(&names)).text(&mut line);
            prop_assert_eq!(line, text);
        }
    }
}
