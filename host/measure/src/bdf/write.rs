//! Writes a trace as CSV in the columns of the open Battery Data Format.
//!
//! Input: a [`Trace`]; output: the five columns this tool reads, the current turned to "charging positive". A temperature
//! that was not measured is an empty field, never a number.

use crate::si::Celsius;
use crate::trace::Trace;
use std::io::Write;

/// Writes the points of a trace.
///
/// # Errors
/// Where the output cannot be written.
pub fn write(output: impl Write, trace: &Trace) -> Result<(), csv::Error> {
    let mut writer = csv::Writer::from_writer(output);
    let ambient = "Ambient Temperature / degC";
    writer.write_record([
        "Test Time / s",
        "Current / A",
        "Voltage / V",
        "Surface Temperature T1 / degC",
        ambient,
    ])?;
    let temperature = |value: Option<Celsius>| value.map_or_else(String::new, |value| value.0.to_string());
    for point in &trace.points {
        // 0 - x and not -x: a cell at rest shall read 0 and not -0.
        let charging = 0.0 - point.current.0;
        writer.write_record([
            point.time.0.to_string(),
            charging.to_string(),
            point.voltage.0.to_string(),
            temperature(point.cell),
            temperature(point.ambient),
        ])?;
    }
    writer.flush()?;
    Ok(())
}
