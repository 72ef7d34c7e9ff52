//! One criterion of an explanation: finding, drawing, guard band, probability, where the doubt comes from, source.

use crate::drawing::number_line;
use crate::reason_row::found_figure;
use celltriage_assessment::explain::Criterion;
use celltriage_document::document::{Block, Facts, Heading, Paragraph};
use celltriage_document::figure::Figure;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_measure::uncertainty::Contribution;
use celltriage_verdict::{
    Finding, LIFETIME_RECORD, Reason, Relation, Value, bare_figure, figure, limit_figure,
};

/// Column of the words beside their labels.
const COLUMN: usize = 12;

/// Degrees of freedom that are worth a word: from here on they change a guard band by less than 2 %.
const FEW: f64 = 100.0;

/// One number: head line, drawing, probability, budget, source.
pub(crate) fn number(one: &Criterion) -> Vec<Block> {
    let reason = &one.reason;
    let mut blocks = vec![head(reason)];
    let unit = reason.unit.as_deref().unwrap_or_default();
    if let (Some(Value::Number(value)), Some(zones)) = (&reason.value, &reason.conformity) {
        let [low, high] = zones.interval;
        let lopsided = ((high - value) - (value - low)).abs() > 1e-9 + 0.02 * (high - low);
        let found = Text::from(found_figure(reason, *value, zones.degrees_of_freedom));
        let found = match lopsided {
            true => found.and(say!(Interval, low = bare_figure(low, unit), high = limit_figure(high, unit))),
            false => found,
        };
        let rows = [
            (Phrase::Found, found),
            (Phrase::AskedFor, asked_for(reason, unit)),
            (Phrase::GuardLabel, guard(reason, unit)),
        ];
        blocks.push(Facts::of(rows).at(COLUMN).into());
    }
    if let Some(panel) = number_line(reason) {
        blocks.extend([Block::Space, Figure::of(panel).into(), Block::Space]);
    }
    let mut rows: Vec<(Text, Text)> = Vec::new();
    let mut row = |label: Text, text: Option<Text>| rows.extend(text.map(|text| (label, text)));
    row(Phrase::SoLabel.into(), one.probability_in_words.as_ref().map(Text::from));
    row(Text::default(), one.settled_with.as_ref().map(|needed| needed.in_words(unit).into()));
    row(Phrase::DoubtLabel.into(), budget(&one.budget));
    row(Phrase::SettleLabel.into(), reason.settle.as_ref().map(Text::from));
    let measured = one.method.as_ref().map(|method| format!("{method}{}", circumstances(one)).into());
    row(Phrase::MeasuredLabel.into(), measured);
    one.warnings.iter().for_each(|warning| row(Phrase::HeedLabel.into(), Some(warning.into())));
    row(Phrase::LimitLabel.into(), Some(source(reason)));
    blocks.push(Facts::of(rows).at(COLUMN).into());
    blocks
}

/// A criterion without a number: how the test went, or what was not measured.
pub(crate) fn words(reason: &Reason) -> [Block; 3] {
    let settle = reason.settle.as_ref().map(|settle| (Phrase::SettleLabel, settle.into()));
    let rows = settle.into_iter().chain([(Phrase::LimitLabel, source(reason))]);
    let text = Paragraph::of(reason.text.as_str()).indented(2);
    [head(reason), text.into(), Facts::of(rows).at(COLUMN).into()]
}

fn head(reason: &Reason) -> Block {
    let recorded = reason.criterion == LIFETIME_RECORD;
    let finding = match (reason.finding, reason.mandatory) {
        (Finding::Pass, _) if recorded => Phrase::RecordedLife,
        (Finding::Missing, false) if recorded => Phrase::NotRecordedLife,
        (Finding::Pass, _) => Phrase::PassesLoud,
        (Finding::Fail, _) => Phrase::FailsLoud,
        (Finding::Inconclusive, _) => Phrase::NotClearLoud,
        (Finding::Missing, true) => Phrase::MissingLoud,
        (Finding::Missing, false) => Phrase::NotMeasuredNotNeeded,
    };
    Heading::section(reason.title.as_str()).aside(finding).into()
}

/// Where the doubt comes from: the shares of the variance, down to one per cent.
fn budget(contributions: &[Contribution]) -> Option<Text> {
    let shown = contributions.iter().filter(|one| one.share >= 0.01);
    let shown: Vec<String> = shown.map(|one| format!("{} {:.0} %", one.input, one.share * 100.0)).collect();
    (!shown.is_empty()).then(|| say!(ComesFrom, shares = shown.join(", ")))
}

fn asked_for(reason: &Reason, unit: &str) -> Text {
    let text = match (&reason.limit, reason.relation) {
        (Some(Value::Number(limit)), Some(Relation::AtMost)) => {
            say!(AtMost, limit = limit_figure(*limit, unit))
        }
        (Some(Value::Number(limit)), _) => say!(AtLeast, limit = limit_figure(*limit, unit)),
        (Some(Value::Text(words)), _) => return words.into(),
        (None, _) => return "-".into(),
    };
    match reason.conformity.as_ref().and_then(|zones| zones.doubtful) {
        Some(from) => text.and(say!(DoubtfulFrom, from = limit_figure(from, unit))),
        None => text,
    }
}

fn guard(reason: &Reason, unit: &str) -> Text {
    let Some(zones) = &reason.conformity else { return Text::default() };
    let bounds = |[low, high]: [Option<f64>; 2], below: Phrase, above: Phrase| {
        let bound = |phrase: Phrase, at: f64| Text::phrase(phrase, [("bound", limit_figure(at, unit))]);
        let text = match (low, high) {
            (Some(low), Some(high)) => {
                say!(Span, low = bare_figure(low, unit), high = limit_figure(high, unit))
            }
            (Some(low), None) => bound(below, low),
            (None, Some(high)) => bound(above, high),
            (None, None) => Phrase::Anywhere.into(),
        };
        text.said()
    };
    let few = match zones.degrees_of_freedom {
        Some(degrees) if degrees < FEW => say!(Degrees, count = format!("{degrees:.0}")).said(),
        _ => String::new(),
    };
    say!(
        Guard,
        width = figure(zones.guard_band, unit),
        factor = format!("{:.3}", zones.coverage_factor),
        risk = zones.risk * 100.0,
        few = few,
        passes = bounds(zones.accept, Phrase::FromBound, Phrase::UpTo),
        fails = bounds(zones.reject, Phrase::Below, Phrase::Above),
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

fn source(reason: &Reason) -> Text {
    let from = say!(FromSource, source = reason.source);
    match &reason.note {
        Some(note) => from.and(format!(" {note}")),
        None => from,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
        assert_eq!(told.unwrap().said(), "comes from gain of the current 91 %, end 8 %.");
        assert_eq!(budget(&[]), None);
    }
}
