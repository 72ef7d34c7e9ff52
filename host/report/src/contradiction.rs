//! No page forbids and asks the same: whatever was found, measured or broken off, and whatever a policy says.
//!
//! Held against the acts of each step and, since words could still slip by, against the printed pages.

use crate::decision_page::decision_page;
use crate::explanation_page::explanation_page;
use crate::first_screen::{Around, first_screen};
use celltriage_assessment::explain::Explanation;
use celltriage_assessment::test_support::example;
use celltriage_assessment::{Assessment, Subject};
use celltriage_document::form::terminal::Terminal;
use celltriage_measure::estimate::{Estimate, Quantity};
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_rules::Packs;
use celltriage_verdict::*;
use proptest::prelude::*;
use std::sync::LazyLock;

fn tripped(cause: &str, value: f64, limit: f64, unit: &str) -> RunOutcome {
    RunOutcome::Tripped { cause: cause.to_owned(), value, limit, unit: unit.to_owned() }
}

/// The built-in policy; the same without a word on what its steps do; the one before steps said so.
pub(crate) static POLICIES: LazyLock<[Policy; 3]> = LazyLock::new(|| {
    let unmarked: String =
        DEFAULT_POLICY.split_inclusive('\n').filter(|line| !line.contains("_acts = ")).collect();
    let before = include_str!("../../verdict/tests/data/policy_2.toml");
    [DEFAULT_POLICY, &unmarked, before].map(|text| Policy::from_toml(text, "test").unwrap())
});
static SUBJECT: LazyLock<Subject> = LazyLock::new(|| {
    let mut subject = None;
    example(|one| subject = Some(one.clone()));
    subject.unwrap()
});
pub(crate) static PACKS: LazyLock<Packs> = LazyLock::new(|| Packs::built_in().unwrap());

/// Rest voltages around everything that is decided by one.
pub(crate) const RESTS: [f64; 14] =
    [-0.3, 0.0, 0.1, 0.499, 0.501, 0.8, 1.6, 2.001, 2.6, 3.001, 3.9, 4.35, 4.399, 4.5];
/// What else is measured: a value within its limit, one too close, one beyond.
pub(crate) const OTHERS: [(Quantity, [f64; 3]); 8] = [
    (Quantity::RestDrift, [-0.001, -0.02, -0.1]),
    (Quantity::RestTemperatureRise, [0.1, 2.0, 6.0]),
    (Quantity::TemperatureRise, [0.9, 8.0, 12.0]),
    (Quantity::ThicknessGrowth, [0.02, 0.07, 0.3]),
    (Quantity::Resistance25Celsius, [0.1, 0.227, 0.5]),
    (Quantity::CapacityFraction, [0.95, 0.8, 0.4]),
    (Quantity::Capacity, [2.85, 2.4, 1.2]),
    (Quantity::SelfDischargePerMonth, [0.02, 0.1, 0.5]),
];

pub(crate) fn runs() -> Vec<RunOutcome> {
    let mut runs = vec![
        RunOutcome::Complete,
        RunOutcome::Recorded,
        RunOutcome::Unfinished { why: "link lost".to_owned() },
        RunOutcome::NotMeasured { why: "no fixture at hand".to_owned() },
    ];
    for cause in TRIP_CAUSES {
        runs.extend([0.1, 1.0, 2.6, 40.0].map(|value| tripped(trip_key(cause), value, 3.0, "V")));
    }
    runs
}

/// A cell as it may come: answers, rest voltage with its doubt, the others by index (3: not measured), the run.
pub(crate) fn subject(
    answers: &[(Sign, Answer)],
    rest: Option<(f64, f64)>,
    others: &[usize],
    run: RunOutcome,
) -> Subject {
    let mut subject = SUBJECT.clone();
    subject.observations = Observations::no_signs();
    answers.iter().for_each(|(sign, answer)| subject.observations.set(*sign, *answer));
    subject.estimates = celltriage_measure::estimate::Estimates::default();
    let mut put = |quantity, value, doubt| {
        let mut estimate = Estimate::new(quantity, value, doubt, "test");
        estimate.conditions.duration_s = Some(3600.0);
        estimate.conditions.temperature_c = Some(23.0);
        subject.estimates.put(quantity, Ok(estimate));
    };
    if let Some((value, doubt)) = rest {
        put(Quantity::RestVoltage, value, doubt);
    }
    for ((quantity, values), index) in OTHERS.iter().zip(others) {
        if let Some(value) = values.get(*index) {
            put(*quantity, *value, 0.001 * value.abs());
        }
    }
    subject.circumstances.run = run;
    subject
}

fn judged(
    policy: &Policy,
    answers: &[(Sign, Answer)],
    rest: Option<(f64, f64)>,
    others: &[usize],
    run: RunOutcome,
) -> Assessment {
    Assessment::build(subject(answers, rest, others, run), policy, &PACKS)
}

/// The names of the parts of a screen.
const PARTS: [&str; 10] = [
    "DEVICE",
    "DO NOW",
    "DO NOT",
    "TAKE CARE",
    "DECIDED BY",
    "CHECKED",
    "NEEDED",
    "BEFORE",
    "ITS LIFE",
    "MORE",
];

/// Everything that is printed or written of a decision, as sentences in small letters; with `pages` also as printed.
fn sentences(assessment: &Assessment, pages: bool) -> Vec<String> {
    let text = if pages {
        let explained = explanation_page(&Explanation::of(assessment));
        let terminal = Terminal::new(100);
        let around = Around { in_book: true, typed: &|what| format!("{what:?}") };
        let screen = first_screen(assessment, &around, &terminal);
        // Between the parts of a screen stands no full stop.
        let screen =
            PARTS.iter().fold(terminal.text(&screen), |text, part| text.replace(part, &format!(". {part}")));
        let pages = [decision_page(&[], assessment), explained].map(|page| terminal.text(&page));
        format!("{screen}\n{}", pages.join("\n"))
    } else {
        assessment.verdict.statement.clone()
    };
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let json = assessment.verdict.reasons.iter().flat_map(|one| [Some(one.text.clone()), one.settle.clone()]);
    let json = json.flatten().chain(assessment.verdict.next_steps.clone());
    let json = json.chain(assessment.cautions.iter().map(|one| one.text.clone()));
    let json = json.chain(assessment.health.iter().flat_map(|one| one.statement.clone()));
    let all = std::iter::once(text).chain(json.map(|one| one.to_lowercase()));
    all.flat_map(|one| one.split(['.', ';', ':']).map(str::to_owned).collect::<Vec<_>>()).collect()
}

fn says(sentence: &str, words: &[&str]) -> bool {
    words.iter().any(|word| sentence.contains(word))
}

fn forbids(sentence: &str) -> bool {
    says(sentence, &["not ", "never", "nothing"])
}

/// Whether a charge is forbidden, and asked for. What forbids only a careless charge forbids none.
fn charge_in(sentences: &[String]) -> (bool, bool) {
    let without = |one: &String| one.replace("discharge", "").replace("discharging", "");
    let careless = ["unwatched", "ordinary charger"];
    let about = |one: &str| says(one, &["charge it", "charge the cell", "be charged"]);
    let all: Vec<String> = sentences.iter().map(without).filter(|one| about(one)).collect();
    let forbidden = all.iter().any(|one| forbids(one) && !says(one, &careless));
    (forbidden, all.iter().any(|one| !forbids(one)))
}

fn load_in(sentences: &[String]) -> (bool, bool) {
    let about = [
        "discharge it,",
        "test it",
        "test again",
        "assess again",
        "test the cell",
        "load it",
        "loaded",
        "run a full discharge",
        "measure the resistance",
        "is not discharged",
    ];
    let all: Vec<&String> = sentences.iter().filter(|one| says(one, &about)).collect();
    let only_on_the_fixture = ["anything but the fixture"];
    let forbidden = all.iter().any(|one| forbids(one) && !says(one, &only_on_the_fixture));
    // The words under which the fixture's limits are told are no instruction.
    (forbidden, all.iter().any(|one| !forbids(one) && !says(one, &["before a load", "without a load"])))
}

/// Returns what contradicts itself.
fn contradiction(policy: &Policy, assessment: &Assessment, pages: bool) -> Option<String> {
    let verdict = &assessment.verdict;
    let forbidden = verdict.forbids.as_deref().unwrap_or_default();
    let told: Vec<&str> = verdict
        .next_steps
        .iter()
        .chain(verdict.reasons.iter().filter_map(|one| one.settle.as_ref()))
        .map(String::as_str)
        .collect();
    let advice = policy.criteria.iter().filter_map(|one| one.consequence.advice.as_ref());
    let steps = advice.chain(policy.criteria.iter().filter_map(|one| one.settle.as_ref()));
    let trips = policy.trips.values().chain([&policy.unfinished, &policy.not_measured]);
    for step in steps.chain(trips.filter_map(|one| one.advice.as_ref())) {
        if told.contains(&step.text.as_str()) && step.acts.iter().any(|act| forbidden.contains(act)) {
            return Some(format!("{:?} is forbidden and told: {}", step.acts, step.text));
        }
    }
    let mut sentences = sentences(assessment, pages);
    // Where a charge is forbidden and a pre-charge by a trained person is not, that is an act of its own.
    if forbidden.contains(&Act::Charge) && !forbidden.contains(&Act::PreCharge) {
        sentences.iter_mut().for_each(|one| *one = one.replace("pre-charge", ""));
    }
    let page = || format!("{forbidden:?}\n{}", Terminal::new(100).text(&decision_page(&[], assessment)));
    let about_loads = || sentences.iter().filter(|one| one.contains("load") || one.contains("test again"));
    match (charge_in(&sentences), load_in(&sentences)) {
        ((true, true), _) => Some(format!("forbids a charge and asks for one\n{}", page())),
        (_, (true, true)) => {
            let told: Vec<_> = about_loads().map(String::as_str).collect();
            Some(format!("forbids a load and asks for one: {}\n{}", told.join(" | "), page()))
        }
        ((_, true), _) if forbidden.contains(&Act::PreCharge) && forbidden.contains(&Act::Charge) => {
            Some(format!("a charge is asked for\n{}", page()))
        }
        (_, (_, true)) if forbidden.contains(&Act::Load) => Some(format!("a load is asked for\n{}", page())),
        _ => None,
    }
}

#[test]
fn each_finding_alone_and_with_each_rest_voltage_contradicts_nothing() {
    let mut told = String::new();
    let mut check = |policy: &Policy, assessment: &Assessment| {
        if told.is_empty() {
            told.extend(contradiction(policy, assessment, false));
        }
    };
    for policy in POLICIES.iter() {
        let sound = [0; OTHERS.len()];
        for run in runs() {
            check(policy, &judged(policy, &[], Some((4.2, 0.002)), &sound, run.clone()));
            check(policy, &judged(policy, &[], None, &[], run));
        }
        for rest in RESTS {
            let rest = Some((rest, 0.002));
            for (index, state) in (0..OTHERS.len()).flat_map(|index| (1..=3).map(move |state| (index, state)))
            {
                let mut others = sound;
                others[index] = state;
                check(policy, &judged(policy, &[], rest, &others, RunOutcome::Complete));
            }
            for answers in Sign::ALL.map(|sign| [(sign, Answer::Yes)]) {
                check(policy, &judged(policy, &answers, rest, &sound, RunOutcome::Recorded));
            }
            let unseen = [(Sign::Recalled, Answer::NotObserved)];
            check(policy, &judged(policy, &unseen, rest, &sound, RunOutcome::Complete));
        }
    }
    assert!(told.is_empty(), "{told}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_page_forbids_and_asks_the_same(
        answers in proptest::collection::vec((0..Sign::ALL.len(), 0..3usize), 0..3),
        rest in proptest::option::of((0..RESTS.len(), 0..3usize)),
        others in proptest::collection::vec(prop_oneof![4 => Just(0usize), 1 => 1..4usize], OTHERS.len()),
        run in 0..80usize, policy in 0..3usize,
    ) {
        let answers: Vec<_> = answers
            .into_iter()
            .map(|(sign, answer)| (Sign::ALL[sign], [Answer::No, Answer::Yes, Answer::NotObserved][answer]))
            .collect();
        let rest = rest.map(|(rest, doubt)| (RESTS[rest], [0.0, 0.005, 0.05][doubt]));
        let (runs, policy) = (runs(), &POLICIES[policy]);
        let assessment = judged(policy, &answers, rest, &others, runs[run % runs.len()].clone());
        prop_assert_eq!(contradiction(policy, &assessment, true), None);
    }
}

/// The search must find what it searches for, or all of the above proves nothing.
#[test]
fn the_words_of_both_kinds_are_found() {
    let of = |text: &str| vec![text.to_lowercase()];
    assert_eq!(charge_in(&of("it must never be charged again")), (true, false));
    assert_eq!(charge_in(&of("or have a trained person pre-charge it")), (false, true));
    assert_eq!(charge_in(&of("Charge it to its limit of 4.35 V")), (false, true));
    assert_eq!(charge_in(&of("do not charge it unwatched")), (false, false));
    assert_eq!(charge_in(&of("Discharge it")), (false, false));
    assert_eq!(load_in(&of("Do not charge it, discharge it, press it")), (true, false));
    assert_eq!(load_in(&of("then test again")), (false, true));
    let before = POLICIES[2].clone().without_withholding();
    let old = judged(&before, &[], Some((0.8, 0.001)), &[], RunOutcome::Recorded);
    assert_eq!(charge_in(&sentences(&old, true)), (true, true), "this is what the old pages said");
}

/// A cell behind an open protection may be full: nothing on its page says that it is empty.
#[test]
fn what_a_dead_connector_would_say_of_the_cell_is_taken_out() {
    for (volts, hidden) in [(0.1, true), (0.8, false)] {
        let mut subject = SUBJECT.clone();
        let put = |subject: &mut Subject, quantity, value| {
            subject.estimates.put(quantity, Ok(Estimate::new(quantity, value, 0.001, "test")));
        };
        put(&mut subject, Quantity::RestVoltage, volts);
        put(&mut subject, Quantity::StateOfCharge, 0.02);
        let found = Assessment::build(subject, &POLICIES[0], &PACKS);
        assert_eq!(found.estimates.contains_key(&Quantity::StateOfCharge), !hidden, "{volts}");
        assert_eq!(found.conditions.not_estimated.contains_key(&Quantity::StateOfCharge), hidden);
        assert!(found.estimates.contains_key(&Quantity::RestVoltage), "what it reads stays");
    }
}

#[test]
fn the_slow_charge_is_told_only_where_it_may_be() {
    let pre_charge = |answers: &[(Sign, Answer)], volts: f64, doubt: f64| {
        let found = judged(&POLICIES[0], answers, Some((volts, doubt)), &[], RunOutcome::Recorded);
        found.verdict.next_steps.iter().any(|step| step.contains("pre-charge"))
    };
    assert!(pre_charge(&[], 2.6, 0.001));
    for volts in [-0.3, 0.0, 0.1, 0.6, 1.0, 1.6, 1.9] {
        assert!(!pre_charge(&[], volts, 0.001), "{volts}");
    }
    assert!(!pre_charge(&[], 2.005, 0.01), "it may lie below 2.0 V");
    assert!(!pre_charge(&[(Sign::Swollen, Answer::Yes)], 2.6, 0.001));
    assert!(!pre_charge(&[(Sign::Recalled, Answer::NotObserved)], 2.6, 0.001), "nobody has looked");
}
