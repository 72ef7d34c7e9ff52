//! Stories by hand: what once broke a promise, or what drawn weeks meet too seldom. In each every promise is to hold.

use crate::cells::Kind;
use crate::mishap::Mishap;
use crate::step::{BoxFor, Eyes, Heat, Judging, Meanwhile, Seen, Step, Tag};

const SCREENED: Step = tested(Eyes::Careful, false, None);
const DISCHARGED: Step = tested(Eyes::Careful, true, None);
const COOL: Step = Step::Seen(0, Seen::Cool);
const FELT_COOL: Step = Step::Thermometer(0, false);
const WEEK: Step = Step::Passes(24 * 7);
const HOT: Step = Step::HotWatched(0, 1, Heat::HotAfter(20));
const QUIET: Step = Step::HotWatched(0, 7, Heat::AsItIs);
const THERE: Step = Step::Away(true);
const HERE: Step = Step::Away(false);

const fn tested(eyes: Eyes, full: bool, mishap: Option<Mishap>) -> Step {
    Step::Tested { cell: 0, tag: Tag::Own, eyes, full, mishap }
}

const fn judged(how: Judging) -> Step {
    Step::Judged(0, how)
}

/// Tries to end whatever the newest entries found.
fn ended(entries: u8) -> Vec<Step> {
    (0..entries).map(|back| Step::Ended(0, back)).collect()
}

/// A story by hand.
#[derive(Clone, Debug)]
pub struct ByHand {
    /// What it is about.
    pub name: String,
    /// Its steps.
    pub steps: Vec<Step>,
}

/// A story about one cell.
fn about(name: impl Into<String>, kind: Kind, parts: &[&[Step]]) -> ByHand {
    let steps = [&[Step::Arrives(0, kind)], &parts.concat()[..], &[Step::Checked]].concat();
    ByHand { name: name.into(), steps }
}

/// All of them.
pub fn by_hand() -> Vec<ByHand> {
    [
        found(),
        boxed(),
        watched(),
        hot(),
        at_once(),
        at_two_benches(),
        of_traces(),
        of_the_fixture(),
        cut_off(),
        full_disk(),
    ]
    .concat()
}

/// What was found, and what ends it.
fn found() -> Vec<ByHand> {
    let into_intact = [Step::Opened(0, BoxFor::Intact), Step::Boxed(0, 0)];
    let milder = [judged(Judging::AsProposed), judged(Judging::Intact), judged(Judging::NotWaste)];
    let by_mistake = [SCREENED, judged(Judging::Damaged)];
    let cooled = [FELT_COOL, Step::Passes(2), FELT_COOL, Step::Ended(0, 2)];
    vec![
        about("a milder judgement ends no judgement", Kind::Sound, &[&by_mistake, &milder, &into_intact]),
        about(
            "a judgement that was struck ends",
            Kind::Sound,
            &[&by_mistake, &[Step::Struck(0, 0), judged(Judging::Intact)], &into_intact],
        ),
        about(
            "who struck what had ended a warmth may end it again",
            Kind::Warming,
            &[&[SCREENED], &cooled, &[Step::Struck(0, 0), SCREENED, Step::Ended(0, 5)]],
        ),
        about(
            "who struck a look on which a warmth had ended has it stand again",
            Kind::Warming,
            &[&[SCREENED], &cooled, &[Step::Struck(0, 1), SCREENED], &ended(6)],
        ),
    ]
}

/// Boxes.
fn boxed() -> Vec<ByHand> {
    let in_a_box = [SCREENED, judged(Judging::Intact), Step::Opened(0, BoxFor::Intact), Step::Boxed(0, 0)];
    let sent = [Step::Drafted(0), Step::Agreed(0), Step::Leaves(0)];
    let again = [SCREENED, judged(Judging::Damaged)];
    // So many decisions that what is kept of the book is brought forward.
    let (tag, eyes, full, mishap) = (Tag::Own, Eyes::Careful, false, None);
    let others = [Step::Tested { cell: 1, tag, eyes, full, mishap }; 12];
    vec![
        about(
            "a warm cell that nobody has assessed is due",
            Kind::Warming,
            &[&[Step::HotWatched(0, 1, Heat::AsItIs), Step::Arrives(1, Kind::Sound)], &others],
        ),
        about("a cell leaves with its box", Kind::Sound, &[&in_a_box, &sent, &again]),
        about("a cell that is worse in its box is not sent", Kind::Sound, &[&in_a_box, &again, &sent]),
    ]
}

/// Watches.
fn watched() -> Vec<ByHand> {
    let weeks = [WEEK, COOL, WEEK, FELT_COOL, WEEK, FELT_COOL, WEEK, FELT_COOL, Step::Passes(25)];
    let watched = [&[SCREENED, Step::Watched(0, 28)], &weeks[..]].concat();
    vec![
        about("a watch without a look at its end goes on", Kind::Sound, &[&watched, &[Step::Released(0)]]),
        about(
            "a watch ends, and what was found before it stands",
            Kind::Swollen,
            &[&watched, &[COOL, Step::Released(0)]],
        ),
        about(
            "a look that was bad stands",
            Kind::Sound,
            &[&[SCREENED, Step::Watched(0, 1), Step::Seen(0, Seen::Worse), SCREENED]],
        ),
        about(
            "who judges critical is told what to do",
            Kind::Sound,
            &[&[SCREENED, judged(Judging::Critical)]],
        ),
        about("a watch with a look at its end ends", Kind::Sound, &[&watched, &[COOL, Step::Released(0)]]),
    ]
}

/// Watches on the fixture.
fn hot() -> Vec<ByHand> {
    let found = [HOT, SCREENED, Step::Watched(0, 28)];
    // A longer time in which nothing is written counts for nothing.
    let looked = [WEEK, COOL].repeat(4);
    let weeks = [&looked[..], &[Step::Passes(25), COOL, judged(Judging::Damaged)]].concat();
    let short = Step::HotWatched(0, 3, Heat::AsItIs);
    let warm = [
        Step::Arrives(0, Kind::Warming),
        Step::HotWatched(0, 1, Heat::AsItIs),
        Step::Arrives(0, Kind::Sound),
    ];
    vec![
        about("heat stands without a judgement", Kind::Sound, &[&found, &[QUIET], &ended(24)]),
        about(
            "heat ends by weeks, a judgement and a watch",
            Kind::Sound,
            &[&found, &weeks, &[QUIET], &ended(24)],
        ),
        about("a short watch ends no heat", Kind::Sound, &[&found, &weeks, &[short], &ended(24)]),
        about("a watch with an alarm ends none", Kind::Warming, &[&[QUIET, QUIET], &ended(12)]),
        about("a short watch ends no warmth", Kind::Sound, &[&warm, &[short], &ended(8)]),
    ]
}

/// Two programs at one book.
fn at_once() -> Vec<ByHand> {
    let boxes = [Step::Opened(0, BoxFor::Intact), Step::Opened(1, BoxFor::Intact)];
    let intact = [&boxes[..], &[SCREENED, judged(Judging::Intact)]].concat();
    let both =
        |meanwhile| [Step::OtherBench, SCREENED, judged(Judging::Intact), Step::AtOnce(0, 0, meanwhile)];
    vec![
        about(
            "what another program wrote is read before an event",
            Kind::Sound,
            &[
                &[SCREENED, FELT_COOL, Step::OtherBench, judged(Judging::Damaged)],
                &[Step::OtherBench, Step::Fitted(0), SCREENED],
            ],
        ),
        about("two programs box a cell at once", Kind::Sound, &[&intact, &both(Meanwhile::Boxed(1))]),
        about(
            "what is found reacting at once is not boxed",
            Kind::Sound,
            &[&intact, &both(Meanwhile::Reacts)],
        ),
    ]
}

/// Two benches.
fn at_two_benches() -> Vec<ByHand> {
    let ours = [SCREENED, Step::Watched(0, 28), THERE];
    let theirs = [SCREENED, Step::Watched(0, 1), Step::Passes(49), COOL];
    let (reacts, intact) = (Step::Reacts(0), judged(Judging::Intact));
    let merged = [Step::Merged, judged(Judging::Damaged)];
    let looked = [THERE, SCREENED, FELT_COOL, Step::Passes(2), FELT_COOL, HERE];
    let quiet = [THERE, QUIET, HERE];
    let alarm = [Step::Arrives(0, Kind::Warming), Step::HotWatched(0, 1, Heat::AsItIs), Step::Merged];
    vec![
        about(
            "a bench away ends its own watch",
            Kind::Sound,
            &[&ours, &theirs, &[Step::Released(0), Step::Merged]],
        ),
        about(
            "after the merge their watch ends no longer than ours",
            Kind::Sound,
            &[&ours, &theirs, &[Step::Merged, COOL, Step::Released(0)]],
        ),
        about(
            "a bench away makes no cell milder that reacted before",
            Kind::Sound,
            &[&[SCREENED, reacts, THERE, SCREENED, intact], &merged],
        ),
        about(
            "a bench away makes no cell milder that reacted after",
            Kind::Sound,
            &[&[THERE, SCREENED, intact, HERE, SCREENED, Step::Passes(3), reacts], &merged],
        ),
        about(
            "looks there end no warmth that was found here since",
            Kind::Warming,
            &[&looked, &[Step::Passes(1), SCREENED, Step::Merged], &ended(6)],
        ),
        about(
            "looks there end no warmth that was felt here after them",
            Kind::Warming,
            &[&looked, &[SCREENED, Step::Thermometer(0, true), Step::Merged, Step::Ended(0, 2)]],
        ),
        about("a watch there ends no alarm here", Kind::Sound, &[&quiet, &alarm, &ended(6)]),
        about(
            "a judgement there of what is damaged here makes it fit no box and no record",
            Kind::Sound,
            &[
                &[
                    SCREENED,
                    judged(Judging::Damaged),
                    THERE,
                    DISCHARGED,
                    judged(Judging::NotWaste),
                    Step::Merged,
                ],
                &[Step::Recorded(0), Step::Opened(0, BoxFor::Intact), Step::Boxed(0, 0)],
            ],
        ),
        about(
            "a judgement there as intact puts nothing that is damaged here into an intact box",
            Kind::Sound,
            &[
                &[SCREENED, judged(Judging::Damaged), THERE, SCREENED, intact, Step::Merged],
                &[Step::Opened(0, BoxFor::Intact), Step::Boxed(0, 0)],
            ],
        ),
        about(
            "what is struck there is theirs, whatever has its number here",
            Kind::Swollen,
            &[&[SCREENED, THERE, tested(Eyes::Wrong, false, None), Step::Struck(0, 0), Step::Merged]],
        ),
    ]
}

/// Traces from files.
fn of_traces() -> Vec<ByHand> {
    let graded = [Step::Graded(0)];
    vec![
        about("a good trace of an unknown cell is for reuse", Kind::Sound, &[&graded]),
        about("a good trace of a held cell is not", Kind::Swollen, &[&[SCREENED], &graded]),
        about("a good trace may be older than a short", Kind::Sound, &[&[Step::Shaken(0, true)], &graded]),
    ]
}

/// Fixtures that drift.
fn of_the_fixture() -> Vec<ByHand> {
    let off = [Step::Standard, Step::Drifts(120, 0), Step::Standard, SCREENED];
    let another = [Step::Drifts(0, 0), Step::Standard, SCREENED];
    let a_little = [Step::Standard, Step::Drifts(10, 0), Step::Standard];
    vec![
        about("a fixture that is off too far loads no cell", Kind::Faded, &[&off]),
        about("another takes the place of a fixture that is stopped", Kind::Sound, &[&off, &another]),
        about("a fixture that is off a little", Kind::Sound, &[&a_little]),
    ]
}

/// Runs that are cut off, and one that is not.
fn cut_off() -> Vec<ByHand> {
    let mishaps = [
        Mishap::Killed(900),
        Mishap::Restarts(900),
        Mishap::Unplugged(900, 9_000),
        Mishap::Noisy(400),
        Mishap::ForceLeadOff(3_000),
        Mishap::SenseLeadLoose(3_000),
        Mishap::VoltageStuck(3_000),
        Mishap::NoAnswer(3_000),
    ];
    let run = |mishap: Mishap| {
        about(format!("a run: {mishap}"), Kind::Sound, &[&[tested(Eyes::Careful, true, Some(mishap))]])
    };
    let mut all: Vec<ByHand> = mishaps.into_iter().map(run).collect();
    all.push(about("a run in peace", Kind::Sound, &[&[DISCHARGED]]));
    all
}

/// Full disks.
fn full_disk() -> Vec<ByHand> {
    let mut all = Vec::new();
    for left in [0, 8, 20, 80] {
        let full = [SCREENED, Step::DiskFull(left)];
        let after = [Step::DiskFreed, SCREENED, COOL];
        let name = |what: &str| format!("a disk full but for {left} kB: {what}");
        all.push(about(name("tested"), Kind::Sound, &[&full, &[Step::Watched(0, 28), SCREENED], &after]));
        all.push(about(name("tested twice"), Kind::Warming, &[&full, &[SCREENED, SCREENED], &after]));
        all.push(about(name("hot"), Kind::Sound, &[&full, &[HOT, Step::OtherBench, SCREENED], &after]));
    }
    all
}
