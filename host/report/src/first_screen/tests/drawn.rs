//! What holds for every screen there can be, over drawn cases: it fits, it tells the fate, it counts each failure, it leaves out nothing
//! that bars an action.

use super::{flat, on, screen};
use crate::contradiction::{OTHERS, PACKS, POLICIES, RESTS, runs, subject};
use crate::deciding::in_short;
use celltriage_assessment::Assessment;
use celltriage_document::form::terminal::Terminal;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_rules::test_support::PLACES;
use celltriage_rules::{Caution, Kind, Severity, promise_in};
use celltriage_verdict::{Act, CellState, Finding, Hazard, KnownFinding, KnownKind, Reason, Told};
use jiff::civil::date;
use proptest::prelude::*;

/// Lines of the usual terminal, the last of which is the next prompt.
const LINES: usize = 23;
/// What several grave dangers bar at once is not cut for the sake of the lines: from so many grave cautions on, a screen that shows
/// everything else at its shortest may take so many lines.
const SEVERAL: usize = 7;
const LINES_OF_SEVERAL: usize = 32;

/// A drawn case: answers, rest voltage, other quantities, run, place, what was found before.
type Drawn = (Vec<(usize, usize)>, Option<(usize, usize)>, Vec<usize>, usize, usize, usize);

fn drawn() -> impl Strategy<Value = Drawn> {
    (
        proptest::collection::vec((0..Sign::ALL.len(), 0..3usize), 0..5),
        proptest::option::of((0..RESTS.len(), 0..3usize)),
        proptest::collection::vec(prop_oneof![3 => Just(0usize), 1 => 1..4usize], OTHERS.len()),
        0..80usize,
        0..PLACES.len(),
        0..4usize,
    )
}

fn found_before(number: usize) -> KnownFinding {
    KnownFinding {
        entry: number as u32,
        on: date(2026, 11, 20),
        told: Told::Assessment,
        kind: KnownKind::Unsorted,
        what: ["swollen", "rest voltage of 0.9 V, too low ever to be charged again", "reacting"][number % 3]
            .to_owned(),
        by: Some("second bench, Port Ellery".to_owned()),
        condition: [CellState::DamagedOrDefective, CellState::Unknown, CellState::Critical][number % 3],
        hazard: [Some(Hazard::Swollen), Some(Hazard::DeeplyDischarged), Some(Hazard::ActiveNow)][number % 3],
        settled_by: None,
        released_by: None,
    }
}

fn assessment((answers, rest, others, run, place, known): Drawn) -> Assessment {
    let answers: Vec<_> = answers
        .into_iter()
        .map(|(sign, answer)| (Sign::ALL[sign], [Answer::No, Answer::Yes, Answer::NotObserved][answer]))
        .collect();
    let rest = rest.map(|(rest, doubt)| (RESTS[rest], [0.0, 0.005, 0.05][doubt]));
    let runs = runs();
    let mut subject = subject(&answers, rest, &others, runs[run % runs.len()].clone());
    subject.circumstances.place = PLACES[place].map(|code| code.parse().unwrap());
    subject.known = (0..known).map(found_before).collect();
    subject.circumstances.source =
        if run % 2 == 0 { "simulated bench".to_owned() } else { "/dev/ttyACM0".to_owned() };
    Assessment::build(subject, &POLICIES[0], &PACKS)
}

/// What the grave cautions bar, between two stops, found by other words than the screen's own; emergencies whole.
fn barred(assessment: &Assessment) -> Vec<String> {
    let grave = |caution: &&Caution| caution.severity >= Severity::Warning;
    let whole = |caution: &&Caution| caution.kind == Kind::Emergency;
    let (emergencies, others): (Vec<_>, Vec<_>) = assessment.cautions.iter().filter(grave).partition(whole);
    let bars = |sentence: &&str| {
        let padded = format!(" {} ", sentence.to_lowercase().replace(['.', ',', ';', ':'], " "));
        [" not ", " never ", " nothing ", " no ", " only ", " hands off ", " forbidden "]
            .iter()
            .any(|word| padded.contains(word))
    };
    let parts = others.iter().flat_map(|caution| caution.text.split([';', '.', ':']).filter(bars));
    let all = emergencies.iter().map(|caution| caution.text.as_str()).chain(parts);
    all.map(|text| flat(text).to_lowercase()).collect()
}

fn act_words(act: Act) -> &'static str {
    match act {
        Act::Look => "go near it",
        Act::Load => "put a load on it",
        Act::PreCharge => "pre-charge it",
        Act::Charge => "charge it",
    }
}

fn most_lines(assessment: &Assessment) -> usize {
    let grave = assessment.cautions.iter().filter(|caution| caution.severity >= Severity::Warning);
    if grave.count() < SEVERAL { LINES } else { LINES_OF_SEVERAL }
}

/// Returns what a screen leaves out that it must say.
fn left_out(assessment: &Assessment) -> Option<String> {
    let text = screen(assessment, 80);
    let said = flat(&text);
    let verdict = &assessment.verdict;
    let fault = |what: String| Some(format!("{what}\n{text}"));
    if text.lines().count() > most_lines(assessment) {
        return fault(format!("{} lines", text.lines().count()));
    }
    if let Some(line) = text.lines().find(|line| line.chars().count() > 80 || line.ends_with(' ')) {
        return fault(format!("too wide: {line}"));
    }
    if !text.lines().any(|line| line.starts_with(&verdict.fate.key().to_uppercase())) {
        return fault("the fate".to_owned());
    }
    if let Some(sentence) = barred(assessment).into_iter().find(|part| !said.to_lowercase().contains(part)) {
        return fault(sentence);
    }
    let not = said.split("DO NOT ").nth(1).unwrap_or_default();
    if let Some(act) = verdict.forbids.iter().flatten().find(|act| !not.contains(act_words(**act))) {
        return fault(format!("{act:?}"));
    }
    // The first failure is the reason; the others are told by name or counted.
    let failed: Vec<_> = verdict.reasons.iter().filter(|one| one.finding == Finding::Fail).skip(1).collect();
    let counted = said.contains(&format!("{} more failed", failed.len()));
    // By its title, or in the short words that name what the guard found.
    let names =
        |one: &Reason| said.contains(&flat(&one.title)) || said.contains(&flat(&in_short(one)[0].said()));
    if let Some(one) = failed.iter().find(|one| !counted && !names(one)) {
        return fault(one.title.clone());
    }
    promise_in(&text).and_then(|promise| fault(format!("promises: {promise:?}")))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn a_screen_fits_and_leaves_out_nothing_that_bars_an_action(case in drawn()) {
        prop_assert_eq!(left_out(&assessment(case)), None);
    }

    #[test]
    fn in_words_it_is_words_of_plain_letters_and_says_the_same_dangers(case in drawn()) {
        let assessment = assessment(case);
        let text = on(&assessment, true, Terminal::new(80).in_words(true));
        prop_assert!(text.is_ascii(), "{}", text);
        prop_assert!(text.lines().count() <= most_lines(&assessment) + 1, "{} lines\n{}", text.lines().count(), text);
        let said = flat(&text).to_lowercase();
        let gone = barred(&assessment).into_iter().find(|sentence| sentence.is_ascii() && !said.contains(sentence.as_str()));
        prop_assert_eq!(gone, None, "{}", text);
    }

    #[test]
    fn no_width_breaks_it(case in drawn(), width in 40usize..=120) {
        let text = screen(&assessment(case), width);
        prop_assert!(text.lines().all(|line| line.chars().count() <= width), "{}", text);
    }
}

/// The search must find what it searches for.
#[test]
fn what_a_screen_leaves_out_is_found() {
    let mut swollen = assessment((vec![(3, 1)], None, vec![0; OTHERS.len()], 0, 0, 0));
    assert_eq!(left_out(&swollen), None);
    assert!(barred(&swollen).len() > 3, "{:?}", barred(&swollen));
    // A text that no terminal holds: an own rule pack may say what it likes, and it is not cut.
    let long = "Never so. ".repeat(200);
    swollen.cautions[1].text.push_str(&long);
    assert!(left_out(&swollen).is_some_and(|fault| fault.contains("lines")), "{:?}", left_out(&swollen));
}
