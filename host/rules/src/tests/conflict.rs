//! No built-in pack contradicts another in any place, and a contradiction that is planted is found where it stands.

use super::*;

const HEAD: &str = "schema = \"celltriage.rules/1\"\ntitle = \"mine\"\nversion = \"1\"\nchecked_on = \"2026-01-01\"\n\
                    review_by = \"2027-01-01\"\nauthority = \"my authority\"\nplace = ";

/// A pack of one rule: its place, what else is in its head, its kind and its other keys.
fn own(place: &str, kind: &str, keys: &str) -> String {
    format!(
        "{HEAD}\"{place}\"\n[[rule]]\nid = \"my.one\"\nkind = \"{kind}\"\ntext = \"Mine.\"\ncite = \"lease\"\n\
         seen = \"official\"\n{keys}\n"
    )
}

fn told(text: &str) -> Result<(), String> {
    let mut packs = Packs::built_in().unwrap();
    packs.add_own("shop/mine.toml", text).unwrap();
    packs.check_conflicts(Some(std::path::Path::new("shop"))).map_err(|faults| faults.to_string())
}

#[test]
fn no_two_facts_of_the_built_in_packs_contradict_each_other_in_any_place() {
    let members = ["NO", "CH", "IS", "LI", "TR", "UA", "MA", "IT", "US-CA", "CA-QC", "DE-BY", "UK"];
    for code in PLACES.into_iter().chain(members.map(Some)) {
        let found = packs().conflicts(code.map(place).as_ref());
        assert_eq!(found, [], "{code:?}");
    }
}

/// The four that stood in the packs once: two sheets of records, two waste codes, a label forbidden and asked for, and two
/// clocks.
#[test]
fn the_contradictions_that_once_stood_in_the_packs_are_found() {
    let without = |file: &str, from: &str, to: &str| {
        let ends = format!(" {file}");
        let mut packs = packs().clone();
        let text = BUILT_IN.iter().find(|(name, _)| name.ends_with(&ends)).unwrap().1;
        assert_eq!(text.matches(from).count(), 1, "{file}: {from}");
        packs.add_own(file, &text.replace(from, to)).unwrap();
        packs
    };
    for (file, from, to, code, first, second) in [
        ("us-ca.toml", "instead_of = [\"us.records\"]\n", "", "US-CA", "us.records", "us-ca.records"),
        ("us-ca.toml", "instead_of = [\"us.clock\"]\n", "", "US-CA", "us.clock", "us-ca.clock"),
        ("de.toml", "instead_of = [\"eu.code.before\"]\n", "", "DE", "eu.code.before", "de.code.before"),
        (
            "us.toml",
            "\nhazards = [\"casing_open\"]\n",
            "\nhazards = [\"casing_open\", \"leaking\"]\n",
            "US",
            "us.label",
            "us.breached",
        ),
    ] {
        let found = without(file, from, to).conflicts(Some(&place(code)));
        let pairs: Vec<_> = found.iter().map(|one| (one.first.as_str(), one.second.as_str())).collect();
        assert_eq!(pairs, [(first, second)], "{file}");
    }
}

#[test]
fn a_contradiction_is_a_fault_of_the_own_pack_at_the_id_of_its_rule_and_instead_of_ends_it() {
    let site =
        "count = { of = \"universal_waste_on_site\", limit = 5000, unit = \"kilogram\", bound = \"below\" }";
    let package = "states = [\"intact_waste\"]\nlabel = { phrases = [\"OLD CELLS\"], on = \"package\", purpose = \"recycling\" }";
    let substance =
        "in_papers = \"substance\"\npaper = { un = [\"UN 3480\"], name = \"CELLS\", class = \"9\" }";
    let codes = "codes = [{ code = \"16 06 05\", hazardous = false, use = \"trade\" }]";
    for (code, kind, keys, against) in [
        ("US-NY", "counter", site, "us.handler.size"),
        ("FR", "label", package, "adr.mark.recycling"),
        ("NZ", "document", substance, "un.number"),
        ("GB-SCT", "waste_code", codes, "gb.code"),
        ("NZ", "block", "blocks = \"carriage\"", "un.mark.recycling"),
        ("US-NY", "block", "blocks = \"universal_waste\"", "us.label"),
        (
            "IT",
            "label",
            "states = [\"damaged_or_defective\"]\nunder = \"ours\"\nlabel = { phrases = [\"A\"], on = \"package\" }",
            "adr.easy.damaged",
        ),
        ("NZ", "block", "blocks = \"air\"", "air.charge.loose"),
    ] {
        let text = own(code, kind, keys);
        let what = told(&text).unwrap_err();
        assert!(
            what.contains("shop/mine.toml:9:6: ") && what.contains(&format!("\"{against}\"")),
            "{code}: {what}"
        );
        if what.contains("both say") {
            assert_eq!(told(&(text + &format!("instead_of = [\"{against}\"]\n"))), Ok(()), "{code}");
        }
    }
}

/// What holds on other days, for other cells, by other means or under another relief does not contradict.
#[test]
fn facts_that_never_hold_together_are_no_contradiction() {
    let clock = "count = { of = \"time_since_decision\", limit = 1, unit = \"year\", bound = \"at_most\" }";
    assert!(told(&own("US-NY", "counter", clock)).unwrap_err().contains("us.clock"));
    for apart in ["states = [\"not_waste\"]", "under = \"our own relief\"\nstates = [\"intact_waste\"]"] {
        assert_eq!(told(&own("US-NY", "counter", &format!("{clock}\n{apart}"))), Ok(()), "{apart}");
    }
    // A lease beside the fire code, a shop's 90 days beside the year of the law: both hold, the narrower one binds.
    let days = clock.replace("limit = 1, unit = \"year\"", "limit = 90, unit = \"day\"");
    assert_eq!(told(&own("US-NY", "counter", &days)), Ok(()));
    let distance = |bound: &str| {
        format!(
            "count = {{ of = \"distance_between_groups\", limit = 500, unit = \"millimetre\", bound = \"{bound}\" }}"
        )
    };
    let mut packs = Packs::built_in().unwrap();
    packs.add_own("us.toml", &own("US", "counter", &distance("at_most"))).unwrap();
    let found = packs.conflicts(Some(&place("US-WA")));
    assert!(
        found.iter().any(|one| one.second == "us-wa.fire.distance"),
        "914 mm at least, 500 mm at most: {found:?}"
    );
    // How long records are kept is said once, whatever the figure.
    let records = "count = { of = \"record_keeping\", limit = 5, unit = \"year\", bound = \"at_least\" }";
    assert!(told(&own("US-NY", "counter", records)).unwrap_err().contains("us.records"));
    let code = "codes = [{ code = \"16 06 05\", hazardous = false, use = \"trade\" }]\neffective_to = \"2026-12-08\"";
    assert!(told(&own("FR", "waste_code", code)).unwrap_err().contains("eu.code.before"));
    let ended = code.to_owned() + "\ninstead_of = [\"eu.code.before\"]";
    assert_eq!(told(&own("FR", "waste_code", &ended)), Ok(()));
}
