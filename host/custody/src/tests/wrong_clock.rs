//! Watches that a wrong clock must neither end too early nor keep for years.

use super::*;
use crate::clock::days_left;
use jiff::Timestamp;

/// Four weeks after the day on which everything happens.
const END: Date = date(2026, 12, 23);

/// Tries an event at a time, as it would be written then; the clock says that it is that day.
fn at(world: &mut World, now: &str, event: Event) -> Result<(), Refusal> {
    let now: Timestamp = format!("{now}Z").parse().unwrap();
    world.today = now.to_zoned_datetime(jiff::tz::TimeZone::UTC).date();
    world.state.pass_to(now);
    world.attempt(event)
}

/// A cell that was assessed at noon of a day.
fn assessed(now: &str) -> World {
    let mut world = World::new();
    world.state.pass_to(format!("{now}Z").parse().unwrap());
    world.intact("PE-1");
    world
}

fn four_weeks_from(day: Date) -> Event {
    hold("PE-1", day.saturating_add(jiff::Span::new().days(28)))
}

fn cool() -> Event {
    inspection("PE-1", Look::Unchanged, Some(18.0))
}

fn until(world: &World) -> Date {
    world.state.cells["PE-1"].watch.as_ref().unwrap().ends.day()
}

/// Lets days pass in which others write every few of them.
fn days_with_entries(world: &mut World, from: &str, days: i64) {
    let from: Timestamp = format!("{from}Z").parse().unwrap();
    for day in (0..=days).step_by(3) {
        world.state.pass_to(from + jiff::SignedDuration::from_hours(24 * day));
    }
}

/// Looks and releases at a time; returns whether the watch ended.
fn ended(world: &mut World, now: &str) -> bool {
    at(world, now, cool()).unwrap();
    at(world, now, release("PE-1")).is_ok()
}

#[test]
fn a_watch_that_began_while_the_clock_stood_back_is_four_weeks_old_after_four_weeks() {
    let mut world = assessed("2026-11-27T17:40:00");
    at(&mut world, "2025-11-28T09:00:00", four_weeks_from(date(2025, 11, 28))).unwrap();
    assert_eq!(until(&world), date(2025, 12, 26), "so far the book has only this clock's word");
    // The clock is put right half an hour later.
    assert!(!ended(&mut world, "2026-11-28T09:30:00"));
    days_with_entries(&mut world, "2026-11-28T10:00:00", 27);
    assert!(!ended(&mut world, "2026-12-25T12:00:00"));
    let why = match at(&mut world, "2026-12-25T12:01:00", release("PE-1")) {
        Err(Refusal::NotReleasable { why, .. }) => why,
        other => panic!("{other:?}"),
    };
    assert!(why.contains("it names 2025-12-26"), "{why}");
    assert!(until(&world) >= date(2026, 12, 26) && until(&world) <= date(2026, 12, 27), "{}", until(&world));
    assert!(ended(&mut world, "2026-12-27T09:00:00"));
}

#[test]
fn a_clock_that_is_put_right_in_two_strides_ends_no_watch_either() {
    let mut world = assessed("2026-11-27T17:40:00");
    at(&mut world, "2025-11-28T09:00:00", four_weeks_from(date(2025, 11, 28))).unwrap();
    // Nearly right first, still before what stands in the book.
    assert!(!ended(&mut world, "2026-11-20T09:00:00"));
    assert!(!ended(&mut world, "2026-11-28T09:00:00"));
    days_with_entries(&mut world, "2026-11-28T10:00:00", 26);
    assert!(!ended(&mut world, "2026-12-24T12:00:00"));
    assert!(ended(&mut world, "2026-12-28T09:00:00"));
}

#[test]
fn a_clock_that_once_stood_ten_years_ahead_keeps_no_later_watch_for_ten_years() {
    let mut world = assessed("2036-11-25T12:00:00");
    at(&mut world, "2026-11-25T12:00:00", four_weeks_from(date(2026, 11, 25))).unwrap();
    assert_eq!(until(&world), date(2026, 12, 23));
    // Looked at every day, and the watch ends as it would have.
    for day in 26..=30 {
        at(&mut world, &format!("2026-11-{day}T12:00:00"), cool()).unwrap();
    }
    for day in 1..=22 {
        at(&mut world, &format!("2026-12-{day:02}T12:00:00"), cool()).unwrap();
    }
    assert!(at(&mut world, "2026-12-22T12:00:00", release("PE-1")).is_err());
    assert!(ended(&mut world, "2026-12-23T12:00:00"));

    // Days that nobody wrote in count as one: the clock may have been set once more.
    let mut world = assessed("2036-11-25T12:00:00");
    at(&mut world, "2026-11-25T12:00:00", four_weeks_from(date(2026, 11, 25))).unwrap();
    assert!(!ended(&mut world, "2026-12-23T12:00:00"));
    assert_eq!(until(&world), date(2027, 1, 19));
}

#[test]
fn a_look_by_a_clock_that_ran_ahead_ends_no_watch() {
    let mut world = assessed("2026-11-25T12:00:00");
    at(&mut world, "2026-11-25T12:05:00", four_weeks_from(TODAY)).unwrap();
    at(&mut world, "2026-12-24T12:00:00", cool()).unwrap();
    // Put right the same day; four weeks later nobody has looked again.
    at(
        &mut world,
        "2026-11-25T13:00:00",
        Event::CellWeighed(CellWeighed { cell: "PE-1".to_owned(), mass: Milligrams::grams(45) }),
    )
    .unwrap();
    days_with_entries(&mut world, "2026-11-25T14:00:00", 28);
    let why = match at(&mut world, "2026-12-24T12:00:00", release("PE-1")) {
        Err(Refusal::NotReleasable { why, .. }) => why,
        other => panic!("{other:?}"),
    };
    assert!(why.contains("nobody has looked at it on"), "{why}");
    assert!(ended(&mut world, "2026-12-24T12:30:00"));
}

#[test]
fn a_watch_in_right_order_ends_on_its_day_whatever_is_written_late() {
    let mut world = assessed("2026-11-25T12:00:00");
    at(&mut world, "2026-11-25T12:05:00", four_weeks_from(TODAY)).unwrap();
    // Another bench's clock, a test of five hours written at its end, and a month without an entry.
    for late in ["2026-11-25T12:04:00", "2026-11-25T20:00:00", "2026-11-25T15:00:00"] {
        at(&mut world, late, cool()).unwrap();
    }
    // Such runs are written night after night.
    for day in 26..=30 {
        for hour in [20, 15, 21] {
            world.state.pass_to(format!("2026-11-{day}T{hour}:00:00Z").parse().unwrap());
        }
    }
    days_with_entries(&mut world, "2026-12-01T10:00:00", 20);
    assert_eq!(until(&world), date(2026, 12, 23));
    assert!(!ended(&mut world, "2026-12-22T12:00:00"));
    assert!(ended(&mut world, "2026-12-23T08:00:00"));
}

#[test]
fn a_jump_ahead_ends_no_watch_and_a_closed_week_does_not_lengthen_it() {
    for (every_days, away, counts) in
        [(1, 7, true), (1, 8, false), (14, 14, true), (14, 15, false), (31, 28, true)]
    {
        let mut world = assessed("2026-11-25T12:00:00");
        let Event::Hold(mut terms) = four_weeks_from(TODAY) else { unreachable!() };
        terms.every_days = every_days;
        at(&mut world, "2026-11-25T12:00:00", Event::Hold(terms)).unwrap();
        let back = Timestamp::from_millisecond(world.state.time.last_ms().unwrap()).unwrap()
            + jiff::SignedDuration::from_hours(24 * away);
        world.state.pass_to(back);
        let moved = if counts { 0 } else { away };
        assert_eq!(days_left(END, until(&world)), moved, "{every_days} {away}");
    }
    // Set ahead by four weeks, looked at, released: the same real day.
    let mut world = assessed("2026-11-25T12:00:00");
    at(&mut world, "2026-11-25T12:05:00", four_weeks_from(TODAY)).unwrap();
    assert!(!ended(&mut world, "2026-12-23T12:10:00"));
    assert!(!ended(&mut world, "2026-12-24T12:10:00"));
    // Put right, the watch goes on as if nothing had been; what the clock was ahead does not count.
    days_with_entries(&mut world, "2026-11-25T12:30:00", 28);
    assert!(!ended(&mut world, "2026-12-23T12:40:00"));
    assert!(ended(&mut world, "2026-12-24T12:40:00"));
}

#[test]
fn a_watch_is_not_over_before_it_was_written_down() {
    let mut world = assessed("2026-11-25T12:00:00");
    let a_year_ago = date(2025, 11, 25);
    world.state.pass_to("2026-11-25T12:05:00Z".parse().unwrap());
    let refused = world.try_on(a_year_ago, four_weeks_from(a_year_ago));
    assert!(matches!(refused, Err(Refusal::BadDay { .. })), "{refused:?}");
    // A book that has such an entry from before: its four weeks count from the day on which it was written.
    let event = four_weeks_from(a_year_ago);
    let signed = Signed { schema: SCHEMA, by: "Ines Harrow".to_owned(), on: a_year_ago, event };
    world.state.apply(world.next(), &signed);
    assert!(!ended(&mut world, "2026-11-25T12:10:00"));
    days_with_entries(&mut world, "2026-11-25T13:00:00", 26);
    assert!(!ended(&mut world, "2026-12-22T12:00:00"));
    assert!(ended(&mut world, "2026-12-23T12:00:00"));
}

#[test]
fn times_at_the_end_of_the_calendar_are_borne() {
    let mut world = assessed("2026-11-25T12:00:00");
    world.state.pass_to(Timestamp::MAX);
    at(&mut world, "2026-11-25T12:00:00", four_weeks_from(TODAY)).unwrap();
    for _ in 0..3 {
        world.state.pass_to(Timestamp::MIN);
        world.state.pass_to(Timestamp::MAX);
        world.state.pass_to(Timestamp::MIN);
    }
    let _any_day = until(&world);
}

/// Tries to judge the cell damaged and no longer critical.
fn judged_milder(world: &mut World, now: &str) -> Result<(), Refusal> {
    let judged = world.judgement("PE-1", LegalState::DamagedOrDefective);
    at(world, now, judged)
}

#[test]
fn a_cell_found_critical_while_the_clock_stood_back_is_watched_for_four_weeks_like_any_other() {
    let mut world = assessed("2026-11-27T17:40:00");
    at(&mut world, "2025-10-01T09:00:00", escalation("PE-1")).unwrap();
    // A day's watch by a clock that is right again: the four weeks since the sign are over only by the wrong one.
    at(&mut world, "2026-11-28T09:00:00", hold("PE-1", date(2026, 11, 29))).unwrap();
    at(&mut world, "2026-11-30T09:00:00", cool()).unwrap();
    let refused = judged_milder(&mut world, "2026-11-30T09:05:00");
    assert!(matches!(refused, Err(Refusal::StillCritical { .. })), "{refused:?}");
    days_with_entries(&mut world, "2026-12-01T09:00:00", 27);
    at(&mut world, "2026-12-29T09:00:00", cool()).unwrap();
    judged_milder(&mut world, "2026-12-29T09:05:00").unwrap();
}

#[test]
fn a_cell_found_critical_while_the_clock_stood_ten_years_ahead_is_not_critical_for_ten_years() {
    let mut world = assessed("2026-11-27T17:40:00");
    at(&mut world, "2036-11-25T12:00:00", escalation("PE-1")).unwrap();
    at(&mut world, "2026-11-28T09:00:00", four_weeks_from(date(2026, 11, 28))).unwrap();
    for day in 1..=31 {
        at(&mut world, &format!("2026-12-{day:02}T09:00:00"), cool()).unwrap();
    }
    judged_milder(&mut world, "2026-12-31T09:05:00").unwrap();
}

#[test]
fn a_sign_during_a_watch_begins_the_four_weeks_again() {
    let mut world = assessed("2026-11-25T12:00:00");
    at(&mut world, "2026-11-25T12:01:00", four_weeks_from(date(2026, 11, 25))).unwrap();
    days_with_entries(&mut world, "2026-11-26T12:00:00", 24);
    at(&mut world, "2026-12-21T12:00:00", inspection("PE-1", Look::Active, None)).unwrap();
    at(&mut world, "2026-12-23T12:00:00", cool()).unwrap();
    assert!(judged_milder(&mut world, "2026-12-23T12:05:00").is_err());
    days_with_entries(&mut world, "2026-12-24T12:00:00", 24);
    at(&mut world, "2027-01-19T12:00:00", cool()).unwrap();
    judged_milder(&mut world, "2027-01-19T12:05:00").unwrap();
}
