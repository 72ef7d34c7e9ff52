//! The numbers of a decision as a drawing, to be kept with papers or shown to a customer.

use celltriage_assessment::explain::Explanation;
use celltriage_document::figure::{Figure, NumberLine, Panel, Zones};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::SIMULATED;
use celltriage_verdict::{Finding, Reason, Value, figure_to, limit_figure};

/// Draws a number on its scale; `None` where value or zones are no numbers.
pub(crate) fn number_line(reason: &Reason) -> Option<Panel> {
    let conformity = reason.conformity.as_ref()?;
    let Some(Value::Number(value)) = reason.value else { return None };
    let limit = match reason.limit {
        Some(Value::Number(limit)) => Some(limit),
        _ => None,
    };
    let unit = reason.unit.as_deref().unwrap_or_default();
    let zones = Zones { passes: conformity.accept, fails: conformity.reject };
    let [low, high] = conformity.interval;
    let line = NumberLine { value, interval: [low, high], limit, zones };
    // To the digits that the interval allows.
    Some(line.panel(|at| limit_figure(at, unit), |at| figure_to(at, 0.25 * (high - low), unit)))
}

/// Draws every number of the decision on its own scale.
pub fn drawing(explanation: &Explanation) -> Figure {
    let id = explanation.cell.as_deref().unwrap_or("without a number");
    let title = say!(DrawingTitle, id = id, day = explanation.date, fate = explanation.fate);
    let mark = if explanation.simulated { format!("{SIMULATED} · ") } else { String::new() };
    let panels = explanation.criteria.iter().filter_map(|one| {
        let finding = match one.reason.finding {
            Finding::Pass => Phrase::Passes,
            Finding::Fail => Phrase::Fails,
            Finding::Inconclusive => Phrase::NotClear,
            Finding::Missing => Phrase::Missing,
        };
        let panel = number_line(&one.reason)?;
        Some(Panel { heading: one.reason.title.as_str().into(), finding: finding.into(), ..panel })
    });
    Figure { title: Text::from(mark).and(title), panels: panels.collect(), ..Figure::default() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_assessment::test_support::example;

    #[test]
    fn every_number_is_drawn_and_names_are_made_harmless() {
        let assessment = example(|subject| subject.cell_id = Some("<b>&PE".to_owned()));
        let explanation = Explanation::of(&assessment);
        let svg = drawing(&explanation).svg();
        let numbers = explanation.criteria.iter().filter(|one| one.reason.conformity.is_some()).count();
        assert_eq!(svg.matches("<circle").count(), numbers);
        assert!(svg.contains("&lt;b&gt;&amp;PE") && !svg.contains("<b>"));
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    }
}
