//! A typed line as every question takes it: `b` goes back, an empty line is an answer of its own.

use crate::io::Io;
use crate::spoken::agrees;

/// A typed line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reply {
    /// Back to the question before.
    Back,
    /// Nothing was typed.
    Empty,
    /// What was typed, without blanks at its ends.
    Text(String),
}

impl Reply {
    /// Asks; `None` where nobody is there or the input has ended.
    pub fn to(question: &str, io: &mut Io<'_>) -> Option<Self> {
        io.ask.as_mut().and_then(|ask| ask(question)).map(|line| Self::of(&line))
    }

    /// Returns whether it takes what is proposed: Enter, or yes and nothing else.
    pub fn takes_it(&self) -> bool {
        match self {
            Self::Empty => true,
            Self::Text(text) => agrees(text),
            Self::Back => false,
        }
    }

    /// Reads a line.
    pub fn of(line: &str) -> Self {
        match line.trim() {
            "" => Self::Empty,
            "b" | "B" => Self::Back,
            text => Self::Text(text.to_owned()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_letter_alone_goes_back() {
        assert_eq!((Reply::of(" b\n"), Reply::of("B")), (Reply::Back, Reply::Back));
        assert_eq!((Reply::of("\n"), Reply::of(" ")), (Reply::Empty, Reply::Empty));
        assert_eq!(Reply::of(" bb\n"), Reply::Text("bb".to_owned()));
    }
}
