//! A rule pack as it is written, turned into rules; every mistake is reported with its place.
//!
//! Input: the text of a pack file; output: a [`Pack`] or all mistakes in it. A pack whose text promises anything (see
//! [`crate::promise_in`]) is refused, so that no pack of a user can make the program promise either.

use crate::pack::{Pack, PackOrigin};
use crate::place::PlaceCode;
use crate::rule_file::{self, OfPack};
use crate::wording::{check_words, words};
use celltriage_written::{Faults, Fields, Found, Reading};
use jiff::civil::Date;
use std::collections::BTreeSet;

/// What a pack file must say it is.
const SCHEMA: &str = "celltriage.rules/1";
/// The keys at the top of a pack file.
const KEYS: [&str; 12] = [
    "schema",
    "place",
    "layer",
    "title",
    "version",
    "checked_on",
    "review_by",
    "authority",
    "doubt",
    "members",
    "instead_of",
    "rule",
];

impl Pack {
    /// Reads a pack; `file` is its name for messages.
    ///
    /// # Errors
    /// All mistakes that the text holds, in its order.
    pub fn from_toml(text: &str, file: &str) -> Result<Self, Faults> {
        let (mut reading, head) = Reading::begin(file, text);
        let pack = read(head, &mut reading);
        reading.end(pack)
    }
}

/// Reads all of a file; what comes back is whole only if no mistake was noted.
fn read(mut head: Fields<'_>, reading: &mut Reading<'_>) -> Option<Pack> {
    let schema = head.need::<String>("schema", reading);
    if let Some(schema) = schema.filter(|schema| schema.value != SCHEMA) {
        let what =
            format!("this is not a rule pack that this program reads; it must say schema = \"{SCHEMA}\"");
        reading.add(schema.span, what);
        // Nothing below is known to mean what it would mean in a pack.
        return None;
    }
    let place = head.need::<String>("place", reading).and_then(|place| read_place(place, reading));
    let layer = head.take::<String>("layer", reading);
    if let (Some(layer), Some(Some(_))) = (&layer, &place) {
        reading.add(layer.span.clone(), "only a pack with place = \"*\" is a layer");
    }
    if let Some(layer) = &layer
        && !layer.value.bytes().all(|letter| letter.is_ascii_lowercase())
    {
        reading.add(layer.span.clone(), "a layer's name is made of the letters a to z");
    }
    let title = words(&mut head, "title", reading);
    let version = words(&mut head, "version", reading);
    let authority = words(&mut head, "authority", reading);
    let checked_on = head.need::<Date>("checked_on", reading);
    let review_by = head.need::<Date>("review_by", reading);
    if let (Some(checked), Some(review)) = (&checked_on, &review_by)
        && review.value < checked.value
    {
        reading.add(review.span.clone(), format!("review_by lies before checked_on, {}", checked.value));
    }
    let doubt = head.take::<String>("doubt", reading);
    if let Some(doubt) = &doubt {
        check_words(doubt, reading);
    }
    let members = head.take::<Vec<PlaceCode>>("members", reading);
    let instead_of = head.take::<Vec<String>>("instead_of", reading);
    let tables = head.tables("rule", reading);
    head.finish(&KEYS, reading);

    let checked_on = checked_on.map(|found| found.value).unwrap_or_default();
    let review_by = review_by.map(|found| found.value).unwrap_or_default();
    let of_pack = OfPack { checked_on, review_by, doubt: doubt.map(|found| found.value) };
    let mut ids = BTreeSet::new();
    let mut rules = Vec::new();
    for table in tables {
        let rule = rule_file::read(table, &of_pack, &mut ids, reading);
        rules.extend(rule);
    }
    Some(Pack {
        place: place?,
        layer: layer.map(|found| found.value),
        title: title?,
        version: version?,
        checked_on,
        review_by,
        authority: authority?,
        members: members.map(|found| found.value).unwrap_or_default(),
        instead_of: instead_of.map(|found| found.value).unwrap_or_default(),
        rules,
        origin: PackOrigin::BuiltIn,
    })
}

/// A place, or `*` for everywhere.
fn read_place(found: Found<String>, reading: &mut Reading<'_>) -> Option<Option<PlaceCode>> {
    if found.value == "*" {
        return Some(None);
    }
    match found.value.parse::<PlaceCode>() {
        Ok(place) => Some(Some(place)),
        Err(error) => {
            reading.add(found.span, format!("{error}, or * for everywhere"));
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "schema = \"celltriage.rules/1\"\nplace = \"US-CA\"\ntitle = \"mine\"\nversion = \"1\"\n\
                        checked_on = \"2026-01-01\"\nreview_by = \"2027-01-01\"\nauthority = \"my authority\"\n";
    const RULE: &str = "[[rule]]\nid = \"mine.one\"\nkind = \"label\"\nseverity = \"notice\"\n\
                        text = \"Write it down.\"\ncite = \"my own\"\nseen = \"official\"\n";

    /// Each case changes the good text of a pack; the place is line and words of the message.
    #[test]
    fn mistakes_are_told_with_place_and_remedy() {
        let good = format!("{HEAD}{RULE}");
        assert!(Pack::from_toml(&good, "mine.toml").is_ok());
        let added = |line: &str| format!("seen = \"official\"\n{line}\n");
        let seen = "seen = \"official\"\n";
        let cases = [
            ("celltriage.rules/1", "celltriage.rules/2".to_owned(), ":1:10:", "celltriage.rules/1"),
            ("US-CA", "California".to_owned(), ":2:9:", "ISO 3166"),
            ("2027-01-01", "soon".to_owned(), ":6:13:", ""),
            ("2027-01-01", "2025-12-31".to_owned(), ":6:13:", "before checked_on"),
            ("mine\"\nversion", "mine\"\ncolour = 1\nversion".to_owned(), ":4:1:", "unknown key `colour`"),
            ("US-CA\"", "US-CA\"\nlayer = \"sky\"".to_owned(), ":3:9:", "only a pack with place = \"*\""),
            ("\"label\"", "\"sticker\"".to_owned(), ":10:8:", "label"),
            ("\"notice\"", "\"grave\"".to_owned(), ":11:12:", "warning"),
            ("Write it down.", " ".to_owned(), ":12:8:", "empty"),
            ("Write it down.", "It is safe to ship.".to_owned(), ":12:8:", "promises"),
            ("Write it down.", "By {tomorrow}.".to_owned(), ":12:8:", "{decision_date}"),
            ("my own", "compliant law".to_owned(), ":13:8:", "promises"),
            (seen, String::new(), ":8:1:", "`seen` is missing"),
            (seen, added("review_by = \"2025-01-01\""), ":15:13:", "before"),
            (
                seen,
                added("effective_from = \"2026-02-02\"\neffective_to = \"2026-02-01\""),
                ":16:16:",
                "before it begins",
            ),
            (seen, added("states = [\"lost\"]"), ":15:11:", "not_waste"),
            (seen, added("blocks = \"air\""), ":15:10:", "kind = \"block\""),
            (seen, added("label = { phrases = [], on = \"package\" }"), ":15:9:", "at least one phrase"),
            (
                "\"label\"",
                "\"counter\"\ncount = { of = \"cell_mass\", limit = 0, unit = \"gram\", bound = \"at_most\" }".to_owned(),
                ":11:9:",
                "greater than 0",
            ),
            (
                "\"label\"",
                "\"counter\"\ncount = { of = \"record_keeping\", limit = 1.5, unit = \"year\", bound = \"at_most\" }"
                    .to_owned(),
                ":11:9:",
                "whole number",
            ),
            (seen, added("doubt = \"compliant\""), ":15:9:", "promises"),
            (seen, added("signs = [\"swollen\"]"), ":15:9:", "kind = \"sign\""),
            (
                seen,
                added("label = { phrases = [\"A\"], on = \"package\", light = { up_to_kg = 30, letter_mm = 6 } }"),
                ":15:9:",
                "beside letter_mm",
            ),
            ("my authority\"", "my authority\"\ndoubt = \"safe\"".to_owned(), ":8:9:", "promises"),
        ];
        for (from, to, place, words) in cases {
            let told = Pack::from_toml(&good.replacen(from, &to, 1), "mine.toml").unwrap_err().to_string();
            assert!(told.starts_with(&format!("mine.toml{place}")), "{to:?} gave {told}");
            assert!(told.contains(words), "{to:?} gave {told}");
        }
        let twice = format!("{good}{RULE}");
        assert!(Pack::from_toml(&twice, "mine.toml").unwrap_err().to_string().contains("twice"));
    }

    #[test]
    fn all_mistakes_come_at_once_in_the_order_of_the_file() {
        let text = format!("{HEAD}{RULE}")
            .replace("US-CA", "California")
            .replace("\"label\"", "\"sticker\"")
            .replace("Write it down.", "This is safe.")
            .replace("seen = \"official\"", "see = \"official\"");
        let told = Pack::from_toml(&text, "mine.toml").unwrap_err().to_string();
        let lines: Vec<_> = told.lines().map(|line| line.split(':').nth(1).unwrap()).collect();
        assert_eq!(lines, ["2", "8", "10", "12", "14"], "{told}");
    }

    #[test]
    fn a_doubt_of_the_pack_is_one_of_every_fact_that_gives_none_itself() {
        let other = RULE.replace("mine.one", "mine.two") + "doubt = \"its own\"\n";
        let text = format!("{HEAD}doubt = \"never read\"\n{RULE}{other}");
        let doubts: Vec<_> =
            Pack::from_toml(&text, "m").unwrap().rules.into_iter().map(|rule| rule.doubt).collect();
        assert_eq!(doubts, [Some("never read".to_owned()), Some("its own".to_owned())]);
    }

    #[test]
    fn dates_may_stand_without_quotation_marks() {
        let text = format!("{HEAD}{RULE}").replace("\"2026-01-01\"", "2026-01-01");
        assert_eq!(
            Pack::from_toml(&text, "mine.toml"),
            Pack::from_toml(&format!("{HEAD}{RULE}"), "mine.toml")
        );
    }
}
