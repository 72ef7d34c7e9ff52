//! Plays the bench for an emulated fixture: takes its questions, gives the simulated chips' answers.
//!
//! What the questions mean stands in `words.rs`. Everything a test may want to see or change lies in [`Scene`].

use crate::pace::Pace;
use crate::transaction::{Part, bytes_read, parse};
use crate::words::{ANSWER, FLASH, QUESTION, SECTOR, flag, kind};
use celltriage_firmware::bus::{Freeable, LONGEST_TRANSFER, Lines};
use celltriage_simulated_board::bench::Bench;
use embedded_hal::i2c::{ErrorKind, I2c, Operation};
use std::io::{self, Read, Write};
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::{Duration, Instant};

/// How many of the first questions after each start are remembered.
const FIRST_ACTS: usize = 8;

/// A register that tells something else than the chip has.
#[derive(Debug)]
pub struct Forgery {
    /// Bus address of the chip.
    pub address: u8,
    /// Register.
    pub register: u8,
    /// What is read.
    pub bytes: Vec<u8>,
    /// How many times more.
    pub reads: usize,
}

impl Forgery {
    /// Returns a lasting one.
    pub fn new(address: u8, register: u8, bytes: &[u8]) -> Self {
        Self { address, register, bytes: bytes.to_vec(), reads: usize::MAX }
    }
}

/// What the player and the test share.
#[derive(Debug)]
pub struct Scene {
    /// The simulated bench.
    pub bench: Bench,
    /// Time of the bench at which the fixture's program started last: its clock begins there.
    pub started_ns: u64,
    /// Levels of the enable pin with the bench's time of each change, in nanoseconds.
    pub pin: Vec<(u64, bool)>,
    /// The program's own time at which it drove the pin first, whatever to.
    pub driven_ns: Option<u64>,
    /// Bench's times at which the program started.
    pub starts: Vec<u64>,
    /// Bench's times at which the program said that it failed.
    pub failures: Vec<u64>,
    /// The program's log as it writes it; [`crate::log::log_lines`] makes text of it.
    pub log: Vec<u8>,
    /// Content of the calibration's flash.
    pub flash: Vec<u8>,
    /// How many more bytes can be erased or written before the fixture's power fails; it comes back at once.
    pub flash_power: usize,
    /// Whether the flash refuses to be changed.
    pub flash_refuses: bool,
    /// Whether someone holds the bus's clock line low, until the test lets go.
    pub bus_is_held: bool,
    /// Registers that tell something else than the chips have.
    pub forged: Vec<Forgery>,
    /// One that does so once the load has gone off.
    pub forged_after_load: Option<Forgery>,
    /// A register of which the next writes are refused: address, register, and how many.
    pub refused_write: Option<(u8, u8, u32)>,
    /// What the program asked first since each start, with the first byte of the rest: the kinds that change something.
    pub first_acts: Vec<Vec<(u8, Option<u8>)>>,
    /// Flags to give with the next wait.
    pub wishes: u8,
    /// Whether the port fills up before each pass, as one does whose bytes come much faster than the emulated ones.
    pub hoards: bool,
    /// How much too long the fixture sleeps next.
    pub oversleep_ns: u64,
    /// Untouched bytes of the stack and its size, as last reported.
    pub stack: Option<(u32, u32)>,
    /// Time that instructions took, all in all, in nanoseconds.
    pub executed_ns: u64,
    /// The longest pass in nanoseconds, without what it waited for.
    pub longest_pass_ns: u64,
    /// The fixture's clock now, in the bench's time.
    pub now_ns: u64,
    pass_ns: u64,
    answered_ns: u64,
    /// How fast the fixture's time may pass.
    pub pace: Pace,
    /// The longest real times that the emulator has let wait for a question, and that its answer took: what a computer that is too
    /// busy shows in, and nothing else.
    pub longest_waits: (Duration, Duration),
}

impl Scene {
    /// Returns a scene with a bench whose fixture is not yet started.
    pub fn new(bench: Bench) -> Self {
        Self {
            bench,
            started_ns: 0,
            pin: Vec::new(),
            driven_ns: None,
            starts: Vec::new(),
            failures: Vec::new(),
            log: Vec::new(),
            flash: vec![0xFF; FLASH],
            flash_power: usize::MAX,
            flash_refuses: false,
            bus_is_held: false,
            forged: Vec::new(),
            forged_after_load: None,
            refused_write: None,
            first_acts: Vec::new(),
            wishes: 0,
            hoards: false,
            oversleep_ns: 0,
            stack: None,
            executed_ns: 0,
            longest_pass_ns: 0,
            now_ns: 0,
            pass_ns: 0,
            answered_ns: 0,
            pace: Pace::new(),
            longest_waits: (Duration::ZERO, Duration::ZERO),
        }
    }

    /// Returns when the enable pin fell last.
    pub fn fell_ns(&self) -> Option<u64> {
        self.pin.windows(2).rev().find(|pair| pair[0].1 && !pair[1].1).map(|pair| pair[1].0)
    }

    fn set_pin(&mut self, on: bool) {
        if self.bench.load_is_on() != on {
            self.pin.push((self.bench.now_ns(), on));
            if !on {
                self.forged.extend(self.forged_after_load.take());
            }
        }
        self.bench.set_load_enable(on);
    }

    /// The program has started; whatever it drove before has fallen with the reset.
    fn awake(&mut self) {
        self.set_pin(false);
        self.started_ns = self.bench.now_ns();
        self.starts.push(self.started_ns);
        self.first_acts.push(Vec::new());
        (self.answered_ns, self.pass_ns) = (0, 0);
        self.pace.begin_anew();
    }

    fn account(&mut self, clock_ns: u64) {
        let executed = clock_ns.saturating_sub(self.answered_ns);
        self.executed_ns += executed;
        self.pass_ns += executed;
    }

    fn transact(&mut self, address: u8, mut parts: Vec<Part>) -> (u8, Vec<u8>) {
        let mut operations: Vec<Operation<'_>> = parts
            .iter_mut()
            .map(|part| match part {
                Part::Write(bytes) => Operation::Write(bytes),
                Part::Read(into) => Operation::Read(into),
            })
            .collect();
        if let [Operation::Write([register, _, ..])] = operations[..]
            && let Some((refused_at, refused, times @ 1..)) = &mut self.refused_write
            && (*refused_at, *refused) == (address, *register)
        {
            *times -= 1;
            return (flag::REFUSED, Vec::new());
        }
        let told = match self.bench.transaction(address, &mut operations) {
            Ok(()) => 0,
            Err(ErrorKind::Bus) => flag::HELD,
            Err(_) => flag::REFUSED,
        };
        if let [Operation::Write([register]), Operation::Read(into)] = &mut operations[..]
            && let Some(forgery) =
                self.forged.iter_mut().find(|f| (f.address, f.register) == (address, *register))
            && forgery.reads > 0
        {
            forgery.reads -= 1;
            into.copy_from_slice(&forgery.bytes);
        }
        (told, bytes_read(parts))
    }

    /// Changes bytes of the flash one after the other; returns the flag to tell where the power fails over it.
    fn change_flash(&mut self, bytes: impl Iterator<Item = (usize, u8)>) -> u8 {
        if self.flash_refuses {
            return flag::REFUSED;
        }
        for (at, byte) in bytes {
            let Some(left) = self.flash_power.checked_sub(1) else {
                self.flash_power = usize::MAX;
                self.bench.power_cycle();
                return flag::POWER_FAILED;
            };
            (self.flash_power, self.flash[at]) = (left, byte);
        }
        0
    }

    /// Answers a question.
    fn answer(&mut self, kind: u8, clock_ns: u64, rest: &[u8]) -> (u8, u64, Vec<u8>) {
        let number = |at: usize| {
            let bytes =
                rest.get(at..at + 4).and_then(|bytes| bytes.try_into().ok()).expect("a whole question");
            u32::from_le_bytes(bytes)
        };
        if kind == kind::AWAKE {
            self.awake();
        } else {
            self.account(clock_ns);
        }
        if let Some(acts) = self.first_acts.last_mut()
            && acts.len() < FIRST_ACTS
        {
            acts.push((kind, rest.first().copied()));
        }
        self.bench.sleep_until(self.started_ns + clock_ns);
        let (mut flags, mut bytes) = (0, Vec::new());
        match kind {
            kind::AWAKE => {}
            kind::PIN => {
                self.driven_ns.get_or_insert(clock_ns);
                self.set_pin(rest == [1]);
            }
            kind::BUS => {
                let (address, parts) = parse(rest).expect("a whole question");
                (flags, bytes) = match self.bus_is_held {
                    true => {
                        self.bench.sleep_until(self.bench.now_ns() + LONGEST_TRANSFER.get() * 1_000);
                        (flag::HELD, bytes_read(parts))
                    }
                    false => self.transact(address, parts),
                };
            }
            kind::FREE => {
                let lines = if self.bus_is_held { Lines::Held } else { self.bench.free() };
                (flags, bytes) = match lines {
                    Lines::Held => (flag::HELD, vec![0]),
                    Lines::Free { pulses } => (0, vec![pulses]),
                };
            }
            kind::WAIT => {
                self.longest_pass_ns = self.longest_pass_ns.max(std::mem::take(&mut self.pass_ns));
                let until_ns = u64::from(number(0)) | u64::from(number(4)) << 32;
                let mut granted = self.pace.grant(clock_ns, until_ns, number(8));
                if granted == until_ns {
                    granted += std::mem::take(&mut self.oversleep_ns);
                }
                self.bench.sleep_until(self.started_ns + granted);
                flags |= std::mem::take(&mut self.wishes) | if self.hoards { flag::HOARD } else { 0 };
            }
            kind::FLASH_READ => {
                let length = usize::from(u16::from_le_bytes([rest[4], rest[5]]));
                let from = number(0) as usize;
                bytes = self.flash[from..from + length].to_vec();
            }
            kind::FLASH_ERASE => {
                assert!(
                    (number(0) as usize).is_multiple_of(SECTOR)
                        && (number(4) as usize).is_multiple_of(SECTOR)
                );
                flags |= self.change_flash((number(0)..number(4)).map(|at| (at as usize, 0xFF)));
            }
            kind::FLASH_WRITE => {
                let from = number(0) as usize;
                // Flash of this kind only turns ones into zeros.
                let old = self.flash[from..].to_vec();
                let new = old.iter().zip(&rest[4..]).map(|(old, new)| old & new);
                flags |= self.change_flash((from..).zip(new));
            }
            kind::LOOK => {
                bytes = vec![0; 6];
                match self.bench.second_look() {
                    Some(look) => {
                        let codes = [look.force, look.current, look.reference];
                        bytes = codes.iter().flat_map(|code| code.to_le_bytes()).collect();
                    }
                    None => flags |= flag::REFUSED,
                }
            }
            kind::STACK => self.stack = Some((number(0), number(4))),
            other => panic!("the fixture asks something unknown: {other}"),
        }
        if self.bench.cell_is_reversed() {
            flags |= flag::REVERSED;
        }
        self.now_ns = self.bench.now_ns();
        self.answered_ns = self.now_ns - self.started_ns;
        (flags, self.answered_ns, bytes)
    }
}

/// Locks a scene, also after a test has failed with it locked.
pub fn lock(scene: &Arc<Mutex<Scene>>) -> MutexGuard<'_, Scene> {
    scene.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}

/// Answers questions until the fixture is gone.
pub fn play(
    scene: &Arc<Mutex<Scene>>,
    questions: &mut impl Read,
    answers: &mut impl Write,
) -> io::Result<()> {
    loop {
        let mut head = [0; QUESTION];
        let waits = Instant::now();
        questions.read_exact(&mut head)?;
        let waited = waits.elapsed();
        let [kind, clock @ .., l0, l1] = head;
        let mut rest = vec![0; usize::from(u16::from_le_bytes([l0, l1]))];
        questions.read_exact(&mut rest)?;
        let asked = Instant::now();
        let mut scene = lock(scene);
        scene.longest_waits.0 = scene.longest_waits.0.max(waited);
        match kind {
            kind::LOG => scene.log.extend(rest),
            kind::FAILED => {
                let now_ns = scene.bench.now_ns();
                scene.failures.push(now_ns);
                scene.set_pin(false);
            }
            _ => {
                let (flags, clock_ns, bytes) = scene.answer(kind, u64::from_le_bytes(clock), &rest);
                scene.longest_waits.1 = scene.longest_waits.1.max(asked.elapsed());
                drop(scene);
                let mut answer = Vec::with_capacity(ANSWER + bytes.len());
                answer.push(flags);
                answer.extend(clock_ns.to_le_bytes());
                answer.extend(bytes);
                answers.write_all(&answer)?;
            }
        }
    }
}
