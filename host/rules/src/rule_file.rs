//! One `[[rule]]` of a pack file, turned into a [`Rule`].
//!
//! Input: the keys of its table; output: the rule, or a fault for each key that is wrong.

use crate::certainty::Seen;
use crate::counter::{Counter, Unit};
use crate::figure::Label;
use crate::kind::Kind;
use crate::rule::Rule;
use crate::wording::check_words;
use celltriage_written::{Fields, Found, Reading};
use jiff::civil::Date;
use serde::de::DeserializeOwned;
use std::collections::BTreeSet;
use std::ops::Range;

/// Names in braces that are filled in when a caution is printed.
pub(super) const BLANKS: [&str; 4] =
    ["{decision_date}", "{one_year_after}", "{charge_limit}", "{charge_temperature}"];

/// The keys of a rule.
pub const KEYS: [&str; 32] = [
    "id",
    "effective_from",
    "effective_to",
    "kind",
    "severity",
    "fates",
    "conditions",
    "states",
    "hazards",
    "except_hazards",
    "signs",
    "proposes",
    "actions",
    "by",
    "goods",
    "on_page",
    "text",
    "cite",
    "seen",
    "confidence",
    "doubt",
    "checked_on",
    "review_by",
    "count",
    "label",
    "blocks",
    "paper",
    "codes",
    "in_papers",
    "under",
    "unless",
    "instead_of",
];

/// What a rule takes from the head of its pack where it gives nothing itself.
pub(super) struct OfPack {
    /// When the facts were looked at last.
    pub(super) checked_on: Date,
    /// When they are to be looked at again.
    pub(super) review_by: Date,
    /// What is doubtful about all of them.
    pub(super) doubt: Option<String>,
}

/// Reads one rule; what it does not give itself is the pack's.
pub(super) fn read(
    mut fields: Fields<'_>,
    head: &OfPack,
    ids: &mut BTreeSet<String>,
    reading: &mut Reading<'_>,
) -> Option<Rule> {
    let id = fields.need::<String>("id", reading);
    if let Some(id) = &id {
        check_id(id, ids, reading);
    }
    let kind = fields.need::<Kind>("kind", reading).map(|found| found.value);
    let severity = or_default(&mut fields, "severity", reading);
    let text = fields.need::<String>("text", reading);
    if let Some(text) = &text {
        check_words(text, reading);
        check_blanks(text, reading);
    }
    let cite = fields.need::<String>("cite", reading);
    let doubt = fields.take::<String>("doubt", reading);
    for words in [&cite, &doubt].into_iter().flatten() {
        check_words(words, reading);
    }
    let seen = fields.need::<Seen>("seen", reading).map(|found| found.value);
    let effective_from = fields.take::<Date>("effective_from", reading).map(|found| found.value);
    let effective_to = fields.take::<Date>("effective_to", reading);
    if let (Some(from), Some(to)) = (effective_from, &effective_to)
        && to.value < from
    {
        reading.add(to.span.clone(), format!("it ends before it begins on {from}"));
    }
    let checked_on = fields.take("checked_on", reading).map_or(head.checked_on, |found| found.value);
    let own_review = fields.take::<Date>("review_by", reading);
    if let Some(own) = own_review.as_ref().filter(|own| own.value < checked_on) {
        reading.add(own.span.clone(), format!("review_by lies before checked_on, {checked_on}"));
    }

    let of_kind = |key, wanted: Kind, span: Option<Range<usize>>, reading: &mut Reading<'_>| {
        if let (Some(span), Some(kind)) = (span, kind)
            && kind != wanted
        {
            reading.add(span, format!("`{key}` belongs to a rule of kind = \"{}\"", wanted.key()));
        }
    };
    let signs = fields.take("signs", reading);
    of_kind("signs", Kind::Sign, span_of(&signs), reading);
    let proposes = fields.take("proposes", reading);
    of_kind("proposes", Kind::Sign, span_of(&proposes), reading);
    let count = fields.take::<Counter>("count", reading);
    of_kind("count", Kind::Counter, span_of(&count), reading);
    let label = fields.take::<Label>("label", reading);
    of_kind("label", Kind::Label, span_of(&label), reading);
    let blocks = fields.take("blocks", reading);
    of_kind("blocks", Kind::Block, span_of(&blocks), reading);
    let paper = fields.take("paper", reading);
    of_kind("paper", Kind::Document, span_of(&paper), reading);
    let codes = fields.take("codes", reading);
    of_kind("codes", Kind::WasteCode, span_of(&codes), reading);
    if let Some(count) = &count {
        check_count(count, reading);
    }
    if let Some(label) = &label {
        check_label(label, reading);
    }

    let rule = Rule {
        id: id.map(|found| found.value).unwrap_or_default(),
        effective_from,
        effective_to: effective_to.map(|found| found.value),
        kind: kind.unwrap_or(Kind::Notice),
        severity,
        fates: or_default(&mut fields, "fates", reading),
        conditions: or_default(&mut fields, "conditions", reading),
        states: or_default(&mut fields, "states", reading),
        hazards: or_default(&mut fields, "hazards", reading),
        except_hazards: or_default(&mut fields, "except_hazards", reading),
        signs: signs.map(|found| found.value).unwrap_or_default(),
        proposes: proposes.map(|found| found.value),
        actions: or_default(&mut fields, "actions", reading),
        by: or_default(&mut fields, "by", reading),
        goods: or_default(&mut fields, "goods", reading),
        on_page: fields.take("on_page", reading).is_none_or(|found| found.value),
        text: text.map(|found| found.value).unwrap_or_default(),
        cite: cite.map(|found| found.value).unwrap_or_default(),
        seen: seen.unwrap_or(Seen::Memory),
        confidence: or_default(&mut fields, "confidence", reading),
        doubt: doubt.map(|found| found.value).or_else(|| head.doubt.clone()),
        checked_on,
        review_by: own_review.map_or(head.review_by, |found| found.value),
        count: count.map(|found| found.value),
        label: label.map(|found| found.value),
        blocks: blocks.map(|found| found.value),
        paper: paper.map(|found| found.value),
        codes: codes.map(|found| found.value).unwrap_or_default(),
        in_papers: fields.take("in_papers", reading).map(|found| found.value),
        under: fields.take("under", reading).map(|found| found.value),
        unless: fields.take("unless", reading).map(|found| found.value),
        instead_of: or_default(&mut fields, "instead_of", reading),
    };
    fields.finish(&KEYS, reading);
    // The default of a missing key never leaves: the mistake that was noted for it refuses the pack.
    Some(rule)
}

fn or_default<T: DeserializeOwned + Default>(
    fields: &mut Fields<'_>,
    key: &str,
    reading: &mut Reading<'_>,
) -> T {
    fields.take(key, reading).map(|found| found.value).unwrap_or_default()
}

fn span_of<T>(found: &Option<Found<T>>) -> Option<Range<usize>> {
    found.as_ref().map(|found| found.span.clone())
}

fn check_id(id: &Found<String>, ids: &mut BTreeSet<String>, reading: &mut Reading<'_>) {
    let fits =
        |letter: u8| letter.is_ascii_lowercase() || letter.is_ascii_digit() || b"._-".contains(&letter);
    if id.value.is_empty() || !id.value.bytes().all(fits) {
        reading
            .add(id.span.clone(), "an id is made of the letters a to z, digits, dot, hyphen and underscore");
    }
    if !ids.insert(id.value.clone()) {
        let what = format!("the rule \"{}\" is there twice; give each its own id", id.value);
        reading.add(id.span.clone(), what);
    }
}

fn check_blanks(text: &Found<String>, reading: &mut Reading<'_>) {
    let filled = BLANKS.iter().fold(text.value.clone(), |text, blank| text.replace(blank, ""));
    if filled.contains(['{', '}']) {
        reading.add(text.span.clone(), format!("only these blanks are filled in: {}", BLANKS.join(", ")));
    }
}

fn check_count(count: &Found<Counter>, reading: &mut Reading<'_>) {
    let Counter { limit, unit, .. } = count.value;
    if !(limit.is_finite() && limit > 0.0) {
        reading.add(count.span.clone(), format!("the limit is {limit}; it must be a number greater than 0"));
    } else if matches!(unit, Unit::Day | Unit::Year) && (limit.fract() != 0.0 || limit > 9000.0) {
        let what = format!("the limit is {limit}; days and years are a whole number up to 9000");
        reading.add(count.span.clone(), what);
    }
}

fn check_label(label: &Found<Label>, reading: &mut Reading<'_>) {
    let Label { phrases, letter_mm, light, .. } = &label.value;
    if phrases.is_empty() || phrases.iter().any(|phrase| phrase.trim().is_empty()) {
        reading.add(label.span.clone(), "a label needs at least one phrase, and none may be empty");
    }
    for phrase in phrases {
        check_words(&Found { value: format!("({phrase})"), span: label.span.clone() }, reading);
    }
    let fits = |height: f64| height.is_finite() && height > 0.0;
    if letter_mm.is_some_and(|height| !fits(height)) {
        reading.add(label.span.clone(), "letter_mm is a height in mm greater than 0");
    }
    // Without the full height nothing would say how high the letters are on every other package.
    if light.is_some_and(|light| !(fits(light.up_to_kg) && fits(light.letter_mm)) || letter_mm.is_none()) {
        let what = "light = { up_to_kg, letter_mm } takes two numbers greater than 0, beside letter_mm";
        reading.add(label.span.clone(), what);
    }
}
