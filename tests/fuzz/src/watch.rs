//! What a fixture promises whatever happens, looked at from outside at each moment.

use celltriage_protocol::floors::Floors;
use celltriage_protocol::label::CellLabel;
use celltriage_protocol::reply::Activity;
use celltriage_protocol::units::{MicroAmps, Micros};
use celltriage_simulated_board::fixture::SimulatedFixture;

/// From the last word of the owner until the load is off: the silence limit, a sample at the slowest period under load and
/// a pass.
const OFF_AFTER: Micros = Micros::from_millis(3_110);
/// How long a voltage below the guard's floor may stay under load: a sample at the slowest period (100 ms), the conversion that it
/// reads, which may have begun above the floor (64 of both channels of 280 us: 36 ms), and one of our looks (20 ms).
const BELOW_FLOOR: Micros = Micros::from_millis(156);
/// Error that a fixture without calibration may have at the floor, in volts: its channel's gain and offset.
const ERROR_V: f64 = 0.02;

/// A current that is larger than the steady one by less may be that one, with the error of the sink, in microamperes.
const PULSE_ERROR_UA: f64 = 50_000.0;

/// What was seen so far.
#[derive(Debug, Default)]
pub struct Watch {
    /// Whether the load was ever on.
    pub loaded: bool,
    /// Whether a trip was ever latched.
    pub tripped: bool,
    /// Whether a fault is there that hides the cell's voltage from the fixture, or holds the sink on.
    pub blinded: bool,
    /// Label of the plan that was loaded last.
    pub label: CellLabel,
    owned: bool,
    last_word: Micros,
    below_since: Option<Micros>,
}

impl Watch {
    /// A run was started.
    pub fn started(&mut self, now: Micros) {
        self.owned = true;
        self.last_word = now;
    }

    /// The owner has said that it is there.
    pub fn said(&mut self, now: Micros) {
        self.last_word = now;
    }

    /// Looks at the fixture from outside.
    pub fn look(&mut self, fixture: &mut SimulatedFixture) {
        let now = fixture.now();
        self.tripped |= fixture.activity() == Activity::Tripped;
        if !fixture.load_is_on() {
            self.below_since = None;
            return;
        }
        self.loaded = true;
        assert!(self.owned, "a load without a run that was started");
        assert_eq!(fixture.activity(), Activity::Running, "a load is on, but no plan runs");
        let silent = now.saturating_sub(self.last_word);
        assert!(silent <= OFF_AFTER, "the load is on {silent} after the owner's last word");
        let low = fixture.truth().is_none_or(|truth| {
            let current = MicroAmps::new((truth.current_a * 1e6 - PULSE_ERROR_UA) as i32);
            let floor = Floors::of(self.label, current).loaded;
            truth.voltage_v < f64::from(floor.get()) / 1e6 - ERROR_V
        });
        if self.blinded || !low {
            self.below_since = None;
            return;
        }
        let since = now.saturating_sub(*self.below_since.get_or_insert(now));
        assert!(since <= BELOW_FLOOR, "the cell is below the guard's floor under load for {since}");
    }
}
