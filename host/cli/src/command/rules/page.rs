//! The pages of `rules`: places, facts of a place, what changes between two days.
//!
//! Takes packs and a style; gives text.

use crate::output::{Style, hanging, table};
use celltriage_rules::{
    Confidence, Fact, Kind, LegalState, Pack, PackOrigin, Packs, Rule, Seen, Unit, gives_way,
};
use celltriage_verdict::Hazard;
use jiff::civil::Date;

/// Writes one line for each pack.
pub(super) fn list(packs: &Packs, today: Date, style: &Style) -> String {
    let count = |pack: &Pack, of: &dyn Fn(&Rule) -> bool| {
        pack.rules.iter().filter(|rule| of(rule)).count().to_string()
    };
    let rows: Vec<Vec<String>> = packs
        .all()
        .iter()
        .map(|pack| {
            let next = pack.rules.iter().map(|rule| rule.review_by).min().unwrap_or(pack.review_by);
            let overdue = if next < today { ", overdue" } else { "" };
            vec![
                pack.name().to_owned(),
                pack.title.clone(),
                count(pack, &|_| true),
                count(pack, &|rule| rule.seen == Seen::Memory),
                count(pack, &|rule| rule.doubt.is_some()),
                format!("{next}{overdue}"),
                origin(pack),
            ]
        })
        .collect();
    let head = ["place", "title", "facts", "from memory", "in doubt", "next review", "pack"];
    table(&head, &rows, &[6, 34, 5, 11, 8, 19], 0, style.width())
}

/// Returns where a pack comes from, in a few words.
pub(super) fn origin(pack: &Pack) -> String {
    match &pack.origin {
        PackOrigin::BuiltIn => "built-in".to_owned(),
        PackOrigin::Own { file, replaces: false, .. } => format!("own: {file}"),
        PackOrigin::Own { file, replaces: true, .. } => format!("own: {file}, in place of the built-in one"),
    }
}

/// Writes every fact that holds on a day, layer by layer.
pub(super) fn show(layers: &[&Pack], date: Date, style: &Style) -> String {
    let mut out = String::new();
    for pack in layers {
        if !out.is_empty() {
            out.push('\n');
        }
        out.push_str(&heading(pack, style));
        for rule in pack.rules.iter().filter(|rule| rule.holds_on(date)) {
            let nearer = layers
                .iter()
                .flat_map(|layer| &layer.rules)
                .find(|other| other.holds_on(date) && gives_way(pack, rule, other));
            out.push_str(&fact(pack, rule, date, nearer, style));
        }
        let others: Vec<_> = pack.rules.iter().filter(|rule| !rule.holds_on(date)).map(when).collect();
        if !others.is_empty() {
            let text = format!("not in force on {date}: {}", others.join("; "));
            out.push_str(&hanging("  ", 2, &text, style.width()));
        }
    }
    let end =
        "This page tells what was found, where, and how sure that is. The law of the place goes before it.";
    out + "\n" + &hanging("", 0, end, style.width())
}

fn heading(pack: &Pack, style: &Style) -> String {
    let title = format!("{} · {}", pack.name(), pack.title);
    let facts = format!(
        "pack version {} · {} · checked on {} · review by {} · in doubt ask {}",
        pack.version,
        origin(pack),
        pack.checked_on,
        pack.review_by,
        pack.authority
    );
    format!("{}\n{}", style.strong(&title), hanging("", 0, &facts, style.width()))
}

/// One fact: name and kind, text, for which cells and when, source, doubts.
fn fact(pack: &Pack, rule: &Rule, date: Date, nearer: Option<&Rule>, style: &Style) -> String {
    let indented = |text: &str| hanging("      ", 6, text, style.width());
    let mut out = format!("\n  {} ({})\n", rule.id, rule.kind.key().replace('_', " "));
    out.push_str(&indented(&Fact::of(pack, rule, date).text));
    if let Some(figures) = figures(rule) {
        out.push_str(&indented(&figures));
    }
    let mut scope = vec![states(rule)];
    if !rule.hazards.is_empty() && rule.kind != Kind::Sign {
        let hazards: Vec<_> = rule.hazards.iter().map(|hazard| hazard_words(*hazard)).collect();
        scope.push(format!("where it is: {}", hazards.join(", ")));
    }
    if !rule.by.is_empty() {
        let by: Vec<_> = rule.by.iter().map(|carriage| carriage.word()).collect();
        scope.push(format!("by {}", by.join(", ")));
    }
    if rule.effective_from.is_some() || rule.effective_to.is_some() {
        scope.push(dates(rule));
    }
    scope.extend(rule.under.iter().map(|name| format!("part of {name}")));
    scope.extend(rule.unless.iter().map(|name| format!("not where {name} is used")));
    scope.extend(rule.in_papers.map(|section| format!("in the papers: {}", section.words())));
    if !rule.instead_of.is_empty() {
        scope.push(format!("in place of {}", rule.instead_of.join(", ")));
    }
    scope.extend(nearer.map(|nearer| format!("here {} stands in its place", nearer.id)));
    out.push_str(&indented(&scope.join(" · ")));
    let sure = match rule.confidence {
        Confidence::High => String::new(),
        other => format!(", confidence {}", other.word()),
    };
    out.push_str(&indented(&format!("[{}] {}{sure}", pack.source(&rule.cite), rule.seen.words())));
    if rule.needs_verifying(date) {
        let overdue = if rule.review_by < date {
            format!("review was due on {}; ", rule.review_by)
        } else {
            String::new()
        };
        out.push_str(&indented(&format!("VERIFY: {overdue}verify with {}", pack.authority)));
    }
    if let Some(doubt) = &rule.doubt {
        out.push_str(&indented(&format!("IN DOUBT: {doubt}")));
    }
    out
}

/// The figures that containers and shipments count and print by.
fn figures(rule: &Rule) -> Option<String> {
    let mut parts = Vec::new();
    if let Some(count) = &rule.count {
        let unit = match (count.unit, count.limit == 1.0) {
            (Unit::Year, true) => "year",
            (unit, _) => unit.symbol(),
        };
        parts.push(format!("counted: {} {} {} {unit}", count.of.words(), count.bound.words(), count.limit));
    }
    if let Some(label) = &rule.label {
        let phrases: Vec<_> = label.phrases.iter().map(|phrase| format!("\"{phrase}\"")).collect();
        let height = label.letter_mm.map(|mm| format!(", letters of at least {mm} mm")).unwrap_or_default();
        let purpose = label.purpose.map(|purpose| format!(", for {}", purpose.words())).unwrap_or_default();
        parts.push(format!("words: {}{height}{purpose}", phrases.join(" or ")));
    }
    if let Some(blocked) = rule.blocks {
        parts.push(format!("forbids: {}", blocked.words()));
    }
    if let Some(paper) = &rule.paper {
        let all = paper
            .un
            .iter()
            .chain(&paper.name)
            .chain(&paper.class)
            .chain(&paper.provision)
            .chain(&paper.packing);
        let all: Vec<_> = all.map(String::as_str).collect();
        parts.push(format!("papers: {}", all.join(", ")));
    }
    let codes: Vec<_> = rule
        .codes
        .iter()
        .map(|one| {
            format!(
                "{} ({}, {})",
                one.code,
                one.use_for,
                if one.hazardous { "listed as hazardous" } else { "not listed as hazardous" }
            )
        })
        .collect();
    if !codes.is_empty() {
        parts.push(format!("codes: {}", codes.join("; ")));
    }
    (!parts.is_empty()).then(|| parts.join(" · "))
}

fn states(rule: &Rule) -> String {
    let states: Vec<_> = LegalState::ALL.into_iter().filter(|state| rule.is_for(*state)).collect();
    if states.len() == LegalState::ALL.len() {
        return "for every cell".to_owned();
    }
    let words: Vec<_> = states.into_iter().map(LegalState::words).collect();
    format!("for: {}", words.join("; "))
}

const fn hazard_words(hazard: Hazard) -> &'static str {
    match hazard {
        Hazard::ActiveNow => "active now",
        Hazard::Leaking => "leaking",
        Hazard::CasingOpen => "open",
        Hazard::Swollen => "swollen",
        Hazard::Deformed => "deformed",
        Hazard::Misused => "misused",
        Hazard::Unprotected => "without protection",
        Hazard::Recalled => "recalled",
        Hazard::OverCharged => "over-charged",
        Hazard::DeeplyDischarged => "deeply discharged",
        Hazard::VoltageHidden => "not showing its voltage",
        Hazard::Warming => "warming",
        Hazard::InternalShort => "losing charge inside",
        Hazard::Fixture => "on a fixture at fault",
    }
}

fn dates(rule: &Rule) -> String {
    match (rule.effective_from, rule.effective_to) {
        (Some(from), Some(to)) => format!("from {from} to {to}"),
        (Some(from), None) => format!("from {from}"),
        (None, Some(to)) => format!("until {to}"),
        (None, None) => "always".to_owned(),
    }
}

fn when(rule: &Rule) -> String {
    format!("{} ({})", rule.id, dates(rule))
}

/// Writes what ends, what begins and what has to be verified anew between two days.
pub(super) fn diff(layers: &[&Pack], first: Date, second: Date, style: &Style) -> String {
    let mut out = String::new();
    let mut line = |mark: &str, pack: &Pack, rule: &Rule| {
        let words = Fact::of(pack, rule, second).text;
        let text = format!("{} ({}): {words} [{}]", rule.id, dates(rule), pack.source(&rule.cite));
        out.push_str(&hanging(mark, mark.chars().count(), &text, style.width()));
    };
    let mut overdue = Vec::new();
    let mut same = 0;
    for pack in layers {
        for rule in &pack.rules {
            match (rule.holds_on(first), rule.holds_on(second)) {
                (true, false) => line("- ", pack, rule),
                (false, true) => line("+ ", pack, rule),
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
    let mut out = match out.is_empty() {
        true => format!("No fact known here begins or ends between {first} and {second}.\n"),
        false => format!(
            "- holds on {first} and no more on {second}; + holds on {second} and not on {first}\n{out}"
        ),
    };
    out.push_str(&format!("{same} facts hold on both days.\n"));
    if !overdue.is_empty() {
        let text = format!("past their review on {second}, to be verified: {}", overdue.join(", "));
        out.push_str(&hanging("", 0, &text, style.width()));
    }
    out
}
