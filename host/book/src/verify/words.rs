//! The words by which an entry is found, compared with its text as it is read, without making a value of it.
//!
//! Takes the words as they are stored and the sealed inputs; says whether they are the same. What is written in another way than
//! this program writes it (blanks, another order of keys) is not understood here, and is looked at as a value.

use super::super::personal::PutBack;
use super::super::store::{EntryRow, PersonalRow};

/// Deeper values are looked at in the other way (our choice, below what serde_json reads).
const DEEPEST: usize = 100;

/// Says whether these are the words of an entry, as far as that is seen at once.
pub(super) fn are_words_of(words: &str, row: &EntryRow, inputs: &str, personal: &[PersonalRow]) -> bool {
    let mut compared = Compared { words, json: inputs, personal };
    let done = compared.head(row).and_then(|()| compared.value(DEEPEST));
    done.is_some() && compared.words.is_empty() && compared.json.is_empty()
}

/// What is left of both; `None` from any step: they differ, or this does not understand them.
struct Compared<'a> {
    words: &'a str,
    json: &'a str,
    personal: &'a [PersonalRow],
}

impl Compared<'_> {
    fn head(&mut self, row: &EntryRow) -> Option<()> {
        self.line(&row.subject.name)?;
        row.fate.as_deref().map_or(Some(()), |fate| self.line(fate))?;
        self.line(&row.kind)?;
        self.text(&row.summary)
    }

    fn line(&mut self, text: &str) -> Option<()> {
        self.words = self.words.strip_prefix(text)?.strip_prefix('\n')?;
        Some(())
    }

    /// A text in which texts about persons may be marked.
    fn text(&mut self, text: &str) -> Option<()> {
        if self.personal.is_empty() || text.is_ascii() {
            return self.line(text);
        }
        let mut text = text.to_owned();
        PutBack(self.personal).text(&mut text);
        self.line(&text)
    }

    fn eats(&mut self, sign: char) -> bool {
        let rest = self.json.strip_prefix(sign);
        self.json = rest.unwrap_or(self.json);
        rest.is_some()
    }

    fn value(&mut self, deepest: usize) -> Option<()> {
        let deepest = deepest.checked_sub(1)?;
        if self.eats('{') {
            return self.each('}', |all| {
                all.string()?;
                all.eats(':').then_some(())?;
                all.value(deepest)
            });
        }
        if self.eats('[') {
            return self.each(']', |all| all.value(deepest));
        }
        if self.json.starts_with('"') {
            let text = self.string()?;
            if !text.contains('\\') {
                return self.text(text.trim_matches('"'));
            }
            let text: String = serde_json::from_str(text).ok()?;
            return self.text(&text);
        }
        for word in ["true", "false", "null"] {
            if let Some(rest) = self.json.strip_prefix(word) {
                self.json = rest;
                return if word == "null" { Some(()) } else { self.line(word) };
            }
        }
        let number = self.number()?;
        self.line(number)
    }

    fn each(&mut self, end: char, mut one: impl FnMut(&mut Self) -> Option<()>) -> Option<()> {
        if self.eats(end) {
            return Some(());
        }
        loop {
            one(self)?;
            if !self.eats(',') {
                return self.eats(end).then_some(());
            }
        }
    }
}

impl<'a> Compared<'a> {
    /// Returns a string as it is written, with its quotation marks.
    fn string(&mut self) -> Option<&'a str> {
        let mut escaped = false;
        let inside = self.json.strip_prefix('"')?;
        let end = inside.bytes().position(|byte| {
            let ends = byte == b'"' && !escaped;
            escaped = byte == b'\\' && !escaped;
            ends || byte < b' '
        })?;
        inside.get(end..)?.starts_with('"').then_some(())?;
        let (text, rest) = self.json.split_at_checked(end + 2)?;
        self.json = rest;
        Some(text)
    }

    /// Returns a number as it is written.
    fn number(&mut self) -> Option<&'a str> {
        let of_number = |byte: u8| byte.is_ascii_digit() || matches!(byte, b'-' | b'+' | b'.' | b'e' | b'E');
        let end = self.json.bytes().position(|byte| !of_number(byte)).unwrap_or(self.json.len());
        let (number, rest) = self.json.split_at_checked(end)?;
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        let (whole, exponent) = number.split_once(['e', 'E']).unwrap_or((number, "0"));
        let (whole, fraction) = whole.split_once('.').unwrap_or((whole, "0"));
        let whole = whole.strip_prefix('-').unwrap_or(whole);
        let written = digits(whole)
            && (whole == "0" || !whole.starts_with('0'))
            && digits(fraction)
            && digits(exponent.strip_prefix(['-', '+']).unwrap_or(exponent));
        self.json = rest;
        written.then_some(number)
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::read::words_of_row;
    use super::super::super::{Digest, Subject};
    use super::*;
    use proptest::prelude::*;
    use serde_json::{Value, json};

    fn row() -> EntryRow {
        EntryRow {
            number: 1,
            chain: 1,
            position: 1,
            origin: 1,
            origin_number: 1,
            form: 2,
            at_ms: 0,
            kind: "assessment".into(),
            subject: Subject::cell("C-1"),
            simulated: None,
            fate: Some("reuse".into()),
            summary: "sound [\u{E000}1\u{E001}]".into(),
            program: "one".into(),
            corrects: None,
            inputs: Digest::BEGINNING,
            result: Digest::BEGINNING,
            stream: (0, Digest::BEGINNING),
            previous: Digest::BEGINNING,
            digest: Digest::BEGINNING,
        }
    }

    fn persons() -> Vec<PersonalRow> {
        vec![PersonalRow::of([1; 16], "Tove \"Li\" Lindqvist")]
    }

    #[test]
    fn the_words_of_an_entry_are_its_own_and_any_others_are_not() {
        let inputs = json!({
            "a": [1, -2.5e-7, true, null, {}], "by": "\u{E000}1\u{E001}", "c": "a \"word\" \\ é",
            "d": {"e": [], "f": "", "g": [[0.1]]},
        })
        .to_string();
        let words = words_of_row(&row(), &inputs, &persons()).unwrap();
        assert!(are_words_of(&words, &row(), &inputs, &persons()), "{words}");
        for (place, _) in words.char_indices() {
            let mut other = words.clone();
            other.insert(place, 'x');
            assert!(!are_words_of(&other, &row(), &inputs, &persons()), "{other}");
            assert!(!are_words_of(&words[..place], &row(), &inputs, &persons()));
        }
        assert!(!are_words_of(&format!("{words}more\n"), &row(), &inputs, &persons()));
        for broken in
            ["{\"a\":1", "{\"a\":1}}", "{\"a\" 1}", "{\"a\":01}", "{\"a\":1.}", "{\"a\":-}", "[1,]", "\"a"]
        {
            let mut compared = Compared { words: "1\n1\n", json: broken, personal: &[] };
            assert!(compared.value(9).is_none() || !compared.json.is_empty(), "{broken}");
        }
    }

    fn value() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            any::<f64>().prop_map(Value::from),
            "[a-z\\\\\"\n\u{E000}\u{E001}1é]{0,12}".prop_map(Value::from),
        ];
        leaf.prop_recursive(4, 40, 6, |inner| {
            prop_oneof![
                proptest::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
                proptest::collection::btree_map("[a-c\"é]{0,3}", inner, 0..6)
                    .prop_map(|fields| Value::Object(fields.into_iter().collect())),
            ]
        })
    }

    proptest! {
        #[test]
        fn it_says_yes_to_the_words_of_every_value(value in value()) {
            let inputs = value.to_string();
            let words = words_of_row(&row(), &inputs, &persons()).unwrap();
            prop_assert!(are_words_of(&words, &row(), &inputs, &persons()), "{}", inputs);
        }

        #[test]
        fn where_it_says_yes_the_words_are_those(value in value(), words in "[a-c1\n]{0,20}", at in 0_usize..40) {
            let inputs = value.to_string();
            let own = words_of_row(&row(), &inputs, &persons()).unwrap();
            let mut other = own.clone();
            other.insert_str(other.char_indices().nth(at).map_or(0, |(place, _)| place), &words);
            prop_assert_eq!(are_words_of(&other, &row(), &inputs, &persons()), other == own);
        }
    }
}
