//! The terminal's text: the layouts that pages have always had.

use super::*;
use crate::document::{Bullet, Bullets, Large, Point, Table};
use crate::phrase::Phrase;

fn terminal() -> Terminal {
    Terminal::new(80)
}

fn without_codes(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, code)) = rest.split_once('\u{1b}') {
        out.push_str(before);
        rest = code.split_once('m').map_or("", |(_, after)| after);
    }
    out + rest
}

/// A decision page as `grade` prints it, 100 columns wide.
fn decision() -> Document {
    let mut page = Document::page("cell two_level");
    page.push(Banner {
        severity: Severity::Caution,
        result: "undecided".into(),
        statement: "undecided: No fault found, capacity not measured.".into(),
        about: "cell two_level · 2026-11-25 · US · no sign of damage".into(),
    });
    let caution = Paragraph::of(
        "Tape both terminals or bag it singly; keep it dry and cool, away from anything that burns, and apart from other \
         kinds of battery. [EPA \"Used Lithium-Ion Batteries\"; Washington Ecology]",
    );
    page.section(Phrase::Heed, [caution.after(2, Text::signal(Severity::Caution), 11).into()]);
    let headings = [Phrase::Criterion, Phrase::Found, Phrase::AskedFor, Phrase::Finding, Phrase::LimitFrom];
    let mut table = Table::under(headings).widest(&[26, 22, 16, 10]);
    table.row(["capacity of rated", "-", "≥ 80 %", "missing", "Regulation (EU) 2023/1670"]);
    table.row([
        "rest voltage",
        "3.838 ± 0.025 V",
        "3 to 4.4 V",
        "pass",
        "cell makers' precautions; common practice",
    ]);
    table.row([
        "resistance × capacity",
        "0.234 ± 0.013 Ohm·Ah",
        "≤ 0.68 Ohm·Ah",
        "pass",
        "twice the class median",
    ]);
    page.section(Phrase::Why, [table.into()]);
    let step = "Charge it to its limit of 4.35 V (it holds 33 to 66 % now, so 1.0 to 2.0 Ah go in), rest 1 h, then run a full \
                discharge at 0.20 It (0.60 A) to 3 V: about 5 h 0 min.";
    page.section(Phrase::WouldSettle, [Bullets::of([step]).into()]);
    let end = Text::from("policy workshop default 2.1 (DIGEST) · trace: file two_level.csv. ")
        .and(Phrase::Supports);
    page.push(Block::Space).push(Block::Rule).push(Paragraph::of(end).indented(2));
    page
}

/// Lines of the page that `grade` has always printed, for the same words.
#[test]
fn a_decision_page_is_laid_out_as_before() {
    let line = "━".repeat(100);
    let banner = format!("  U N D E C I D E D{}CAUTION", " ".repeat(72));
    let expected = format!(
        "{line}\n{banner}\n{line}\n\
         \x20 undecided: No fault found, capacity not measured.\n\
         \x20 cell two_level · 2026-11-25 · US · no sign of damage\n\
         \n\
         HEED\n\
         \x20 CAUTION  Tape both terminals or bag it singly; keep it dry and cool, away from anything that\n\
         \x20          burns, and apart from other kinds of battery. [EPA \"Used Lithium-Ion Batteries\";\n\
         \x20          Washington Ecology]\n\
         \n\
         WHY\n\
         \x20 criterion              found                 asked for      finding  limit from\n\
         \x20 capacity of rated      -                     ≥ 80 %         missing  Regulation (EU) 2023/1670\n\
         \x20 rest voltage           3.838 ± 0.025 V       3 to 4.4 V     pass     cell makers' precautions;\n\
         \x20                                                                      common practice\n\
         \x20 resistance × capacity  0.234 ± 0.013 Ohm·Ah  ≤ 0.68 Ohm·Ah  pass     twice the class median\n\
         \n\
         WHAT WOULD SETTLE IT\n\
         \x20 - Charge it to its limit of 4.35 V (it holds 33 to 66 % now, so 1.0 to 2.0 Ah go in), rest 1 h,\n\
         \x20   then run a full discharge at 0.20 It (0.60 A) to 3 V: about 5 h 0 min.\n\
         \n{}\n\
         \x20 policy workshop default 2.1 (DIGEST) · trace: file two_level.csv. This page supports a trained\n\
         \x20 person's judgement and replaces neither it nor the law of the place.\n",
        "─".repeat(100)
    );
    assert_eq!(Terminal::new(100).text(&decision()), expected);
}

#[test]
fn colour_changes_no_word_and_only_surrounds_them() {
    let plain = Terminal::new(100).text(&decision());
    let coloured = Terminal::new(100).coloured(bare).text(&decision());
    let lines = |text: &str| text.lines().map(|line| line.trim_end().to_owned()).collect::<Vec<_>>();
    assert_eq!(lines(&without_codes(&coloured)), lines(&plain));
    assert!(coloured.contains("\u{1b}[1;30;43mCAUTION\u{1b}[0m"), "{coloured:?}");
}

#[test]
fn a_paper_opens_and_ends_with_its_notice_and_tells_source_whom_to_ask_and_doubt() {
    let mut paper = Document::paper("shipment S-1");
    paper
        .notice("draft, to be checked")
        .push(Facts::of([("to", "Gull Point"), ("planned day", "2026-11-25")]));
    let mut list = Table::under(["cell", "mass"]).widest(&[20, 20]);
    list.row(["PE-1", "45 g"]);
    paper.push(Heading::section("contents")).push(list);
    let point = Point {
        text: "Each cell singly.".into(),
        source: "P908".into(),
        verify_with: Some("your authority".to_owned()),
        doubt: Some("from memory".to_owned()),
    };
    paper.section("packing", [Points { points: vec![point] }.into()]);
    paper.section("training", [Points::default().into()]);
    paper.push(Large { words: "DAMAGED".into(), ..Large::default() });
    paper.push(Block::FillIn(vec!["signature".into()]));
    let expected = "DRAFT, TO BE CHECKED\n\nshipment S-1\n  to           Gull Point\n  planned day  2026-11-25\n\
                    \ncontents\n  cell  mass\n  PE-1  45 g\n\
                    \npacking\n  - Each cell singly.\n    [P908] verify with your authority\n    In doubt: from memory.\n\
                    \nsignature\ndraft, to be checked\n";
    assert_eq!(terminal().text(&paper), expected, "large words are for the printer");
}

#[test]
fn each_word_of_a_label_carries_the_notices() {
    let mut label = Document::paper("Container B-1");
    let shown = Shown::Everywhere;
    let below = vec!["earliest date: 2026-11-25".into()];
    let large = Large {
        words: "DAMAGED".into(),
        below,
        on: "on the container [40 CFR]".into(),
        letter_mm: None,
        shown,
    };
    label.notice("SIMULATED").push(large);
    let expected = "SIMULATED\nDAMAGED\nSIMULATED\nearliest date: 2026-11-25\n(on the container [40 CFR])\n";
    assert_eq!(terminal().text(&label), expected);
}

#[test]
fn an_emergency_stands_in_a_frame_that_is_read_without_colour() {
    let mut page = Document::page("cell PE-1");
    page.notice("SIMULATED: not a real cell")
        .push(Emergency::danger(["STOP: hands off. Everybody out, shut the door."]));
    let line = "━".repeat(60);
    let expected = format!(
        "SIMULATED: not a real cell\n{line}\n  STOP: hands off. Everybody out, shut the door.\n{line}\n\n"
    );
    assert_eq!(Terminal::new(60).text(&page), expected);
    let coloured = Terminal::new(60).coloured(bare).text(&page);
    let framed = coloured.lines().find(|line| line.contains("STOP")).expect("the text");
    assert!(
        framed.starts_with("\u{1b}[1;97;41m  STOP") && framed.ends_with("            \u{1b}[0m"),
        "{framed:?}"
    );
}

#[test]
fn an_alarm_is_broken_once_and_blinks_only_where_codes_are_written() {
    let text =
        Text::from("STOP: hands off. Everybody out, shut the door. Call the fire service from outside.");
    let plain = Terminal::new(60).alarm(Severity::Danger, &text);
    assert_eq!(
        plain,
        "DANGER: STOP: hands off. Everybody out, shut the door. Call\n        the fire service from outside."
    );
    let coloured = Terminal::new(60).coloured(bare).alarm(Severity::Danger, &text);
    assert!(coloured.starts_with("\u{1b}[1;5;97;41mDANGER:\u{1b}[0m STOP"), "{coloured:?}");
    assert_eq!(without_codes(&coloured), plain);
    assert!(Terminal::new(10).alarm(Severity::Danger, &text).lines().all(|line| line.len() <= 40));
}

#[test]
fn a_beginning_longer_than_its_column_keeps_a_space_and_takes_room_from_its_line() {
    let words = "one two three four five six seven eight nine ten eleven twelve";
    let block = Block::from(Paragraph::of(words).after(0, "Known before:", 2));
    let text = Terminal::new(60).block(&block);
    assert_eq!(text, "Known before: one two three four five six seven eight nine\n  ten eleven twelve\n");
    // A day and a number before an entry of the book.
    let entry = Paragraph::of("cell PE-1 UNDECIDED").after(0, "    1  2026-11-25", 19);
    assert_eq!(terminal().block(&entry.into()), "    1  2026-11-25  cell PE-1 UNDECIDED\n");
    // Rows of a table of facts without a name go on under the others.
    let facts =
        Facts::of([("found", "80.6 ± 1.2 %"), ("", "and more"), ("asked for", "at least 80 %")]).at(12);
    let expected = "  found     80.6 ± 1.2 %\n            and more\n  asked for at least 80 %\n";
    assert_eq!(terminal().block(&facts.into()), expected);
}

#[test]
fn words_that_have_no_room_beside_a_long_beginning_go_under_it() {
    let name = "a cell's name that somebody made very long indeed";
    let facts = Facts::of([(name, "one two three four five six seven eight nine ten"), ("to", "Gull Point")]);
    let expected = "  a cell's name that somebody made very long indeed\n\
                    \x20                                       one two three four\n\
                    \x20                                       five six seven eight\n\
                    \x20                                       nine ten\n\
                    \x20 to                                    Gull Point\n";
    assert_eq!(Terminal::new(60).block(&facts.at(40).into()), expected);
    let heading = Heading::title("one two three ".repeat(5)).aside("NOT CLEAR");
    let text = Terminal::new(60).block(&heading.into());
    assert!(text.lines().all(|line| line.len() <= 60) && text.ends_with("NOT CLEAR\n"), "{text}");
}

#[test]
fn a_finding_stands_at_the_end_of_its_heading_and_signs_before_bullets() {
    let heading = Heading::section("rest voltage").aside("PASSES");
    assert_eq!(terminal().block(&heading.into()), format!("\nrest voltage{}PASSES\n", " ".repeat(62)));
    let told = Bullets::of(["rested 30 s only"]).marked(Bullet::Heed, 2);
    assert_eq!(terminal().block(&told.into()), "  ! rested 30 s only\n");
    assert_eq!(terminal().block(&Heading::label("counted").into()), "counted\n");
}

#[test]
fn the_width_stays_readable() {
    assert_eq!([10, 80, 400].map(|width| Terminal::new(width).width()), [60, 80, 100]);
}
