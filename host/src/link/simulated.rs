//! A simulated bench in this process; the one file of the host that names the simulated board.
//!
//! Waiting costs no real time: the bench's clock runs while the host waits for bytes.

use super::{Link, LinkError};
use crate::nameplate::{Chemistry, Form, Nameplate};
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fault::{Fault, Injection};
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library::{self, LibraryCell};
use std::time::Duration;

/// A link to a simulated bench.
pub struct SimulatedLink {
    fixture: SimulatedFixture,
    name: String,
}

/// A cell of the simulated bench, with what its label says and what a gauge would read.
pub struct BenchCell {
    /// Its kind, as chosen on the command line.
    pub kind: String,
    /// Its label.
    pub nameplate: Nameplate,
    /// Thicknesses that a gauge would read at the middle and at two corners, in mm.
    pub thickness_mm: Vec<f64>,
    cell: LibraryCell,
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
            nominal_v: Some(if tables.charge_limit_v > 4.375 { 3.85 } else { 3.8 }),
            nominal_thickness_mm: Some(cell.nominal_thickness_mm),
            thickness_from: Default::default(),
            chemistry: Chemistry::Lco,
            form: Form::Pouch,
            mass_g: None,
            warnings: Vec::new(),
        };
        // Gas gathers in the middle; the corners are held by the folded edges.
        let corner = 0.5 * (cell.thickness_mm + cell.nominal_thickness_mm);
        let to_gauge = |thickness: f64| (thickness * 100.0).round() / 100.0;
        let thickness_mm = [cell.thickness_mm, corner, corner].map(to_gauge).to_vec();
        Some(Self { kind: kind.to_owned(), nameplate, thickness_mm, cell })
    }

    /// Puts the cell on a bench of its own; the same seed gives the same bytes.
    pub fn on_bench(&self, seed: u64) -> SimulatedLink {
        self.link(seed, &[])
    }

    /// The same, with full charge.
    #[must_use]
    pub fn charged(mut self) -> Self {
        self.cell.initial_soc = 1.0;
        self
    }

    /// The same, on a bench whose current-carrying clip slips off after a while.
    pub fn on_bench_with_slipping_clip(&self, seed: u64, after: Duration) -> SimulatedLink {
        let after = Micros::new(u64::try_from(after.as_micros()).unwrap_or(u64::MAX));
        self.link(seed, &[Fault::OpenForceLead.at(after)])
    }

    fn link(&self, seed: u64, faults: &[Injection]) -> SimulatedLink {
        let mut options = self.cell.options(seed);
        options.faults.extend_from_slice(faults);
        SimulatedLink {
            fixture: SimulatedFixture::new(self.cell.parameters.clone(), options),
            name: format!("simulated bench with a {} cell", self.kind),
        }
    }
}

impl SimulatedLink {
    /// Makes a link to a fixture made elsewhere, e.g. by a test.
    pub fn to(fixture: SimulatedFixture, name: &str) -> Self {
        Self { fixture, name: name.to_owned() }
    }
}

impl Link for SimulatedLink {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.fixture.send(bytes);
        Ok(())
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        let span = Micros::new(u64::try_from(wait.as_micros()).unwrap_or(u64::MAX));
        Ok(self.fixture.receive(span, into))
    }

    fn describe(&self) -> String {
        self.name.clone()
    }
}
