//! The pages of the rules: places, facts of a place, what changes between two days.

use crate::rule_fact::{dates, fact};
use celltriage_document::document::{Block, Document, Heading, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_rules::{Fact, Pack, PackOrigin, Packs, Rule, Seen, gives_way};
use jiff::civil::Date;

/// One line for each pack.
pub fn packs_page(packs: &Packs, today: Date) -> Document {
    let headings = [
        Phrase::Place,
        Phrase::Title,
        Phrase::Facts,
        Phrase::FromMemory,
        Phrase::InDoubtColumn,
        Phrase::NextReview,
        Phrase::Pack,
    ];
    let mut table = Table::under(headings).widest(&[6, 34, 5, 11, 8, 19]).indented(0);
    for pack in packs.all() {
        let count = |of: fn(&Rule) -> bool| pack.rules.iter().filter(|rule| of(rule)).count().to_string();
        let next = pack.rules.iter().map(|rule| rule.review_by).min().unwrap_or(pack.review_by);
        let next = if next < today { say!(Overdue, day = next) } else { next.to_string().into() };
        table.row([
            Text::from(pack.name()),
            pack.title.as_str().into(),
            count(|_| true).into(),
            count(|rule| rule.seen == Seen::Memory).into(),
            count(|rule| rule.doubt.is_some()).into(),
            next,
            origin(pack),
        ]);
    }
    let mut page = Document::page(Phrase::PacksTitle);
    page.push(table);
    page
}

/// Returns where a pack comes from, in a few words.
pub fn origin(pack: &Pack) -> Text {
    match &pack.origin {
        PackOrigin::BuiltIn => Phrase::BuiltIn.into(),
        PackOrigin::Own { file, replaces: false, .. } => say!(Own, file = file),
        PackOrigin::Own { file, replaces: true, .. } => say!(OwnInstead, file = file),
    }
}

/// Every fact that holds on a day, layer by layer.
pub fn facts_page(layers: &[&Pack], date: Date) -> Document {
    let mut page = Document::page(Phrase::FactsTitle);
    for (number, pack) in layers.iter().enumerate() {
        if number > 0 {
            page.push(Block::Space);
        }
        page.blocks.extend(heading(pack));
        for rule in pack.rules.iter().filter(|rule| rule.holds_on(date)) {
            let nearer = layers
                .iter()
                .flat_map(|layer| &layer.rules)
                .find(|other| other.holds_on(date) && gives_way(pack, rule, other));
            page.blocks.extend(fact(pack, rule, date, nearer));
        }
        let others = pack.rules.iter().filter(|rule| !rule.holds_on(date));
        let others: Vec<_> = others.map(|rule| format!("{} ({})", rule.id, dates(rule).said())).collect();
        if !others.is_empty() {
            let text = say!(NotInForce, day = date, rules = others.join("; "));
            page.push(Paragraph::of(text).indented(2));
        }
    }
    page.push(Block::Space).push(Paragraph::of(Phrase::FactsEnd));
    page
}

fn heading(pack: &Pack) -> [Block; 2] {
    let facts = say!(
        PackFacts,
        version = pack.version,
        origin = origin(pack).said(),
        checked = pack.checked_on,
        review = pack.review_by,
        authority = pack.authority,
    );
    let title = format!("{} · {}", pack.name(), pack.title);
    [Heading::title(title).into(), Paragraph::of(facts).into()]
}

/// What ends, what begins and what has to be verified again between two days.
pub fn changes_page(layers: &[&Pack], first: Date, second: Date) -> Document {
    let (mut changes, mut overdue, mut same) = (Vec::new(), Vec::new(), 0);
    let mut line = |mark: &str, pack: &Pack, rule: &Rule| {
        let words = Fact::of(pack, rule, second).text;
        let text = format!("{} ({}): {words} [{}]", rule.id, dates(rule).said(), pack.source(&rule.cite));
        changes.push(Paragraph::of(text).after(0, mark, 2));
    };
    for pack in layers {
        for rule in &pack.rules {
            match (rule.holds_on(first), rule.holds_on(second)) {
                (true, false) => line("-", pack, rule),
                (false, true) => line("+", pack, rule),
                (true, true) => {
                    same += 1;
                    if !rule.needs_verifying(first) && rule.needs_verifying(second) {
                        overdue.push(rule.id.as_str());
                    }
                }
                (false, false) => {}
            }
        }
    }
    let mut page = Document::page(say!(ChangesTitle, first = first, second = second));
    page.push(Paragraph::of(match changes.is_empty() {
        true => say!(NoChange, first = first, second = second),
        false => say!(ChangesLegend, first = first, second = second),
    }));
    page.blocks.extend(changes.into_iter().map(Block::from));
    page.push(Paragraph::of(say!(SameFacts, count = same)));
    if !overdue.is_empty() {
        page.push(Paragraph::of(say!(PastReview, day = second, rules = overdue.join(", "))));
    }
    page
}
