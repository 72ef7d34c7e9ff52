//! Reading and writing: good files of every shape, and for each fault the error or note that names it.

use super::*;
use crate::si::{Amps, Volts};
use crate::si::{Celsius, Seconds};
use crate::trace::Point;
use proptest::prelude::*;
use std::fmt::Write as _;

const HEADER: &str =
    "Test Time / s,Current / A,Voltage / V,Surface Temperature T1 / degC,Ambient Temperature / degC";

/// Rest, load of 1 A for 50 s, rest: one row a second, two at each step. `sign` is that of a charging current.
fn rows(sign: f64) -> Vec<String> {
    let row = |time: i32, load: bool| {
        let voltage = if load { 3.74 - 0.0005 * f64::from(time) } else { 3.8 };
        let current = if load { -sign } else { 0.0 };
        format!("{time},{current},{voltage},25.0,24.5")
    };
    let rest = (0..=20).map(|time| row(time, false));
    let load = (20..=70).map(|time| row(time, true));
    rest.chain(load).chain((70..=90).map(|time| row(time, false))).collect()
}

fn text(rows: &[String]) -> String {
    format!("{HEADER}\n{}\n", rows.join("\n"))
}

fn parse(text: &str) -> Result<Trace, BdfError> {
    read(text.as_bytes(), "trace.csv")
}

fn message(text: &str) -> String {
    parse(text).unwrap_err().to_string()
}

#[test]
fn a_discharge_becomes_a_positive_current() {
    let trace = parse(&text(&rows(1.0))).unwrap();
    assert_eq!(trace.points.len(), 93);
    assert_eq!(trace.points[30].current, Amps(1.0));
    assert_eq!(trace.points[30].cell, Some(Celsius(25.0)));
    assert_eq!(trace.points[30].ambient, Some(Celsius(24.5)));
    assert_eq!(trace.notes, Vec::new());
}

#[test]
fn columns_are_found_in_any_order_by_either_name_and_others_are_named() {
    let csv = "voltage_volt,Step Count / 1,current_ampere,test_time_second,ambient_temperature_celsius\n\
               3.8,1,0,0,21\n3.7,1,-1,1,21\n3.69,1,-1,2,\n";
    let trace = parse(csv).unwrap();
    assert_eq!(trace.points[1].current, Amps(1.0));
    assert_eq!(trace.points[1].voltage, Volts(3.7));
    assert_eq!(trace.points[1].ambient, Some(Celsius(21.0)));
    assert_eq!((trace.points[1].cell, trace.points[2].ambient), (None, None));
    assert!(trace.notes[0].text.contains("`Step Count / 1`"), "{:?}", trace.notes);
}

#[test]
fn marks_line_ends_quotes_and_empty_lines_of_other_programs_do_not_matter() {
    let plain = parse(&text(&rows(1.0))).unwrap();
    let quoted = rows(1.0).iter().map(|row| row.replacen("24.5", "\" 24.5 \"", 1)).collect::<Vec<_>>();
    let odd = format!("\u{feff}{}\r\n\r\n\r\n", text(&quoted).trim_end().replace('\n', "\r\n"));
    assert_eq!(parse(&odd).unwrap().points, plain.points);
}

#[test]
fn a_file_with_the_wrong_sign_is_refused_with_the_place_and_the_remedy() {
    let message = message(&text(&rows(-1.0)));
    assert!(message.contains("at 20.000 s") || message.contains("at 70.000 s"), "{message}");
    assert!(message.contains("turn the sign"), "{message}");
}

#[test]
fn a_long_discharge_with_the_wrong_sign_and_no_step_is_refused_too() {
    let mut csv = format!("{HEADER}\n");
    for row in 0..200 {
        writeln!(csv, "{},0.5,{},,", row * 60, 4.2 - 0.005 * f64::from(row)).unwrap();
    }
    assert!(matches!(parse(&csv), Err(BdfError::Sign { .. })));
}

#[test]
fn a_real_charge_is_not_taken_for_a_wrong_sign() {
    let mut csv = format!("{HEADER}\n");
    for row in 0..200 {
        writeln!(csv, "{},0.5,{},,", row * 60, 3.2 + 0.005 * f64::from(row)).unwrap();
    }
    assert_eq!(parse(&csv).unwrap().points[3].current, Amps(-0.5));
}

#[test]
fn a_missing_column_names_what_is_there_and_what_to_do() {
    let none = message("Time,Amps\n0,1\n");
    assert!(none.contains("line 1: column `Test Time / s` is missing") && none.contains("`Amps`"), "{none}");
    let unit = message("Test Time / s,Current / mA,Voltage / V\n0,1,3.7\n");
    assert!(unit.contains("`Current / mA` looks like it"), "{unit}");
    let twice = message("Test Time / s,Current / A,Voltage / V,Voltage / V\n0,1,3.7,3.7\n");
    assert!(twice.contains("there twice, as columns 3 and 4"), "{twice}");
    let separator = message("Test Time / s;Current / A;Voltage / V\n0;1;3,7\n");
    assert!(separator.contains("comma-separated"), "{separator}");
    assert!(message("").contains("no header row"));
}

#[test]
fn a_header_alone_is_no_trace() {
    assert!(message(&format!("{HEADER}\n")).contains("0 usable rows"));
}

#[test]
fn a_row_without_a_number_is_left_out_and_named() {
    for (bad, why) in [
        ("35,-1,,25,25", "column `Voltage / V` is empty"),
        ("35,-1,NaN,25,25", "reads `NaN`, which is no number"),
        ("35,inf,3.7,25,25", "reads `inf`"),
        ("35,-1", "the row has only 2 fields"),
        ("35,-1,3720,25,25", "outside -10 to 10"),
    ] {
        let mut rows = rows(1.0);
        rows[36] = bad.to_owned();
        let trace = parse(&text(&rows)).unwrap();
        assert_eq!(trace.points.len(), 92);
        assert_eq!(trace.notes[0].place, Place::Line(38));
        assert!(trace.notes[0].text.contains(why), "{}", trace.notes[0].text);
    }
}

#[test]
fn too_many_bad_rows_are_an_error_with_the_first_place() {
    let mut rows = rows(1.0);
    for row in rows.iter_mut().skip(40).take(5) {
        *row = "x,-1,3.7,25,25".to_owned();
    }
    let message = message(&text(&rows));
    assert!(message.contains("5 of 93 rows") && message.contains("line 42"), "{message}");
    assert!(message.contains("column `Test Time / s` reads `x`"), "{message}");
}

#[test]
fn a_voltage_in_millivolts_is_refused_with_a_word_about_units() {
    let csv = text(&rows(1.0)).replace(",3.", ",3000.");
    assert!(message(&csv).contains("check its unit"));
}

#[test]
fn an_odd_temperature_is_left_out_and_the_row_is_kept() {
    let mut rows = rows(1.0);
    rows[36] = "35,-1,3.7225,999,25".to_owned();
    let trace = parse(&text(&rows)).unwrap();
    assert_eq!((trace.points.len(), trace.points[36].cell), (93, None));
    assert_eq!(trace.notes[0].place, Place::Line(38));
}

#[test]
fn time_that_runs_backwards_is_named_by_line() {
    let mut rows = rows(1.0);
    rows[50] = rows[50].replacen("49,", "4,", 1);
    let trace = parse(&text(&rows)).unwrap();
    assert_eq!((trace.points.len(), trace.notes[0].place), (92, Place::Line(52)));
    assert!(trace.notes[0].text.contains("from 48 s to 4 s"), "{}", trace.notes[0].text);
}

#[test]
fn a_clock_wrong_at_many_places_is_refused() {
    let mut rows = rows(1.0);
    for index in [10, 25, 31, 44, 52, 61, 80] {
        rows[index] = rows[index].replacen(|c: char| c.is_ascii_digit(), "", 1).replacen(',', "1,", 1);
        let rest = rows[index].split_once(',').unwrap().1.to_owned();
        rows[index] = format!("0.5,{rest}");
    }
    assert!(message(&text(&rows)).contains("time is wrong at 7 places, the first one: line 12"));
}

#[test]
fn a_clock_that_never_advances_is_refused() {
    let csv = format!("{HEADER}\n{}", "5,0,3.8,25,25\n".repeat(40));
    assert!(matches!(parse(&csv), Err(BdfError::Clock { .. })));
}

#[test]
fn bytes_that_are_no_text_are_an_error_or_a_note_but_no_panic() {
    let mut bytes = text(&rows(1.0)).into_bytes();
    bytes[400] = 0xff;
    bytes[401] = 0xfe;
    match read(bytes.as_slice(), "trace.csv") {
        Ok(trace) => assert!(!trace.notes.is_empty()),
        Err(error) => assert!(error.to_string().starts_with("trace.csv")),
    }
}

#[test]
fn what_is_written_is_read_back() {
    let trace = parse(&text(&rows(1.0))).unwrap();
    let mut bytes = Vec::new();
    write(&mut bytes, &trace).unwrap();
    let written = String::from_utf8(bytes).unwrap();
    assert!(written.contains("\n30,-1,") && written.contains("\n3,0,3.8,25,24.5\n"), "{written}");
    assert_eq!(parse(&written).unwrap().points, trace.points);
}

proptest! {
    #[test]
    fn any_text_is_a_trace_or_an_error_that_names_the_file(
        cells in proptest::collection::vec("[-0-9.,eE\"\r\nx ]{0,30}", 0..30)
    ) {
        let csv = format!("{HEADER}\n{}", cells.join("\n"));
        if let Err(error) = parse(&csv) {
            prop_assert!(error.to_string().starts_with("trace.csv"), "{}", error);
        }
    }

    #[test]
    fn every_trace_survives_the_file(
        values in proptest::collection::vec((1e-4..10.0f64, 3.0..4.4f64), 2..50)
    ) {
        let mut time = 0.0;
        let points: Vec<Point> = values.iter().map(|(step, voltage)| {
            time += step;
            Point { time: Seconds(time), current: Amps(0.0), voltage: Volts(*voltage), cell: None, ambient: Some(Celsius(21.5)) }
        }).collect();
        let (trace, _) = Trace::from_points(points, |_| Place::Whole, Source::Fixture, Vec::new());
        let mut bytes = Vec::new();
        write(&mut bytes, &trace).unwrap();
        prop_assert_eq!(read(bytes.as_slice(), "copy").unwrap().points, trace.points);
    }
}
