//! A simulated bench in this process; the one file of the host that names the simulated board.
//!
//! Waiting costs no real time: the bench's clock runs while the host waits for bytes.

use super::{Link, LinkError};
use celltriage_measure::nameplate::{Form, Nameplate};
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::limits::LOWEST_START;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fault::{Fault, Injection};
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::image;
use celltriage_simulated_board::library::{self, LibraryCell};
use celltriage_simulated_board::options::Options;
use celltriage_simulated_board::parameters::{CellParameters, CellTables};
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::time::Duration;

/// Serial number of the simulated fixture.
pub const SERIAL: u64 = 1;
/// Commit that the first program of a simulated fixture names, where that can be replaced.
const FIRST_PROGRAM: &str = "simulated";
/// Lowest and highest voltage of the simulated supply.
const SUPPLY_V: (f64, f64) = (1.0, 5.0);
/// What the leads see of the supply's own resistance.
const SUPPLY_OHM: f64 = 0.002;
/// Voltage and resistance of the simulated check standard: a resistor of 50 mOhm with a supply behind it.
const STANDARD: (f64, f64) = (4.0, 0.050);
/// Standard deviation of clipping again (the row of that name in `hardware-notes/error_budget.toml`).
const CLIPPING_OHM: f64 = 0.15e-3;
/// A shunt that has changed: more than three standard uncertainties, and no more than a calibration may correct.
const DRIFTED: f64 = 0.025;

/// A link to a simulated bench. A clone is a second hand on the same bench.
#[derive(Clone)]
pub struct SimulatedLink {
    fixture: Rc<RefCell<SimulatedFixture>>,
    /// How many numbers were drawn, by all hands on the bench.
    drawn: Rc<Cell<u64>>,
    name: String,
}

/// A cell of the simulated bench, with what its label says and what a gauge would read.
#[derive(Clone)]
pub struct BenchCell {
    /// Its kind, as chosen on the command line.
    pub kind: String,
    /// Its label.
    pub nameplate: Nameplate,
    /// Thicknesses that a gauge would read at the middle and at two corners, in mm.
    pub thickness_mm: Vec<f64>,
    cell: LibraryCell,
    calibration: Option<Calibration>,
}

/// Returns the kinds of cells there are, with a hyphen between words.
pub fn kinds() -> Vec<String> {
    library::all().iter().map(kind_of).collect()
}

fn kind_of(cell: &LibraryCell) -> String {
    cell.parameters.tables().name.replace([' ', '_'], "-")
}

impl BenchCell {
    /// Finds a cell by its kind.
    pub fn find(kind: &str) -> Option<Self> {
        let cell = library::all().into_iter().find(|cell| kind_of(cell) == kind)?;
        let tables = cell.parameters.tables();
        let nameplate = Nameplate {
            model: None,
            rated_capacity_ah: cell.rated_capacity_ah,
            charge_limit_v: tables.charge_limit_v,
            end_of_discharge_v: tables.end_of_discharge_v,
            end_of_discharge_assumed: false,
            nominal_v: Some(nominal_v(tables.charge_limit_v)),
            nominal_thickness_mm: Some(cell.nominal_thickness_mm),
            thickness_from: Default::default(),
            chemistry: cell.chemistry.into(),
            form: if cell.is_round { Form::Cylindrical } else { Form::Pouch },
            mass_g: None,
            warnings: Vec::new(),
        };
        // Gas gathers in the middle; the corners are held by the folded edges.
        let corner = 0.5 * (cell.thickness_mm + cell.nominal_thickness_mm);
        let to_gauge = |thickness: f64| (thickness * 100.0).round() / 100.0;
        let thickness_mm = [cell.thickness_mm, corner, corner].map(to_gauge).to_vec();
        Some(Self { kind: kind.to_owned(), nameplate, thickness_mm, cell, calibration: None })
    }

    /// Puts the cell on a bench of its own; the same seed gives the same bytes.
    pub fn on_bench(&self, seed: u64) -> SimulatedLink {
        self.link(seed, &[])
    }

    /// The same, as it comes off the shop's charger: full, but for a cell that no charger is to be set on, which comes as
    /// it was.
    #[must_use]
    pub fn charged(mut self) -> Self {
        let lowest = f64::from(LOWEST_START.get()) * 1e-6;
        if self.on_bench(SERIAL).meters().is_none_or(|(volts, _)| volts < lowest) {
            return self;
        }
        self.cell.initial_soc = 1.0;
        self
    }

    /// The same, on a fixture with this calibration in its permanent store.
    #[must_use]
    pub fn on_calibrated_fixture(&self, calibration: Option<Calibration>) -> Self {
        Self { calibration, ..self.clone() }
    }

    /// The same, on a bench whose current-carrying clip slips off after a while.
    pub fn on_bench_with_slipping_clip(&self, seed: u64, after: Duration) -> SimulatedLink {
        let after = Micros::new(u64::try_from(after.as_micros()).unwrap_or(u64::MAX));
        self.link(seed, &[Fault::OpenForceLead.at(after)])
    }

    fn link(&self, seed: u64, faults: &[Injection]) -> SimulatedLink {
        let mut options = self.cell.options(seed);
        options.faults.extend_from_slice(faults);
        options.calibration = self.calibration;
        let fixture = SimulatedFixture::new(self.cell.parameters.clone(), options);
        SimulatedLink::to(fixture, &format!("simulated bench with a {} cell", self.kind))
    }
}

impl SimulatedLink {
    /// Makes a link to a fixture made elsewhere, e.g. by a test.
    pub fn to(fixture: SimulatedFixture, name: &str) -> Self {
        Self { fixture: Rc::new(RefCell::new(fixture)), drawn: Rc::new(Cell::new(0)), name: name.to_owned() }
    }

    /// Makes a bench with a `supply`, a `check-standard`, the same on a `drifted` fixture, or a cell of the library on its
    /// leads; `calibration` is what the fixture has in its permanent store. Nothing where there is no such kind.
    pub fn with(kind: &str, seed: u64, calibration: Option<Calibration>) -> Option<Self> {
        let source = |volts, ohms| {
            (
                source(ohms),
                Options { seed, serial: SERIAL, initial_soc: charge_state(volts), ..Options::default() },
            )
        };
        let (parameters, mut options) = match kind {
            "supply" => source(STANDARD.0, SUPPLY_OHM),
            "check-standard" | "drifted" => source(STANDARD.0, STANDARD.1 + CLIPPING_OHM * normal(seed)),
            _ => {
                let cell = BenchCell::find(kind)?.cell;
                (cell.parameters.clone(), cell.options(seed))
            }
        };
        if kind == "drifted" {
            options.imperfections.channels.current_gain += DRIFTED;
        }
        options.calibration = calibration;
        Some(Self::to(SimulatedFixture::new(parameters, options), &format!("simulated bench ({kind})")))
    }

    /// Makes the fixture one whose program can be replaced, with a first one in its flash.
    #[must_use]
    pub fn with_a_program(self) -> Self {
        self.fixture.borrow_mut().install(&image::content_for_this_board(FIRST_PROGRAM));
        self
    }

    /// Returns whether the fixture is in its boot program, and the drive of that is there.
    pub fn is_in_boot_program(&self) -> bool {
        self.fixture.borrow().is_in_boot_program()
    }

    /// Lets time pass at the bench while nobody talks to the fixture.
    pub fn pass(&self, span: Duration) {
        let mut fixture = self.fixture.borrow_mut();
        let end =
            fixture.now().saturating_add(Micros::new(u64::try_from(span.as_micros()).unwrap_or(u64::MAX)));
        while fixture.now() < end {
            let left = end.saturating_sub(fixture.now());
            fixture.receive(left, &mut Vec::new());
        }
    }

    /// Takes the supply away for a moment.
    pub fn power_cycle(&self) {
        self.fixture.borrow_mut().power_cycle();
    }

    /// Writes 512 bytes to that drive.
    pub fn write_to_drive(&self, block: &[u8]) {
        self.fixture.borrow_mut().write_to_drive(block);
    }

    /// Puts the simulated supply on the leads, at a voltage in V.
    pub fn set_supply(&self, volts: f64) {
        self.fixture.borrow_mut().swap_cell(source(SUPPLY_OHM), charge_state(volts));
    }

    /// Returns what a perfect meter on the sense tips and a perfect ammeter in the lead would read at this instant.
    pub fn meters(&self) -> Option<(f64, f64)> {
        self.fixture.borrow_mut().truth().map(|truth| (truth.voltage_v, truth.current_a))
    }

    /// Returns the true temperature of what is on the leads, in degC.
    pub fn temperature_c(&self) -> Option<f64> {
        self.fixture.borrow_mut().truth().map(|truth| truth.temperature_c)
    }
}

impl Link for SimulatedLink {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.must_be_there()?;
        self.fixture.borrow_mut().send(bytes);
        Ok(())
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        self.must_be_there()?;
        let span = Micros::new(u64::try_from(wait.as_micros()).unwrap_or(u64::MAX));
        Ok(self.fixture.borrow_mut().receive(span, into))
    }

    /// The same numbers on every bench, one after the other, so that the same seed gives the same bytes.
    fn draw(&mut self) -> u64 {
        let drawn = self.drawn.get().wrapping_add(1);
        self.drawn.set(drawn);
        // Spread over all bits (the multiplier of a 64-bit linear congruential generator).
        drawn.wrapping_mul(6_364_136_223_846_793_005).rotate_left(29)
    }

    fn describe(&self) -> String {
        self.name.clone()
    }
}

impl SimulatedLink {
    /// The boot program has another port.
    fn must_be_there(&self) -> Result<(), LinkError> {
        if !self.is_in_boot_program() {
            return Ok(());
        }
        Err(LinkError::Gone { link: self.name.clone(), reason: "it is in its boot program".to_owned() })
    }
}

/// Nominal voltages of the classes (common practice).
const fn nominal_v(charge_limit_v: f64) -> f64 {
    match charge_limit_v {
        limit if limit > 4.375 => 3.85,
        limit if limit > 4.25 => 3.8,
        limit if limit > 4.0 => 3.6,
        _ => 3.2,
    }
}

/// A source that keeps its voltage: a cell without end, its charge state standing for the knob of a supply.
fn source(ohms: f64) -> CellParameters {
    let tables = CellTables {
        name: "bench supply".to_owned(),
        source: "invented".to_owned(),
        capacity_ah: 1e6,
        end_of_discharge_v: SUPPLY_V.0,
        charge_limit_v: SUPPLY_V.1,
        soc: vec![0.0, 1.0],
        ocv_v: vec![SUPPLY_V.0, SUPPLY_V.1],
        resistance_soc: vec![0.5],
        series_ohm: vec![ohms.max(1e-6)],
        pair_ohm: Vec::new(),
        pair_seconds: Vec::new(),
        heat_capacity_j_per_k: 100.0,
        heat_loss_w_per_k: 1.0,
        leak_a: 0.0,
        self_warming_w: 0.0,
    };
    match CellParameters::try_from(tables) {
        Ok(parameters) => parameters,
        // The figures above are constant and consistent, as a test shows; a sound cell stands in where they were not.
        Err(_) => library::sound().parameters,
    }
}

fn charge_state(volts: f64) -> f64 {
    (volts - SUPPLY_V.0) / (SUPPLY_V.1 - SUPPLY_V.0)
}

/// Returns a number that is normally distributed over seeds: the sum of twelve uniform ones less six, which has the
/// standard deviation 1. The uniform ones are those of a 64-bit linear congruential generator.
fn normal(seed: u64) -> f64 {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    let mut sum = -6.0;
    for _ in 0..12 {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        sum += (state >> 11) as f64 / (1u64 << 53) as f64;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_simulated_supply_keeps_the_voltage_it_is_set_to() {
        let bench = SimulatedLink::with("supply", 1, None).expect("there is a supply");
        bench.set_supply(3.0);
        let (volts, amps) = bench.meters().expect("something is on the leads");
        assert!((volts - 3.0).abs() < 1e-9 && amps == 0.0, "{volts} V, {amps} A");
    }

    #[test]
    fn clipping_again_varies_by_its_standard_deviation() {
        let values: Vec<f64> = (0..2_000).map(normal).collect();
        let mean = values.iter().sum::<f64>() / 2_000.0;
        let square = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / 2_000.0;
        assert!(mean.abs() < 0.1 && (square - 1.0).abs() < 0.15, "{mean} {square}");
    }
}
