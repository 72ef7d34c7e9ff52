//! The bench as the fixture's program meets it: a bus, an enable pin, a comparator, and time that passes.
//!
//! Takes bus transactions, pin levels and the passing of time; gives the bytes that the chips answer. Each byte on the
//! bus takes its time at 400 kHz, and the world goes on meanwhile. The world is worked out lazily: only when somebody
//! could see a difference (a new result is due, or something is switched).

use crate::cell::Cell;
use crate::chips::Chip;
use crate::circuit::Flow;
use crate::fault::Injection;
use crate::options::Options;
use crate::parameters::CellParameters;
use crate::world::World;
use celltriage_firmware::board::LookCodes;
use celltriage_firmware::bus::{Freeable, LONGEST_TRANSFER, Lines, MOST_PULSES};
use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};

/// Time of a byte on the bus: nine clocks (the ninth acknowledges) at 400 kHz. Start and stop are left out.
const BYTE_NS: u64 = 22_500;

/// Time of a clock pulse by hand: 100 kHz, what every chip understands (UM10204, standard mode).
const PULSE_NS: u64 = 10_000;

/// What is true of the cell at this instant; no chip or program can see it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Truth {
    /// State of charge, 1 = full.
    pub soc: f64,
    /// Rested voltage at this state of charge, in volts.
    pub open_voltage_v: f64,
    /// Voltage at the terminals as connected (a reversed cell: negative), in volts.
    pub voltage_v: f64,
    /// Current, positive discharging, in amperes.
    pub current_a: f64,
    /// Temperature of the cell in degrees Celsius.
    pub temperature_c: f64,
    /// Charge taken out at the terminals since the cell was put on, in coulombs.
    pub charge_out_c: f64,
}

/// The bench.
#[derive(Clone, Debug)]
pub struct Bench {
    now_ns: u64,
    world: World,
    transactions: u64,
}

impl Bench {
    /// Returns a bench that was just powered up, with a cell on it.
    pub fn new(parameters: CellParameters, options: &Options) -> Self {
        Self { now_ns: 0, world: World::new(parameters, options), transactions: 0 }
    }

    /// Returns the time since the bench was made, in nanoseconds.
    pub const fn now_ns(&self) -> u64 {
        self.now_ns
    }

    /// Returns how many bus transactions there were.
    pub const fn transactions(&self) -> u64 {
        self.transactions
    }

    /// Returns whether the load-enable pin is on.
    pub const fn load_is_on(&self) -> bool {
        self.world.circuit().sink.enabled
    }

    /// Lets time pass until an instant; an instant that is over changes nothing.
    pub fn sleep_until(&mut self, until_ns: u64) {
        self.now_ns = self.now_ns.max(until_ns);
    }

    /// Drives the load-enable pin.
    pub fn set_load_enable(&mut self, on: bool) {
        if self.load_is_on() != on {
            self.catch_up();
            self.world.circuit_mut().sink.enabled = on;
        }
    }

    /// Returns what the polarity comparator says.
    pub fn cell_is_reversed(&mut self) -> bool {
        self.meet_faults();
        let circuit = self.world.circuit();
        circuit.reversed && circuit.cell.is_some()
    }

    /// Returns what the controller's own converter reads. It sees the world as it was when the monitor was read last, a
    /// conversion ago at most: to work it out up to now would cut its spans elsewhere, and move last digits of the monitor.
    pub fn second_look(&mut self) -> Option<LookCodes> {
        self.meet_faults();
        self.world.second_look()
    }

    /// Returns whether the program hangs.
    pub fn program_hangs(&mut self) -> bool {
        self.meet_faults();
        self.world.program_hangs()
    }

    /// The watchdog has reset the controller: the pin is as without a program, and the program runs again.
    pub fn restart_program(&mut self) {
        self.set_load_enable(false);
        self.world.restart_program();
    }

    /// Takes off the cell, if there is one, and puts on another that has lain in the room, if one is given.
    pub fn swap_cell(&mut self, cell: Option<(CellParameters, f64)>) {
        self.catch_up();
        let circuit = self.world.circuit_mut();
        let ambient_c = circuit.ambient_c;
        circuit.cell = cell.map(|(parameters, soc)| Cell::new(parameters, soc, ambient_c));
    }

    /// Returns what is true at this instant, if there is a cell.
    pub fn truth(&mut self) -> Option<Truth> {
        self.catch_up();
        let Flow { voltage_v, current_a } = self.world.circuit().instant();
        self.world.circuit().cell.as_ref().map(|cell| Truth {
            soc: cell.soc(),
            open_voltage_v: cell.open_voltage(),
            voltage_v,
            current_a,
            temperature_c: cell.temperature_c(),
            charge_out_c: cell.charge_out_c(),
        })
    }

    /// Takes the supply away for a moment: pin and chips are as after power-up.
    pub fn power_cycle(&mut self) {
        self.set_load_enable(false);
        self.catch_up();
        self.world.power_cycle();
    }

    /// Adds a fault; it begins when it says, or now if that is over.
    pub fn inject(&mut self, injection: Injection) {
        self.catch_up();
        self.world.inject(injection, self.transactions);
    }

    /// Mends all faults and forgets those to come. A cell that was warmed stays warm.
    pub fn mend(&mut self) {
        self.catch_up();
        self.world.mend();
    }

    fn catch_up(&mut self) {
        self.world.advance(self.now_ns, self.transactions);
    }

    /// Lets faults begin whose time has come.
    fn meet_faults(&mut self) {
        if self.now_ns >= self.world.next_fault() {
            self.catch_up();
        }
    }

    /// Lets bytes pass on the bus.
    const fn pass_bytes(&mut self, bytes: usize) {
        self.now_ns += BYTE_NS * bytes as u64;
    }
}

impl Freeable for Bench {
    fn free(&mut self) -> Lines {
        self.meet_faults();
        if !self.world.bus_is_held(self.now_ns) {
            return Lines::Free { pulses: 0 };
        }
        let freed = self.world.clock(MOST_PULSES);
        self.now_ns += PULSE_NS * u64::from(freed.unwrap_or(MOST_PULSES));
        freed.map_or(Lines::Held, |pulses| Lines::Free { pulses })
    }
}

impl ErrorType for Bench {
    type Error = ErrorKind;
}

impl I2c for Bench {
    fn transaction(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), ErrorKind> {
        self.transactions += 1;
        self.meet_faults();
        self.world.begin_faults(self.transactions);
        if self.world.bus_is_held(self.now_ns) {
            self.now_ns += LONGEST_TRANSFER.get() * 1_000;
            return Err(ErrorKind::Bus);
        }
        let Some(chip) = Chip::at(address).filter(|&chip| self.world.acknowledges(chip)) else {
            self.pass_bytes(1);
            return Err(ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address));
        };
        // Each operation is taken as addressed again; two writes in a row are two, not one in two parts.
        for operation in operations {
            match operation {
                Operation::Write(bytes) => {
                    self.pass_bytes(1 + bytes.len());
                    // A lone register number changes nothing in the world.
                    if bytes.len() > 1 {
                        self.catch_up();
                    }
                    self.world.write(chip, bytes, self.now_ns);
                }
                Operation::Read(into) => {
                    self.pass_bytes(1);
                    if self.now_ns >= self.world.next_change(chip) {
                        self.catch_up();
                    }
                    self.world.read(chip, into, self.now_ns);
                    self.pass_bytes(into.len());
                }
            }
        }
        Ok(())
    }
}
