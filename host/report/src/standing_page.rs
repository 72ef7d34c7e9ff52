//! What the book knows of a fixture: its calibrations, its checks, what is due.

use celltriage_document::document::{Document, Paragraph};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::standing::{FixtureDue, Standing};
use celltriage_instrument::update::image::ProgramName;
use jiff::civil::Date;

/// Puts the page together.
pub fn standing_page(name: &str, standing: &Standing, due: &[FixtureDue], today: Date) -> Document {
    let mut page = Document::page(name);
    page.push(Paragraph::of(name));
    // What goes on stands two columns further in than its line began.
    let mut line = |text: Text| {
        page.push(Paragraph { indent: 2, hang: 4, ..Paragraph::of(text) });
    };
    let entry = |entry: u32| format!("{entry:<4}").replace(' ', "\u{a0}");
    for (number, record) in &standing.calibrations {
        line(say!(
            StandingCalibration,
            entry = entry(*number),
            day = record.on,
            number = record.new.number,
            what = record.quantity.word(),
            name = record.reference.name,
        ));
    }
    for (number, check) in &standing.checks {
        let found = if check.stop.is_empty() { Phrase::AsBefore } else { Phrase::Stop };
        line(say!(
            StandingCheck,
            entry = entry(*number),
            day = check.on,
            name = check.standard,
            value = format!("{:.3}", check.resistance_ohm * 1e3),
            found = found.english(),
        ));
    }
    for (number, record) in &standing.programs {
        let before = record.from.as_ref().map_or_else(|| Text::from(Phrase::NotKnown).said(), named);
        let limits =
            if record.has_other_limits() == Some(true) { Phrase::WithOtherLimits.english() } else { "" };
        line(say!(
            StandingProgram,
            entry = entry(*number),
            day = record.on,
            commit = named(&record.to),
            before = before,
            limits = limits,
        ));
    }
    for due in due {
        let when = match (due.stopped, due.on < today) {
            (true, _) => say!(NowLoud),
            (false, true) => say!(OverdueSince, day = due.on),
            (false, false) => say!(DueOn, day = due.on),
        };
        line(when.and(format!(": {}", due.what)));
    }
    page
}

fn named(program: &ProgramName) -> String {
    program.commit_or_unknown().to_owned()
}
