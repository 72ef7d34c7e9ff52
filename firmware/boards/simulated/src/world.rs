//! Everything behind the bus: circuit, chips and faults, worked out in steps from one instant to the next.
//!
//! Takes the instant up to which things shall be known; lets each chip take its results at their times and each fault
//! begin at its own.

use crate::cell::Cell;
use crate::chips::Chip;
use crate::chips::noise::Noise;
use crate::chips::power_monitor::PowerMonitor;
use crate::chips::set_point::SetPoint;
use crate::chips::thermometer::Thermometer;
use crate::circuit::{Circuit, Flow};
use crate::controller_adc::ControllerAdc;
use crate::fault::{Fault, Injection, Pending};
use crate::options::Options;
use crate::parameters::CellParameters;
use crate::sense_path::{SenseLeads, SensePath};
use crate::sink::Sink;
use celltriage_firmware::board::LookCodes;

/// Current of the sink at the full scale of the set-point converter, in amperes (design value).
pub const FULL_SCALE_A: f64 = 6.0;
/// Which transactions nobody acknowledges.
#[derive(Clone, Copy, Debug, Default)]
struct Refusals {
    all: bool,
    chip: [bool; Chip::ALL.len()],
    times: u32,
}

/// A line of the bus that is held low.
#[derive(Clone, Copy, Debug)]
enum HeldLine {
    /// The data line, until so many clock pulses.
    Data(u8),
    /// The clock line, until an instant.
    Clock(u64),
}

/// The world.
#[derive(Clone, Debug)]
pub struct World {
    /// Up to here everything is worked out.
    known_ns: u64,
    circuit: Circuit,
    monitor: PowerMonitor,
    cell_thermometer: Thermometer,
    ambient_thermometer: Thermometer,
    set_point: SetPoint,
    pending: Pending,
    next_fault_ns: u64,
    path: SensePath,
    adc: ControllerAdc,
    stuck_set_point_a: Option<f64>,
    program_hangs: bool,
    thermometer_off_cell: bool,
    refusals: Refusals,
    held: Option<HeldLine>,
}

impl World {
    /// Returns a world that begins now, with a cell on the fixture and all chips just powered up.
    pub fn new(parameters: CellParameters, options: &Options) -> Self {
        let noise = |stream| Noise::new(options.seed, stream);
        let errors = &options.imperfections;
        let ambient_c = options.ambient_c;
        let mut cell = Cell::new(parameters, options.initial_soc, ambient_c);
        if let Some(temperature_c) = options.cell_temperature_c {
            cell.set_temperature_c(temperature_c);
        }
        let touches_c = cell.temperature_c();
        let sink = Sink { gain: errors.set_point_gain, ..Sink::default() };
        let mut world = Self {
            known_ns: 0,
            circuit: Circuit {
                cell: Some(cell),
                sink,
                ambient_c,
                reversed: false,
                force_open: false,
                shunt_open: false,
                protection_open_v: None,
            },
            monitor: PowerMonitor::new(errors.channels, noise(1), ambient_c, 0),
            cell_thermometer: Thermometer::new(errors.cell_thermometer_k, noise(2), touches_c, 0),
            ambient_thermometer: Thermometer::new(errors.ambient_thermometer_k, noise(3), ambient_c, 0),
            set_point: SetPoint::default(),
            pending: Pending::default(),
            next_fault_ns: u64::MAX,
            path: SensePath::new(noise(4)),
            adc: ControllerAdc::new(errors.look, noise(5)),
            stuck_set_point_a: None,
            program_hangs: false,
            thermometer_off_cell: false,
            refusals: Refusals::default(),
            held: None,
        };
        world.apply_set_point();
        for &injection in &options.faults {
            world.inject(injection, 0);
        }
        world
    }

    /// Returns the circuit.
    pub const fn circuit(&self) -> &Circuit {
        &self.circuit
    }

    /// Returns the circuit, to switch something in it.
    pub const fn circuit_mut(&mut self) -> &mut Circuit {
        &mut self.circuit
    }

    /// Works everything out up to an instant.
    pub fn advance(&mut self, until_ns: u64, transactions: u64) {
        while self.known_ns < until_ns {
            let stop_ns = until_ns
                .min(self.next_fault_ns)
                .min(self.monitor.next_stop(self.known_ns, until_ns))
                .min(self.cell_thermometer.next_result())
                .min(self.ambient_thermometer.next_result());
            let flow = self.circuit.pass(stop_ns - self.known_ns);
            let (seen_v, seen_a) = self.path.seen(flow.voltage_v, flow.current_a);
            self.monitor.take(self.known_ns, stop_ns, seen_v, seen_a);
            self.known_ns = stop_ns;
            if stop_ns >= self.cell_thermometer.next_result() {
                let on_cell = self.circuit.cell.as_ref().filter(|_| !self.thermometer_off_cell);
                self.cell_thermometer
                    .take(stop_ns, on_cell.map_or(self.circuit.ambient_c, Cell::temperature_c));
            }
            if stop_ns >= self.ambient_thermometer.next_result() {
                self.ambient_thermometer.take(stop_ns, self.circuit.ambient_c);
            }
            if stop_ns >= self.next_fault_ns {
                self.begin_faults(transactions);
            }
        }
    }

    /// Returns the instant from which on a chip may read differently than it does now.
    pub fn next_change(&self, chip: Chip) -> u64 {
        match chip {
            Chip::PowerMonitor => self.monitor.next_result(),
            Chip::CellThermometer => self.cell_thermometer.next_result(),
            Chip::AmbientThermometer => self.ambient_thermometer.next_result(),
            Chip::SetPoint => u64::MAX, // its status changes by the time alone
        }
    }

    /// Returns when the next fault begins that waits for a time.
    pub const fn next_fault(&self) -> u64 {
        self.next_fault_ns
    }

    /// Gives a chip the bytes of a write that ends at an instant.
    pub fn write(&mut self, chip: Chip, bytes: &[u8], now_ns: u64) {
        match chip {
            Chip::PowerMonitor => self.monitor.write(bytes, now_ns),
            Chip::CellThermometer => self.cell_thermometer.write(bytes, now_ns),
            Chip::AmbientThermometer => self.ambient_thermometer.write(bytes, now_ns),
            Chip::SetPoint => {
                self.set_point.write(bytes, now_ns);
                self.apply_set_point();
            }
        }
    }

    /// Has a chip answer a read that begins at an instant.
    pub fn read(&mut self, chip: Chip, into: &mut [u8], now_ns: u64) {
        match chip {
            Chip::PowerMonitor => self.monitor.read(into),
            Chip::CellThermometer => self.cell_thermometer.read(into, now_ns),
            Chip::AmbientThermometer => self.ambient_thermometer.read(into, now_ns),
            Chip::SetPoint => self.set_point.read(into, now_ns),
        }
    }

    /// Returns whether a transaction with a chip is acknowledged; asks once for each transaction.
    pub fn acknowledges(&mut self, chip: Chip) -> bool {
        let refused = self.refusals.times > 0;
        self.refusals.times = self.refusals.times.saturating_sub(1);
        let silent = self.refusals.chip.get(chip as usize).copied().unwrap_or(false);
        !(refused || silent || self.refusals.all)
    }

    /// Returns whether a line of the bus is low at an instant, while nobody clocks.
    pub fn bus_is_held(&mut self, now_ns: u64) -> bool {
        if matches!(self.held, Some(HeldLine::Clock(until_ns)) if now_ns >= until_ns) {
            self.held = None;
        }
        self.held.is_some()
    }

    /// Gives the chips so many clock pulses in a row; returns after how many the data line was high, if it is. A clock line
    /// that is held cannot be clocked.
    pub fn clock(&mut self, pulses: u8) -> Option<u8> {
        match self.held {
            Some(HeldLine::Data(needed)) if needed <= pulses => {
                self.held = None;
                Some(needed)
            }
            _ => None,
        }
    }

    /// Takes the supply of the chips away for a moment.
    pub fn power_cycle(&mut self) {
        self.monitor.power_up(self.known_ns);
        self.cell_thermometer.power_up(self.known_ns);
        self.ambient_thermometer.power_up(self.known_ns);
        self.set_point.power_up();
        self.apply_set_point();
    }

    fn apply_set_point(&mut self) {
        let told_a = FULL_SCALE_A * self.set_point.output();
        self.circuit.sink.set_point_a = self.stuck_set_point_a.unwrap_or(told_a);
    }

    /// Returns what the controller's own converter reads now.
    pub fn second_look(&mut self) -> Option<LookCodes> {
        self.adc.look(self.circuit.force_v(), self.circuit.instant().current_a)
    }

    /// Returns whether the program hangs.
    pub const fn program_hangs(&self) -> bool {
        self.program_hangs
    }

    /// The controller has been reset: its program runs again.
    pub const fn restart_program(&mut self) {
        self.program_hangs = false;
    }

    /// Adds a fault; it begins when it says, or now if that is over.
    pub fn inject(&mut self, injection: Injection, transactions: u64) {
        self.pending.add(injection);
        self.begin_faults(transactions);
    }

    /// Mends all faults and forgets those to come. A cell that was warmed stays warm.
    pub fn mend(&mut self) {
        self.pending.clear();
        self.next_fault_ns = u64::MAX;
        self.thermometer_off_cell = false;
        self.refusals = Refusals::default();
        self.path.mend();
        self.adc.mend();
        self.stuck_set_point_a = None;
        self.apply_set_point();
        self.held = None;
        self.circuit.force_open = false;
        self.circuit.shunt_open = false;
        self.circuit.sink.enable_stuck = false;
        self.circuit.sink.shorted_a = 0.0;
        self.circuit.protection_open_v = None;
        self.circuit.reversed = false;
        self.circuit.sink.stuck_a = 0.0;
        self.monitor.set_stuck(None);
        self.monitor.set_voltage_stuck(false);
        self.cell_thermometer.set_stuck(None);
        self.ambient_thermometer.set_stuck(None);
    }

    /// Lets faults begin whose time or transaction has come.
    pub fn begin_faults(&mut self, transactions: u64) {
        while let Some(fault) = self.pending.take_due(self.known_ns, transactions) {
            self.begin(fault);
        }
        self.next_fault_ns = self.pending.next_ns();
    }

    fn begin(&mut self, fault: Fault) {
        match fault {
            Fault::OpenSenseLead => self.path.leads = SenseLeads::Open,
            Fault::LooseSenseLead { spread_v } => self.path.leads = SenseLeads::Loose(spread_v),
            Fault::OpenForceLead => self.circuit.force_open = true,
            Fault::StuckSensor { chip, says_ready } => match chip {
                Chip::PowerMonitor => self.monitor.set_stuck(Some(says_ready)),
                Chip::CellThermometer => self.cell_thermometer.set_stuck(Some(says_ready)),
                Chip::AmbientThermometer => self.ambient_thermometer.set_stuck(Some(says_ready)),
                Chip::SetPoint => {}
            },
            Fault::StuckVoltage => self.monitor.set_voltage_stuck(true),
            Fault::WarmCell { temperature_c } => {
                if let Some(cell) = &mut self.circuit.cell {
                    cell.set_temperature_c(temperature_c);
                }
            }
            Fault::OpenProtection { leaks_v } => self.circuit.protection_open_v = Some(leaks_v),
            Fault::ReversedCell => self.circuit.reversed = true,
            Fault::SinkStuckOn { current_a } => self.circuit.sink.stuck_a = current_a,
            Fault::NoAnswer { chip: None } => self.refusals.all = true,
            Fault::NoAnswer { chip: Some(chip) } => {
                if let Some(place) = self.refusals.chip.get_mut(chip as usize) {
                    *place = true;
                }
            }
            Fault::NoAnswerOnce => self.refusals.times = 1,
            Fault::NoAnswerTimes { count } => self.refusals.times = count,
            Fault::DataHeld { pulses } => self.held = Some(HeldLine::Data(pulses)),
            Fault::ClockHeld { time } => {
                let until_ns = self.known_ns.saturating_add(time.get().saturating_mul(1_000));
                self.held = Some(HeldLine::Clock(until_ns));
            }
            Fault::ThermometerOffCell => self.thermometer_off_cell = true,
            Fault::OpenNegativeSenseLead => self.path.leads = SenseLeads::NegativeOpen,
            Fault::ShortedSenseLeads => self.path.leads = SenseLeads::Shorted,
            Fault::ReplayedMonitor => {
                let Flow { voltage_v, current_a } = self.circuit.instant();
                self.path.replayed = Some((voltage_v, current_a));
            }
            Fault::VoltageOffset { volts } => self.path.volts_offset_v = volts,
            Fault::VoltageGain { factor } => self.path.volts_gain = factor,
            Fault::CurrentOffset { amps } => self.path.amps_offset_a = amps,
            Fault::CurrentGain { factor } => self.path.amps_gain = factor,
            Fault::OpenShunt => self.circuit.shunt_open = true,
            Fault::ShortedShunt => self.path.amps_gain = 0.0,
            Fault::StuckSetPoint { current_a } => {
                self.stuck_set_point_a = Some(current_a);
                self.apply_set_point();
            }
            Fault::EnableStuckOn => self.circuit.sink.enable_stuck = true,
            Fault::ShortedTransistor { current_a } => self.circuit.sink.shorted_a = current_a,
            Fault::ProgramHangs => self.program_hangs = true,
            Fault::NoSecondLook => self.adc.fails = true,
            Fault::StuckSecondLook => self.adc.stuck = self.second_look(),
            Fault::SecondLookOffset { volts } => self.adc.force_offset_v = volts,
            Fault::SecondLookCurrentOffset { amps } => self.adc.current_offset_a = amps,
            Fault::SecondLookReference { factor } => self.adc.reference_factor = factor,
        }
    }
}
