//! What can be wrong, and the cause it has in each state of the guard.

use super::*;
use std::vec::Vec;

/// Something wrong, and the cause it has while idle, at rest, before a load and under load.
pub type Case = (fn(&mut Scene), [Option<TripCause>; 4]);

pub fn cases() -> Vec<Case> {
    use TripCause::*;
    let none = None;
    let plan = |cause| [none, Some(cause), Some(cause), Some(cause)];
    let before = |cause| [none, none, Some(cause), none];
    let load = |cause| [none, none, Some(cause), Some(cause)];
    let under = |cause| [none, none, none, Some(cause)];
    std::vec![
        (|s| s.inputs.reversed = true, plan(Polarity)),
        (|s| s.inputs.not_set_up = Some(2), plan(SetUp)),
        (|s| s.inputs.last_word = s.now.saturating_sub(Micros::new(3_000_001)), plan(HostSilent)),
        (|s| s.volts(4_400_001), plan(VoltageHigh)),
        (|s| s.volts(2_999_999), before(VoltageLow)),
        (|s| s.volts(2_499_999), [none, none, Some(VoltageLow), Some(VoltageFloor)]),
        (
            |s| {
                s.ambient(9_999);
                s.cell(9_999)
            },
            before(TemperatureLow)
        ),
        (
            |s| {
                s.ambient(35_001);
                s.cell(35_001)
            },
            [none, Some(RiseRate), Some(TemperatureHigh), Some(RiseRate)]
        ),
        (
            |s| {
                s.ambient(45_001);
                s.cell(45_001)
            },
            [none, Some(OverTemperature), Some(TemperatureHigh), Some(OverTemperature)]
        ),
        (|s| s.ambient(20_999), [none, Some(TemperatureRise), Some(TemperatureRise), none]),
        (|s| s.ambient(14_999), plan(TemperatureRise)),
        (|s| s.cell(23_501), [none, Some(RiseRate), Some(RiseRate), none]),
        (|s| s.cell(24_501), [none, Some(TemperatureRise), Some(TemperatureRise), Some(RiseRate)]),
        (
            |s| s.amps(20_001),
            [Some(ConductsWhenOff), Some(ConductsWhenOff), Some(ConductsWhenOff), Some(ContactLost)]
        ),
        (
            |s| s.amps(-20_001),
            [Some(ConductsWhenOff), Some(ConductsWhenOff), Some(ConductsWhenOff), Some(ContactLost)]
        ),
        (
            |s| s.amps(899_999),
            [Some(ConductsWhenOff), Some(ConductsWhenOff), Some(ConductsWhenOff), Some(ContactLost)]
        ),
        (
            |s| s.amps(1_150_001),
            [Some(ConductsWhenOff), Some(ConductsWhenOff), Some(ConductsWhenOff), Some(OverCurrent)]
        ),
        (|s| s.set(|r, now| r.voltage.take(now, Err(NoData::NoAnswer))), load(MissingReading)),
        (|s| s.set(|r, now| r.current.take(now, Err(NoData::OutOfRange))), load(MissingReading)),
        (|s| s.set(|r, now| r.cell.take(now, Err(NoData::Implausible))), load(MissingReading)),
        (|s| s.set(|r, now| r.ambient.take(now, Err(NoData::NoAnswer))), load(MissingReading)),
        (|s| s.set(|r, now| r.charge.take(now, Err(NoData::NoAnswer))), load(MissingReading)),
        (|s| s.inputs.readings.voltage = Default::default(), plan(MissingReading)),
        (|s| s.inputs.readings.current = Default::default(), plan(MissingReading)),
        (|s| s.inputs.readings.cell = Default::default(), plan(MissingReading)),
        (|s| s.inputs.readings.ambient = Default::default(), plan(MissingReading)),
        (|s| s.inputs.readings.charge = Default::default(), plan(MissingReading)),
        // 50 ms and three periods of 10 ms.
        (
            |s| {
                s.now = s.now.saturating_add(Micros::new(80_001));
                s.inputs.last_word = s.now
            },
            plan(StaleReading)
        ),
        (|s| { s.guard.seen = s.guard.seen.saturating_sub(Micros::new(80_001)) }, under(StaleReading)),
        (
            |s| {
                s.guard.rest_voltages.pop_back();
                let _ = s.guard.rest_voltages.push_back(MicroVolts::new(3_925_001));
            },
            before(Contact)
        ),
        (|s| s.guard.rest_voltages.clear(), before(MissingReading)),
        (
            |s| {
                for second in 1..=8 {
                    s.guard.heat.pass(
                        s.now.saturating_add(Micros::from_secs(second)),
                        Some(MicroVolts::from_millivolts(4_000)),
                        Some(MicroAmps::from_milliamps(5_000)),
                    )
                }
            },
            load(SinkEnergy)
        ),
        (
            |s| {
                s.follows = false;
                s.set(|r, now| r.look.take(now, Err(NoData::NoAnswer)))
            },
            load(SecondLookMissing)
        ),
        (|s| s.looks_thrice(3_000_000, CURRENT.get()), load(SecondLookVoltage)),
        (|s| s.looks_thrice(3_900_000, 3_000_000), load(SecondLookCurrent)),
    ]
}
