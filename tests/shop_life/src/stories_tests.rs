//! The stories by hand are played, and get as far as they are told for.

use crate::life::play;
use crate::room;
use crate::shrink::in_words;
use crate::stories::{ByHand, by_hand};
use crate::tally::Tally;

fn kept(story: &ByHand) -> Tally {
    play(&story.steps).unwrap_or_else(|broken| panic!("{}:\n{}", story.name, in_words(&story.steps, &broken)))
}

/// Plays the stories whose name begins so, in all of which every promise is to hold.
fn of(begins: &str) -> Tally {
    let mut all = Tally::default();
    let stories = by_hand();
    let mut chosen = stories.iter().filter(|story| story.name.starts_with(begins)).peekable();
    assert!(chosen.peek().is_some(), "no story is called {begins}");
    chosen.for_each(|story| all += kept(story));
    all
}

#[test]
fn a_milder_judgement_ends_no_other_before_that_is_struck() {
    let tally = of("a milder judgement ends no judgement");
    assert_eq!((tally.boxed, tally.refused), (0, 3));
    assert_eq!(of("a judgement that was struck ends").boxed, 1);
}

#[test]
fn what_was_ended_stands_again_once_that_is_struck() {
    let tally = of("who struck what had ended a warmth may end it again");
    assert_eq!((tally.ended, tally.kept_off), (2, 1));
    let tally = of("who struck a look on which a warmth had ended has it stand again");
    assert_eq!((tally.ended, tally.kept_off), (1, 1));
}

#[test]
fn a_watch_ends_after_a_look_at_its_end() {
    assert_eq!(of("a watch without a look at its end goes on").released, 0);
    assert_eq!(of("a watch with a look at its end ends").released, 1);
    assert_eq!(of("a watch ends, and what was found before it stands").released, 1);
    let tally = of("a look that was bad stands");
    assert_eq!((tally.on_fixture, tally.kept_off), (1, 1));
    assert_eq!(of("who judges critical is told what to do").refused, 0);
}

#[test]
fn heat_is_told_kept_and_ended_by_weeks_a_judgement_and_six_quiet_hours() {
    let too_soon = of("heat stands without a judgement");
    assert!(too_soon.reacting > 0 && too_soon.kept_off == 1, "{too_soon:?}");
    let ended = of("heat ends by weeks, a judgement and a watch");
    assert!(ended.alarms_ended >= too_soon.alarms_ended + ended.reacting, "{too_soon:?}, {ended:?}");
    assert_eq!(of("a short watch ends no heat").alarms_ended, 0);
    let warm = of("a short watch ends no warmth");
    assert!(warm.alarms > 0 && warm.alarms_ended == 0, "{warm:?}");
}

#[test]
fn of_two_programs_that_write_at_once_the_later_has_seen_the_earlier() {
    assert_eq!(of("two programs box a cell at once").boxed, 1);
    let tally = of("what another program wrote is read before an event");
    assert_eq!((tally.fitted, tally.kept_off), (0, 1));
    let tally = of("what is found reacting at once is not boxed");
    assert_eq!((tally.at_once, tally.boxed), (1, 0));
}

#[test]
fn a_bench_away_ends_no_watch_that_it_knew_nothing_of() {
    let tally = of("a bench away ends its own watch");
    assert_eq!((tally.released, tally.merged), (1, 4));
    assert_eq!(of("after the merge their watch ends no longer than ours").released, 0);
}

#[test]
fn a_bench_away_makes_no_cell_milder_and_ends_nothing_that_it_knew_nothing_of() {
    assert!(of("a bench away makes no cell milder").merged > 0);
    // What was found there they may end.
    assert_eq!(of("looks there end no warmth that was found here since").ended, 1);
    assert_eq!(of("looks there end no warmth that was felt here after them").ended, 0);
    assert!(of("a watch there ends no alarm here").alarms > 0);
    let tally = of("a judgement there");
    assert_eq!((tally.records, tally.boxed, tally.reuse), (0, 0, 1));
}

#[test]
fn what_is_struck_there_is_theirs() {
    assert_eq!(of("what is struck there is theirs").struck, 1);
}

#[test]
fn a_good_trace_counts_for_a_cell_of_which_nothing_is_known_and_for_no_other() {
    for (story, reuse) in [
        ("a good trace of an unknown cell is for reuse", 1),
        ("a good trace of a held cell is not", 0),
        ("a good trace may be older than a short", 0),
    ] {
        let tally = of(story);
        assert_eq!((tally.graded, tally.reuse_of_a_trace), (1, reuse), "{story}");
    }
}

#[test]
fn a_fixture_that_is_off_too_far_loads_no_cell_until_another_takes_its_place() {
    let tally = of("a fixture that is off too far loads no cell");
    assert_eq!((tally.standards, tally.stopped, tally.on_fixture, tally.refused), (2, 1, 1, 1), "{tally:?}");
    let tally = of("another takes the place of a fixture that is stopped");
    assert_eq!((tally.standards, tally.stopped, tally.refused), (3, 1, 1), "{tally:?}");
}

#[test]
fn a_cell_leaves_with_its_box_unless_it_is_worse_than_that_is_for() {
    assert_eq!(of("a warm cell that nobody has assessed is due").on_fixture, 12);
    let tally = of("a cell leaves with its box");
    assert_eq!((tally.boxed, tally.left), (1, 1));
    let tally = of("a cell that is worse in its box is not sent");
    assert_eq!((tally.boxed, tally.left), (1, 0));
}

#[test]
fn a_run_that_is_cut_off_leaves_no_load_and_is_not_finished() {
    for story in by_hand().iter().filter(|story| story.name.starts_with("a run: ")) {
        let tally = kept(story);
        // A line that loses bytes may cost a figure, or not.
        let may_serve = story.name.contains("lost on the line");
        assert!(tally.on_fixture == 1 && (tally.reuse == 0 || may_serve), "{}: {tally:?}", story.name);
    }
    assert_eq!(of("a run in peace").reuse, 1);
}

/// In a room of its own this test plays the stories; elsewhere it begins itself again in one.
#[test]
fn a_full_disk_loses_nothing_that_was_told() {
    if !room::is_ours() {
        let this = "stories_tests::a_full_disk_loses_nothing_that_was_told";
        match room::again(["--exact", this, "--nocapture"]) {
            Ok(mut command) => assert!(command.status().expect("it can be begun").success()),
            Err(error) => eprintln!("not played, since nothing can be mounted here: {error}"),
        }
        return;
    }
    let all = of("a disk full but for");
    assert!(all.untaken > 4 && all.taken_in > 4 && all.reacting > 0, "{all:?}");
}
