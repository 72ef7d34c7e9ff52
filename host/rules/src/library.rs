//! All rule packs, and which of them hold in a place: everywhere first, then the wider place, then the narrower.

use crate::names::check_names;
use crate::pack::{Pack, PackOrigin};
use crate::place::PlaceCode;
use celltriage_written::Faults;
use std::path::Path;

/// The packs that are built in: name for messages, text.
pub(super) const BUILT_IN: [(&str, &str); 16] = [
    ("built-in generic.toml", include_str!("../packs/generic.toml")),
    ("built-in air.toml", include_str!("../packs/air.toml")),
    ("built-in un.toml", include_str!("../packs/un.toml")),
    ("built-in adr.toml", include_str!("../packs/adr.toml")),
    ("built-in eu.toml", include_str!("../packs/eu.toml")),
    ("built-in us.toml", include_str!("../packs/us.toml")),
    ("built-in us-ca.toml", include_str!("../packs/us-ca.toml")),
    ("built-in us-wa.toml", include_str!("../packs/us-wa.toml")),
    ("built-in de.toml", include_str!("../packs/de.toml")),
    ("built-in gb.toml", include_str!("../packs/gb.toml")),
    ("built-in ca.toml", include_str!("../packs/ca.toml")),
    ("built-in ca-on.toml", include_str!("../packs/ca-on.toml")),
    ("built-in au.toml", include_str!("../packs/au.toml")),
    ("built-in in.toml", include_str!("../packs/in.toml")),
    ("built-in jp.toml", include_str!("../packs/jp.toml")),
    ("built-in sg.toml", include_str!("../packs/sg.toml")),
];

/// Rule packs: at most one for each place, and the layers that lie over many places.
#[derive(Clone, Debug, PartialEq)]
pub struct Packs {
    packs: Vec<Pack>,
}

impl Packs {
    /// Reads the packs that are built in.
    ///
    /// # Errors
    /// All mistakes in the first pack that has any.
    pub fn built_in() -> Result<Self, Faults> {
        let packs = BUILT_IN.into_iter().map(|(file, text)| Pack::from_toml(text, file));
        Ok(Self { packs: packs.collect::<Result<_, _>>()? })
    }

    /// Reads only the built-in pack that holds everywhere.
    ///
    /// # Errors
    /// All mistakes in it.
    pub fn general() -> Result<Self, Faults> {
        let [(file, text), ..] = BUILT_IN;
        Ok(Self { packs: vec![Pack::from_toml(text, file)?] })
    }

    /// Reads the packs that are built in, and over them every `.toml` file of a folder, in the order of their names.
    ///
    /// # Errors
    /// All mistakes in all files of the folder; two files for one place; facts that contradict each other; a folder that
    /// cannot be read.
    pub fn with_folder(folder: Option<&Path>) -> Result<Self, Faults> {
        let mut packs = Self::built_in()?;
        let Some(folder) = folder else { return Ok(packs) };
        let failed = |path: &Path, what: String| Faults::of_whole(&path.display().to_string(), what);
        let listed = std::fs::read_dir(folder).and_then(Iterator::collect::<Result<Vec<_>, _>>);
        let listed = listed
            .map_err(|error| failed(folder, format!("the folder of rule packs cannot be read: {error}")))?;
        let mut files: Vec<_> = listed.into_iter().map(|entry| entry.path()).collect();
        files.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
        files.sort();
        let mut mistakes = Vec::new();
        for path in files {
            match std::fs::read_to_string(&path) {
                Ok(text) => {
                    if let Err(Faults(found)) = packs.add_own(&path.display().to_string(), &text) {
                        mistakes.extend(found);
                    }
                }
                Err(error) => mistakes.extend(failed(&path, format!("cannot be read: {error}")).0),
            }
        }
        if !mistakes.is_empty() {
            return Err(Faults(mistakes));
        }
        packs.check_conflicts(Some(folder))?;
        Ok(packs)
    }

    /// Adds a pack of the workshop. One for a place replaces the built-in one; one for everywhere, and one
    /// for a layer, is laid over it, because the general cautions are not to be taken away. Of `file` only the last
    /// part is printed as source; mistakes name the whole path.
    ///
    /// # Errors
    /// All mistakes in the text, or that an own pack for the same place is there already.
    pub fn add_own(&mut self, file: &str, text: &str) -> Result<(), Faults> {
        let mut pack = Pack::from_toml(text, file)?;
        let same = |held: &Pack| held.place == pack.place && held.layer == pack.layer;
        let earlier = self.packs.iter().filter(|held| same(held)).find_map(|held| match &held.origin {
            PackOrigin::Own { file, .. } => Some(file.clone()),
            PackOrigin::BuiltIn => None,
        });
        if let Some(earlier) = earlier {
            let what =
                format!("{earlier} already holds the rules of {}; put them into one file", pack.name());
            return Err(Faults::of_whole(file, what));
        }
        let replaced = match &pack.place {
            Some(place) => self.packs.iter().position(|held| held.place.as_ref() == Some(place)),
            None => None,
        };
        if let Some(held) = replaced.and_then(|index| self.packs.get(index)) {
            // Who belongs to a union, and which layer a place's law stands for, are no rules of their own: an own pack
            // need not repeat them. One that says nothing of carriage leaves the pattern of the layer in place.
            if pack.members.is_empty() {
                pack.members.clone_from(&held.members);
            }
            let of_carriage = pack.rules.iter().any(|rule| rule.in_papers.is_some());
            if pack.instead_of.is_empty() && of_carriage {
                pack.instead_of.clone_from(&held.instead_of);
            }
        }
        check_names(&self.packs, file, text)?;
        let name = Path::new(file).file_name().map_or_else(|| file.into(), |name| name.to_string_lossy());
        pack.origin =
            PackOrigin::Own { file: name.into_owned(), text: text.to_owned(), replaces: replaced.is_some() };
        match replaced.and_then(|index| self.packs.get_mut(index)) {
            Some(held) => *held = pack,
            None => self.packs.push(pack),
        }
        Ok(())
    }

    /// Returns all packs.
    pub fn all(&self) -> &[Pack] {
        &self.packs
    }

    /// Returns name and text of the workshop's own packs, to be kept with a decision.
    pub fn own_files(&self) -> impl Iterator<Item = (&str, &str)> {
        self.packs.iter().filter_map(|pack| match &pack.origin {
            PackOrigin::Own { file, text, .. } => Some((file.as_str(), text.as_str())),
            PackOrigin::BuiltIn => None,
        })
    }

    /// Returns the pack of exactly this place.
    pub fn of(&self, place: &PlaceCode) -> Option<&Pack> {
        self.packs.iter().find(|pack| pack.place.as_ref() == Some(place))
    }

    /// Returns the packs that hold in a place, from the widest to the narrowest: everywhere, by air, layers and unions
    /// that it is a member of, the country, the part. A layer that one of them replaces is left out.
    pub fn layers(&self, place: Option<&PlaceCode>) -> Vec<&Pack> {
        let everywhere = self.packs.iter().filter(|pack| pack.place.is_none() && pack.members.is_empty());
        let Some(place) = place else { return without_replaced_layers(everywhere.collect()) };
        let country = place.country();
        let member = |pack: &&Pack| pack.members.iter().any(|member| member.as_str() == country);
        let over = self.packs.iter().filter(|pack| pack.place.is_none()).filter(member);
        let union = self.packs.iter().filter(|pack| pack.place.is_some()).filter(member);
        let named = |code: &str| {
            self.packs.iter().find(|pack| pack.place.as_ref().is_some_and(|p| p.as_str() == code))
        };
        let whole = named(country);
        let part = if place.as_str() == country { None } else { named(place.as_str()) };
        without_replaced_layers(everywhere.chain(over).chain(union).chain(whole).chain(part).collect())
    }
}

fn without_replaced_layers(packs: Vec<&Pack>) -> Vec<&Pack> {
    let replaced: Vec<&String> = packs.iter().flat_map(|pack| &pack.instead_of).collect();
    packs
        .into_iter()
        .filter(|pack| pack.layer.as_ref().is_none_or(|layer| !replaced.contains(&layer)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "schema = \"celltriage.rules/1\"\ntitle = \"mine\"\nversion = \"1\"\n\
                        checked_on = \"2026-01-01\"\nreview_by = \"2027-01-01\"\nauthority = \"my authority\"\n";

    fn own(place: &str) -> String {
        format!("place = \"{place}\"\n{HEAD}")
    }

    fn names(packs: &Packs, place: &str) -> Vec<String> {
        let place = place.parse().ok();
        packs.layers(place.as_ref()).iter().map(|pack| pack.name().to_owned()).collect()
    }

    #[test]
    fn layers_go_from_everywhere_to_the_place() {
        let packs = Packs::built_in().unwrap();
        let cases: [(&str, &[&str]); 14] = [
            ("", &["un"]),
            ("US", &["US"]),
            ("US-CA", &["US", "US-CA"]),
            ("US-WA", &["US", "US-WA"]),
            ("US-NY", &["US"]),
            ("EU", &["adr", "EU"]),
            ("DE", &["adr", "EU", "DE"]),
            ("DE-BY", &["adr", "EU", "DE"]),
            ("FR", &["adr", "EU"]),
            ("GB", &["adr", "GB"]),
            ("CA-ON", &["un", "CA", "CA-ON"]),
            ("CA", &["un", "CA"]),
            ("IN", &["un", "IN"]),
            ("ZZ", &["un"]),
        ];
        for (place, expected) in cases {
            let all: Vec<_> = ["*", "air"].iter().chain(expected).copied().collect();
            assert_eq!(names(&packs, place), all, "{place}");
        }
    }

    #[test]
    fn an_own_pack_replaces_the_one_of_its_place_and_says_so() {
        let mut packs = Packs::built_in().unwrap();
        packs.add_own("mine/us.toml", &own("US")).unwrap();
        packs.add_own("mine/fr.toml", &own("FR")).unwrap();
        assert_eq!(names(&packs, "US-CA"), ["*", "air", "un", "US", "US-CA"], "nothing is said of carriage");
        let source = |code: &str| packs.of(&code.parse().unwrap()).unwrap().source("law 1");
        assert_eq!(source("US"), "law 1; own pack us.toml in place of the built-in one");
        assert_eq!(source("FR"), "law 1; own pack fr.toml");
        assert_eq!(source("DE"), "law 1");
        assert_eq!(names(&packs, "FR"), ["*", "air", "adr", "EU", "FR"]);
        let twice = packs.add_own("mine/also_us.toml", &own("US")).unwrap_err().to_string();
        assert!(twice.contains("mine/also_us.toml: us.toml already holds"), "{twice}");
        assert_eq!(packs.own_files().count(), 2);
    }

    #[test]
    fn a_name_that_is_not_there_is_told_where_it_stands_and_not_where_its_letters_come_first() {
        let mut packs = Packs::built_in().unwrap();
        let rule = "[[rule]]\nid = \"nz.one\"\nkind = \"notice\"\ntext = 'We call it \"no.such\" here.'\n\
                    cite = \"lease\"\nseen = \"official\"\ninstead_of = [\"any.bin\", \"no.such\"]\nunless = \"mine\"\n";
        let told = packs.add_own("nz.toml", &format!("{}{rule}", own("NZ"))).unwrap_err().to_string();
        assert!(told.contains("nz.toml:14:26: there is no rule \"no.such\""), "{told}");
        assert!(told.contains("nz.toml:15:10: no rule is part of a relief \"mine\""), "{told}");
        let layer = own("NZ").replace("title = \"mine\"", "title = \"sky\"\ninstead_of = [\"un\", \"sky\"]");
        let told = packs.add_own("nz.toml", &layer).unwrap_err().to_string();
        assert!(told.contains("nz.toml:4:21: there is no layer \"sky\""), "{told}");
    }

    #[test]
    fn an_own_pack_for_a_union_keeps_its_members() {
        let mut packs = Packs::built_in().unwrap();
        packs.add_own("eu.toml", &own("EU")).unwrap();
        assert_eq!(names(&packs, "FR"), ["*", "air", "adr", "EU"]);
    }

    #[test]
    fn what_holds_everywhere_cannot_be_taken_away() {
        let mut packs = Packs::built_in().unwrap();
        let before: usize = packs.layers(None).iter().map(|pack| pack.rules.len()).sum();
        packs.add_own("all.toml", &own("*")).unwrap();
        packs.add_own("air.toml", &format!("layer = \"air\"\n{}", own("*"))).unwrap();
        assert_eq!(packs.layers(None).iter().map(|pack| pack.rules.len()).sum::<usize>(), before);
        assert_eq!(packs.layers(None).len(), 5);
    }

    #[test]
    fn a_folder_is_read_in_order_and_all_its_mistakes_are_told() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
        write("notes.txt", "not a pack");
        write("fr.toml", &own("FR"));
        let packs = Packs::with_folder(Some(folder.path())).unwrap();
        assert!(packs.of(&"FR".parse().unwrap()).is_some());
        write("a.toml", &own("Paris"));
        write("b.toml", "schema = 1");
        let told = Packs::with_folder(Some(folder.path())).unwrap_err().to_string();
        assert!(told.contains("a.toml:1:9: ") && told.contains("b.toml:1:10: "), "{told}");
        let missing = Packs::with_folder(Some(&folder.path().join("none"))).unwrap_err().to_string();
        assert!(missing.contains("none: the folder of rule packs cannot be read"), "{missing}");
        assert_eq!(Packs::with_folder(None), Packs::built_in());
    }
}
