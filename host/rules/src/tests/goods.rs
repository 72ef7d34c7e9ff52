//! In what form batteries are carried: what hangs on a number or a relief is for batteries by themselves, unless a pack says otherwise.

use super::*;
use crate::goods::Goods;

fn facts(code: &str, state: LegalState) -> Vec<Fact> {
    packs().facts(Some(&place(code)), TODAY, state)
}

#[test]
fn numbers_and_reliefs_are_for_batteries_by_themselves_where_nothing_is_said() {
    let mut reliefs = 0;
    for code in ["US", "DE", "ZZ"] {
        for fact in facts(code, LegalState::IntactWaste) {
            reliefs += usize::from(fact.under.is_some());
            if fact.under.is_some() || ["un.number", "adr.number", "us.number"].contains(&fact.rule.as_str())
            {
                assert_eq!(fact.goods, [Goods::Alone], "{}", fact.rule);
            }
        }
    }
    assert!(reliefs > 10, "{reliefs}");
    let law = facts("US", LegalState::IntactWaste);
    let clock = law.iter().find(|fact| fact.rule == "us.clock").unwrap();
    assert!(clock.goods.is_empty() && Goods::ALL.iter().all(|goods| clock.holds_for(&[*goods])));
}

#[test]
fn a_fact_holds_for_one_of_the_forms_and_a_relief_for_all_of_them() {
    let all = [Goods::Alone, Goods::InEquipment];
    for (rule, alone, both, equipment) in [
        ("adr.mark.number", true, true, false),
        ("adr.mark.number.equipment", false, true, true),
        ("adr.pack.intact", true, true, true),
    ] {
        let law = facts("DE", LegalState::IntactWaste);
        let fact = law.iter().find(|fact| fact.rule == rule).unwrap();
        let holds = [&all[..1], &all[..], &all[1..]].map(|forms| fact.holds_for(forms));
        assert_eq!(holds, [alone, both, equipment], "{rule}");
    }
    let law = facts("DE", LegalState::IntactWaste);
    let relief = law.iter().find(|fact| fact.under.is_some()).unwrap();
    assert!(relief.holds_for(&all[..1]) && !relief.holds_for(&all) && !relief.holds_for(&all[1..]));
}

#[test]
fn two_numbers_for_different_forms_are_no_contradiction_and_two_for_one_are() {
    let own = |goods: &str| {
        let text = format!(
            "schema = \"celltriage.rules/1\"\ntitle = \"mine\"\nversion = \"1\"\nchecked_on = \"2026-01-01\"\n\
             review_by = \"2027-01-01\"\nauthority = \"my authority\"\nplace = \"NZ\"\n[[rule]]\nid = \"my.one\"\n\
             kind = \"document\"\ntext = \"Mine.\"\ncite = \"lease\"\nseen = \"official\"\nin_papers = \"substance\"\n\
             paper = {{ un = [\"UN 3481\"], name = \"CELLS\", class = \"9\" }}\n{goods}\n"
        );
        let mut packs = Packs::built_in().unwrap();
        packs.add_own("mine.toml", &text).unwrap();
        let found = packs.conflicts(Some(&place("NZ")));
        found.into_iter().map(|one| one.first).collect::<Vec<_>>()
    };
    assert_eq!(own(""), ["un.number"], "by themselves, where nothing is said");
    assert_eq!(own("goods = [\"with_equipment\"]"), ["un.number.with_equipment"]);
    let kept = own("goods = [\"with_equipment\"]\ninstead_of = [\"un.number.with_equipment\"]");
    assert_eq!(kept, Vec::<String>::new());
}
