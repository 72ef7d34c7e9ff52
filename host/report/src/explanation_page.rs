//! The page that explains a decision: each number drawn on its scale, with limit, guard band and probability.

use crate::criterion::{number, words};
use crate::decision_page::{end, known_line, policy};
use celltriage_assessment::explain::{Criterion, Explanation};
use celltriage_document::document::{Block, Bullets, Document, Heading, Paragraph, Verbatim};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_verdict::Finding;

/// Puts the page together.
pub fn explanation_page(explanation: &Explanation) -> Document {
    let id = explanation.cell.as_deref().unwrap_or(Phrase::WithoutNumber.english());
    let head = say!(DrawingTitle, id = id, day = explanation.date, fate = explanation.fate);
    let mut page = Document::page(head.clone());
    if explanation.simulated {
        page.notice(FIRST_LINE);
    }
    for found in &explanation.known {
        page.push(known_line(id, found));
    }
    page.push(Heading::title(head));
    page.push(Paragraph::of(explanation.statement.as_str()).indented(2));
    page.push(Paragraph::of(explanation.condition.words()).indented(2));
    let signs = Verbatim { indent: 2, text: Phrase::ScaleSigns.into() };
    page.section(Phrase::HowToRead, [Paragraph::of(Phrase::HowToReadText).indented(2).into(), signs.into()]);

    let numbers = |one: &&Criterion| one.reason.conformity.is_some();
    for one in explanation.criteria.iter().filter(numbers) {
        page.blocks.extend(number(one));
    }
    for one in explanation.criteria.iter().filter(|one| !numbers(one) && one.reason.sign.is_none()) {
        page.blocks.extend(words(&one.reason));
    }
    page.section(Phrase::Looks, looks(explanation));
    page.section(Phrase::NextSteps, [Bullets::of(&explanation.next_steps).into()]);
    page.blocks.extend(end(policy(&explanation.policy)));
    page
}

/// The points of the checklist, in a line for each answer.
fn looks(explanation: &Explanation) -> Vec<Block> {
    let mut lines = Vec::new();
    for (finding, phrase) in [
        (Finding::Fail, Phrase::FoundLine),
        (Finding::Missing, Phrase::NotLookedForLine),
        (Finding::Pass, Phrase::LookedForLine),
    ] {
        let found = explanation.criteria.iter().filter(|one| one.reason.finding == finding);
        let signs: Vec<String> = found
            .filter_map(|one| one.reason.sign.map(|sign| (sign, &one.reason.source)))
            .map(|(sign, source)| match finding {
                Finding::Fail => format!("{} [{source}]", sign.words()),
                _ => sign.words().to_owned(),
            })
            .collect();
        if !signs.is_empty() {
            let text = Text::phrase(phrase, [("signs", signs.join(", "))]);
            lines.push(Paragraph::of(text).indented(2).into());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_assessment::test_support::example;
    use celltriage_document::form::{html, terminal::Terminal};
    use celltriage_measure::estimate::{Estimate, Quantity};

    fn close_call() -> Document {
        let assessment = example(|subject| {
            for (quantity, value, doubt) in
                [(Quantity::CapacityFraction, 0.804, 0.006), (Quantity::Capacity, 2.412, 0.018)]
            {
                subject.estimates.put(quantity, Ok(Estimate::new(quantity, value, doubt, "full discharge")));
            }
        });
        explanation_page(&Explanation::of(&assessment))
    }

    #[test]
    fn a_close_call_is_explained_so_that_anybody_can_follow() {
        let page = Terminal::new(80).text(&close_call());
        assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
        insta::with_settings!({filters => vec![(r"\([0-9a-f]{12}\)", "(digest)")]}, {
            insta::assert_snapshot!("explanation_close_call", page);
        });
    }

    #[test]
    fn every_number_is_drawn_on_the_page_of_a_browser_too() {
        let page = close_call();
        let drawn = page.blocks.iter().filter(|block| matches!(block, Block::Figure(_))).count();
        assert!(drawn > 5);
        assert_eq!(html::page(&page).matches("<svg").count(), drawn);
    }
}
