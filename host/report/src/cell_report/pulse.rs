//! The pulse as it was measured, with the instants at which the resistances were read.

use celltriage_assessment::Assessment;
use celltriage_assessment::pulse_curve::PulseCurve;
use celltriage_document::document::{Block, Paragraph};
use celltriage_document::figure::{Figure, Reading, curve_panel};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_measure::estimate::Quantity;
use celltriage_verdict::{figure, figure_with_few};

/// The instants, in s, with the resistance that is read at each.
const INSTANTS: [(f64, Quantity); 5] = [
    (0.01, Quantity::Resistance10Milliseconds),
    (0.1, Quantity::Resistance100Milliseconds),
    (1.0, Quantity::Resistance1Second),
    (2.0, Quantity::Resistance2Seconds),
    (10.0, Quantity::Resistance10Seconds),
];

/// Draws it, with its resistances in words below.
pub(super) fn pulse(pulse: &PulseCurve, assessment: &Assessment) -> Vec<Block> {
    let read = |(at, quantity): &(f64, Quantity)| {
        let found = assessment.estimates.get(quantity)?;
        let told =
            figure_with_few(found.value, found.standard_uncertainty, found.degrees_of_freedom, &found.unit);
        Some(Reading { at: *at, value: pulse.at(*at)?, label: instant(*at), figure: told })
    };
    let readings: Vec<Reading> = INSTANTS.iter().filter_map(read).collect();
    let current = figure(pulse.current_a, "A");
    let mut words = say!(ReportPulseOf, current = current);
    for (number, reading) in readings.iter().enumerate() {
        let between = if number == 0 { " " } else { "; " };
        let told = say!(ReportPulseRead, instant = reading.label, resistance = reading.figure);
        words = words.and(between).and(told);
    }
    let words = if readings.is_empty() { words.and(" -") } else { words };
    let across = Text::from(Phrase::ReportPulseAcross).said();
    let panel = curve_panel(pulse.points.clone(), readings, across, "V");
    vec![Paragraph::of(words).into(), Figure::of(panel).into()]
}

fn instant(at_s: f64) -> String {
    if at_s < 1.0 { format!("{:.0} ms", at_s * 1000.0) } else { format!("{at_s:.0} s") }
}
