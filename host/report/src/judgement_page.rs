//! What a person weighs before judging a cell: the proposal, what speaks for it, the questions.

use crate::counter::verify;
use celltriage_custody::cell::Cell;
use celltriage_custody::checklist::{Answers, Criterion};
use celltriage_custody::event::ReceivedAs;
use celltriage_document::document::{Block, Bullets, Document, Facts, Heading, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_measure::observation::Answer;
use celltriage_rules::{PlaceCode, Proposal};

/// Column of the values.
const COLUMN: usize = 14;

/// What the page is made of.
#[derive(Clone, Copy, Debug)]
pub struct JudgementShown<'a> {
    /// The cell's name.
    pub name: &'a str,
    /// What is in custody of it.
    pub cell: &'a Cell,
    /// What was answered at the bench.
    pub recorded: &'a Answers,
    /// What is answered now.
    pub answers: &'a Answers,
    /// What speaks for a state by the rules of its place.
    pub proposal: Option<&'a Proposal>,
    /// Where it is.
    pub place: Option<&'a PlaceCode>,
    /// How to name a place, how an answer is asked again, how to sign.
    pub how: How<'a>,
}

/// What to type, as the command line has it.
#[derive(Clone, Copy, Debug)]
pub struct How<'a> {
    /// To name the place.
    pub place: &'a str,
    /// To be asked again what was answered with no.
    pub again: &'a str,
    /// To sign.
    pub sign: &'a str,
}

/// Puts the page together.
pub fn judgement_page(of: &JudgementShown<'_>) -> Document {
    let name = of.name;
    let mut page = Document::page(say!(CellNamed, id = name));
    let title = say!(CellNamed, id = name);
    page.push(Paragraph::of(match of.cell.is_simulated() {
        true => title.and("\u{a0}\u{a0}").and(FIRST_LINE),
        false => title,
    }));
    page.push(Facts::of(head(of)).at(COLUMN));
    page.section(Phrase::ToBeWeighed, [Bullets::of(grounds(of.proposal)).into()]);
    page.push(Block::Space).push(Heading::label(Phrase::Questions));
    // A page longer than a screen is not read: what was answered with no, and stays so, needs no more than its name.
    let settled = |criterion: &Criterion| {
        of.recorded.get(criterion) == Some(&Answer::No) && !of.answers.contains_key(criterion)
    };
    let (no, open): (Vec<Criterion>, Vec<Criterion>) = Criterion::ALL.into_iter().partition(settled);
    let headings = [Phrase::Question, Phrase::AtTheBench, Phrase::WhatIsAsked];
    let mut table = Table::under(headings).widest(&[27, 12]);
    for criterion in open {
        let asked = format!("{} [{}]", criterion.question(), criterion.source());
        table.row([criterion.name().into(), answered(of, criterion), asked.into()]);
    }
    page.push(table);
    if !no.is_empty() {
        let names: Vec<_> = no.into_iter().map(Criterion::name).collect();
        let text = say!(NoAtTheBench, names = names.join(", "), again = of.how.again);
        page.push(Paragraph { indent: 2, hang: 4, ..Paragraph::of(text) });
    }
    page.push(Block::Space).push(Paragraph::of(Phrase::JudgementIsYours));
    page.push(Paragraph::of(of.how.sign).indented(2));
    page
}

fn head(of: &JudgementShown<'_>) -> Vec<(Phrase, Text)> {
    let cell = of.cell;
    let place =
        of.place.map_or_else(|| say!(NoPlaceForSigns, how = of.how.place).said(), PlaceCode::to_string);
    let mut rows = vec![
        (Phrase::HandledAs, cell.legal_in_words().into()),
        (Phrase::Proposed, say!(ByTheRulesOf, state = cell.proposal(), place = place)),
    ];
    rows.extend(cell.standing().map(|found| (Phrase::Known, found.as_it_counts().words().into())));
    let received = cell.intake().filter(|_| cell.facts.is_none());
    rows.extend(received.map(|intake| {
        let what = cell.is_as().map_or("", ReceivedAs::words);
        (Phrase::Received, say!(ReceivedOn, what = what, day = intake.since, entry = intake.looked))
    }));
    rows.extend(cell.facts.as_ref().map(|facts| {
        (Phrase::Graded, say!(GradedOn, fate = facts.fate, day = facts.on, entry = facts.assessment))
    }));
    rows.extend(cell.standing_judgement().map(|judged| {
        let state = judged.judgement.state;
        (Phrase::Judged, say!(JudgedOn, state = state, by = judged.by, day = judged.on))
    }));
    rows
}

/// What speaks for a state, and what is for a person to judge.
fn grounds(proposal: Option<&Proposal>) -> Vec<Text> {
    let Some(proposal) = proposal else { return Vec::new() };
    let facts = proposal.grounds.iter().map(|fact| {
        Text::from(format!("{} [{}]", fact.text, fact.source)).and(verify(fact.verify, &fact.verify_with))
    });
    let by_policy = proposal.by_policy_alone.iter().map(|text| say!(ByPolicyAlone, what = text));
    facts.chain(by_policy).chain(proposal.to_judge.iter().map(Text::from)).collect()
}

fn answered(of: &JudgementShown<'_>, criterion: Criterion) -> Text {
    let words = |answer: &Answer| answer.key().replace('_', " ");
    match (of.answers.get(&criterion), of.recorded.get(&criterion)) {
        (Some(answer), _) => say!(AnsweredNow, answer = words(answer)),
        (None, Some(answer)) => words(answer).into(),
        (None, None) => Phrase::NotAsked.into(),
    }
}
