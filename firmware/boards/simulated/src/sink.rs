//! The current sink: a set point, an enable pin, and what a real sink adds to them.
//!
//! Takes set point, pin and what the circuit can give; gives the current that flows. The current follows a change
//! with one time constant, never runs backwards, and falls short where the cell's voltage cannot drive it.

/// Time constant of the current after a change (design value of the regulation loop).
const SETTLING_S: f64 = 150e-6;
/// Resistance of everything in the loop but the cell, transistor fully on: 10 mOhm shunt, 40 mOhm transistor,
/// 30 mOhm fuse, leads and clips (design values).
pub const LOOP_OHM: f64 = 0.080;
/// Closer to its target than this the current has arrived; far below what the monitor can tell.
const ARRIVED_A: f64 = 1e-7;

/// A current sink.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sink {
    /// State of the enable pin.
    pub enabled: bool,
    /// Current asked for by the set-point converter, in amperes.
    pub set_point_a: f64,
    /// Relative error of the set point.
    pub gain: f64,
    /// Current that flows although it should not (a faulty transistor), in amperes.
    pub stuck_a: f64,
    /// Whether the enable line is on whatever is driven.
    pub enable_stuck: bool,
    /// Current that flows as soon as the enable line is on (the regulating transistor has failed short), in amperes.
    pub shorted_a: f64,
    /// Current that flows at this instant, in amperes.
    pub current_a: f64,
}

impl Sink {
    /// Returns the current the sink goes for, given the largest current the circuit can drive.
    fn target_a(&self, available_a: f64) -> f64 {
        let on = self.enabled || self.enable_stuck;
        let asked = if on { (self.set_point_a * (1.0 + self.gain)).max(self.shorted_a) } else { 0.0 };
        asked.max(self.stuck_a).min(available_a).max(0.0)
    }

    /// Returns whether the current has stopped moving.
    pub fn has_arrived(&self, available_a: f64) -> bool {
        (self.current_a - self.target_a(available_a)).abs() <= ARRIVED_A
    }

    /// Lets a span pass; returns the mean current in amperes.
    pub fn pass(&mut self, seconds: f64, available_a: f64) -> f64 {
        let target = self.target_a(available_a);
        if self.has_arrived(available_a) {
            self.current_a = target;
            return target;
        }
        // What the circuit cannot drive stops at once: the loop's inductance is negligible.
        let away = self.current_a.min(available_a.max(0.0)) - target;
        let gone = -(-seconds / SETTLING_S).exp_m1();
        self.current_a = target + away * (1.0 - gone);
        target + away * gone * SETTLING_S / seconds
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_current_follows_its_time_constant_and_the_mean_is_that_of_the_curve() {
        let mut sink = Sink { enabled: true, set_point_a: 2.0, ..Sink::default() };
        let mean = sink.pass(150e-6, 50.0);
        assert!((sink.current_a - 2.0 * (1.0 - (-1.0_f64).exp())).abs() < 1e-12);
        assert!((mean - 2.0 * (-1.0_f64).exp()).abs() < 1e-12);
    }

    #[test]
    fn short_spans_and_a_long_one_move_the_same_charge() {
        let mut fine = Sink { enabled: true, set_point_a: 1.5, ..Sink::default() };
        let mut coarse = fine;
        let fine_c: f64 = (0..100).map(|_| fine.pass(1e-5, 50.0) * 1e-5).sum();
        let coarse_c = coarse.pass(1e-3, 50.0) * 1e-3;
        assert!((fine_c - coarse_c).abs() < 1e-12);
    }

    #[test]
    fn without_enable_nothing_flows_whatever_the_set_point() {
        let mut sink = Sink { set_point_a: 5.0, ..Sink::default() };
        assert_eq!(sink.pass(1.0, 50.0), 0.0);
    }

    #[test]
    fn the_circuit_limits_the_current_and_it_never_runs_backwards() {
        let mut sink = Sink { enabled: true, set_point_a: 5.0, ..Sink::default() };
        sink.pass(1.0, 0.7);
        assert!((sink.current_a - 0.7).abs() < 1e-12);
        sink.pass(1.0, -3.0);
        assert_eq!(sink.current_a, 0.0);
    }

    #[test]
    fn a_stuck_sink_conducts_though_it_is_off() {
        let mut sink = Sink { stuck_a: 0.8, ..Sink::default() };
        sink.pass(1.0, 50.0);
        assert!((sink.current_a - 0.8).abs() < 1e-12);
    }
}
