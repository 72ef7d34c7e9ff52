//! What is printed: no promise, no folk advice, every doubt, every own pack named.

use super::*;

#[test]
fn no_data_file_promises_anything() {
    let policy = celltriage_verdict::DEFAULT_POLICY;
    for (number, line) in policy.lines().enumerate() {
        assert_eq!(promise_in(line), None, "policy line {}: {line}", number + 1);
    }
    for pack in packs().all() {
        for rule in &pack.rules {
            let phrases = rule.label.iter().flat_map(|label| &label.phrases);
            let doubt = rule.doubt.iter();
            for words in
                [&rule.text, &rule.cite, &pack.authority, &pack.title].into_iter().chain(phrases).chain(doubt)
            {
                assert_eq!(promise_in(words), None, "{}: {words}", rule.id);
            }
        }
    }
}

#[test]
fn of_two_that_forbid_the_same_the_nearer_one_is_printed() {
    let air = |code: &str| -> Vec<String> {
        let found = rules(Fate::Quarantine, CellState::DamagedOrDefective, code, TODAY);
        found.into_iter().filter(|rule| rule.ends_with(".air") || rule.starts_with("air.")).collect()
    };
    assert_eq!(air("US-WA"), ["us.air"]);
    assert_eq!(air("JP"), ["air.damaged"]);
    // What the page leaves out is still told to whoever asks for all that is forbidden.
    let told = packs().blocks(Some(&place("US-WA")), TODAY, LegalState::DamagedOrDefective);
    let told: Vec<_> =
        told.iter().filter(|told| told.what == Blocked::Air).map(|told| told.fact.rule.as_str()).collect();
    assert_eq!(told, ["air.damaged", "us.air"]);
}

#[test]
fn a_doubt_is_printed_with_its_text() {
    let found = shown(&verdict(Fate::Recycle, CellState::Intact, None), Some("GB"), TODAY);
    let code = found.iter().find(|caution| caution.rule == "gb.code").unwrap();
    assert!(
        code.text.contains("16 06 05")
            && code.text.contains("In doubt: whether lithium stays off the list of hazardous waste")
    );
}

#[test]
fn an_own_pack_is_named_as_the_source_of_its_cautions() {
    let mut packs = Packs::built_in().unwrap();
    let own = BUILT_IN.iter().find(|(file, _)| file.ends_with(" us.toml")).unwrap().1;
    packs.add_own("mine/us.toml", own).unwrap();
    let verdict = verdict(Fate::Recycle, CellState::Intact, None);
    let place = place("US");
    let situation = Situation { verdict: &verdict, charge_limit_v: 4.35, place: Some(&place), date: TODAY };
    let found = cautions(&situation, &packs);
    let label = found.iter().find(|caution| caution.rule == "us.label").unwrap();
    assert_eq!(label.source, "40 CFR 273.14(a); own pack us.toml in place of the built-in one");
    let general = found.iter().find(|caution| caution.rule == "any.bin").unwrap();
    assert!(!general.source.contains("own pack"));
}

#[test]
fn folk_advice_that_contradicts_the_sources_stands_nowhere() {
    // Sources: ERG 2024 and FAA SAFO 25002: water cools; what is about lithium metal is not about lithium-ion.
    let folk = [
        "class d",
        "water is dangerous",
        "never use water",
        "salt water",
        "freezer",
        "rice",
        "40 %",
        "cut it open",
    ];
    for rule in packs().all().iter().flat_map(|pack| &pack.rules) {
        let text = rule.text.to_lowercase();
        let words = format!(" {text} ");
        assert!(folk.iter().all(|advice| !words.contains(&format!(" {advice} "))), "{}: {text}", rule.id);
    }
}

#[test]
fn a_nearer_rule_stands_in_place_of_a_wider_one_and_only_where_it_holds() {
    let labels = |code: &str, state| -> Vec<String> {
        let told = packs().labels(Some(&place(code)), TODAY, state);
        told.into_iter()
            .filter(|told| told.what.on == MarkOn::CellOrContainer)
            .map(|told| told.fact.rule)
            .collect()
    };
    for state in [LegalState::IntactWaste, LegalState::DamagedOrDefective, LegalState::Unknown] {
        assert_eq!(labels("US", state), ["us.label"]);
        assert_eq!(labels("US-NY", state), ["us.label"]);
        assert_eq!(labels("US-CA", state), ["us-ca.label"]);
        assert_eq!(labels("US-WA", state), ["us-wa.label"]);
    }
    // On the page, where Washington's words are not printed, the federal ones stay.
    let page = |code| rules(Fate::Recycle, CellState::Intact, code, TODAY);
    assert!(page("US-WA").contains(&"us.label".to_owned()));
    let california = page("US-CA");
    assert!(california.contains(&"us-ca.label".to_owned()) && !california.contains(&"us.label".to_owned()));
}

#[test]
fn an_own_pack_cannot_take_away_the_emergency_the_general_texts_or_a_prohibition() {
    let own = |names: &str, kind: &str| {
        format!(
            "schema = \"celltriage.rules/1\"\nplace = \"NZ\"\ntitle = \"mine\"\nversion = \"1\"\n\
             checked_on = \"2026-01-01\"\nreview_by = \"2027-01-01\"\nauthority = \"my authority\"\n\
             [[rule]]\nid = \"nz.one\"\nkind = \"{kind}\"\ntext = \"Mine.\"\ncite = \"mine\"\nseen = \"official\"\n\
             instead_of = [{names}]\n"
        )
    };
    let mut packs = Packs::built_in().unwrap();
    packs
        .add_own("nz.toml", &own("\"any.emergency.now\", \"any.ship.critical\", \"air.damaged\"", "notice"))
        .unwrap();
    let told = packs.facts(Some(&place("NZ")), TODAY, LegalState::Critical);
    for name in ["nz.one", "any.emergency.now", "any.ship.critical", "air.damaged"] {
        assert!(told.iter().any(|fact| fact.rule == name), "{name}");
    }
    let mut packs = Packs::built_in().unwrap();
    packs.add_own("nz.toml", &own("\"un.number\"", "document")).unwrap();
    let told = packs.facts(Some(&place("NZ")), TODAY, LegalState::Critical);
    assert!(told.iter().all(|fact| fact.rule != "un.number"));

    let mistyped =
        Packs::built_in().unwrap().add_own("nz.toml", &own("\"un.nummer\"", "document")).unwrap_err();
    assert_eq!(mistyped.to_string(), "nz.toml:14:15: there is no rule \"un.nummer\" to stand in place of");
    let unknown = own("", "notice") + "unless = \"easy\"\n";
    let unknown = Packs::built_in().unwrap().add_own("nz.toml", &unknown).unwrap_err();
    assert_eq!(unknown.to_string(), "nz.toml:15:10: no rule is part of a relief \"easy\"");
}
