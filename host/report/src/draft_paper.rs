//! Draft papers of a shipment: what is sent, what it needs, and the words to be stuck on.
//!
//! Every paper says that it is a draft, to be checked by a trained person.

use crate::point::{point, whom};
use celltriage_custody::event::{Item, RestsOn, ShipmentDrafted};
use celltriage_custody::need::Need;
use celltriage_custody::papers::{Count, Mark};
use celltriage_custody::state::{Progress, Shipment};
use celltriage_custody::summary::{cells, followed_up};
use celltriage_custody::units::Milligrams;
use celltriage_custody::waste_code::WasteCode;
use celltriage_document::document::{Block, Document, Facts, Large, Point, Points, Shown, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_rules::Section;

/// Stands at the head and at the foot of every draft.
pub const DRAFT: &str = Phrase::Draft.english();

/// Lays out a shipment's papers; `simulated` says whether they are about simulated cells.
pub fn draft_paper(shipment: &Shipment, simulated: bool) -> Document {
    let draft = &shipment.draft;
    let papers = &draft.papers;
    let mut paper =
        Document::paper(say!(ShipmentTitle, shipment = draft.shipment, container = containers(draft)));
    if simulated {
        paper.notice(FIRST_LINE);
    }
    // A paper that was given up says so before anything else; one that was handed over stays what it was drafted as.
    if matches!(shipment.progress, Progress::Withdrawn) {
        paper.notice(Phrase::WithdrawnNotice);
    }
    paper.notice(Phrase::Draft).push(head(shipment)).section(Phrase::Contents, [contents(draft).into()]);
    let mut part = |heading: Text, points: Vec<Point>| {
        paper.section(heading, [Points { points }.into()]);
    };
    let of = |section: Section| Text::from(section.words());
    let all = |needs: &[Need]| needs.iter().map(point).collect::<Vec<_>>();
    part(of(Section::Provision), all(&papers.provision));
    part(of(Section::Packing), all(&papers.packing));
    part(Phrase::CountedHere.into(), papers.counted.iter().map(counted).collect());
    part(Phrase::ExactWords.into(), papers.marks.iter().map(mark_point).collect());
    part(of(Section::HazardLabel), all(&papers.labels));
    part(say!(WasteCodeOn, day = draft.planned_on), waste_codes(&draft.waste_codes));
    part(of(Section::Document), all(&papers.documents));
    part(of(Section::Training), all(&papers.training));
    part(of(Section::Approval), all(&papers.approval));
    for mark in &papers.marks {
        paper.push(large(mark, draft, simulated));
    }
    paper.push(Block::FillIn(vec![Phrase::CheckedLine.into()]));
    paper
}

fn head(shipment: &Shipment) -> Facts {
    let draft = &shipment.draft;
    let papers = &draft.papers;
    let mut rows: Vec<(Text, Text)> = Vec::new();
    let mut row = |name: Phrase, value: Text| rows.push((name.into(), value));
    row(Phrase::From, draft.place.to_string().into());
    row(Phrase::To, draft.receiver.as_str().into());
    let agreed = shipment.agreed.as_ref();
    let agreed = agreed.map_or(Phrase::NotYetLoud.into(), |(day, how)| say!(OnHow, day = day, how = how));
    row(Phrase::ReceiverAgreed, agreed);
    row(Phrase::ByFor, format!("{}, {}", draft.mode.words(), draft.purpose.words()).into());
    row(Phrase::PlannedDay, draft.planned_on.to_string().into());
    row(Phrase::Drafted, say!(DayBy, day = shipment.drafted_on, by = shipment.drafted_by));
    // A pattern must not read like the law of the place, even in the few words at the head.
    let of_pattern = |words: Text| match papers.unchecked {
        true => words.and(Phrase::UncheckedHere),
        false => words,
    };
    let goods = papers
        .substances()
        .into_iter()
        .map(|one| say!(Goods, number = one.un_number, name = one.shipping_name, class = one.class).said());
    let goods = goods.collect::<Vec<_>>().join("; ");
    let what = if goods.is_empty() { Phrase::NotTold.into() } else { of_pattern(goods.into()) };
    row(Phrase::What, what);
    let state = draft.contents.iter().map(|item| item.state).max().unwrap_or_default();
    row(Phrase::WorstState, state.to_string().into());
    if !papers.under.is_empty() {
        row(Phrase::Under, of_pattern(papers.under.join(", ").into()));
    }
    if !papers.packed_after.is_empty() {
        row(Phrase::PackedAfter, of_pattern(papers.packed_after.join(", ").into()));
    }
    let net: Milligrams = draft.contents.iter().map(|item| item.mass).sum();
    let net = Text::from(format!("{}, {net}", draft.cells()));
    let guessed = |item: &Item| item.mass_rests_on == Some(RestsOn::Estimated);
    let guessed = draft.contents.iter().any(guessed);
    row(Phrase::NetMass, if guessed { net.and(Phrase::WithEstimates) } else { net });
    row(Phrase::Packages, say!(AtLeastGross, packages = papers.packages, gross = draft.gross));
    match (&shipment.handed_over, &shipment.progress) {
        (Some(handed), Progress::HandedOver { on }) => {
            let (receiver, document) = (&handed.received_by, &handed.document);
            row(Phrase::HandedOver, say!(HandedTo, day = on, receiver = receiver, document = document));
            row(Phrase::CheckedBy, format!("{}, {}", handed.checked_by, handed.training).into());
            let code = handed.waste_code.as_ref();
            row(Phrase::WasteCodeUsed, code.map_or(Phrase::NoCode.into(), Text::from));
            for (_, day, follow_up) in &shipment.followed {
                row(Phrase::Followed, format!("{day}: {}", followed_up(follow_up)).into());
            }
            if let Some(weighed) = shipment.weighed_words() {
                row(Phrase::WeighedThere, weighed.into());
            }
            let back: Vec<String> =
                shipment.returned.iter().map(|(cell, day)| format!("{cell} on {day}")).collect();
            if !back.is_empty() {
                row(Phrase::BackHere, back.join(", ").into());
            }
        }
        _ => row(Phrase::HandedOverNot, Phrase::NotYet.into()),
    }
    Facts::of(rows)
}

fn contents(draft: &ShipmentDrafted) -> Table {
    use Phrase::{Cell, Discarded, Energy, Inner, JudgedBy, LegalState, Mass};
    let headings = [Cell, Mass, Energy, LegalState, Discarded, Inner, JudgedBy];
    let mut table = Table::under(headings).widest(&[20, 20, 12, 24, 12]);
    for item in &draft.contents {
        let mass = match item.mass_rests_on {
            _ if !item.mass_known => say!(NotWeighed, mass = item.mass),
            Some(rests_on) => format!("{} ({})", item.mass, rests_on.words()).into(),
            None => item.mass.to_string().into(),
        };
        let discarded = item.decided_on.map_or_else(|| "-".to_owned(), |day| day.to_string());
        table.row([
            name(item).into(),
            mass,
            energy(item).into(),
            item.state.to_string().into(),
            discarded.into(),
            item.inner.as_deref().unwrap_or("-").into(),
            say!(JudgedIn, who = item.assessor, entry = item.judgement),
        ]);
    }
    table
}

/// Returns the containers that go.
fn containers(draft: &ShipmentDrafted) -> String {
    draft.containers().collect::<Vec<_>>().join(", ")
}

/// Returns its name, and what it is where it was received.
fn name(item: &Item) -> String {
    let lies_in = item.container.as_ref().map_or(String::new(), |name| format!(" (in {name})"));
    let Some(is) = item.is else { return format!("{}{lies_in}", item.cell) };
    let count = item.cells.map_or(String::new(), |count| format!(", {}", cells(count as usize)));
    format!("{}{lies_in}: {}{count}", item.cell, is.words())
}

/// Returns its energy; of what was received with what it rests on.
fn energy(item: &Item) -> String {
    match item.energy_rests_on {
        Some(rests_on) => format!("{} ({})", item.energy, rests_on.words()),
        None if item.is.is_some() => say!(EnergyNotTold, energy = item.energy).said(),
        None => item.energy.to_string(),
    }
}

fn counted(count: &Count) -> Point {
    let relief = count.under.as_ref().map_or(String::new(), |name| format!(" ({name})"));
    let passed = if count.passed { ": PASSED" } else { "" };
    Point { text: format!("{}{relief}{passed}", count.text).into(), ..point(&count.rule) }
}

fn mark_point(mark: &Mark) -> Point {
    let text = Text::from(where_it_stands(mark)).and(format!(": {}", mark.quoted()));
    Point {
        text: mark.letter_height_mm.map_or(text.clone(), |mm| text.and(say!(LettersAtLeast, mm = mm))),
        source: mark.citation.as_str().into(),
        verify_with: mark.verify.then(|| whom(&mark.verify_with)),
        doubt: mark.doubt.clone(),
    }
}

const fn where_it_stands(mark: &Mark) -> Phrase {
    if mark.on_cell_or_container { Phrase::OnEachCell } else { Phrase::OnEachPackage }
}

fn large(mark: &Mark, draft: &ShipmentDrafted, simulated: bool) -> Large {
    let first = draft.contents.iter().filter_map(|item| item.decided_on).min();
    let date = first.filter(|_| mark.on_cell_or_container).map(|day| say!(EarliestDate, day = day));
    let place = where_it_stands(mark).english();
    Large {
        words: mark.words.as_str().into(),
        below: simulated.then(|| FIRST_LINE.into()).into_iter().chain(date).collect(),
        letter_mm: mark.letter_height_mm,
        on: say!(WordsOn, shipment = draft.shipment, place = place, source = mark.citation),
        shown: Shown::Printer,
    }
}

fn waste_codes(codes: &[WasteCode]) -> Vec<Point> {
    if codes.is_empty() {
        let (text, source) = (Phrase::NoWasteCode.into(), Phrase::NoCodeSource.into());
        return vec![Point { text, source, ..Point::default() }];
    }
    let told = codes.iter().map(|code| {
        let phrase = if code.hazardous { Phrase::Hazardous } else { Phrase::NotHazardous };
        Point {
            text: Text::phrase(phrase, [("code", code.code.clone()), ("meaning", code.meaning.clone())]),
            source: code.citation.as_str().into(),
            verify_with: code.verify.then(|| whom(&code.verify_with)),
            doubt: code.doubt.clone(),
        }
    });
    told.collect()
}

#[cfg(test)]
mod tests;
