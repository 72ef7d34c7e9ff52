//! What asks and what does not, figure by figure.

use super::*;
use celltriage_measure::nameplate::{Chemistry, Form};
use celltriage_measure::test_support::nameplate;
use jiff::civil::date;
use proptest::prelude::*;

const FIRST: Date = date(2026, 11, 20);

fn facts() -> Facts {
    Facts {
        nameplate: nameplate(),
        thickness_mm: vec![3.25, 3.22, 3.22],
        sensed_at: None,
        adapter: None,
        resistance: Some(Figure { value: 0.060, doubt: 0.000_6 }),
        two_level: true,
        charge: Some(0.5),
        capacity: Some(Figure { value: 2.8, doubt: 0.014 }),
        rest_v: Some(Figure { value: 3.85, doubt: 0.001 }),
    }
}

fn after(days: i32, lies: bool, change: impl FnOnce(&mut Facts)) -> Vec<Contradicted> {
    let mut now = facts();
    change(&mut now);
    let earlier = [Earlier { entry: 3, on: FIRST, facts: facts(), said_same: false }];
    let today = FIRST.checked_add(jiff::Span::new().days(days)).unwrap();
    contradictions(&earlier, &now, today, lies.then_some(FIRST)).iter().map(|one| one.what).collect()
}

fn figure(value: f64) -> Option<Figure> {
    Some(Figure { value, doubt: value * 0.01 })
}

#[test]
fn what_a_cell_can_do_asks_nothing() {
    type Change = fn(&mut Facts);
    let table: [(&str, i32, Change); 14] = [
        ("the same", 0, |_| {}),
        ("breathing", 1, |now| now.thickness_mm = vec![3.16, 3.15, 3.15]),
        ("grown", 1, |now| now.thickness_mm = vec![4.4, 3.9, 3.9]),
        ("one corner only", 1, |now| now.thickness_mm = vec![2.9]),
        ("no thickness", 1, |now| now.thickness_mm.clear()),
        ("contacts", 1, |now| now.resistance = figure(0.053)),
        ("after a charge", 1, |now| (now.resistance, now.charge) = (figure(0.043), Some(1.0))),
        ("nearly empty", 1, |now| (now.resistance, now.charge) = (figure(0.095), Some(0.02))),
        ("through an adapter", 1, |now| (now.resistance, now.adapter) = (figure(0.120), Some(7))),
        ("a year later", 365, |now| now.resistance = figure(0.125)),
        ("warmer", 1, |now| now.capacity = figure(2.95)),
        ("faded in a year", 365, |now| now.capacity = figure(1.6)),
        ("charged", 1, |now| now.rest_v = figure(4.3)),
        ("emptied", 1, |now| now.rest_v = figure(3.3)),
    ];
    for (what, days, change) in table {
        assert_eq!(after(days, false, change), [], "{what}");
    }
}

#[test]
fn what_a_cell_cannot_do_is_asked_about() {
    use Contradicted::{Capacity, Label, Resistance, RestVoltage, Thickness};
    type Change = fn(&mut Facts);
    let table: [(&str, Change, Contradicted); 10] = [
        ("thinner", |now| now.thickness_mm = vec![2.9, 2.9, 2.9], Thickness),
        ("half the resistance", |now| now.resistance = figure(0.030), Resistance),
        ("a third less at the same charge", |now| now.resistance = figure(0.040), Resistance),
        ("two and a half times in a day", |now| now.resistance = figure(0.150), Resistance),
        ("more capacity", |now| now.capacity = figure(3.2), Capacity),
        ("a quarter lost in a day", |now| now.capacity = figure(2.1), Capacity),
        ("another limit", |now| now.nameplate.charge_limit_v = 4.2, Label),
        ("another chemistry", |now| now.nameplate.chemistry = Chemistry::Lfp, Label),
        ("another form", |now| now.nameplate.form = Form::Cylindrical, Label),
        ("higher, in its container", |now| now.rest_v = figure(4.1), RestVoltage),
    ];
    for (what, change, found) in table {
        assert_eq!(after(1, true, change), [found], "{what}");
    }
}

#[test]
fn models_are_compared_as_words_and_only_where_both_are_named() {
    let named = |before: Option<&str>, now: Option<&str>| {
        let label = |model: Option<&str>| {
            let model = model.map(str::to_owned);
            celltriage_measure::nameplate::Nameplate { model, ..nameplate() }
        };
        other_label(&label(before), &label(now))
    };
    assert_eq!(named(Some("scanner B"), Some("Scanner  b")), []);
    assert_eq!(named(None, Some("scanner B")), []);
    let told = named(Some("scanner B"), Some("tablet A"));
    assert_eq!(told, [Other { name: "model", before: "scanner B".to_owned(), now: "tablet A".to_owned() }]);
}

#[test]
fn a_persons_word_begins_the_comparison_anew() {
    let mut thin = facts();
    thin.thickness_mm = vec![2.5, 2.5, 2.5];
    let one = |entry, facts: Facts, said_same| Earlier { entry, on: FIRST, facts, said_same };
    let told = |earlier: &[Earlier]| contradictions(earlier, &thin, FIRST, None);
    let first = told(&[one(1, facts(), false), one(2, thin.clone(), false)]);
    assert_eq!(first.len(), 1);
    assert_eq!(first[0].entry, 1, "a decision that nobody answered for settles nothing");
    let words = first[0].words();
    assert!(words.contains("3.25 mm on 2026-11-20 (entry 1), 2.50 mm now"), "{words}");
    assert_eq!(told(&[one(1, facts(), false), one(2, thin.clone(), true)]), []);
}

proptest! {
    /// Within the margins, whatever the readings: a cell never asks about itself.
    #[test]
    fn small_changes_ask_nothing(
        resistance in 0.9f64..1.1, capacity in 0.93f64..1.07, thickness in 0.98f64..1.05, charge in 0.2f64..1.0, days in 0..400i32,
    ) {
        let found = after(days, false, |now| {
            now.resistance = figure(0.060 * resistance);
            now.capacity = figure(2.8 * capacity);
            now.thickness_mm.iter_mut().for_each(|one| *one *= thickness);
            now.charge = Some(charge);
        });
        prop_assert_eq!(found, []);
    }

    /// Figures that are none contradict nothing, and nothing panics.
    #[test]
    fn broken_figures_ask_nothing(which in 0..4usize, bad in proptest::sample::select(vec![f64::NAN, f64::INFINITY])) {
        let found = after(1, true, |now| {
            let broken = Some(Figure { value: bad, doubt: bad });
            match which {
                0 => now.resistance = broken,
                1 => now.capacity = broken,
                2 => now.rest_v = broken,
                _ => now.thickness_mm = vec![bad; 3],
            }
        });
        prop_assert_eq!(found, []);
    }
}
