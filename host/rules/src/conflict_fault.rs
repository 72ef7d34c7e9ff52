//! Conflicts of a workshop's own packs as faults, each with its place in the file.
//!
//! Input: packs, own ones among them; output: nothing, or a fault for each fact of an own pack that cannot stand beside
//! another. Kept decisions are read without this: what held when they were written is not refused later.

use crate::library::Packs;
use crate::pack::{Pack, PackOrigin};
use crate::place::PlaceCode;
use celltriage_written::{Fault, Faults, Place, read};
use serde::Deserialize;
use std::collections::BTreeSet;
use std::path::Path;
use toml::Spanned;

#[derive(Deserialize)]
struct Ids {
    #[serde(default)]
    rule: Vec<RuleId>,
}

#[derive(Deserialize)]
struct RuleId {
    id: Spanned<String>,
}

impl Packs {
    /// Sees that no fact of the workshop's own packs contradicts another that holds with it somewhere. Files are named
    /// with their folder.
    ///
    /// # Errors
    /// Each fact that does, with its place and what to do.
    pub fn check_conflicts(&self, folder: Option<&Path>) -> Result<(), Faults> {
        let own: Vec<_> = self.all().iter().filter(|pack| pack.origin != PackOrigin::BuiltIn).collect();
        let mut faults: Vec<Fault> = Vec::new();
        for place in self.places_of(&own) {
            for conflict in self.conflicts(place.as_ref()) {
                let holder = |id: &str| own.iter().find(|pack| pack.rules.iter().any(|rule| rule.id == id));
                let ids = [&conflict.second, &conflict.first];
                let Some((pack, id)) = ids.into_iter().find_map(|id| holder(id).map(|pack| (pack, id)))
                else {
                    continue;
                };
                let fault = fault(pack, id, conflict.what, folder);
                if !faults.contains(&fault) {
                    faults.push(fault);
                }
            }
        }
        if faults.is_empty() { Ok(()) } else { Err(Faults(faults)) }
    }

    /// Returns the places in which one of these packs holds, one of each that have all packs in common.
    fn places_of(&self, packs: &[&Pack]) -> Vec<Option<PlaceCode>> {
        let named = self.all().iter().flat_map(|pack| pack.place.iter().chain(&pack.members)).cloned();
        let mut seen = BTreeSet::new();
        std::iter::once(None)
            .chain(named.map(Some))
            .filter(|place| {
                let layers = self.layers(place.as_ref());
                let concerned =
                    layers.iter().any(|layer| packs.iter().any(|pack| std::ptr::eq(*layer, *pack)));
                let key: Vec<_> = layers.iter().map(|layer| std::ptr::from_ref(*layer)).collect();
                concerned && seen.insert(key)
            })
            .collect()
    }
}

fn fault(pack: &Pack, id: &str, what: String, folder: Option<&Path>) -> Fault {
    let PackOrigin::Own { file, text, .. } = &pack.origin else {
        return Fault { place: Place::whole(pack.name()), what };
    };
    let file = folder.map_or_else(|| file.clone(), |folder| folder.join(file).display().to_string());
    let ids = read::<Ids>(&file, text).map(|ids| ids.rule).unwrap_or_default();
    let span = ids.into_iter().find(|rule| rule.id.get_ref() == id).map(|rule| rule.id.span());
    Fault { place: Place::of(&file, text, span), what }
}
