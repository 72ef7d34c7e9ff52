//! At which charge the parts of a trace were measured, and which of them lies nearest to half charge.
//!
//! Input: a measurement and segments of it; output: the one to use, the state of charge there and what to say of it. A whole
//! characterisation pulses a cell from full to empty, and its resistance is highest at both ends; figures of cells are
//! compared at half charge. The charge is counted from full, over the rated one, where the trace shows that the cell began
//! full; else it is read from the class's table at the rest before. It only picks a pulse: no number is computed from it.

use super::measurement::Measurement;
use super::open_circuit::curve;
use super::rest_voltage::last;
use crate::nameplate::Fullness;
use crate::segment::Kind;
use crate::si::Volts;
use crate::trace::Steps;

/// The charge that cells are compared at.
const HALF: f64 = 0.5;
/// Parts of a trace that differ by less are at one charge (judged: a resistance changes by a few per cent within).
const ONE_CHARGE: f64 = 0.1;
/// Where no charge is known, rests that differ by less are at one (judged).
const ONE_VOLTAGE: Volts = Volts(0.1);
/// Rows of a rest that give its voltage.
const REST_ROWS: usize = 20;

/// Where a part of the trace was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Taken {
    segment: usize,
    charge: Option<f64>,
    rest: Option<Volts>,
}

/// What is said of the part that was taken.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Place {
    /// State of charge, where the trace tells it.
    pub(super) charge: Option<f64>,
    /// Where it lies among the others.
    pub(super) text: String,
}

/// The parts of a trace that lie at several states of charge.
#[derive(Clone, Debug, Default)]
pub(super) struct ChargeLadder {
    taken: Vec<Taken>,
}

impl ChargeLadder {
    /// Looks at these segments, in order; empty where all lie at one charge.
    pub(super) fn of(m: &Measurement<'_>, segments: impl Iterator<Item = usize>) -> Self {
        let full = began_full(m);
        let taken: Vec<Taken> = segments.map(|segment| taken(m, full, segment)).collect();
        let spread = |values: &dyn Fn(&Taken) -> Option<f64>| {
            let known: Option<Vec<f64>> = taken.iter().map(values).collect();
            let known = known?;
            let (low, high) =
                (known.iter().copied().reduce(f64::min)?, known.iter().copied().reduce(f64::max)?);
            Some(high - low)
        };
        let is_ladder = match spread(&|one| one.charge) {
            Some(spread) => spread > ONE_CHARGE,
            None => spread(&|one| one.rest.map(|volts| volts.0)).is_some_and(|spread| spread > ONE_VOLTAGE.0),
        };
        Self { taken: if is_ladder { taken } else { Vec::new() } }
    }

    /// Returns how far a segment lies from half charge; zero where that is not known of all, or does not matter.
    pub(super) fn off_half(&self, segment: usize) -> f64 {
        if self.taken.iter().any(|one| one.charge.is_none()) {
            return 0.0;
        }
        let charge = self.taken.iter().find(|one| one.segment == segment).and_then(|one| one.charge);
        charge.map_or(0.0, |charge| (charge - HALF).abs())
    }

    /// Says where a segment lies; `None` where all lie at one charge.
    pub(super) fn place(&self, segment: usize) -> Option<Place> {
        let one = self.taken.iter().find(|one| one.segment == segment)?;
        let count = self.taken.len();
        let known = self.taken.iter().all(|one| one.charge.is_some());
        let text = match (one.charge.filter(|_| known), one.rest) {
            (Some(charge), _) => format!(
                "taken at {:.0} % of charge, the nearest to half of {count} at several states of charge",
                charge * 100.0
            ),
            (None, Some(rest)) => format!(
                "taken from a rest at {:.3} V, one of {count} at several states of charge, which the trace does not tell",
                rest.0
            ),
            (None, None) => {
                format!("one of {count} at several states of charge, which the trace does not tell")
            }
        };
        Some(Place { charge: one.charge.filter(|_| known), text })
    }
}

fn taken(m: &Measurement<'_>, full: Option<usize>, segment: usize) -> Taken {
    let row = m.segments.get(segment).map_or(0, |segment| segment.first);
    let rest = rest_voltage(m, segment);
    let counted = full.map(|from| {
        let out = m.gather::<Steps>(from.min(row)..row + 1).charged();
        1.0 - out.0 / m.nameplate.rated_capacity_ah
    });
    let read = || Some(curve(m.nameplate).ok()?.charge_at(rest?.0));
    Taken { segment, charge: counted.or_else(read), rest }
}

/// Returns the row from which on charge is counted: the first load's, where the rest before it is that of a full cell.
fn began_full(m: &Measurement<'_>) -> Option<usize> {
    let load = m.segments.iter().position(|segment| segment.kind == Kind::Load)?;
    let fullness = m.nameplate.fullness(rest_voltage(m, load)?.0);
    let row = m.segments.get(load)?.first;
    matches!(fullness, Fullness::Full | Fullness::Nearly).then_some(row)
}

/// Returns the voltage of the newest rest before a segment.
fn rest_voltage(m: &Measurement<'_>, segment: usize) -> Option<Volts> {
    let rest = m.newest_rest(segment)?;
    let at = m.segments.get(rest)?.end.time;
    Some(Volts(m.voltage_at(last(m.body(rest), REST_ROWS), at)?.value))
}
