//! A rule pack: the facts of one place, or of one layer over many places.
//!
//! [`Pack::from_toml`] reads one; the file's form is described in `host/RULES.md`.

use crate::place::PlaceCode;
use crate::rule::Rule;
use jiff::civil::Date;

/// The facts of one place, or of one layer over many places.
#[derive(Clone, Debug, PartialEq)]
pub struct Pack {
    /// Where it holds; absent: everywhere, or in the members alone where there are any.
    pub place: Option<PlaceCode>,
    /// Name of a layer that is not a place, such as `air`.
    pub layer: Option<String>,
    /// Name of the place for people.
    pub title: String,
    /// Version of the pack.
    pub version: String,
    /// When the pack was checked last.
    pub checked_on: Date,
    /// When it is to be checked again.
    pub review_by: Date,
    /// Whom to ask in doubt.
    pub authority: String,
    /// Places that belong to it, as the member states do to the European Union.
    pub members: Vec<PlaceCode>,
    /// Layers that it replaces wherever it holds.
    pub instead_of: Vec<String>,
    /// The facts.
    pub rules: Vec<Rule>,
    /// Where it comes from.
    pub origin: PackOrigin,
}

/// Where a pack comes from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum PackOrigin {
    /// Built into this program.
    #[default]
    BuiltIn,
    /// The workshop's own.
    Own {
        /// Name of its file.
        file: String,
        /// Its text as it was read.
        text: String,
        /// Whether it replaces one that is built in.
        replaces: bool,
    },
}

impl Pack {
    /// Returns the name to ask for it: the layer's, the place's code, or `*` for everywhere.
    pub fn name(&self) -> &str {
        match (&self.layer, &self.place) {
            (Some(layer), _) => layer,
            (None, Some(place)) => place.as_str(),
            (None, None) => "*",
        }
    }

    /// Returns a source as it is printed: with the file where the pack is the workshop's own.
    pub fn source(&self, cite: &str) -> String {
        match &self.origin {
            PackOrigin::BuiltIn => cite.to_owned(),
            PackOrigin::Own { file, replaces: false, .. } => format!("{cite}; own pack {file}"),
            PackOrigin::Own { file, replaces: true, .. } => {
                format!("{cite}; own pack {file} in place of the built-in one")
            }
        }
    }
}
