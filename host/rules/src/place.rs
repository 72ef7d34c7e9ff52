//! A place by its code: a country or the European Union, with a part of it where that has rules of its own.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// Letters in common use for a country whose code of ISO 3166 is another: those that treaties and the European Union
/// write. Without this table they would be a place that nobody knows, and its law would be lost without a word.
const OTHER_LETTERS: [(&str, &str); 2] = [("UK", "GB"), ("EL", "GR")];

/// Code of ISO 3166-1 (two letters; `EU` is reserved there) with, optionally, the part after ISO 3166-2.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct PlaceCode(String);

/// Why a text is not a place.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is not a place: write a code of ISO 3166 such as US, US-CA, DE or EU")]
pub struct PlaceCodeError(String);

impl PlaceCode {
    /// Returns the code.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Returns the country's letters.
    pub fn country(&self) -> &str {
        self.0.split('-').next().unwrap_or(&self.0)
    }
}

impl FromStr for PlaceCode {
    type Err = PlaceCodeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let code = text.trim().to_ascii_uppercase();
        let (country, part) = code.split_once('-').unwrap_or((&code, "A"));
        let country_fits = country.len() == 2 && country.bytes().all(|letter| letter.is_ascii_uppercase());
        let part_fits =
            (1..=3).contains(&part.len()) && part.bytes().all(|letter| letter.is_ascii_alphanumeric());
        if !(country_fits && part_fits) {
            return Err(PlaceCodeError(text.to_owned()));
        }
        match OTHER_LETTERS.into_iter().find(|(other, _)| *other == country) {
            Some((other, own)) => Ok(Self(code.replacen(other, own, 1))),
            None => Ok(Self(code)),
        }
    }
}

impl TryFrom<String> for PlaceCode {
    type Error = PlaceCodeError;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl From<PlaceCode> for String {
    fn from(code: PlaceCode) -> Self {
        code.0
    }
}

impl fmt::Display for PlaceCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_read_in_any_case_and_anything_else_is_refused() {
        assert_eq!("us-ca".parse::<PlaceCode>().unwrap().as_str(), "US-CA");
        assert_eq!("US-CA".parse::<PlaceCode>().unwrap().country(), "US");
        assert_eq!(" de ".parse::<PlaceCode>().unwrap().as_str(), "DE");
        for (written, meant) in [("UK", "GB"), ("uk-sct", "GB-SCT"), ("EL", "GR"), ("FR-UK", "FR-UK")] {
            assert_eq!(written.parse::<PlaceCode>().unwrap().as_str(), meant, "{written}");
        }
        for wrong in ["", "U", "USA", "Germany", "US-", "US-CALI", "U1", "-CA", "D\u{e9}"] {
            assert!(wrong.parse::<PlaceCode>().is_err(), "{wrong}");
        }
    }
}
