//! What is printed: no promise, no folk advice, every doubt, every own pack named.

use super::*;

#[test]
fn no_data_file_promises_anything() {
    let policy = crate::verdict::DEFAULT_POLICY;
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
        code.text.contains("16 06 05") && code.text.contains("In doubt: whether lithium stays not hazardous")
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
