//! Ready cells: invented phone and tablet cells in the states a repair shop meets, and two round cells.
//!
//! Gives [`LibraryCell`]s with their rated figures and with what is true of them. Rested voltages are those of the
//! 4.35 V class (median of four published device battery profiles of 2.0 to 3.6 Ah) and of the 4.40 V class (one
//! published profile of a 3.0 Ah cell, rounded to 5 mV); between the points they are straight lines, below 5 % too,
//! where a real cell has a knee. Resistances follow from resistance times capacity of such packs, 0.25 to 0.43 Ohm Ah
//! with a median of 0.34 Ohm Ah, protection circuit included; over the state of charge they are flat but for a bump at
//! 65 % (the profiles: 1.2 to 1.4 times) and a rise below 10 % (1.3 to 1.5 times at 2 %). How the resistance splits
//! over time constants is an assumption: three fifths at once, a fifth within tens of milliseconds (charge transfer),
//! the rest within a second to half a minute (diffusion).

mod cylindrical;

pub use cylindrical::{cylindrical, iron_phosphate};

use crate::fault::{Fault, Injection};
use crate::options::Options;
use crate::parameters::{CellParameters, CellTables};
use celltriage_protocol::label::{CellLabel, Chemistry};
use celltriage_protocol::units::{MicroVolts, Micros};

/// Resistance times capacity of a pack of the class, in ohm ampere-hours.
pub const CLASS_OHM_AH: f64 = 0.34;

const CLASS_SOC: [f64; 12] = [0.0, 0.05, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 1.0];
const CLASS_435_V: [f64; 12] =
    [3.000, 3.642, 3.684, 3.736, 3.768, 3.798, 3.838, 3.918, 3.994, 4.100, 4.208, 4.336];
const CLASS_440_V: [f64; 12] =
    [3.000, 3.645, 3.685, 3.735, 3.770, 3.805, 3.850, 3.930, 4.030, 4.135, 4.245, 4.370];

const RESISTANCE_SOC: [f64; 6] = [0.02, 0.10, 0.40, 0.55, 0.65, 0.75];
const RESISTANCE_SHAPE: [f64; 6] = [1.4, 1.05, 1.0, 1.0, 1.2, 1.0];
const SERIES_SHARE: f64 = 0.6;
const PAIR_SHARES: [f64; 3] = [0.2, 0.08, 0.12];
const PAIR_SECONDS: [f64; 3] = [0.02, 1.2, 25.0];

/// A cell of the library, with what its label says and what is true of it.
#[derive(Clone, Debug)]
pub struct LibraryCell {
    /// What the bench needs to know.
    pub parameters: CellParameters,
    /// Chemistry on the label.
    pub chemistry: Chemistry,
    /// Whether it is a round can; else a pouch.
    pub is_round: bool,
    /// Capacity on the label, in ampere-hours.
    pub rated_capacity_ah: f64,
    /// State of charge it comes in with.
    pub initial_soc: f64,
    /// Faults it brings along.
    pub faults: Vec<Injection>,
    /// Thickness on the label, in millimetres.
    pub nominal_thickness_mm: f64,
    /// True thickness now, in millimetres.
    pub thickness_mm: f64,
}

impl LibraryCell {
    /// Returns the usual options with what this cell brings along.
    pub fn options(&self, seed: u64) -> Options {
        Options { seed, initial_soc: self.initial_soc, faults: self.faults.clone(), ..Options::default() }
    }

    /// Returns its label, as far as the fixture has to know it.
    pub fn label(&self) -> CellLabel {
        let end = MicroVolts::new((self.parameters.tables().end_of_discharge_v * 1e6).round() as i32);
        CellLabel { chemistry: self.chemistry, end_of_discharge: Some(end) }
    }

    /// Returns the true capacity as a fraction of the label's, between rested states at charge limit and end of
    /// discharge; a discharge at a current ends a little sooner.
    pub fn true_capacity_fraction(&self) -> f64 {
        self.parameters.tables().capacity_ah / self.rated_capacity_ah
    }

    /// Returns the true resistance in ohms, at 25 degC and half charge, `seconds` after a step of current.
    pub fn true_resistance(&self, seconds: f64) -> f64 {
        self.parameters.resistance_after(0.5, seconds)
    }
}

/// What sets one library cell apart from another.
struct Recipe {
    name: &'static str,
    soc: &'static [f64],
    class_v: &'static [f64],
    chemistry: Chemistry,
    is_round: bool,
    charge_limit_v: f64,
    end_of_discharge_v: f64,
    ohm_ah: f64,
    nominal_thickness_mm: f64,
    rated_ah: f64,
    capacity_fraction: f64,
    resistance_factor: f64,
    initial_soc: f64,
    leak_a: f64,
    self_warming_w: f64,
    thickness_factor: f64,
}

const SOUND: Recipe = Recipe {
    name: "sound",
    soc: &CLASS_SOC,
    class_v: &CLASS_435_V,
    chemistry: Chemistry::Lco,
    is_round: false,
    charge_limit_v: 4.35,
    end_of_discharge_v: 3.0,
    ohm_ah: CLASS_OHM_AH,
    nominal_thickness_mm: 4.0,
    rated_ah: 3.0,
    capacity_fraction: 0.96,
    resistance_factor: 0.95,
    initial_soc: 1.0,
    leak_a: 50e-6,
    self_warming_w: 0.0,
    thickness_factor: 1.02,
};

impl Recipe {
    fn cell(&self) -> LibraryCell {
        let total_ohm = self.ohm_ah / self.rated_ah * self.resistance_factor;
        let shaped = |share: f64| RESISTANCE_SHAPE.iter().map(|shape| shape * share * total_ohm).collect();
        let tables = CellTables {
            name: self.name.into(),
            source: "invented; voltages and resistance from published device battery profiles of the class"
                .into(),
            capacity_ah: self.rated_ah * self.capacity_fraction,
            end_of_discharge_v: self.end_of_discharge_v,
            charge_limit_v: self.charge_limit_v,
            soc: self.soc.into(),
            ocv_v: self.class_v.into(),
            resistance_soc: RESISTANCE_SOC.into(),
            series_ohm: shaped(SERIES_SHARE),
            pair_ohm: PAIR_SHARES.map(shaped).into(),
            pair_seconds: PAIR_SECONDS.into(),
            // A pouch of the class: about 15 g/Ah at 0.9 J/(g K); faces grow with the capacity (common practice).
            heat_capacity_j_per_k: 13.5 * self.rated_ah,
            heat_loss_w_per_k: 0.023 * self.rated_ah,
            leak_a: self.leak_a,
            self_warming_w: self.self_warming_w,
        };
        LibraryCell {
            parameters: CellParameters::trusted(tables),
            chemistry: self.chemistry,
            is_round: self.is_round,
            rated_capacity_ah: self.rated_ah,
            initial_soc: self.initial_soc,
            faults: Vec::new(),
            nominal_thickness_mm: self.nominal_thickness_mm,
            thickness_mm: self.nominal_thickness_mm * self.thickness_factor,
        }
    }
}

/// Returns a tablet cell in good state: 96 % of its rated capacity, resistance a little below its class.
pub fn sound() -> LibraryCell {
    SOUND.cell()
}

/// Returns a scanner cell of the 4.40 V class that has lost three tenths of its capacity, its resistance hardly up.
pub fn faded() -> LibraryCell {
    Recipe {
        name: "faded",
        class_v: &CLASS_440_V,
        charge_limit_v: 4.40,
        rated_ah: 2.6,
        capacity_fraction: 0.70,
        resistance_factor: 1.15,
        ..SOUND
    }
    .cell()
}

/// Returns a cell with two and a half times the resistance of its class.
pub fn high_resistance() -> LibraryCell {
    Recipe {
        name: "high resistance",
        capacity_fraction: 0.86,
        resistance_factor: 2.5,
        initial_soc: 0.8,
        ..SOUND
    }
    .cell()
}

/// Returns a cell that is a seventh thicker than its label says and electrically sound.
pub fn swollen() -> LibraryCell {
    Recipe { name: "swollen", capacity_fraction: 0.90, initial_soc: 0.7, thickness_factor: 1.15, ..SOUND }
        .cell()
}

/// Returns a cell that makes heat at rest: an internal short of 50 mA and a reaction of 0.12 W.
pub fn self_warming() -> LibraryCell {
    let (leak_a, self_warming_w) = (0.05, 0.12);
    Recipe {
        name: "self-warming",
        capacity_fraction: 0.88,
        initial_soc: 0.75,
        leak_a,
        self_warming_w,
        ..SOUND
    }
    .cell()
}

/// Returns a cell that lay about until it was far below its end of discharge.
pub fn deeply_discharged() -> LibraryCell {
    Recipe { name: "deeply discharged", initial_soc: -0.07, capacity_fraction: 0.85, ..SOUND }.cell()
}

/// Returns a sound cell whose protection circuit has switched off: about 0.1 V leaks to its connector, and no current.
pub fn tripped_protection() -> LibraryCell {
    let cell = Recipe { name: "tripped protection", initial_soc: 0.6, ..SOUND }.cell();
    LibraryCell { faults: vec![Fault::OpenProtection { leaks_v: 0.1 }.at(Micros::ZERO)], ..cell }
}

/// Returns a sound cell that is connected the wrong way round.
pub fn reversed() -> LibraryCell {
    let cell = Recipe { name: "reversed", initial_soc: 0.6, ..SOUND }.cell();
    LibraryCell { faults: vec![Fault::ReversedCell.at(Micros::ZERO)], ..cell }
}

/// Returns every cell of the library.
pub fn all() -> Vec<LibraryCell> {
    vec![
        sound(),
        faded(),
        high_resistance(),
        swollen(),
        self_warming(),
        deeply_discharged(),
        tripped_protection(),
        reversed(),
        cylindrical(),
        iron_phosphate(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cell::Cell;

    #[test]
    fn every_recipe_is_a_consistent_cell_with_its_own_name() {
        for cell in all() {
            assert!(CellParameters::try_from(cell.parameters.tables().clone()).is_ok());
        }
        let mut names: Vec<_> = all().iter().map(|cell| cell.parameters.tables().name.clone()).collect();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), all().len());
    }

    #[test]
    fn the_cells_are_what_their_names_say() {
        assert!(sound().true_capacity_fraction() > 0.9);
        assert!((faded().true_capacity_fraction() - 0.7).abs() < 1e-9);
        let class_ohm = CLASS_OHM_AH / high_resistance().rated_capacity_ah;
        assert!((high_resistance().true_resistance(1e4) / class_ohm - 2.5).abs() < 1e-9);
        assert!(swollen().thickness_mm > 1.1 * swollen().nominal_thickness_mm);
        let warming = self_warming();
        let warm = Cell::new(warming.parameters, warming.initial_soc, 22.0).temperature_c();
        assert!((25.0..30.0).contains(&warm), "warmer than the room by a few kelvin: {warm}");
        let deep = deeply_discharged();
        let voltage = deep.parameters.open_voltage(deep.initial_soc);
        assert!((1.5..2.5).contains(&voltage), "{voltage}");
    }

    #[test]
    fn every_resistance_but_the_high_one_is_in_the_range_of_the_class() {
        let high = |cell: &LibraryCell| cell.parameters.tables().name == "high resistance";
        for cell in all().into_iter().filter(|cell| !cell.is_round && !high(cell)) {
            let product = cell.true_resistance(10.0) * cell.rated_capacity_ah;
            assert!((0.25..0.43).contains(&product), "{product}");
        }
    }
}
