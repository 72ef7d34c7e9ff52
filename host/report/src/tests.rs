//! The page for the bench as people see it.

use crate::cautions::cautions;
use crate::decision_page::decision_page;
use crate::explanation_page::explanation_page;
use celltriage_assessment::Assessment;
use celltriage_assessment::explain::Explanation;
use celltriage_assessment::test_support::example;
use celltriage_document::document::Document;
use celltriage_document::form::html;
use celltriage_document::form::terminal::{Terminal, bare};
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_rules::test_support::PLACES;
use celltriage_rules::{Action, Packs, PlaceCode, Presents, cautions_for, promise_in};
use celltriage_verdict::{RunOutcome, TRIP_CAUSES, trip_key};

/// Pages for every sign, every trip, every place of interest, and some numbers.
fn many() -> Vec<Assessment> {
    let mut pages = vec![
        example(|_| {}),
        example(|subject| subject.observations = Observations::default()),
        example(|subject| {
            subject.circumstances.run = RunOutcome::Unfinished { why: "stopped by hand".to_owned() }
        }),
        example(|subject| {
            subject.estimates = Default::default();
            subject.circumstances.run = RunOutcome::NotMeasured { why: "swollen".to_owned() };
        }),
    ];
    for quantity in [Quantity::CapacityFraction, Quantity::RestVoltage, Quantity::Resistance25Celsius] {
        pages.push(example(|subject| drop(subject.estimates.measured.remove(&quantity))));
        for value in [0.5, 1.7, 2.5, 4.5] {
            pages.push(example(|subject| {
                subject.estimates.measured.get_mut(&quantity).unwrap().value = value;
            }));
        }
    }
    for sign in Sign::ALL {
        for place in ["US", "DE", "ZZ"] {
            pages.push(example(|subject| {
                subject.observations.set(sign, Answer::Yes);
                subject.circumstances.place = place.parse().ok();
            }));
        }
    }
    for cause in TRIP_CAUSES.map(trip_key) {
        pages.push(example(|subject| {
            let (cause, unit) = (cause.to_owned(), "V".to_owned());
            subject.circumstances.run = RunOutcome::Tripped { cause, value: 2.4, limit: 2.5, unit };
        }));
    }
    pages
}

/// Columns of the widest page.
const WIDTH: usize = 100;

fn shown(assessment: &Assessment, width: usize) -> String {
    Terminal::new(width).text(&decision_page(&[], assessment))
}

fn without_colour(text: &str) -> String {
    let mut plain = String::new();
    let mut parts = text.split('\u{1b}');
    plain.push_str(parts.next().unwrap());
    parts.for_each(|part| plain.push_str(part.split_once('m').unwrap().1));
    plain
}

#[test]
fn the_page_of_an_undecided_cell_reads_as_expected() {
    let undecided = example(|subject| {
        subject.estimates.measured.remove(&Quantity::Capacity);
        subject.estimates.measured.remove(&Quantity::CapacityFraction);
        subject.observations.signs.remove(&Sign::Recalled);
        let warning = "the current had flowed for 9.8 s only, not 10 s".to_owned();
        subject.estimates.measured.get_mut(&Quantity::ResistanceTwoLevel).unwrap().warnings.push(warning);
    });
    expect(&undecided, 100, include_str!("expected/undecided.txt"));
}

#[test]
fn the_page_of_a_reacting_cell_begins_with_what_to_do() {
    let reacting = example(|subject| subject.observations.set(Sign::ActiveNow, Answer::Yes));
    expect(&reacting, 100, include_str!("expected/reacting.txt"));
}

#[test]
fn a_narrow_page_of_a_swollen_cell_reads_as_expected() {
    let swollen = example(|subject| {
        subject.observations.set(Sign::Swollen, Answer::Yes);
        subject.circumstances.place = "DE".parse().ok();
    });
    expect(&swollen, 72, include_str!("expected/swollen_narrow.txt"));
}

/// A cell at which the guard tripped before anything was measured.
fn tripped(cause: &str, value: f64, limit: f64, unit: &str) -> String {
    let (cause, unit) = (cause.to_owned(), unit.to_owned());
    let page = example(|subject| {
        subject.estimates = Default::default();
        subject.circumstances.run = RunOutcome::Tripped { cause, value, limit, unit };
    });
    shown(&page, WIDTH)
}

#[test]
fn where_the_guard_tripped_before_anything_was_measured_its_row_stands_alone() {
    let page = tripped("temperature_rise", 4.7, 2.0, "K");
    let why = page.split("WHY").nth(1).unwrap().split("MEASURED").next().unwrap();
    assert!(why.contains("4.7 K") && why.contains("Not measured: "), "{why}");
    assert!(!why.contains(" missing"), "{why}");
    // What is not a figure of the cell is not shown as one.
    let page = tripped("polarity", 1.0, 0.0, "");
    assert!(page.contains("polarity") && !page.contains("1.000"), "{page}");
}

#[test]
fn nobody_is_told_to_carry_a_cell_that_was_found_warm() {
    let store = "dry sand or vermiculite in a";
    let page = tripped("temperature_rise", 4.7, 2.0, "K").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(page.contains("hands off, watch it from a distance") && page.contains(store), "{page}");
    assert!(page.contains("Store it only when two looks an hour apart"), "{page}");
    assert!(!page.contains("Store it by itself"), "{page}");
    let swollen = example(|subject| subject.observations.set(Sign::Swollen, Answer::Yes));
    let page = shown(&swollen, WIDTH).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(page.contains("Store it by itself") && !page.contains("Store it only when two looks"), "{page}");
}

fn expect(assessment: &Assessment, width: usize, expected: &str) {
    let page = shown(assessment, width);
    // The digest changes with every word of the policy.
    let digest: String = assessment.verdict.policy.sha256.chars().take(12).collect();
    let page = page.replace(&digest, "[digest]");
    assert!(page == expected, "the page is now\n{page}");
}

#[test]
fn no_line_is_wider_than_asked_and_none_ends_in_a_space() {
    for assessment in many() {
        for width in [60, 72, 80, 100] {
            let page = shown(&assessment, width);
            for line in page.lines() {
                assert!(line.chars().count() <= width, "{width}: {line}");
                assert_eq!(line, line.trim_end(), "{width}");
            }
        }
    }
}

#[test]
fn the_first_words_are_the_fate_and_the_emergency_comes_before_other_cautions() {
    for assessment in many() {
        let page = shown(&assessment, WIDTH);
        let capitals: Vec<String> =
            assessment.verdict.fate.key().to_uppercase().chars().map(String::from).collect();
        let fate = page.find(&capitals.join(" ")).unwrap();
        let emergency = page.find("hands off").unwrap();
        assert!(page.contains(&format!("  {}: ", assessment.verdict.fate)));
        assert_eq!(emergency < fate, assessment.verdict.active_now());
        let first_other = page.find("CAUTION  ").unwrap_or(page.len());
        assert!(emergency < first_other || fate > emergency);
    }
}

#[test]
fn colour_changes_nothing_but_colour() {
    for assessment in many() {
        let plain = shown(&assessment, 80);
        let coloured = Terminal::new(80).coloured(bare).text(&decision_page(&[], &assessment));
        let stripped: Vec<_> =
            without_colour(&coloured).lines().map(|line| line.trim_end().to_owned()).collect();
        assert_eq!(stripped, plain.lines().collect::<Vec<_>>());
        // Green marks rescue equipment and is not used for a fate.
        assert!(!coloured.contains("[32m") && !coloured.contains("[42m"));
    }
}

#[test]
fn nothing_that_is_printed_promises_anything() {
    for assessment in many() {
        let page = shown(&assessment, WIDTH);
        assert_eq!(promise_in(&page), None, "{page}");
        assert_eq!(promise_in(&html::page(&decision_page(&[], &assessment))), None);
        assert_eq!(promise_in(&assessment.to_json().unwrap()), None);
        assert_eq!(promise_in(&assessment.summary(WIDTH)), None);
    }
}

#[test]
fn a_summary_is_one_line_with_cell_fate_and_reason() {
    let swollen = example(|subject| subject.observations.set(Sign::Swollen, Answer::Yes));
    let line = swollen.summary(WIDTH);
    assert_eq!(line, "PE-0412      QUARANTINE The cell is swollen: it has made gas inside.");
    for assessment in many() {
        let line = assessment.summary(WIDTH);
        assert!(line.chars().count() <= WIDTH && !line.contains('\n'), "{line}");
    }
}

#[test]
fn every_blank_of_a_phrase_is_filled() {
    for assessment in many() {
        let explained = explanation_page(&Explanation::of(&assessment));
        for page in [shown(&assessment, WIDTH), Terminal::new(WIDTH).text(&explained)] {
            assert!(!page.contains(['{', '}']), "{page}");
        }
    }
}

/// Lines of a terminal of the usual 24 that are left under the heading and above the next prompt.
const SCREEN: usize = 22;

#[test]
fn the_cautions_for_one_thing_to_be_done_fit_on_one_screen() {
    let packs = Packs::built_in().unwrap();
    let day = jiff::civil::date(2026, 11, 25);
    let mut too_long = String::new();
    for place in PLACES.map(|code| code.map(|code| code.parse::<PlaceCode>().unwrap())) {
        for presents in Presents::ALL {
            for action in Action::ALL {
                let found = cautions_for(presents, action, place.as_ref(), day, &packs);
                let mut page = Document::page("");
                page.blocks.extend(cautions(&found));
                let text = Terminal::new(80).text(&page);
                let lines = text.lines().count();
                assert_eq!(promise_in(&text), None, "{text}");
                if lines > SCREEN {
                    too_long.push_str(&format!("{presents:?} {action:?} {place:?}: {lines} lines\n{text}"));
                }
            }
        }
    }
    assert!(too_long.is_empty(), "{too_long}");
}
