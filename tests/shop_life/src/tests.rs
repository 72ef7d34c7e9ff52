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
