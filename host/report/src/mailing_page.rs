//! What is said before something is mailed: first what must not be sent, then what the rules of the place have on sending. Never that
//! something may be sent.

use crate::cautions::cautions;
use crate::point::whom;
use celltriage_custody::mailing::MailAdvice;
use celltriage_document::document::{Document, Heading, Paragraph, Point, Points};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_measure::observation::Sign;
use celltriage_rules::{Fact, PlaceCode};

/// Puts the page together.
pub fn mailing_page(advice: &MailAdvice, place: Option<&PlaceCode>) -> Document {
    let mut page = Document::page(Phrase::MailTitle);
    page.push(Heading::title(Phrase::MailFirst));
    let words = |signs: &[Sign]| signs.iter().map(|sign| sign.words()).collect::<Vec<_>>().join(", ");
    if !advice.shows.is_empty() {
        page.push(Paragraph::of(say!(MailShows, signs = words(&advice.shows))));
    }
    if !advice.open.is_empty() {
        page.push(Paragraph::of(say!(MailOpen, signs = words(&advice.open))));
    }
    if advice.shows.is_empty() && advice.open.is_empty() {
        page.push(Paragraph::of(Phrase::MailNothingSeen));
    }
    page.push(Heading::label(Phrase::MailHeed));
    page.blocks.extend(cautions(&advice.cautions));
    if !advice.facts.is_empty() {
        let place = place.map_or_else(|| say!(NoPlace), |place| place.as_str().into());
        let points = advice.facts.iter().map(point).collect();
        page.section(say!(MailRules, place = place.said()), [Points { points }.into()]);
    }
    page.push(Paragraph::of(Phrase::MailEnd));
    page
}

fn point(fact: &Fact) -> Point {
    Point {
        text: Text::from(fact.text.as_str()),
        source: fact.source.as_str().into(),
        verify_with: fact.verify.then(|| whom(&fact.verify_with)),
        doubt: fact.doubt.clone(),
    }
}
