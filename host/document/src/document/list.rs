//! Lists: names with values, bullets, and points with their sources.

use crate::phrase::Phrase;
use crate::text::Text;

/// Names with values, one below the other.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// The rows.
    pub rows: Vec<(Text, Text)>,
    /// Column at which values begin, where it is not that of the longest name.
    pub column: Option<usize>,
}

/// What stands before a bullet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Bullet {
    /// A dash.
    #[default]
    Dash,
    /// An exclamation mark: to be heeded.
    Heed,
    /// A plus: begins to hold.
    Plus,
}

/// A list with bullets.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bullets {
    /// What stands before each.
    pub mark: Bullet,
    /// Columns left free before the mark.
    pub indent: usize,
    /// The items.
    pub items: Vec<Text>,
}

/// Something that is needed, with its source.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Point {
    /// What is needed.
    pub text: Text,
    /// Where it comes from.
    pub source: Text,
    /// Whom to verify it with, where it must be.
    pub verify_with: Option<String>,
    /// What is doubtful about it.
    pub doubt: Option<String>,
}

/// A list of points.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Points {
    /// The points.
    pub points: Vec<Point>,
}

impl Facts {
    /// Makes a list of rows.
    pub fn of<N: Into<Text>, V: Into<Text>>(rows: impl IntoIterator<Item = (N, V)>) -> Self {
        let rows = rows.into_iter().map(|(name, value)| (name.into(), value.into())).collect();
        Self { rows, column: None }
    }

    /// Sets the column at which values begin.
    #[must_use]
    pub fn at(self, column: usize) -> Self {
        Self { column: Some(column), ..self }
    }
}

impl Bullet {
    /// Returns the sign that everybody can read.
    pub const fn sign(self) -> &'static str {
        match self {
            Bullet::Dash => "-",
            Bullet::Heed => "!",
            Bullet::Plus => "+",
        }
    }
}

impl Bullets {
    /// Makes a list with dashes, two columns in.
    pub fn of<T: Into<Text>>(items: impl IntoIterator<Item = T>) -> Self {
        Self { mark: Bullet::Dash, indent: 2, items: items.into_iter().map(Into::into).collect() }
    }

    /// Sets what stands before each.
    #[must_use]
    pub fn marked(self, mark: Bullet, indent: usize) -> Self {
        Self { mark, indent, ..self }
    }
}

impl Point {
    /// Returns the source as it is printed: in brackets, with whom to ask where that is needed.
    pub fn origin(&self) -> Text {
        let source = Text::from("[").and(self.source.clone()).and("]").muted();
        match &self.verify_with {
            Some(whom) => {
                source.and(" ").and(Text::phrase(Phrase::VerifyWith, [("whom", whom.clone())]).strong())
            }
            None => source,
        }
    }

    /// Returns the doubt as it is printed.
    pub fn in_doubt(&self) -> Option<Text> {
        let doubt = self.doubt.as_ref()?;
        Some(Text::phrase(Phrase::InDoubt, [("doubt", doubt.clone())]).muted())
    }
}
