//! From a trace to a resistance and what makes it uncertain.
//!
//! `cargo run -p celltriage-measure --example trace_to_resistance -- FILE.csv`; without a file, on two steps typed here.

use celltriage_measure::bdf;
use celltriage_measure::estimate::{self, FrontEnd, Quantity};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::nameplate_file::Overrides;
use celltriage_measure::observation::Observations;
use std::error::Error;
use std::fmt::Write as _;

fn main() -> Result<(), Box<dyn Error>> {
    let file = std::env::args().nth(1);
    let (text, name) = match &file {
        Some(path) => (std::fs::read_to_string(path)?, path.as_str()),
        None => (two_levels()?, "the steps typed here"),
    };
    let trace = bdf::read(text.as_bytes(), name)?;
    let label =
        Overrides { rated_capacity_ah: Some(2.5), charge_limit_v: Some(4.35), ..Overrides::default() };
    let nameplate = Nameplate::read(None, &label)?;
    // An instrument of which nothing is known; `FrontEnd::fixture()` is the project's own.
    let estimates = estimate::all(&trace, &nameplate, &Observations::default(), &FrontEnd::unknown());
    let Some(resistance) = estimates.get(Quantity::ResistanceTwoLevel) else {
        let why = estimates.missing.get(&Quantity::ResistanceTwoLevel);
        return Err(why.map_or("no resistance", String::as_str).into());
    };
    println!(
        "{:.5} ohm, standard uncertainty {:.5} ohm; {}",
        resistance.value, resistance.standard_uncertainty, resistance.method
    );
    for line in &resistance.budget {
        println!("{:>5.1} %  {}", 100.0 * line.share, line.input);
    }
    Ok(())
}

/// A rest, 0.2 It for 10 s, 1.0 It for 1 s (IEC 61960-3) on a cell of 0.1 ohm: current is negative where it discharges, as
/// the Battery Data Format has it.
fn two_levels() -> Result<String, std::fmt::Error> {
    let mut text = "Test Time / s,Current / A,Voltage / V\n".to_owned();
    for row in 0..=2_700 {
        let time = f64::from(row) * 0.01;
        let current = match row {
            ..=1_500 => 0.0,
            1_501..=2_500 => 0.5,
            2_501..=2_600 => 2.5,
            _ => 0.0,
        };
        writeln!(text, "{time:.2},{:.4},{:.5}", -current, 3.85 - 0.1 * current)?;
    }
    Ok(text)
}
