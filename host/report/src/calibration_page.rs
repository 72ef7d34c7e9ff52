//! A calibration before it is stored: the points, old and new, and what is left in doubt.

use crate::fixture_page::channels;
use celltriage_document::document::{Document, Paragraph, Verbatim};
use celltriage_document::text::Text;
use celltriage_instrument::calibration::{CalibrationRecord, Quantity};
use celltriage_measure::estimate::Doubt;
use celltriage_protocol::calibration::Channel;

/// Puts the page together.
pub fn calibration_page(record: &CalibrationRecord) -> Document {
    let reference = &record.reference;
    let unit = match record.quantity {
        Quantity::Voltage => "V",
        Quantity::Current => "A",
        Quantity::Thermometers => "°C",
    };
    let title = say!(
        CalibratedAgainst,
        fixture = record.fixture,
        what = record.quantity.word(),
        name = reference.name
    );
    let mut page = Document::page(title.clone());
    page.push(Paragraph::of(title).hanging(2));
    // What goes on stands two columns further in than its line began.
    let inner = |text: Text| Paragraph { indent: 2, hang: 4, ..Paragraph::of(text) };
    let (percent, plus) = (reference.of_reading_percent, format!("{} {unit}", reference.plus));
    page.push(inner(say!(LimitsOfReference, percent = percent, plus = plus)));
    page.push(Verbatim { indent: 2, text: columns(record, unit).into() });
    let doubt = |doubt: Option<Doubt>, unit: &str| match doubt {
        Some(doubt) => say!(
            GainAndOffset,
            gain = format!("{:.3}", doubt.gain * 100.0),
            offset = format!("{:.3} m{unit}", doubt.offset * 1e3)
        ),
        None => say!(NotCalibrated),
    };
    let kelvins = record.thermometers_k;
    page.push(inner(say!(
        LeftInDoubt,
        voltage = doubt(record.voltage, "V").said(),
        current = doubt(record.current, "A").said(),
        thermometers =
            kelvins.map_or_else(|| say!(NotCalibrated).said(), |kelvins| format!("{kelvins:.3} K")),
    )));
    page.push(inner(say!(DueAgain, day = record.due)));
    page
}

/// Points, and the channels before and after, in columns that stay whatever the width.
fn columns(record: &CalibrationRecord, unit: &str) -> String {
    let mut rows: Vec<String> = Vec::new();
    for point in &record.points {
        rows.push(format!(
            "reference {:>9.4} {unit}   fixture {:>9.4} {unit}   off by {:+.4} {unit}",
            point.reference,
            point.reading,
            point.reading - point.reference
        ));
    }
    let number = |age: &str, number: u32| format!("{age} (number {number})");
    let (old, new) = (number("old", record.old.number), number("new", record.new.number));
    rows.push(format!("{:<18}{old:>24}{new:>24}", ""));
    for ((name, old, unit), (_, new, _)) in channels(&record.old).into_iter().zip(channels(&record.new)) {
        let words = |channel: Channel| format!("{:+} ppm {:+} {unit}", channel.gain_ppm, channel.offset);
        let changed = if old == new { "" } else { "  changed" };
        rows.push(format!("{name:<18}{:>24}{:>24}{changed}", words(old), words(new)));
    }
    rows.join("\n")
}
