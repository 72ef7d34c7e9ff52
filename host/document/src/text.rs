//! A piece of text: words of the program by their key, or words that were given, each with its tone.

use crate::phrase::Phrase;
use celltriage_rules::Severity;

/// How words are set off.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tone {
    /// As the rest.
    #[default]
    Plain,
    /// Bold.
    Strong,
    /// Less weighty, such as a source.
    Muted,
    /// On the ground of a signal colour.
    Signal(Severity),
}

/// Words and where they come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Words {
    /// The program says them; blanks by name.
    Phrase(Phrase, Vec<(&'static str, String)>),
    /// They were typed, measured or read somewhere.
    Given(String),
}

/// Words in one tone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Span {
    /// The words.
    pub words: Words,
    /// How they are set off.
    pub tone: Tone,
}

/// A piece of text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Text {
    /// Its parts, without anything between them.
    pub spans: Vec<Span>,
}

impl Words {
    /// Returns the words.
    pub fn said(&self) -> String {
        match self {
            Words::Given(text) => text.clone(),
            Words::Phrase(phrase, blanks) => {
                let blanks: Vec<_> = blanks.iter().map(|(name, value)| (*name, value.as_str())).collect();
                phrase.said(&blanks)
            }
        }
    }
}

impl Text {
    /// Says a phrase with its blanks filled.
    pub fn phrase(phrase: Phrase, blanks: impl IntoIterator<Item = (&'static str, String)>) -> Self {
        Words::Phrase(phrase, blanks.into_iter().collect()).into()
    }

    /// Returns the signal word of a severity on its colour.
    pub fn signal(severity: Severity) -> Self {
        Text::from(severity.word()).toned(Tone::Signal(severity))
    }

    /// Sets all of it in one tone.
    #[must_use]
    pub fn toned(mut self, tone: Tone) -> Self {
        self.spans.iter_mut().for_each(|span| span.tone = tone);
        self
    }

    /// Makes all of it bold.
    #[must_use]
    pub fn strong(self) -> Self {
        self.toned(Tone::Strong)
    }

    /// Makes all of it less weighty.
    #[must_use]
    pub fn muted(self) -> Self {
        self.toned(Tone::Muted)
    }

    /// Adds more behind it.
    #[must_use]
    pub fn and(mut self, more: impl Into<Text>) -> Self {
        self.spans.extend(more.into().spans);
        self
    }

    /// Returns the words without their tones.
    pub fn said(&self) -> String {
        self.spans.iter().map(|span| span.words.said()).collect()
    }

    /// Returns whether it has no words.
    pub fn is_empty(&self) -> bool {
        self.said().trim().is_empty()
    }
}

impl From<Words> for Text {
    fn from(words: Words) -> Self {
        Self { spans: vec![Span { words, tone: Tone::Plain }] }
    }
}

impl From<Phrase> for Text {
    fn from(phrase: Phrase) -> Self {
        Words::Phrase(phrase, Vec::new()).into()
    }
}

impl From<String> for Text {
    fn from(text: String) -> Self {
        Words::Given(text).into()
    }
}

impl From<&String> for Text {
    fn from(text: &String) -> Self {
        text.clone().into()
    }
}

impl From<&str> for Text {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phrases_and_given_words_go_together_each_in_its_tone() {
        let verify = Text::phrase(Phrase::VerifyWith, [("whom", "the fire authority".to_owned())]).strong();
        let text = Text::from("[P908] ").muted().and(verify);
        assert_eq!(text.said(), "[P908] verify with the fire authority");
        let tones: Vec<Tone> = text.spans.iter().map(|span| span.tone).collect();
        assert_eq!(tones, [Tone::Muted, Tone::Strong]);
        assert!(Text::from(" ").is_empty() && !Text::signal(Severity::Danger).is_empty());
    }
}
