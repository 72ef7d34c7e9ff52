//! How the columns of another program's file are read, and what they give.

use celltriage_document::document::{Bullets, Document, Heading, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_measure::mapping::{ColumnName, Guess, Layout, Selection};
use celltriage_measure::trace::{Point, Trace};

/// Puts the page together; `file` is what the file is called.
pub fn columns_page(file: &str, guess: &Guess) -> Document {
    let mut page = Document::page(say!(ReadColumns, file = file));
    page.push(Heading::title(say!(ReadColumns, file = file)));
    page.push(Paragraph::of(text_line(guess.mapping.text)));
    let chosen = [&guess.mapping.rows.cycle, &guess.mapping.rows.step];
    for Selection { column, values } in chosen.into_iter().flatten() {
        page.push(Paragraph::of(say!(ReadRows, column = column, values = values.join(", "))));
    }
    page.push(table(guess));
    page.push(Paragraph::of(match &guess.trace {
        Ok(trace) => say!(ReadCount, rows = trace.points.len(), time = format!("{:.1}", duration(trace))),
        Err(why) => say!(ReadNothing, why = why),
    }));
    if !guess.not_used.is_empty() {
        page.push(Paragraph::of(say!(ReadNotUsed, columns = guess.not_used.join(", "))));
    }
    let notes = guess.trace.iter().flat_map(|trace| &trace.notes).map(ToString::to_string);
    let doubts: Vec<String> = guess.doubts.iter().cloned().chain(notes).collect();
    page.section(Phrase::LookAtThis, [Bullets::of(doubts).into()]);
    page
}

fn duration(trace: &Trace) -> f64 {
    let (first, last) = (trace.points.first(), trace.points.last());
    first.zip(last).map_or(0.0, |(first, last)| last.time.0 - first.time.0)
}

fn text_line(layout: Layout) -> Text {
    let names = match layout.names_in_line {
        0 => "no line".to_owned(),
        line => format!("line {line}"),
    };
    let Layout { encoding, separator, decimal, first_row_in_line, .. } = layout;
    say!(
        ReadText,
        encoding = encoding,
        separator = separator,
        decimal = decimal,
        names = names,
        first = first_row_in_line
    )
}

/// One row for each quantity: where it stands, how it is written, and what comes of it.
fn table(guess: &Guess) -> Table {
    let mapping = &guess.mapping;
    let mut table = Table::under([
        Phrase::ReadWhat,
        Phrase::ReadColumn,
        Phrase::ReadUnit,
        Phrase::ReadFirst,
        Phrase::ReadMost,
    ]);
    // The first row is mostly one of rest: which way a current flows shows where it is largest.
    let ends: Option<(Point, Point)> = guess.trace.as_ref().ok().and_then(|trace| {
        let by_current = |a: &&Point, b: &&Point| a.current.0.abs().total_cmp(&b.current.0.abs());
        Some((*trace.points.first()?, *trace.points.iter().max_by(by_current)?))
    });
    let mut row = |what: &str, column: &ColumnName, unit: String, value: &dyn Fn(&Point) -> String| {
        let (first, most) =
            ends.as_ref().map_or_else(Default::default, |(first, most)| (value(first), value(most)));
        table.row([what.to_owned(), column.to_string(), unit, first, most]);
    };
    let time = &mapping.time;
    let restarts = if time.restarts { ", begins again with each step" } else { "" };
    row("time", &time.column, format!("{}{restarts}", time.unit), &|point| format!("{:.3} s", point.time.0));
    row("voltage", &mapping.voltage.column, mapping.voltage.unit.to_string(), &|point| {
        format!("{:.4} V", point.voltage.0)
    });
    let current = &mapping.current;
    let way = match &current.mode {
        Some(mode) => {
            let of = |words: &[String], way: &str| {
                (!words.is_empty()).then(|| format!("{} {way}", words.join(", ")))
            };
            let ways = [of(&mode.charge, "charges"), of(&mode.discharge, "discharges")];
            let ways: Vec<String> = ways.into_iter().flatten().collect();
            format!("{}; {}: {}", current.unit, mode.column, ways.join("; "))
        }
        None => format!("{}, a positive one {}", current.unit, current.positive),
    };
    row("current", &current.column, way, &|point| format!("{:.4} A", point.current.0));
    let celsius = |value: Option<celltriage_measure::si::Celsius>| {
        value.map_or("none".to_owned(), |value| format!("{:.1} degC", value.0))
    };
    if let Some(cell) = &mapping.cell_temperature {
        row("cell's temperature", &cell.column, cell.unit.to_string(), &|point| celsius(point.cell));
    }
    if let Some(air) = &mapping.air_temperature {
        row("air", &air.column, air.unit.to_string(), &|point| celsius(point.ambient));
    }
    table
}
