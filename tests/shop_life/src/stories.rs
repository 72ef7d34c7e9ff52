//! Stories by hand that once broke a promise, or that drawn ones meet too seldom.

use crate::cells::Kind;
use crate::life::play;
use crate::mishap::Mishap;
use crate::room;
use crate::shrink::in_words;
use crate::step::{Eyes, Heat, Judging, Seen, Step, Tag};
use crate::tally::Tally;

const SCREENED: Step =
    Step::Tested { cell: 0, tag: Tag::Own, eyes: Eyes::Careful, full: false, mishap: None };

/// Plays a story about one cell, in which every promise is to hold.
fn held(kind: Kind, steps: &[Step]) -> Tally {
    let mut story = vec![Step::Arrives(0, kind)];
    story.extend_from_slice(steps);
    story.push(Step::Checked);
    play(&story).unwrap_or_else(|broken| panic!("{}", in_words(&story, &broken)))
}

#[test]
fn a_bench_away_ends_no_watch_that_it_knew_nothing_of() {
    let cool = Step::Seen(0, Seen::Cool);
    let ours = [SCREENED, Step::Watched(0, 28), Step::Away(true)];
    let theirs = [SCREENED, Step::Watched(0, 1), Step::Passes(49), cool];
    let released = held(Kind::Sound, &[&ours[..], &theirs, &[Step::Released(0), Step::Merged]].concat());
    assert_eq!((released.released, released.merged), (1, 4));
    let later = [Step::Merged, cool, Step::Released(0)];
    assert_eq!(held(Kind::Sound, &[&ours[..], &theirs, &later].concat()).released, 0);
}

#[test]
fn a_bench_away_makes_no_reacting_cell_milder() {
    let (reacts, judged) = (Step::Reacts(0), Step::Judged(0, Judging::Intact));
    let after = [Step::Merged, Step::Judged(0, Judging::Damaged)];
    held(Kind::Sound, &[&[SCREENED, reacts, Step::Away(true), SCREENED, judged][..], &after].concat());
    let before = [Step::Away(true), SCREENED, judged, Step::Away(false), SCREENED, Step::Passes(3), reacts];
    assert!(held(Kind::Sound, &[&before[..], &after].concat()).merged > 0);
}

#[test]
fn what_was_felt_and_watched_before_ends_nothing_that_was_found_since() {
    let felt = Step::Thermometer(0, false);
    let looked =
        [Step::Away(true), SCREENED, felt, Step::Passes(2), felt, Step::Away(false), Step::Passes(1)];
    let ended: Vec<Step> = (0..6).map(|back| Step::Ended(0, back)).collect();
    let found = [SCREENED, Step::Merged];
    held(Kind::Warming, &[&looked[..], &found, &ended].concat());
    let quiet = [Step::Away(true), Step::HotWatched(0, 7, Heat::AsItIs), Step::Away(false)];
    let alarm = [Step::Arrives(0, Kind::Warming), Step::HotWatched(0, 1, Heat::AsItIs), Step::Merged];
    assert!(held(Kind::Sound, &[&quiet[..], &alarm, &ended].concat()).alarms > 0);
}

#[test]
fn heat_is_told_kept_and_ended_by_weeks_a_judgement_and_six_quiet_hours() {
    let hot = [Step::HotWatched(0, 1, Heat::HotAfter(20)), SCREENED, Step::Watched(0, 28)];
    let weeks = [Step::Passes(24 * 29), Step::Seen(0, Seen::Cool), Step::Judged(0, Judging::Damaged)];
    let quiet = [Step::HotWatched(0, 7, Heat::AsItIs)];
    let ended: Vec<Step> = (0..14).map(|back| Step::Ended(0, back)).collect();
    let too_soon = held(Kind::Sound, &[&hot[..], &quiet, &ended].concat());
    assert!(too_soon.reacting > 0 && too_soon.kept_off == 1, "{too_soon:?}");
    held(Kind::Sound, &[&hot[..], &weeks, &quiet, &ended].concat());
}

#[test]
fn a_run_that_is_cut_off_leaves_no_load_and_is_not_finished() {
    let run = |mishap| Step::Tested { cell: 0, tag: Tag::Own, eyes: Eyes::Careful, full: true, mishap };
    for mishap in [
        Mishap::Killed(900),
        Mishap::Restarts(900),
        Mishap::Unplugged(900, 9_000),
        Mishap::Noisy(400),
        Mishap::ForceLeadOff(3_000),
        Mishap::SenseLeadLoose(3_000),
        Mishap::VoltageStuck(3_000),
        Mishap::NoAnswer(3_000),
    ] {
        let tally = held(Kind::Sound, &[run(Some(mishap))]);
        // A line that loses bytes may cost a figure, or not.
        let may_serve = matches!(mishap, Mishap::Noisy(_));
        assert!(tally.on_fixture == 1 && (tally.reuse == 0 || may_serve), "{mishap}: {tally:?}");
    }
    assert_eq!(held(Kind::Sound, &[run(None)]).reuse, 1);
}

/// In a room of its own this test plays the stories; elsewhere it begins itself again in one.
#[test]
fn a_full_disk_loses_nothing_that_was_told() {
    if !room::is_ours() {
        match room::again(["--exact", "stories::a_full_disk_loses_nothing_that_was_told", "--nocapture"]) {
            Ok(mut command) => assert!(command.status().expect("it can be begun").success()),
            Err(error) => eprintln!("not played, since nothing can be mounted here: {error}"),
        }
        return;
    }
    let hot = Step::HotWatched(0, 1, Heat::HotAfter(20));
    let mut all = Tally::default();
    for left in [0, 8, 20, 80] {
        let full = [SCREENED, Step::DiskFull(left)];
        let after = [Step::DiskFreed, SCREENED, Step::Seen(0, Seen::Cool)];
        all += held(Kind::Sound, &[&full[..], &[Step::Watched(0, 28), SCREENED], &after].concat());
        all += held(Kind::Warming, &[&full[..], &[SCREENED, SCREENED], &after].concat());
        all += held(Kind::Sound, &[&full[..], &[hot, Step::OtherBench, SCREENED], &after].concat());
    }
    assert!(all.untaken > 4 && all.taken_in > 4 && all.reacting > 0, "{all:?}");
}

#[test]
fn a_good_trace_is_for_reuse_under_a_name_of_which_nothing_is_known_and_not_under_that_of_a_held_cell() {
    let tally = held(Kind::Sound, &[Step::Graded(0)]);
    assert_eq!((tally.graded, tally.reuse_of_a_trace), (1, 1));
    let tally = held(Kind::Swollen, &[SCREENED, Step::Graded(0)]);
    assert_eq!((tally.graded, tally.reuse_of_a_trace), (1, 0));
}

#[test]
fn a_trace_from_a_file_may_be_older_than_a_short_and_settles_it_not() {
    let tally = held(Kind::Sound, &[Step::Shaken(0, true), Step::Graded(0)]);
    assert_eq!((tally.graded, tally.reuse_of_a_trace), (1, 0));
}

#[test]
fn looks_of_another_bench_end_no_warmth_that_was_felt_here_after_them() {
    let cool = Step::Thermometer(0, false);
    let theirs = [Step::Away(true), SCREENED, cool, Step::Passes(2), cool, Step::Away(false)];
    let ours = [SCREENED, Step::Thermometer(0, true), Step::Merged, Step::Ended(0, 2)];
    assert_eq!(held(Kind::Warming, &[&theirs[..], &ours].concat()).ended, 0);
}
