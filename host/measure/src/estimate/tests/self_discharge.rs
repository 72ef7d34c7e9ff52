//! The loss in storage: against a cell whose loss is known, at every boundary, and the dates that are told.

use crate::estimate::tests::nameplate;
use crate::estimate::{Estimate, FrontEnd, Quantity, Visit, self_discharge};
use crate::nameplate::Nameplate;
use jiff::{SignedDuration, ZonedDateTime};
use proptest::prelude::*;

/// 3 Ah of the 4.35 V class; at 80 % its table rises by 10.8 mV per % above and 10.6 below.
fn plate() -> Nameplate {
    Nameplate { charge_limit_v: 4.35, ..nameplate(3.0) }
}

fn start() -> ZonedDateTime {
    "2026-11-21T09:00:00+01:00[+01:00]".parse().unwrap()
}

fn after(hours: f64) -> ZonedDateTime {
    start().checked_add(SignedDuration::from_secs_f64(hours * 3600.0)).unwrap()
}

fn visit(hours: f64, volts: f64, temperature: f64) -> Visit {
    Visit {
        at: after(hours),
        rest: Some((volts, temperature)),
        rested_h: None,
        taken_ah: Some(0.0),
        fixture: Some("board 1, calibration 3".to_owned()),
        charged: false,
    }
}

fn charged(hours: f64) -> Visit {
    Visit { rest: None, fixture: None, charged: true, ..visit(hours, 0.0, 0.0) }
}

fn told(hours: f64, volts: f64, temperature: f64) -> Visit {
    Visit { rested_h: Some(48.0), ..visit(hours, volts, temperature) }
}

fn both(earlier: &[Visit], now: &Visit) -> (Result<Estimate, String>, Result<Estimate, String>) {
    let [daily, monthly] = self_discharge(&plate(), &FrontEnd::fixture(), earlier, now);
    assert_eq!((daily.0, monthly.0), (Quantity::SelfDischarge, Quantity::SelfDischargePerMonth));
    (daily.1, monthly.1)
}

fn why(earlier: &[Visit], now: &Visit) -> String {
    both(earlier, now).0.unwrap_err()
}

#[test]
fn a_known_loss_comes_out() {
    // 20 % a month from 85 % charge (4.154 V): 2 % in three days, at 10.8 mV per %.
    let (daily, monthly) = both(&[told(0.0, 4.154, 23.0)], &visit(72.0, 4.154 - 0.0216, 23.0));
    let (daily, monthly) = (daily.unwrap(), monthly.unwrap());
    approx::assert_relative_eq!(daily.value, 0.0072, epsilon = 1e-9);
    approx::assert_relative_eq!(monthly.value, 0.20, epsilon = 1e-6);
    assert!(daily.standard_uncertainty < 0.4e-3, "{daily:?}");
    // A quarter of it is the slope of another cell.
    assert!(monthly.standard_uncertainty < 0.055, "{monthly:?}");
}

#[test]
fn a_sound_cell_is_told_from_one_with_a_small_short_within_three_days() {
    let at = |percent: f64| {
        both(&[told(0.0, 4.154, 23.0)], &visit(72.0, 4.154 - 1.08e-3 * percent, 23.0)).1.unwrap()
    };
    let (sound, short) = (at(2.0), at(40.0));
    // 0.2 and 4 % lost in three days: 2 and 40 % a month.
    assert!(sound.value + 1.645 * sound.standard_uncertainty < 0.05, "{sound:?}");
    assert!(short.value - 1.645 * short.standard_uncertainty > 0.20, "{short:?}");
}

#[test]
fn what_the_tests_took_out_and_the_room_are_taken_into_account() {
    let screened = Visit { taken_ah: Some(0.0066), ..told(0.0, 4.154, 23.0) };
    // 0.22 % of 3 Ah at 10.8 mV per % are 2.4 mV, which are no loss.
    let (daily, _) = both(&[screened], &visit(96.0, 4.154 - 0.002376, 23.0));
    assert!(daily.unwrap().value.abs() < 1e-6);
    // At 100 % the voltage falls by 0.3 mV/K; the table's coefficient at 85 % lies between 0 and that.
    let (warmer, _) = both(&[told(0.0, 4.30, 22.5)], &visit(96.0, 4.30, 23.5));
    let (same, _) = both(&[told(0.0, 4.30, 23.0)], &visit(96.0, 4.30, 23.0));
    let (warmer, same) = (warmer.unwrap(), same.unwrap());
    assert!(warmer.value < same.value, "warmer and yet as high: it lost less than it seems");
    assert!(warmer.standard_uncertainty > same.standard_uncertainty);
}

#[test]
fn every_condition_is_refused_just_beyond_its_boundary() {
    let first = || told(0.0, 4.154, 23.0);
    let now = |hours| visit(hours, 4.150, 23.0);
    assert!(both(&[first()], &now(72.0)).0.is_ok());
    let early = why(&[first()], &now(71.99));
    assert!(early.contains("71 h") && early.contains("from 2026-11-24 09:00 on"), "{early}");

    let rested = |hours| Visit { rested_h: Some(hours), ..first() };
    assert!(both(&[rested(24.0)], &now(72.0)).0.is_ok());
    assert!(why(&[rested(23.9)], &now(72.0)).contains("it takes 24 h"));
    assert!(why(&[Visit { rested_h: None, ..first() }], &now(72.0)).contains("hours at rest"));

    let at = |temperature| visit(72.0, 4.150, temperature);
    assert!(both(&[first()], &at(24.0)).0.is_ok());
    let warm = why(&[first()], &at(24.01));
    assert!(warm.contains("within 1 K") && warm.contains("from 2026-11-24 11:00 on"), "{warm}");

    // 60 % of the 4.35 V class is 3.918 V.
    let (full, flat) = (told(0.0, 3.9181, 23.0), told(0.0, 3.9179, 23.0));
    assert!(both(&[full], &visit(72.0, 3.917, 23.0)).0.is_ok());
    assert!(why(&[flat], &visit(72.0, 3.917, 23.0)).contains("60 % or more"));

    let taken = |ah| Visit { taken_ah: Some(ah), ..first() };
    assert!(both(&[taken(0.0149)], &now(72.0)).0.is_ok());
    assert!(why(&[taken(0.0151)], &now(72.0)).contains("new storage"));
    assert!(why(&[Visit { taken_ah: None, ..first() }], &now(72.0)).contains("broke off"));
    assert!(why(&[first()], &visit(72.0, 4.158, 23.0)).contains("charged meanwhile"));
}

#[test]
fn without_an_earlier_visit_the_first_useful_day_is_told() {
    let fresh = why(&[], &visit(0.0, 4.154, 23.0));
    assert!(fresh.contains("from 2026-11-22 09:00 on and again 72 h after that"), "{fresh}");
    let rested = why(&[], &told(0.0, 4.154, 23.0));
    assert!(rested.contains("from 2026-11-24 09:00 on"), "{rested}");
}

#[test]
fn a_visit_a_day_before_stands_for_the_rest_that_nobody_told() {
    let visits = [visit(0.0, 4.156, 23.0), visit(24.0, 4.154, 23.0)];
    let (daily, _) = both(&visits, &visit(96.0, 4.151, 23.0));
    approx::assert_relative_eq!(daily.unwrap().value, 0.001, epsilon = 1e-9);
    let (early, told) = (why(&visits, &visit(95.9, 4.151, 23.0)), "from 2026-11-25 09:00 on");
    assert!(early.contains(told), "{early}");
}

/// 40 % a month from 85 % charge: 4 % in three days, at 10.8 mV per %.
fn leaking() -> [Visit; 2] {
    [told(0.0, 4.154, 23.0), visit(72.0, 4.154 - 0.0432, 23.0)]
}

#[test]
fn what_a_storage_told_is_not_forgotten_when_it_ends() {
    let [first, second] = leaking();
    let found = both(std::slice::from_ref(&first), &second);
    let (daily, monthly) = (found.0.unwrap(), found.1.unwrap());
    let full = |hours| Visit { taken_ah: Some(2.9), ..visit(hours, 4.33, 23.0) };
    // Charged with the book's knowledge, without it, and after a test that discharged it.
    for earlier in [
        vec![first.clone(), second.clone(), charged(80.0)],
        vec![first.clone(), second.clone()],
        vec![first.clone(), second.clone(), charged(80.0), full(82.0)],
        vec![first.clone(), Visit { taken_ah: Some(2.0), ..second.clone() }],
        vec![first.clone(), second.clone(), Visit { rest: None, taken_ah: None, ..visit(75.0, 0.0, 0.0) }],
    ] {
        for now in [full(84.0), full(200.0)] {
            let (again, again_monthly) = both(&earlier, &now);
            let (again, again_monthly) = (again.unwrap(), again_monthly.unwrap());
            assert_eq!((again.value, again.standard_uncertainty), (daily.value, daily.standard_uncertainty));
            assert_eq!(again_monthly.value, monthly.value);
            for told in [&again, &again_monthly] {
                assert!(told.warnings.iter().any(|heed| heed.contains("until 2026-11-24 09:00")), "{told:?}");
            }
            assert!(
                again.method.starts_with("rest voltages of 2026-11-21 09:00 and 2026-11-24 09:00, 3.0 days")
            );
        }
    }
}

#[test]
fn a_discharge_ends_a_storage_too() {
    let [first, second] = leaking();
    let earlier = [first, Visit { taken_ah: Some(2.0), ..second }];
    let found = both(&earlier, &visit(90.0, 3.7, 23.0)).0.unwrap();
    approx::assert_relative_eq!(found.value, 0.0144, epsilon = 1e-9);
    assert!(found.warnings[0].contains("until 2026-11-24 09:00"), "{found:?}");
}

#[test]
fn the_present_storage_counts_as_soon_as_it_tells_something() {
    let [first, second] = leaking();
    let earlier = [first, second, charged(80.0), visit(104.0, 4.3, 23.0)];
    let early = both(&earlier, &visit(175.9, 4.299, 23.0)).0.unwrap();
    assert!(early.value > 0.01 && early.warnings.len() == 1, "{early:?}");
    let now = both(&earlier, &visit(176.0, 4.297, 23.0)).0.unwrap();
    approx::assert_relative_eq!(now.value, 0.001, epsilon = 1e-9);
    assert!(now.warnings.is_empty(), "{now:?}");
}

#[test]
fn within_one_storage_an_older_pair_never_stands_for_a_newer_doubt() {
    let earlier = [told(0.0, 4.154, 23.0), visit(72.0, 4.152, 23.0)];
    let warmer = why(&earlier, &visit(100.0, 4.10, 25.0));
    assert!(warmer.contains("within 1 K"), "{warmer}");
}

#[test]
fn a_charge_is_named_where_nothing_was_told_before_it() {
    let earlier = [told(0.0, 4.154, 23.0), charged(80.0)];
    let why = why(&earlier, &visit(120.0, 4.154, 23.0));
    assert!(why.contains("came off the charger on 2026-11-24 17:00"), "{why}");
    // It has rested 40 h since.
    assert!(why.contains("rest voltage again from 2026-11-29 09:00 on"), "{why}");
}

#[test]
fn another_fixture_makes_it_much_less_certain() {
    let other = Visit { fixture: Some("board 2, calibration 1".to_owned()), ..visit(96.0, 4.150, 23.0) };
    let (same, _) = both(&[told(0.0, 4.154, 23.0)], &visit(96.0, 4.150, 23.0));
    let (other, _) = both(&[told(0.0, 4.154, 23.0)], &other);
    let (same, other) = (same.unwrap(), other.unwrap());
    assert!(other.standard_uncertainty > 3.0 * same.standard_uncertainty);
    assert!(other.warnings[0].contains("different fixtures"));
}

#[test]
fn where_no_table_exists_there_is_no_number() {
    let plate = Nameplate { charge_limit_v: 4.45, ..nameplate(3.0) };
    let [daily, _] =
        self_discharge(&plate, &FrontEnd::fixture(), &[told(0.0, 4.2, 23.0)], &visit(96.0, 4.19, 23.0));
    assert!(daily.1.unwrap_err().contains("no voltage table"));
}

proptest! {
    #[test]
    fn a_longer_wait_is_never_less_certain_and_nothing_is_ever_no_number(
        hours in 72.0..2000.0f64, more in 0.0..2000.0f64, drop in -0.002..0.3f64, apart in -1.0..1.0f64,
    ) {
        let at = |hours: f64| both(&[told(0.0, 4.154, 23.0)], &visit(hours, 4.154 - drop, 23.0 + apart)).0.unwrap();
        let (short, long) = (at(hours), at(hours + more));
        prop_assert!(short.value.is_finite() && short.standard_uncertainty > 0.0);
        prop_assert!(long.standard_uncertainty <= short.standard_uncertainty + 1e-12);
    }
}
