//! One fact of a rule pack: name and kind, text, for which cells and when, source, doubts.

use celltriage_document::document::{Block, Paragraph};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_rules::{Confidence, Fact, Kind, LegalState, Pack, Rule, Unit};
use celltriage_verdict::Hazard;
use jiff::civil::Date;

/// Columns before everything that belongs to a fact.
const INDENT: usize = 6;

/// Lays a fact out; `nearer` is the rule that stands in its place there.
pub(crate) fn fact(pack: &Pack, rule: &Rule, date: Date, nearer: Option<&Rule>) -> Vec<Block> {
    let name = format!("{} ({})", rule.id, rule.kind.key().replace('_', " "));
    let mut lines: Vec<Text> = vec![Fact::of(pack, rule, date).text.into()];
    lines.extend(figures(rule).map(Text::from));
    lines.push(scope(rule, nearer).join(" · ").into());
    let source = format!("[{}] {}", pack.source(&rule.cite), rule.seen.words());
    lines.push(match rule.confidence {
        Confidence::High => source.into(),
        other => Text::from(source).and(say!(OfConfidence, word = other.word())),
    });
    if rule.needs_verifying(date) {
        let authority = &pack.authority;
        lines.push(match rule.review_by < date {
            true => say!(VerifyOverdue, day = rule.review_by, whom = authority),
            false => say!(VerifyLoud, whom = authority),
        });
    }
    lines.extend(rule.doubt.as_ref().map(|doubt| say!(InDoubtLoud, doubt = doubt)));
    let inner = lines.into_iter().map(|line| Paragraph::of(line).indented(INDENT).into());
    [Block::Space, Paragraph::of(name).indented(2).into()].into_iter().chain(inner).collect()
}

/// For which cells it holds, when, and how it stands to other rules.
fn scope(rule: &Rule, nearer: Option<&Rule>) -> Vec<String> {
    let mut scope: Vec<Text> = vec![states(rule)];
    if !rule.hazards.is_empty() && rule.kind != Kind::Sign {
        let hazards: Vec<_> = rule.hazards.iter().map(|hazard| hazard_words(*hazard).english()).collect();
        scope.push(say!(WhereItIs, hazards = hazards.join(", ")));
    }
    if !rule.by.is_empty() {
        let by: Vec<_> = rule.by.iter().map(|carriage| carriage.word()).collect();
        scope.push(say!(ByCarriage, by = by.join(", ")));
    }
    if rule.effective_from.is_some() || rule.effective_to.is_some() {
        scope.push(dates(rule));
    }
    scope.extend(rule.under.iter().map(|name| say!(PartOf, name = name)));
    scope.extend(rule.unless.iter().map(|name| say!(NotWhere, name = name)));
    scope.extend(rule.in_papers.map(|section| say!(InThePapers, section = section.words())));
    if !rule.instead_of.is_empty() {
        scope.push(say!(InPlaceOf, rules = rule.instead_of.join(", ")));
    }
    scope.extend(nearer.map(|nearer| say!(StandsInItsPlace, rule = nearer.id)));
    scope.iter().map(Text::said).collect()
}

/// The figures that containers and shipments count and print by.
fn figures(rule: &Rule) -> Option<String> {
    let mut parts: Vec<Text> = Vec::new();
    if let Some(count) = &rule.count {
        let unit = match (count.unit, count.limit == 1.0) {
            (Unit::Year, true) => "year",
            (unit, _) => unit.symbol(),
        };
        let (of, bound) = (count.of.words(), count.bound.words());
        parts.push(say!(CountedFigure, of = of, bound = bound, limit = count.limit, unit = unit));
    }
    if let Some(label) = &rule.label {
        let phrases: Vec<_> = label.phrases.iter().map(|phrase| format!("\"{phrase}\"")).collect();
        let height = label.letter_mm.map_or_else(Text::default, |mm| say!(LettersOf, mm = mm));
        let height = match label.light {
            Some(light) => height.and(say!(LettersOfLight, mm = light.letter_mm, kg = light.up_to_kg)),
            None => height,
        };
        let purpose = label.purpose.map(|purpose| format!(", for {}", purpose.words())).unwrap_or_default();
        parts.push(say!(WordsFigure, words = phrases.join(" or ")).and(height).and(purpose));
    }
    parts.extend(rule.blocks.map(|blocked| say!(Forbids, what = blocked.words())));
    if let Some(paper) = &rule.paper {
        let names = paper.un.iter().chain(&paper.name).chain(&paper.class);
        let all: Vec<_> = names.chain(&paper.provision).chain(&paper.packing).map(String::as_str).collect();
        parts.push(say!(PapersFigure, papers = all.join(", ")));
    }
    let codes = rule.codes.iter().map(|one| {
        let listed = if one.hazardous { Phrase::ListedHazardous } else { Phrase::NotListedHazardous };
        format!("{} ({}, {})", one.code, one.use_for, listed.english())
    });
    let codes: Vec<_> = codes.collect();
    if !codes.is_empty() {
        parts.push(say!(Codes, codes = codes.join("; ")));
    }
    let parts: Vec<_> = parts.iter().map(Text::said).collect();
    (!parts.is_empty()).then(|| parts.join(" · "))
}

fn states(rule: &Rule) -> Text {
    let states: Vec<_> = LegalState::ALL.into_iter().filter(|state| rule.is_for(*state)).collect();
    if states.len() == LegalState::ALL.len() {
        return Phrase::ForEveryCell.into();
    }
    let words: Vec<_> = states.into_iter().map(LegalState::words).collect();
    say!(ForStates, states = words.join("; "))
}

const fn hazard_words(hazard: Hazard) -> Phrase {
    match hazard {
        Hazard::ActiveNow => Phrase::HazardActiveNow,
        Hazard::Leaking => Phrase::HazardLeaking,
        Hazard::CasingOpen => Phrase::HazardOpen,
        Hazard::Swollen => Phrase::HazardSwollen,
        Hazard::Deformed => Phrase::HazardDeformed,
        Hazard::Misused => Phrase::HazardMisused,
        Hazard::Unprotected => Phrase::HazardUnprotected,
        Hazard::Recalled => Phrase::HazardRecalled,
        Hazard::OverCharged => Phrase::HazardOverCharged,
        Hazard::DeeplyDischarged => Phrase::HazardDeeplyDischarged,
        Hazard::VoltageHidden => Phrase::HazardVoltageHidden,
        Hazard::Warming => Phrase::HazardWarming,
        Hazard::InternalShort => Phrase::HazardInternalShort,
        Hazard::Fixture => Phrase::HazardFixture,
    }
}

/// From when until when a rule holds.
pub(crate) fn dates(rule: &Rule) -> Text {
    match (rule.effective_from, rule.effective_to) {
        (Some(from), Some(to)) => say!(FromTo, from = from, to = to),
        (Some(from), None) => say!(FromBound, bound = from),
        (None, Some(to)) => say!(Until, day = to),
        (None, None) => Phrase::Always.into(),
    }
}
