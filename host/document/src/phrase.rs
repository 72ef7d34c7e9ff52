//! Every sentence, heading and label that the program itself says on a page: a key and its English text, in one table.
//!
//! A page names the key; the words are changed here, in one place. A blank in braces is filled when the phrase is said.

/// The language of the table.
pub const LANGUAGE: &str = "en";

macro_rules! phrases {
    ($($name:ident $key:literal $english:literal,)*) => {
        /// Something that the program says.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Phrase {
            $(#[doc = $english] $name,)*
        }

        impl Phrase {
            /// All phrases.
            pub const ALL: &'static [Phrase] = &[$(Phrase::$name,)*];

            /// Returns its name, which stays when the words change.
            pub const fn key(self) -> &'static str {
                match self { $(Phrase::$name => $key,)* }
            }

            /// Returns its English text.
            pub const fn english(self) -> &'static str {
                match self { $(Phrase::$name => $english,)* }
            }
        }
    };
}

#[macro_use]
mod first_screen;
#[macro_use]
mod paper;
mod table;
pub use table::Phrase;

impl Phrase {
    /// Returns its English text with blanks filled. A blank without a value stays visible in its braces: a gap in a sentence
    /// about a cell must not look like a whole sentence. Braces in a value fill nothing.
    pub fn said(self, blanks: &[(&str, &str)]) -> String {
        let mut out = String::new();
        let mut rest = self.english();
        while let Some((before, from)) = rest.split_once('{') {
            out.push_str(before);
            let Some((name, after)) = from.split_once('}') else {
                rest = from;
                continue;
            };
            match blanks.iter().find(|(blank, _)| *blank == name) {
                Some((_, value)) => out.push_str(value),
                None => out.push_str(&format!("{{{name}}}")),
            }
            rest = after;
        }
        out + rest
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_rules::promise_in;
    use std::collections::BTreeSet;

    #[test]
    fn every_phrase_has_a_key_of_its_own_and_words() {
        let keys: BTreeSet<_> = Phrase::ALL.iter().map(|phrase| phrase.key()).collect();
        assert_eq!(keys.len(), Phrase::ALL.len(), "two phrases have one key");
        assert!(Phrase::ALL.iter().all(|phrase| !phrase.english().trim().is_empty()));
        for phrase in Phrase::ALL {
            let text = phrase.english();
            assert_eq!(text.matches('{').count(), text.matches('}').count(), "{phrase:?}");
        }
    }

    #[test]
    fn no_phrase_promises_anything() {
        let promises: Vec<_> =
            Phrase::ALL.iter().filter(|phrase| promise_in(phrase.english()).is_some()).collect();
        assert!(promises.is_empty(), "{promises:?}");
    }

    #[test]
    fn a_value_fills_its_blank_and_no_other() {
        let said = Phrase::ChartLimits.said(&[("count", "{weight}"), ("weight", "0.2")]);
        assert!(said.contains("the first {weight}, w weighted mean (0.2 for"), "{said}");
        assert_eq!(Phrase::VerifyWith.said(&[]), "verify with {whom}", "a gap stays visible");
    }
}
