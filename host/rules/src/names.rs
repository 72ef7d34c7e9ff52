//! The names that a pack says of others: a rule, a layer or a relief that it names must be there.

use crate::pack::Pack;
use celltriage_written::{Fault, Faults, Place, read};
use serde::Deserialize;
use toml::Spanned;

/// The names of rules, layers and reliefs that a pack's text holds, each with its place.
#[derive(Deserialize)]
struct Names {
    #[serde(default)]
    instead_of: Vec<Spanned<String>>,
    #[serde(default)]
    rule: Vec<RuleNames>,
}

/// The same of one of its rules.
#[derive(Deserialize)]
struct RuleNames {
    #[serde(default)]
    instead_of: Vec<Spanned<String>>,
    unless: Option<Spanned<String>>,
    under: Option<String>,
}

/// Sees that every rule, layer and relief that a pack names is there: a mistyped name would take nothing away.
pub(super) fn check_names(packs: &[Pack], file: &str, text: &str) -> Result<(), Faults> {
    let names: Names = read(file, text)?;
    let rules = || packs.iter().flat_map(|held| &held.rules);
    let relief = |name: &str| {
        let own = names.rule.iter().filter_map(|rule| rule.under.as_deref());
        rules().filter_map(|rule| rule.under.as_deref()).chain(own).any(|under| under == name)
    };
    let mut found = Vec::new();
    let mut missing = |name: &Spanned<String>, what: String| {
        found.push(Fault { place: Place::of(file, text, Some(name.span())), what });
    };
    for name in &names.instead_of {
        if !packs.iter().any(|held| held.layer.as_ref() == Some(name.get_ref())) {
            missing(name, format!("there is no layer \"{}\" to stand in place of", name.get_ref()));
        }
    }
    for rule in &names.rule {
        for name in rule.instead_of.iter().filter(|name| !rules().any(|held| held.id == *name.get_ref())) {
            missing(name, format!("there is no rule \"{}\" to stand in place of", name.get_ref()));
        }
        for name in rule.unless.iter().filter(|name| !relief(name.get_ref())) {
            missing(name, format!("no rule is part of a relief \"{}\"", name.get_ref()));
        }
    }
    if found.is_empty() { Ok(()) } else { Err(Faults(found)) }
}
