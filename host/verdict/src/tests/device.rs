//! Whether the cell explains what its device did: each answer with the figures that make it, and those beside them.

use super::*;
use celltriage_measure::observation::{DeviceDid, DeviceSaid};

/// Answers about a cell that rests at a voltage, has a resistance at 10 s (ohm, at 1.5 A) and rests so much warmer than the air.
fn answered(
    did: DeviceDid,
    [current_a, lowest_v]: [Option<f64>; 2],
    [rest_v, ohm, warm_k]: [f64; 3],
    cools: Option<bool>,
) -> DeviceAnswer {
    let mut estimates = estimates(&[(Quantity::RestVoltage, rest_v, 0.002)]);
    let mut resistance = Estimate::new(Quantity::Resistance10Seconds, ohm, 0.01 * ohm, "test");
    resistance.conditions.current_a = Some(1.5);
    estimates.put(Quantity::Resistance10Seconds, Ok(resistance));
    let mut warm = Estimate::new(Quantity::RestTemperatureRise, warm_k, 0.3, "test");
    warm.conditions.cools = cools;
    estimates.put(Quantity::RestTemperatureRise, Ok(warm));
    let device = Some(DeviceSaid { did, current_a, lowest_v });
    let observations = Observations { device, ..Observations::no_signs() };
    let (nameplate, run) = (nameplate(), RunOutcome::Complete);
    let evidence = evidence_of(&nameplate, &observations, &estimates, &run);
    answer_device(&evidence).unwrap()
}

#[test]
fn a_device_that_gets_too_little_is_explained_by_the_whole_interval_and_not_by_its_middle() {
    use DeviceDid::{DoesNotStart, ShutsOff};
    use Explains::{CannotTell, No, Yes};
    let (two_amps, runs_from) = (Some(2.0), Some(3.3));
    for (did, known, rest_v, ohm, explains, words) in [
        // 3.70 V less 2 A through 0.1 Ohm eased by 1.7 %: 3.503 V.
        (ShutsOff, [two_amps, runs_from], 3.70, 0.10, No, "3.50"),
        (ShutsOff, [two_amps, runs_from], 3.70, 0.30, Yes, "below 3.3 V"),
        (ShutsOff, [two_amps, runs_from], 3.70, 0.203, CannotTell, "too close"),
        (DoesNotStart, [two_amps, runs_from], 3.25, 0.05, Yes, "rests at 3.250 V"),
        (DoesNotStart, [two_amps, runs_from], 0.2, 0.05, Yes, "open protection"),
        // Nothing known of the device: only what holds for every one of them.
        (DoesNotStart, [None, None], 2.5, 0.05, Yes, "end of discharge on the label"),
        (ShutsOff, [None, runs_from], 3.70, 0.10, CannotTell, "current is said"),
        (ShutsOff, [two_amps, None], 3.70, 0.10, CannotTell, "was not said"),
        (ShutsOff, [two_amps, None], 3.70, 0.50, Yes, "below 3 V"),
        (ShutsOff, [Some(9.0), runs_from], 3.70, 0.05, CannotTell, "5 times"),
    ] {
        let answer = answered(did, known, [rest_v, ohm, 0.1], None);
        let told = format!("{known:?} {rest_v} V {ohm} Ohm: {}", answer.statement);
        assert_eq!(answer.explains, explains, "{told}");
        assert!(answer.statement.contains(words), "{told}");
        if let (Some(value), Some([low, high]), Some(limit)) = (answer.value, answer.interval, answer.limit) {
            assert!(low < value && value < high, "{told}");
            match explains {
                Yes => assert!(high < limit, "{told}"),
                No => assert!(low > limit, "{told}"),
                CannotTell => {}
            }
        }
    }
}

/// A cell that does not explain it now may at less charge: from which voltage on is told.
#[test]
fn what_the_present_charge_hides_is_told() {
    let answer = answered(DeviceDid::ShutsOff, [Some(1.5), Some(3.3)], [4.1, 0.2, 0.1], None);
    assert_eq!(answer.explains, Explains::No);
    assert!(answer.statement.contains("rests below about 3.600 V"), "{}", answer.statement);
}

#[test]
fn heat_is_explained_by_a_warm_rest_or_by_a_high_resistance() {
    use Explains::{CannotTell, No, Yes};
    let hot = DeviceDid::HotWhileCharging;
    for (current_a, ohm, warm_k, cools, explains) in [
        (None, 0.1, 3.0, None, Yes),
        (None, 0.1, 3.0, Some(false), Yes),
        (None, 0.1, 3.0, Some(true), CannotTell),
        (None, 0.1, 2.1, None, CannotTell),
        (None, 0.1, 0.1, None, CannotTell),
        // 0.1 W and at most 1.5 K; 4 W and at least 16 K; 1 W and anything from 4 to 15 K.
        (Some(1.0), 0.1, 0.1, None, No),
        (Some(2.0), 1.0, 0.1, None, Yes),
        (Some(2.0), 0.25, 0.1, None, CannotTell),
    ] {
        let answer = answered(hot, [current_a, None], [3.9, ohm, warm_k], cools);
        assert_eq!(answer.explains, explains, "{current_a:?} {ohm} {warm_k}: {}", answer.statement);
    }
}

/// What a cell does not explain may have any cause: nothing is ever said of the device's parts.
#[test]
fn no_answer_blames_the_device() {
    for did in DeviceDid::ALL {
        for rest_v in [0.1, 2.0, 3.3, 3.7, 4.2] {
            for ohm in [0.02, 0.2, 2.0] {
                let answer = answered(did, [Some(1.5), Some(3.3)], [rest_v, ohm, 0.1], None);
                let told = answer.statement.to_lowercase();
                for word in ["board is", "fault", "defect", "safe", "charger is"] {
                    assert!(!told.contains(word), "{told}");
                }
            }
        }
    }
}
