//! Another program for a fixture, before it is written: what runs now beside what the image holds.

use celltriage_document::document::{Document, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::update::image::ProgramName;

/// How a program says one thing of itself, where it knows it.
type Said = fn(&ProgramName) -> Option<String>;

/// Puts the page together; `fixture` and `now` are missing where the fixture waits in its boot program.
pub fn program_page(fixture: Option<&str>, now: Option<&ProgramName>, image: &ProgramName) -> Document {
    let title = match fixture {
        Some(fixture) => say!(AnotherProgram, fixture = fixture),
        None => say!(ProgramForWaiting),
    };
    let mut page = Document::page(title.clone());
    page.push(Paragraph::of(title));
    let mut table = Table::under([Phrase::FixtureProgram, Phrase::RunsNow, Phrase::InImage]);
    let unknown = || Text::from(Phrase::NotKnown).said();
    let known = |text: &Option<String>| text.clone().unwrap_or_else(unknown);
    let rows: [(Phrase, Said); 5] = [
        (Phrase::Board, |program| Some(program.board.clone())),
        (Phrase::BoardRevision, |program| program.revision.clone()),
        (Phrase::Commit, |program| program.commit.clone()),
        (Phrase::SpeaksVersions, |program| {
            Some(format!("{} to {}", program.wire_versions.0, program.wire_versions.1))
        }),
        (Phrase::Limits, |program| Some(program.limits.clone())),
    ];
    for (name, of) in rows {
        let before = now.map_or_else(unknown, |now| known(&of(now)));
        table.row([name.into(), Text::from(before), Text::from(known(&of(image)))]);
    }
    page.push(table);
    let mut line = |phrase: Phrase| {
        page.push(Paragraph { indent: 2, hang: 2, ..Paragraph::of(phrase) });
    };
    match now.map(|now| now.limits == image.limits) {
        Some(true) => line(Phrase::SameLimits),
        Some(false) => line(Phrase::OtherLimits),
        None => line(Phrase::LimitsUnknown),
    }
    if image.commit.as_ref().is_none_or(|commit| commit.ends_with('+')) {
        line(Phrase::ChangedSources);
    }
    line(Phrase::CalibrationStays);
    page
}
