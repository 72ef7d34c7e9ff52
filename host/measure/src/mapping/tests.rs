//! One measurement as different programs would write it: each is guessed, read back to the same trace, and faults name their line.

use super::*;
use crate::trace::{Point, Trace};
use approx::assert_relative_eq;
use proptest::prelude::*;
use std::fmt::Write as _;

/// Rest, a load of 1.5 A, rest, a charge of 0.5 A: time, current (positive charging), voltage, temperature, what is done, step.
fn rows() -> Vec<(f64, f64, f64, f64, &'static str, u32)> {
    let row = |time: u32| {
        let seconds = f64::from(time);
        match time {
            0..=20 => (seconds, 0.0, 3.81, 22.5, "Rest", 1),
            21..=60 => (seconds, -1.5, 3.70 - 0.0005 * seconds, 23.25, "Discharge", 2),
            61..=90 => (seconds, 0.0, 3.79 + 0.0001 * seconds, 23.0, "Rest", 3),
            _ => (seconds, 0.5, 3.83 + 0.0002 * seconds, 22.75, "Charge", 4),
        }
    };
    (0..=120).map(row).collect()
}

/// What all of them must give: discharging is above zero inside.
fn expected() -> Vec<(f64, f64, f64)> {
    rows().into_iter().map(|(time, current, voltage, ..)| (time, 0.0 - current, voltage)).collect()
}

fn check(trace: &Trace, what: &str) {
    let expected = expected();
    assert_eq!(trace.points.len(), expected.len(), "{what}: {:?}", trace.notes);
    for (index, (time, current, voltage)) in expected.into_iter().enumerate() {
        let point: Point = trace.points[index];
        assert_relative_eq!(point.time.0, time, epsilon = 1e-6);
        assert_relative_eq!(point.current.0, current, epsilon = 1e-9);
        assert_relative_eq!(point.voltage.0, voltage, epsilon = 1e-4);
    }
}

fn number(value: f64, decimals: usize, comma: bool) -> String {
    let text = format!("{value:.decimals$}");
    if comma { text.replace('.', ",") } else { text }
}

/// Each way of writing: its name, the bytes, and a part of each doubt that it must raise.
fn ways() -> Vec<(&'static str, Vec<u8>, &'static [&'static str])> {
    let mut ways: Vec<(&'static str, Vec<u8>, &'static [&'static str])> = Vec::new();
    // Preamble, tabs, decimal commas, UTF-16, discharging above zero, a unit in brackets.
    let mut text =
        "Report\nMade in\tPort Ellery\n\nZeit [s]\tSpannung [V]\tStrom [A]\tTemperatur [°C]\n".to_owned();
    for (time, current, voltage, temperature, ..) in rows() {
        let fields = [
            number(time, 1, true),
            number(voltage, 4, true),
            number(-current, 3, true),
            number(temperature, 2, true),
        ];
        writeln!(text, "{}", fields.join("\t")).unwrap();
    }
    ways.push((
        "UTF-16",
        [vec![0xFF, 0xFE], text.encode_utf16().flat_map(u16::to_le_bytes).collect()].concat(),
        &[],
    ));
    // Semicolons, mA and mV, one byte a letter, a line of units.
    let mut text = "T;Elapsed time;Cell voltage;Cell current;Count\n°C;ms;mV;mA;\n".to_owned();
    for (index, (time, current, voltage, temperature, ..)) in rows().into_iter().enumerate() {
        writeln!(
            text,
            "{temperature:.1};{:.0};{:.1};{:.0};{index}",
            time * 1e3,
            voltage * 1e3,
            current * 1e3
        )
        .unwrap();
    }
    ways.push(("one byte a letter", text.chars().map(|letter| u8::try_from(letter).unwrap()).collect(), &[]));
    // No sign, a column of words, a clock that begins again at each step, quoted fields.
    let mut text =
        "Cycle,Step,\"Step type\",Step time (h:m:s),Current (A),Voltage (V),\"Capacity, (Ah)\"\n".to_owned();
    let mut begun = 0.0;
    let mut last = 0;
    for (time, current, voltage, _, word, step) in rows() {
        if step != last {
            // Each step's clock begins when the one before ended.
            begun = if step == 1 { 0.0 } else { time - 1.0 };
            last = step;
        }
        let shown = time - begun;
        let clock = format!("00:{:02.0}:{:05.2}", (shown / 60.0).floor(), shown % 60.0);
        writeln!(text, "1,{step},\"{word}\",{clock},{:.3},{voltage:.4},0", current.abs()).unwrap();
    }
    ways.push(("a mode and a clock of steps", text.into_bytes(), &[]));
    // Spaces, no names at all.
    let mut text = String::new();
    for (time, current, voltage, ..) in rows() {
        writeln!(text, "  {time:8.1}   {voltage:.4}  {current:7.3}").unwrap();
    }
    let doubts: &[&str] = &["no line names the columns", "unit of the time", "unit of the current"];
    ways.push(("no names", text.into_bytes(), doubts));
    // Dates, day first.
    let mut text = "Date;Voltage (V);Current (A)\n".to_owned();
    for (time, current, voltage, ..) in rows() {
        writeln!(
            text,
            "30.06.2026 23:{:02.0}:{:02.0};{voltage:.4};{current:.3}",
            58.0 + (time / 60.0).floor().min(1.0),
            (time - 60.0 * (time / 60.0).floor().min(1.0)).min(59.0)
        )
        .unwrap();
    }
    // The last rows would pass midnight; kept below it, so that only one minute and 59 seconds are compared.
    let text = text.lines().take(1 + 119).map(|line| format!("{line}\n")).collect::<String>();
    ways.push(("dates", text.into_bytes(), &[]));
    ways
}

#[test]
fn each_way_of_writing_is_guessed_and_gives_the_same_trace() {
    for (what, bytes, doubts) in ways() {
        let guessed = guess(&bytes, "bench.txt").unwrap_or_else(|error| panic!("{what}: {error}"));
        for part in doubts {
            assert!(guessed.doubts.iter().any(|doubt| doubt.contains(part)), "{what}: {:?}", guessed.doubts);
        }
        assert_eq!(guessed.doubts.len(), doubts.len(), "{what}: {:?}", guessed.doubts);
        let trace = guessed.trace.unwrap_or_else(|error| panic!("{what}: {error}\n{:#?}", guessed.mapping));
        if what == "dates" {
            assert_relative_eq!(trace.points[61].time.0 - trace.points[0].time.0, 61.0, epsilon = 1e-6);
            assert_relative_eq!(trace.points[30].current.0, 1.5);
        } else {
            check(&trace, what);
        }
        let text = guessed.mapping.to_toml().unwrap();
        assert_eq!(Mapping::from_toml(&text, "m.toml").unwrap(), guessed.mapping, "{what}");
    }
}

#[test]
fn a_current_keeps_the_place_to_which_it_is_written() {
    let (_, bytes, _) = ways().remove(1);
    let trace = guess(&bytes, "bench.txt").unwrap().trace.unwrap();
    // Whole milliamperes.
    assert_relative_eq!(trace.points.resolution().current_unit.0, 1e-3);
}

#[test]
fn rows_of_one_cycle_are_taken_and_a_choice_that_is_not_there_is_named() {
    let mut text = "cycle,time_s,voltage_v,current_a\n".to_owned();
    for cycle in 1..=3 {
        for (time, current, voltage, ..) in rows() {
            writeln!(text, "{cycle},{},{voltage:.4},{current:.3}", time + 121.0 * f64::from(cycle - 1))
                .unwrap();
        }
    }
    let guessed = guess(text.as_bytes(), "bench.csv").unwrap();
    assert!(guessed.doubts.iter().any(|doubt| doubt.contains("3 cycles (1, 2, 3)")), "{:?}", guessed.doubts);
    assert_eq!(guessed.trace.unwrap().points.len(), 121);
    let mut mapping = guessed.mapping;
    mapping.rows.cycle.as_mut().unwrap().values = vec!["1.0".to_owned()];
    check(&mapping.read(text.as_bytes(), "bench.csv").unwrap(), "cycle 1");
    mapping.rows.cycle.as_mut().unwrap().values = vec!["7".to_owned()];
    let error = mapping.read(text.as_bytes(), "bench.csv").unwrap_err().to_string();
    assert!(error.contains("the values there are 1, 2, 3"), "{error}");
}

#[test]
fn messages_name_the_lines_of_the_file_itself() {
    let mut text = "made by hand\n\ntime_s;voltage_v;current_a\n".to_owned();
    for (index, (time, current, voltage, ..)) in rows().into_iter().enumerate() {
        let voltage = if index == 50 { "fault".to_owned() } else { format!("{voltage:.4}") };
        writeln!(text, "{time};{voltage};{current}").unwrap();
    }
    let trace = guess(text.as_bytes(), "bench.csv").unwrap().trace.unwrap();
    let note = trace.notes.iter().map(ToString::to_string).find(|note| note.contains("fault")).unwrap();
    assert!(note.contains("line 54"), "{note}");
}

#[test]
fn a_current_whose_mode_is_unknown_is_a_bad_row_and_not_a_guess() {
    let mut text = "time_s,mode,current_a,voltage_v\n".to_owned();
    for (time, current, voltage, _, word, _) in rows() {
        let word = if word == "Charge" { "Pulse" } else { word };
        writeln!(text, "{time},{word},{},{voltage:.4}", current.abs()).unwrap();
    }
    let guessed = guess(text.as_bytes(), "bench.csv").unwrap();
    let error = guessed.trace.unwrap_err();
    assert!(error.contains("0.5 in mode Pulse") && error.contains("line 93"), "{error}");
}

#[test]
fn faults_of_a_mapping_say_what_to_write() {
    let (_, bytes, _) = ways().remove(2);
    let good = guess(&bytes, "bench.csv").unwrap().mapping.to_toml().unwrap();
    let refused = |from: &str, to: &str| {
        let text = good.replace(from, to);
        assert_ne!(text, good, "{from}");
        match Mapping::from_toml(&text, "m.toml") {
            Ok(mapping) => mapping.read(&bytes, "bench.csv").unwrap_err().to_string(),
            Err(faults) => faults.to_string(),
        }
    };
    assert!(refused("\"Voltage (V)\"", "\"Voltege (V)\"").contains("did you mean \"Voltage (V)\"?"));
    assert!(refused("\"Voltage (V)\"", "99").contains("there is no column 99"));
    assert!(refused("\"comma\"", "\"coma\"").contains("did you mean `comma`?"));
    assert!(refused("first_row_in_line = 2", "first_row_in_line = 0").contains("counted from 1"));
    assert!(refused("names_in_line = 1", "names_in_line = 5").contains("must stand before"));
}

#[test]
fn what_is_no_table_is_refused_with_what_to_do() {
    for text in ["", "hello\nworld\n", "a,b,c\n1,2,3\n", "x;y;z\nq;w;e\nq;w;e\nq;w;e\n"] {
        let error = guess(text.as_bytes(), "bench.csv").unwrap_err().to_string();
        assert!(error.contains("no table"), "{text:?}: {error}");
    }
    let letters = "n,m,k\n1,200,7000\n2,200,7000\n3,200,7000\n4,200,7000\n";
    assert!(
        guess(letters.as_bytes(), "b").unwrap_err().to_string().contains("no column looks like a voltage")
    );
}

proptest! {
    #[test]
    fn any_bytes_end_in_a_guess_or_in_words(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = guess(&bytes, "x");
    }

    #[test]
    fn any_lines_end_in_a_guess_or_in_words(lines in proptest::collection::vec("[-0-9a-zA-Z.,;:\t \"/]{0,30}", 0..30)) {
        let _ = guess(lines.join("\n").as_bytes(), "x");
    }
}
