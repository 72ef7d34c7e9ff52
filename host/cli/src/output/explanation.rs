//! The page that explains a decision: each number drawn on its scale, with limit, guard band and probability.
//!
//! Takes an [`Explanation`]; gives text of at most the style's width, readable without colour.

use crate::output::number_line::NumberLine;
use crate::output::style::{Style, hanging};
use celltriage_assessment::explain::{Criterion, Explanation};
use celltriage_custody::known;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_measure::uncertainty::Contribution;
use celltriage_verdict::{
    Finding, Reason, Relation, Value, bare_figure, figure, figure_with_few, limit_figure,
};

/// Indent of everything that belongs to a criterion.
const INDENT: usize = 2;

/// Degrees of freedom that are worth a word: from here on they change a guard band by less than 2 %.
const FEW: f64 = 100.0;

const HOW_TO_READ: &str = "\
Every measured number has a doubt. U (k = 2; more where few readings tell it) holds the true value with about 95 %. A number passes only if it keeps \
its limit by a guard band, and fails only if it is beyond by as much; the guard band is as wide as the stated risk of a \
wrong decision asks for (JCGM 106:2012). Between the two nothing is decided. On the scales:";
const SIGNS: &str = "x fails  ? too close to tell  = passes  | limit, guard band  <-o-> value, 95 %";

/// Writes the page.
pub fn explanation_page(explanation: &Explanation, style: &Style) -> String {
    let width = style.width();
    let id = explanation.cell.as_deref().unwrap_or("without a number");
    let mut page = String::new();
    if explanation.simulated {
        page.push_str(&format!("{}\n", style.strong(FIRST_LINE)));
    }
    for found in &explanation.known {
        page.push_str(&hanging("", INDENT, &known::line(known::OF, id, found), width));
    }
    let head = format!("cell {id} · {} · {}", explanation.date, explanation.fate);
    page.push_str(&format!("{}\n", style.strong(&head)));
    page.push_str(&hanging("  ", INDENT, &explanation.statement, width));
    page.push_str(&hanging("  ", INDENT, explanation.condition.words(), width));
    page.push_str(&format!("\n{}\n", style.strong("HOW TO READ THIS")));
    page.push_str(&hanging("  ", INDENT, HOW_TO_READ, width));
    page.push_str(&format!("  {SIGNS}\n"));

    let numbers = |one: &&Criterion| one.reason.conformity.is_some();
    for one in explanation.criteria.iter().filter(numbers) {
        page.push_str(&number(one, style));
    }
    for one in explanation.criteria.iter().filter(|one| !numbers(one) && one.reason.sign.is_none()) {
        page.push_str(&words(&one.reason, style));
    }
    page.push_str(&signs(explanation, style));
    if !explanation.next_steps.is_empty() {
        page.push_str(&format!("\n{}\n", style.strong("WHAT TO DO NEXT")));
        for step in &explanation.next_steps {
            page.push_str(&hanging("  - ", 4, step, width));
        }
    }
    let policy = &explanation.policy;
    let digest: String = policy.sha256.chars().take(12).collect();
    let text = format!(
        "policy {} {} ({digest}). This page supports a trained person's judgement and replaces neither it nor the law \
         of the place.",
        policy.name, policy.version
    );
    page.push_str(&format!("\n{}\n{}", style.line('─'), hanging("  ", INDENT, &text, width)));
    page
}

/// One number: head line, drawing, probability, budget, source.
fn number(one: &Criterion, style: &Style) -> String {
    let reason = &one.reason;
    let width = style.width();
    let mut out = head(reason, style);
    let mut tell = |label: &str, text: &str| {
        out.push_str(&hanging(&format!("  {label:<10}"), INDENT + 10, text, width));
    };
    let unit = reason.unit.as_deref().unwrap_or_default();
    let doubt = reason.standard_uncertainty.unwrap_or_default();
    if let (Some(Value::Number(value)), Some(zones)) = (&reason.value, &reason.conformity) {
        let [low, high] = zones.interval;
        let lopsided = ((high - value) - (value - low)).abs() > 1e-9 + 0.02 * (high - low);
        let interval = match lopsided {
            true => format!(" (95 %: {} to {})", bare_figure(low, unit), limit_figure(high, unit)),
            false => String::new(),
        };
        tell(
            "found",
            &format!("{}{interval}", figure_with_few(*value, doubt, zones.degrees_of_freedom, unit)),
        );
        tell("asked for", &asked_for(reason, unit));
        tell("guard", &guard(reason, unit));
    }
    if let Some(line) = NumberLine::of(reason) {
        out.push('\n');
        for row in line.drawn(width - 2 * INDENT) {
            out.push_str(&format!("  {row}\n"));
        }
        out.push('\n');
    }
    let mut tell = |label: &str, text: &str| {
        out.push_str(&hanging(&format!("  {label:<10}"), INDENT + 10, text, width));
    };
    if let Some(text) = &one.probability_in_words {
        tell("so", text);
    }
    if let Some(needed) = &one.settled_with {
        tell("", &needed.in_words(unit));
    }
    if let Some(text) = budget(&one.budget) {
        tell("doubt", &text);
    }
    if let Some(text) = &reason.settle {
        tell("settle", text);
    }
    if let Some(method) = &one.method {
        tell("measured", &format!("{method}{}", circumstances(one)));
    }
    for warning in &one.warnings {
        tell("heed", warning);
    }
    tell("limit", &source(reason));
    out
}

/// Where the doubt comes from: the shares of the variance, down to one per cent.
fn budget(contributions: &[Contribution]) -> Option<String> {
    let shown: Vec<String> = contributions
        .iter()
        .filter(|one| one.share >= 0.01)
        .map(|one| format!("{} {:.0} %", one.input, one.share * 100.0))
        .collect();
    (!shown.is_empty()).then(|| format!("comes from {}.", shown.join(", ")))
}

/// A criterion without a number: how the test went, or what was not measured.
fn words(reason: &Reason, style: &Style) -> String {
    let mut out = head(reason, style);
    out.push_str(&hanging("  ", INDENT, &reason.text, style.width()));
    if let Some(settle) = &reason.settle {
        out.push_str(&hanging("  settle    ", INDENT + 10, settle, style.width()));
    }
    out.push_str(&hanging("  limit     ", INDENT + 10, &source(reason), style.width()));
    out
}

fn head(reason: &Reason, style: &Style) -> String {
    let finding = match (reason.finding, reason.mandatory) {
        (Finding::Pass, _) => "PASSES",
        (Finding::Fail, _) => "FAILS",
        (Finding::Inconclusive, _) => "NOT CLEAR",
        (Finding::Missing, true) => "MISSING",
        (Finding::Missing, false) => "not measured, not needed",
    };
    let room = style.width().saturating_sub(reason.title.chars().count());
    format!("\n{}\n", style.strong(&format!("{}{finding:>room$}", reason.title)))
}

fn asked_for(reason: &Reason, unit: &str) -> String {
    let zones = reason.conformity.as_ref();
    let doubtful = zones.and_then(|zones| zones.doubtful);
    let zone =
        doubtful.map(|from| format!("; doubtful from {}", limit_figure(from, unit))).unwrap_or_default();
    match (&reason.limit, reason.relation) {
        (Some(Value::Number(limit)), Some(Relation::AtMost)) => {
            format!("at most {}{zone}", limit_figure(*limit, unit))
        }
        (Some(Value::Number(limit)), _) => format!("at least {}{zone}", limit_figure(*limit, unit)),
        (Some(Value::Text(words)), _) => words.clone(),
        (None, _) => "-".to_owned(),
    }
}

fn guard(reason: &Reason, unit: &str) -> String {
    let Some(zones) = &reason.conformity else { return String::new() };
    let bounds = |[low, high]: [Option<f64>; 2], below: &str, above: &str| match (low, high) {
        (Some(low), Some(high)) => format!("{} to {}", bare_figure(low, unit), limit_figure(high, unit)),
        (Some(low), None) => format!("{below} {}", limit_figure(low, unit)),
        (None, Some(high)) => format!("{above} {}", limit_figure(high, unit)),
        (None, None) => "anywhere".to_owned(),
    };
    let few = match zones.degrees_of_freedom {
        Some(degrees) if degrees < FEW => format!(" and {degrees:.0} degrees of freedom"),
        _ => String::new(),
    };
    format!(
        "{} ({:.3} standard uncertainties, for a risk of {} %{few}): passes {}, fails {}",
        figure(zones.guard_band, unit),
        zones.coverage_factor,
        zones.risk * 100.0,
        bounds(zones.accept, "from", "up to"),
        bounds(zones.reject, "below", "above"),
    )
}

fn circumstances(one: &Criterion) -> String {
    let Some(conditions) = &one.conditions else { return String::new() };
    let mut parts = Vec::new();
    if let Some(current) = conditions.current_a {
        parts.push(match conditions.second_current_a {
            Some(second) => format!("{current:.3} A and {second:.3} A"),
            None => format!("{current:.3} A"),
        });
    }
    if let Some(temperature) = conditions.temperature_c {
        parts.push(format!("{temperature:.1} °C"));
    }
    if parts.is_empty() { String::new() } else { format!(" ({})", parts.join(", ")) }
}

fn source(reason: &Reason) -> String {
    match &reason.note {
        Some(note) => format!("from {}. {note}", reason.source),
        None => format!("from {}.", reason.source),
    }
}

/// The points of the checklist, in a line for each answer.
fn signs(explanation: &Explanation, style: &Style) -> String {
    let mut out = String::new();
    for (finding, title) in [
        (Finding::Fail, "Found"),
        (Finding::Missing, "Nobody has looked for"),
        (Finding::Pass, "Looked for and not found"),
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
            out.push_str(&hanging("  ", INDENT, &format!("{title}: {}.", signs.join(", ")), style.width()));
        }
    }
    if out.is_empty() { out } else { format!("\n{}\n{out}", style.strong("looks")) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_assessment::test_support::example;
    use celltriage_measure::estimate::{Estimate, Quantity};

    fn close_call() -> Explanation {
        let assessment = example(|subject| {
            for (quantity, value, doubt) in
                [(Quantity::CapacityFraction, 0.806, 0.006), (Quantity::Capacity, 2.418, 0.018)]
            {
                subject.estimates.put(quantity, Ok(Estimate::new(quantity, value, doubt, "full discharge")));
            }
        });
        Explanation::of(&assessment)
    }

    #[test]
    fn a_close_call_is_explained_so_that_anybody_can_follow() {
        let page = explanation_page(&close_call(), &Style::new(80, false));
        assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
        insta::with_settings!({filters => vec![(r"\([0-9a-f]{12}\)", "(digest)")]}, {
            insta::assert_snapshot!("explanation_close_call", page);
        });
    }

    #[test]
    fn the_largest_shares_of_the_doubt_are_told_and_the_smallest_left_out() {
        let share = |input: &str, share| Contribution {
            input: input.to_owned().into(),
            unit: "1".into(),
            value: 1.0,
            standard_uncertainty: 0.1,
            degrees_of_freedom: None,
            sensitivity: 1.0,
            share,
        };
        let told = budget(&[share("gain of the current", 0.914), share("end", 0.08), share("clock", 0.006)]);
        assert_eq!(told.unwrap(), "comes from gain of the current 91 %, end 8 %.");
        assert_eq!(budget(&[]), None);
    }

    #[test]
    fn colour_changes_no_word() {
        let plain = explanation_page(&close_call(), &Style::new(80, false));
        let coloured = explanation_page(&close_call(), &Style::new(80, true));
        let coloured = crate::plain_text::shown(&coloured);
        let codes = ["\u{1b}[1m", "\u{1b}[0m"];
        assert_eq!(codes.iter().fold(coloured, |text, code| text.replace(code, "")), plain);
    }
}
