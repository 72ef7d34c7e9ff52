//! The fixture measures its check standard: what is off too far to be borne is stopped, and loads no cell until another fixture
//! has taken its place.

use crate::cells::Kind;
use crate::job::{fixture_used, reached};
use crate::life::{Came, Life};
use celltriage_instrument::readings::ReadingEvent;
use celltriage_link::Attendant;
use celltriage_simulated_board::parameters::{CellParameters, CellTables};
use celltriage_workshop::Fault;
use celltriage_workshop::fixture::check_standard::Stated;

/// The standard: a resistor with a source behind it.
const OHM: f64 = 0.050;
/// Lowest and highest voltage of the source, and where it stands between them.
const SOURCE_V: [f64; 2] = [3.0, 5.0];
const SOURCE_AT: f64 = 0.5;
/// A fixture whose currents are off by so many thousandths is off too far, whatever its calibration leaves in doubt.
pub(crate) const TOO_FAR: i8 = 100;

/// Hears nothing.
struct Deaf;

impl Attendant<ReadingEvent> for Deaf {
    fn sees(&mut self, _: &ReadingEvent) {}

    fn stop_wanted(&self) -> bool {
        false
    }
}

impl Life<'_> {
    /// The fixture measures its check standard.
    pub(crate) fn standard_measured(&mut self) -> Came {
        let (_, mut options) = self.on_bench(Kind::Sound)?;
        options.initial_soc = SOURCE_AT;
        let choice = reached(standard()?, options, None);
        let measured = self.measured(&choice);
        let _no_cell_is_on_it = fixture_used();
        let checked = match measured {
            Ok(checked) => checked,
            Err(fault) => return self.refused(&fault),
        };
        self.tally.standards += 1;
        self.told.entries.push(checked.entry);
        self.is_stopped = !checked.record.stop.is_empty();
        self.tally.stopped += u64::from(self.is_stopped);
        if self.drift.0.abs() >= TOO_FAR && !self.is_stopped {
            let what = format!("off by {:?}: {}", self.drift, checked.record.summary());
            return Err(("a fixture that is off too far is stopped", what));
        }
        Ok(())
    }

    fn measured(
        &mut self,
        choice: &celltriage_instrument::choice::FixtureChoice,
    ) -> Result<celltriage_workshop::fixture::check_standard::StandardChecked, Fault> {
        if self.shop.standard(None).is_err() {
            let stated = Stated {
                name: "R-1".to_owned(),
                by: "Ines Harrow".to_owned(),
                resistance_ohm: OHM,
                limit_percent: 0.5,
                certificate: "its maker's leaflet".to_owned(),
                source: None,
                every_days: 30,
            };
            let entry = self.shop.define_standard(stated)?;
            self.told.entries.push(entry.number);
        }
        let standard = self.shop.standard(None)?;
        let mut connected = self.shop.connect_idle(choice)?;
        self.shop.check_standard(&standard, "Ines Harrow", &mut connected, &mut Deaf)
    }
}

fn standard() -> Result<CellParameters, (&'static str, String)> {
    let tables = CellTables {
        name: "check standard".to_owned(),
        source: "invented".to_owned(),
        capacity_ah: 1e6,
        end_of_discharge_v: SOURCE_V[0],
        charge_limit_v: SOURCE_V[1],
        soc: vec![0.0, 1.0],
        ocv_v: SOURCE_V.to_vec(),
        resistance_soc: vec![0.5],
        series_ohm: vec![OHM],
        pair_ohm: Vec::new(),
        pair_seconds: Vec::new(),
        heat_capacity_j_per_k: 100.0,
        heat_loss_w_per_k: 1.0,
        leak_a: 0.0,
        self_warming_w: 0.0,
    };
    CellParameters::try_from(tables).map_err(|error| ("a test can begin", format!("{error:?}")))
}
