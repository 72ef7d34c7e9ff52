//! The report says what was found in every kind of case, and promises nothing.

use super::*;
use celltriage_assessment::test_support::example;
use celltriage_document::form::html;
use celltriage_document::form::terminal::Terminal;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_rules::promise_in;
use celltriage_verdict::Reason;
use std::collections::BTreeSet;

fn reported<'a>(
    assessment: &'a Assessment,
    photographs: &'a [Picture],
    pulse: Option<&'a PulseCurve>,
) -> Document {
    cell_report(&CellReported {
        name: "PE-0412",
        assessment,
        entry: 12,
        at: "2026-11-30 13:25",
        digest: "0123456789abcdef",
        struck: None,
        newer: None,
        since: &[],
        pulse,
        photographs,
    })
}

fn a_pulse() -> PulseCurve {
    let after = |step: i32| f64::from(step) * 0.1;
    let points =
        (-10..100).map(|step| [after(step), if step < 0 { 4.1 } else { 3.95 - 0.004 * after(step) }]);
    PulseCurve { current_a: 1.5, points: points.collect() }
}

#[test]
fn every_case_says_its_result_its_entry_and_promises_nothing() {
    let cases = [
        example(|_| {}),
        example(|subject| subject.observations.set(Sign::Swollen, Answer::Yes)),
        example(|subject| subject.observations.set(Sign::ActiveNow, Answer::Yes)),
        example(|subject| subject.estimates = Default::default()),
    ];
    for assessment in cases {
        let report = reported(&assessment, &[], Some(&a_pulse()));
        for text in [Terminal::new(80).text(&report), html::page(&report)] {
            assert_eq!(promise_in(&text), None, "{text}");
            for words in [
                assessment.verdict.fate.key().to_uppercase().as_str(),
                "0123456789abcdef",
                "not through whom",
            ] {
                assert!(text.contains(words), "{words} is missing in {text}");
            }
        }
    }
}

#[test]
fn each_number_stands_with_its_interval_and_its_limit() {
    let swollen = example(|subject| subject.observations.set(Sign::Swollen, Answer::Yes));
    for assessment in [example(|_| {}), swollen] {
        let text = Terminal::new(120).text(&reported(&assessment, &[], None));
        let judged = assessment.verdict.reasons.iter().filter(|reason| reason.conformity.is_some());
        let (passed, others): (Vec<&Reason>, Vec<&Reason>) =
            judged.partition(|reason| reason.finding == Finding::Pass);
        for reason in others {
            assert!(text.contains(&reason.title), "{} is missing in {text}", reason.title);
        }
        // Limits of one quantity that it passed are one row.
        let quantities: BTreeSet<_> = passed.iter().map(|reason| reason.quantity).collect();
        let rows = text.lines().filter(|line| line.contains(" ± ") && line.ends_with(" pass")).count();
        assert_eq!(rows, quantities.len(), "{text}");
        assert!(text.contains("93.03 ± 0.94 %") && text.contains("≥ 80 %"), "{text}");
    }
}

#[test]
fn the_pulse_and_photographs_are_in_the_page_and_load_nothing() {
    let picture = Picture::of(vec![0xff, 0xd8, 0xff, 0xe0], "photograph 1: <front>.jpg").unwrap();
    let page = html::page(&reported(&example(|_| {}), &[picture], Some(&a_pulse())));
    assert!(page.contains("<polyline") && page.contains("src=\"data:image/jpeg;base64,/9j/4A==\""), "{page}");
    assert!(page.contains("&lt;front&gt;.jpg") && !page.contains("<front>"));
    assert!(!page.contains("http://") && !page.contains("https://"));
}
