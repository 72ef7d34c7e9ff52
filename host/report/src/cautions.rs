//! Cautions, one below the other: signal word, text, source, and whom to ask where the source needs it.

use celltriage_document::document::{Block, Document, Heading, Paragraph};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_rules::{Action, Caution, LegalState, PlaceCode, Presents};
use celltriage_verdict::Fate;

/// Column of the text beside the signal word.
const SIGNAL: usize = 11;

/// Lays cautions out.
pub fn cautions<'a>(found: impl IntoIterator<Item = &'a Caution>) -> Vec<Block> {
    let one = |caution: &Caution| {
        let text = Text::from(format!("{} [{}]", caution.text, caution.source));
        let text = match caution.verify {
            true => text.and(" ").and(say!(VerifyWithSentence, whom = caution.verify_with)),
            false => text,
        };
        Paragraph::of(text).after(2, Text::signal(caution.severity), SIGNAL).into()
    };
    found.into_iter().map(one).collect()
}

/// One screen: what the cell is, what is to be done with it, what to heed.
pub fn cautions_page(
    presents: Presents,
    action: Action,
    place: Option<&PlaceCode>,
    found: &[Caution],
) -> Document {
    let place = place.map_or_else(|| say!(NoPlace), |place| place.as_str().into());
    let mut head = Text::from(format!("{} · {} · ", action.word(), presents.words())).and(place);
    let state = LegalState::of(Fate::Quarantine, presents.condition());
    if !matches!(presents, Presents::Intact | Presents::Unknown) {
        head = head.and(say!(ProposedAs, state = state));
    }
    if presents == Presents::Leaking {
        // SP 376 names leaking electrolyte among acute hazards; only a person sees whether this one is.
        head = head.and(Phrase::ProposedAcute);
    }
    let mut page = Document::page(head.clone());
    page.push(Heading::title(head));
    page.blocks.extend(cautions(found));
    page
}
