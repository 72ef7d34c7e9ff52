//! Cell, leads and sink as one circuit.
//!
//! Takes spans of time; gives the mean voltage at the cell's terminals and the mean current of each. While the
//! current moves the span is cut into pieces far shorter than the sink's time constant, afterwards it passes in one.

use crate::cell::Cell;
use crate::sink::{LOOP_OHM, Sink};

/// Piece of time while the current moves: a third of the sink's time constant.
const FINE_NS: u64 = 50_000;
/// Longest piece: resistances are looked up once for each.
const COARSE_NS: u64 = 1_000_000_000;

/// Part of the loop's resistance that lies before the board: fuse, leads, clips.
const LEAD_OHM: f64 = 0.030;
/// What the polarity divider leaves on a force lead without a cell: 3.3 V through 100 and 220 kOhm on 44 kOhm (circuit.toml:
/// R22, R21, R29 and R30).
const OPEN_FORCE_V: f64 = 3.3 * 44.0 / (100.0 + 220.0 + 44.0);

/// Means over a span.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Flow {
    /// Voltage at the cell's terminals as it is connected (a reversed cell: negative), in volts.
    pub voltage_v: f64,
    /// Current, positive discharging, in amperes.
    pub current_a: f64,
}

/// What hangs together electrically.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// The cell on the fixture, if there is one.
    pub cell: Option<Cell>,
    /// The sink.
    pub sink: Sink,
    /// Temperature of the air in degrees Celsius.
    pub ambient_c: f64,
    /// Whether the cell is connected the wrong way round.
    pub reversed: bool,
    /// Whether a lead that carries the current has come off.
    pub force_open: bool,
    /// Whether the shunt has broken.
    pub shunt_open: bool,
    /// What is left at the connector of a cell whose protection has switched off, in volts.
    pub protection_open_v: Option<f64>,
}

impl Circuit {
    /// Returns the largest current the circuit can drive, in amperes.
    fn available_a(&self) -> f64 {
        match &self.cell {
            // The sink blocks a reversed cell.
            Some(cell)
                if !(self.reversed || self.force_open || self.shunt_open)
                    && self.protection_open_v.is_none() =>
            {
                cell.unloaded_voltage() / (cell.series_ohm() + LOOP_OHM)
            }
            _ => 0.0,
        }
    }

    /// Returns voltage and current at this instant.
    pub fn instant(&self) -> Flow {
        let current_a = self.sink.current_a;
        let voltage_v =
            self.cell.as_ref().map_or(0.0, |cell| cell.unloaded_voltage() - current_a * cell.series_ohm());
        Flow { voltage_v: self.as_connected(voltage_v), current_a }
    }

    /// Returns the voltage on the positive force lead at this instant, against the board's ground.
    pub fn force_v(&self) -> f64 {
        if self.cell.is_none() || self.force_open {
            return OPEN_FORCE_V;
        }
        let Flow { voltage_v, current_a } = self.instant();
        voltage_v - current_a * LEAD_OHM
    }

    /// Lets a span pass.
    pub fn pass(&mut self, span_ns: u64) -> Flow {
        let mut left_ns = span_ns;
        let mut sum = Flow::default();
        while left_ns > 0 {
            let available_a = self.available_a();
            let longest = if self.sink.has_arrived(available_a) { COARSE_NS } else { FINE_NS };
            let piece_ns = left_ns.min(longest);
            let current_a = self.sink.pass(piece_ns as f64 * 1e-9, available_a);
            let voltage_v =
                self.cell.as_mut().map_or(0.0, |cell| cell.pass(piece_ns, current_a, self.ambient_c));
            let share = piece_ns as f64 / span_ns as f64;
            sum.voltage_v += share * self.as_connected(voltage_v);
            sum.current_a += share * current_a;
            left_ns -= piece_ns;
        }
        sum
    }

    fn as_connected(&self, voltage_v: f64) -> f64 {
        // Behind an open protection the cell itself is not seen.
        let voltage_v = self.protection_open_v.filter(|_| self.cell.is_some()).unwrap_or(voltage_v);
        if self.reversed { -voltage_v } else { voltage_v }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::library;

    fn circuit() -> Circuit {
        let cell = Cell::new(library::sound().parameters, 0.6, 25.0);
        let sink = Sink { enabled: true, set_point_a: 1.0, ..Sink::default() };
        Circuit {
            cell: Some(cell),
            sink,
            ambient_c: 25.0,
            reversed: false,
            force_open: false,
            shunt_open: false,
            protection_open_v: None,
        }
    }

    #[test]
    fn a_load_pulls_the_voltage_down_by_the_resistance_of_that_time() {
        let mut circuit = circuit();
        let rested = circuit.instant().voltage_v;
        circuit.pass(100_000_000);
        let now = circuit.instant();
        assert!((now.current_a - 1.0).abs() < 1e-6);
        let seen = (rested - now.voltage_v) / now.current_a;
        let stated = library::sound().parameters.resistance_after(0.6, 0.1);
        // Besides, 0.1 C of 3 Ah at under 1 V per unit of charge state move the rested voltage by 10 uV, and the
        // current took 150 us to come.
        assert!((seen - stated).abs() < 5e-5, "{seen} {stated}");
    }

    #[test]
    fn however_the_span_is_cut_the_same_comes_out() {
        let (mut whole, mut cut) = (circuit(), circuit());
        let whole_flow = whole.pass(20_000_000);
        let (mut voltage, mut current) = (0.0, 0.0);
        for _ in 0..400 {
            let flow = cut.pass(50_000);
            voltage += flow.voltage_v / 400.0;
            current += flow.current_a / 400.0;
        }
        // Resistances are held over a piece. At 60 % they change by 0.14 Ohm per unit of charge state: 20 mC of 3 Ah
        // at 1 A make 0.3 uV of that.
        assert!((whole_flow.voltage_v - voltage).abs() < 1e-6);
        assert!((whole_flow.current_a - current).abs() < 1e-7);
    }

    #[test]
    fn no_current_flows_without_a_cell_against_one_or_through_an_open_lead() {
        for change in [
            |circuit: &mut Circuit| circuit.cell = None,
            |circuit: &mut Circuit| circuit.reversed = true,
            |circuit: &mut Circuit| circuit.force_open = true,
            |circuit: &mut Circuit| circuit.protection_open_v = Some(0.1),
        ] {
            let mut circuit = circuit();
            circuit.pass(10_000_000);
            change(&mut circuit);
            assert_eq!(circuit.pass(10_000_000).current_a, 0.0);
        }
    }

    #[test]
    fn a_reversed_cell_shows_a_negative_voltage() {
        let mut circuit = circuit();
        circuit.reversed = true;
        assert!(circuit.pass(1_000_000).voltage_v < -3.0);
    }

    #[test]
    fn behind_an_open_protection_the_cell_is_not_seen() {
        let mut circuit = circuit();
        circuit.protection_open_v = Some(0.1);
        assert_eq!(circuit.pass(1_000_000).voltage_v, 0.1);
        circuit.cell = None;
        assert_eq!(circuit.pass(1_000_000).voltage_v, 0.0);
    }

    #[test]
    fn an_empty_cell_cannot_drive_the_current_asked_for() {
        let mut circuit = circuit();
        circuit.cell = Some(Cell::new(library::sound().parameters, -0.23, 25.0));
        let flow = circuit.pass(10_000_000);
        assert!(flow.current_a < 0.9, "{flow:?}");
    }
}
