//! No circle of files: inside each crate below `host/` the imports of the files form no loop.
//!
//! Cargo refuses circles of crates; inside one nothing does. An import through a name that `lib.rs` or `mod.rs` hands on
//! counts as one of the file that declares it.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// Module path (`a::b`, empty for the root) of each source of a crate, with its text before its tests.
type Sources = BTreeMap<String, String>;

fn gather(folder: &Path, module: &str, found: &mut Sources) {
    for entry in fs::read_dir(folder).expect("a readable folder") {
        let path = entry.expect("a readable folder").path();
        let name = path.file_stem().expect("a name").to_string_lossy().into_owned();
        let inner = if module.is_empty() { name.clone() } else { format!("{module}::{name}") };
        if path.is_dir() {
            if name != "tests" {
                gather(&path, &inner, found);
            }
        } else if path.extension().is_some_and(|ending| ending == "rs") && !name.ends_with("tests") {
            let text = fs::read_to_string(&path).expect("readable");
            let product = text.split("\n#[cfg(test)]\nmod tests {").next().unwrap_or_default().to_owned();
            let module =
                if ["lib", "main", "mod"].contains(&name.as_str()) { module.to_owned() } else { inner };
            found.insert(module, product);
        }
    }
}

/// Returns the paths that a text uses, each to its last name: `a::{b, c::D}` are two.
fn leaves(text: &str) -> Vec<(bool, String)> {
    fn spread(prefix: &str, rest: &str, found: &mut Vec<String>) {
        let Some((head, inside)) = rest.split_once('{') else {
            found.push(format!("{prefix}{}", rest.trim()));
            return;
        };
        let inside = inside.trim_end().trim_end_matches('}');
        let (mut deep, mut from) = (0, 0);
        for (at, sign) in inside.char_indices().chain([(inside.len(), ',')]) {
            match sign {
                '{' => deep += 1,
                '}' => deep -= 1,
                ',' if deep == 0 => {
                    let one = inside[from..at].trim();
                    if !one.is_empty() {
                        spread(&format!("{prefix}{head}"), one, found);
                    }
                    from = at + 1;
                }
                _ => {}
            }
        }
    }
    let mut all = Vec::new();
    let mut rest = text;
    while let Some(at) = rest.find("use ") {
        let before = rest[..at].rsplit('\n').next().unwrap_or_default().trim();
        let statement = &rest[at + 4..];
        let end = statement.find(';').unwrap_or(statement.len());
        if before.is_empty() || before.starts_with("pub") {
            let mut found = Vec::new();
            spread("", &statement[..end].replace('\n', " "), &mut found);
            all.extend(found.into_iter().map(|path| (before.starts_with("pub"), path.replace(' ', ""))));
        }
        rest = &statement[end..];
    }
    all
}

/// Returns a path as one from the root of the crate; `None` if it leads out of it.
fn from_root(path: &str, module: &str) -> Option<String> {
    if let Some(inner) = path.strip_prefix("crate::") {
        return Some(inner.to_owned());
    }
    let (mut at, mut rest) = (module.to_owned(), path);
    while let Some(inner) = rest.strip_prefix("super::") {
        at = at.rsplit_once("::").map_or(String::new(), |(outer, _)| outer.to_owned());
        rest = inner;
        if !rest.starts_with("super::") {
            return Some(if at.is_empty() { rest.to_owned() } else { format!("{at}::{rest}") });
        }
    }
    None
}

/// Returns the module that declares what a path names.
fn declared_in(path: &str, sources: &Sources, depth: usize) -> String {
    let parts: Vec<&str> = path.split("::").collect();
    let deepest = (0..=parts.len()).rev().map(|count| parts[..count].join("::"));
    let module = deepest.into_iter().find(|module| sources.contains_key(module)).unwrap_or_default();
    let name = parts.get(if module.is_empty() { 0 } else { module.matches("::").count() + 1 });
    let (Some(name), true) = (name, depth < 4) else { return module };
    let handed_on = leaves(&sources[&module]).into_iter().find(|(public, used)| {
        *public && (used.ends_with(&format!("::{name}")) || used.ends_with(&format!("as{name}")))
    });
    let Some((_, used)) = handed_on else { return module };
    let inner = if module.is_empty() { used.clone() } else { format!("{module}::{used}") };
    let inner = from_root(&used, &module).unwrap_or(inner);
    declared_in(&inner, sources, depth + 1)
}

fn arrows(sources: &Sources) -> BTreeMap<String, BTreeSet<String>> {
    let mut found: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (module, text) in sources {
        for path in leaves(text).into_iter().filter_map(|(_, path)| from_root(&path, module)) {
            let to = declared_in(&path, sources, 0);
            if to != *module {
                found.entry(module.clone()).or_default().insert(to);
            }
        }
    }
    found
}

/// Takes away what names nothing that is left, and what nothing left names, again and again; what stays is in a circle, or
/// between two.
fn circle(mut arrows: BTreeMap<String, BTreeSet<String>>) -> Vec<String> {
    loop {
        let named: BTreeSet<&String> = arrows.values().flatten().collect();
        let loose: Vec<String> = arrows
            .iter()
            .filter(|(from, to)| !named.contains(from) || !to.iter().any(|one| arrows.contains_key(one)))
            .map(|(from, _)| from.clone())
            .collect();
        if loose.is_empty() {
            let left: BTreeSet<String> = arrows.keys().cloned().collect();
            let only = |to: BTreeSet<String>| to.intersection(&left).cloned().collect::<Vec<_>>().join(", ");
            return arrows.into_iter().map(|(from, to)| format!("{from} -> {}", only(to))).collect();
        }
        loose.iter().for_each(|one| drop(arrows.remove(one)));
    }
}

#[test]
fn the_files_of_a_crate_form_no_circle() {
    let host =
        Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests/ is in the workspace").join("host");
    let (mut crates, mut seen, mut found) = (0, 0, Vec::new());
    for entry in fs::read_dir(host).expect("host/") {
        let folder = entry.expect("host/").path().join("src");
        if !folder.is_dir() {
            continue;
        }
        let mut sources = Sources::new();
        gather(&folder, "", &mut sources);
        let arrows = arrows(&sources);
        seen += arrows.values().map(BTreeSet::len).sum::<usize>();
        found.extend(circle(arrows).into_iter().map(|one| format!("{}: {one}", folder.display())));
        crates += 1;
    }
    assert!(found.is_empty(), "what stays is in a circle, or between two:\n{}", found.join("\n"));
    assert!(crates >= 13 && seen > 800, "only {seen} arrows in {crates} crates were found");
}

#[test]
fn a_circle_is_found_also_behind_a_name_that_is_handed_on() {
    let sources = |texts: &[(&str, &str)]| -> Sources {
        texts.iter().map(|(module, text)| ((*module).to_owned(), (*text).to_owned())).collect()
    };
    let straight =
        sources(&[("", "pub use a::A;\n"), ("a", "use crate::b::{B, C};\n"), ("b", "use std::fs;\n")]);
    assert!(circle(arrows(&straight)).is_empty());
    let round = sources(&[
        ("", "pub use a::A;\n"),
        ("a", "use std::fs;\nuse super::b::B;\n"),
        ("b", "use crate::A;\n"),
    ]);
    assert_eq!(circle(arrows(&round)).len(), 2);
    let nested =
        sources(&[("", ""), ("a::b", "use super::super::c::{d::E, F};\n"), ("c", "use crate::a::b::G;\n")]);
    assert_eq!(circle(arrows(&nested)).len(), 2);
}
