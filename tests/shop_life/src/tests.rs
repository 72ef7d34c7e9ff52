//! A few weeks in every run of the tests, and that a broken promise would be seen.

use crate::draw::story;
use crate::life::play;
use crate::shrink::{in_words, shrunk};
use crate::step::Step;
use crate::tally::Tally;

/// Weeks of a short run, in the tests' build.
const WEEKS: u64 = 6;

#[test]
fn every_promise_holds_for_some_weeks() {
    let mut all = Tally::default();
    for seed in 0..WEEKS {
        match play(&story(seed)) {
            Ok(tally) => all += tally,
            Err(broken) => {
                let (story, broken) = shrunk(&story(seed), &broken);
                panic!("seed {seed}:\n{}", in_words(&story, &broken));
            }
        }
    }
    // They get far: a story in which all is refused would keep every promise.
    assert!(all.on_fixture > 0 && all.kept_off > 0 && all.boxed > 0, "{all:?}");
}

#[test]
fn the_same_seed_gives_the_same_story_with_the_same_ending() {
    assert_eq!(story(7), story(7));
    assert_ne!(story(7), story(8));
    assert_eq!(play(&story(7)), play(&story(7)));
}

#[test]
fn every_step_has_its_words() {
    let told: Vec<String> = (0..20).flat_map(story).map(|step: Step| step.to_string()).collect();
    assert!(told.iter().all(|words| !words.is_empty() && !words.contains('{')));
}

#[test]
fn zz_stories() {
    use crate::cells::Kind;
    use crate::step::{Eyes, Heat, Judging, Seen, Tag};
    let t = |cell| Step::Tested { cell, tag: Tag::Own, eyes: Eyes::Careful, full: false, mishap: None };
    let stories: Vec<(&str, Vec<Step>)> = vec![
        (
            "release",
            vec![
                Step::Arrives(0, Kind::Sound),
                t(0),
                Step::Watched(0, 28),
                Step::Away(true),
                t(0),
                Step::Watched(0, 1),
                Step::Passes(49),
                Step::Seen(0, Seen::Cool),
                Step::Released(0),
                Step::Merged,
                Step::Checked,
            ],
        ),
        (
            "release2",
            vec![
                Step::Arrives(0, Kind::Sound),
                Step::Away(true),
                t(0),
                Step::Watched(0, 1),
                Step::Passes(49),
                Step::Seen(0, Seen::Cool),
                Step::Released(0),
                Step::Away(false),
                Step::Watched(0, 28),
                Step::Merged,
                Step::Checked,
            ],
        ),
        (
            "watch1",
            vec![
                Step::Arrives(0, Kind::Sound),
                t(0),
                Step::Watched(0, 28),
                Step::Away(true),
                t(0),
                Step::Watched(0, 1),
                Step::Passes(49),
                Step::Seen(0, Seen::Cool),
                Step::Merged,
                Step::Seen(0, Seen::Cool),
                Step::Released(0),
                Step::Checked,
            ],
        ),
        (
            "looks",
            vec![
                Step::Arrives(0, Kind::Warming),
                Step::Away(true),
                t(0),
                Step::Thermometer(0, false),
                Step::Passes(2),
                Step::Thermometer(0, false),
                Step::Away(false),
                Step::Passes(1),
                t(0),
                Step::Merged,
                Step::Ended(0, 3),
                Step::Ended(0, 2),
                Step::Ended(0, 0),
                Step::Ended(0, 1),
                Step::Checked,
            ],
        ),
        (
            "looks2",
            vec![
                Step::Arrives(0, Kind::Warming),
                t(0),
                Step::Away(true),
                t(0),
                Step::Thermometer(0, false),
                Step::Passes(1),
                Step::Away(false),
                Step::Thermometer(0, true),
                Step::Passes(1),
                Step::Away(true),
                Step::Thermometer(0, false),
                Step::Merged,
                Step::Ended(0, 4),
                Step::Ended(0, 3),
                Step::Ended(0, 2),
                Step::Checked,
            ],
        ),
        (
            "quiet",
            vec![
                Step::Arrives(0, Kind::Sound),
                Step::Away(true),
                Step::HotWatched(0, 7, Heat::AsItIs),
                Step::Away(false),
                Step::Passes(30),
                Step::Arrives(0, Kind::Warming),
                Step::HotWatched(0, 1, Heat::AsItIs),
                Step::Merged,
                Step::Ended(0, 4),
                Step::Ended(0, 1),
                Step::Ended(0, 2),
                Step::Ended(0, 3),
                Step::Checked,
            ],
        ),
        (
            "quiet-one-bench",
            vec![
                Step::Arrives(0, Kind::Sound),
                Step::HotWatched(0, 1, Heat::WarmBefore),
                Step::HotWatched(0, 7, Heat::AsItIs),
                Step::Ended(0, 1),
                Step::Ended(0, 2),
                Step::Ended(0, 3),
                Step::Checked,
            ],
        ),
        (
            "judged",
            vec![
                Step::Arrives(0, Kind::Sound),
                t(0),
                Step::Reacts(0),
                Step::Away(true),
                t(0),
                Step::Judged(0, Judging::Intact),
                Step::Merged,
                Step::Judged(0, Judging::Damaged),
                Step::Checked,
            ],
        ),
        (
            "judged2",
            vec![
                Step::Arrives(0, Kind::Sound),
                Step::Away(true),
                t(0),
                Step::Judged(0, Judging::Intact),
                Step::Away(false),
                t(0),
                Step::Passes(3),
                Step::Reacts(0),
                Step::Merged,
                Step::Judged(0, Judging::Damaged),
                Step::Checked,
            ],
        ),
        (
            "unfinished",
            vec![
                Step::Arrives(0, Kind::Sound),
                Step::Away(true),
                t(0),
                Step::Away(false),
                Step::Passes(3),
                Step::Tested {
                    cell: 0,
                    tag: Tag::Own,
                    eyes: Eyes::Careful,
                    full: false,
                    mishap: Some(crate::mishap::Mishap::Killed(60)),
                },
                Step::Merged,
                Step::Judged(0, Judging::NotWaste),
                Step::Recorded(0),
                Step::Fitted(0),
                Step::Checked,
            ],
        ),
        (
            "screened",
            vec![
                Step::Arrives(0, Kind::Sound),
                Step::Away(true),
                t(0),
                Step::Away(false),
                t(0),
                Step::Fitted(0),
                Step::Shaken(0, true),
                Step::Unfitted(0),
                Step::Merged,
                Step::Judged(0, Judging::NotWaste),
                Step::Recorded(0),
                Step::Checked,
            ],
        ),
    ];
    for (name, story) in stories {
        match play(&story) {
            Ok(tally) => println!("{name}: held: {tally:?}"),
            Err(broken) => println!("{name}: {}", in_words(&story, &broken)),
        }
    }
}
