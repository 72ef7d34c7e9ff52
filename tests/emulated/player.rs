//! Plays the bench for an emulated fixture: takes its questions, gives the simulated chips' answers.
//!
//! What the questions mean stands in `words.rs`. Everything a test may want to see or change lies in [`Scene`].

use crate::pace::Pace;
use crate::words::{ANSWER, FLASH, QUESTION, SECTOR, flag, kind};
use celltriage_simulated_board::bench::Bench;
use defmt_decoder::Table;
use embedded_hal::i2c::{I2c, Operation};
use std::io::{self, Read, Write};
use std::sync::{Arc, Mutex, MutexGuard};

/// What the player and the test share.
#[derive(Debug)]
pub struct Scene {
    /// The simulated bench.
    pub bench: Bench,
    /// Time of the bench at which the fixture's program started last: its clock begins there.
    pub started_ns: u64,
    /// Levels of the enable pin with the bench's time of each change, in nanoseconds.
    pub pin: Vec<(u64, bool)>,
    /// Bench's times at which the program started.
    pub starts: Vec<u64>,
    /// Bench's times at which the program said that it failed.
    pub failures: Vec<u64>,
    /// Log lines.
    pub log: Vec<String>,
    /// Content of the calibration's flash.
    pub flash: Vec<u8>,
    /// How many more bytes can be erased or written before the fixture's power fails.
    pub flash_power: usize,
    /// Whether it has failed.
    pub power_has_failed: bool,
    /// Whether someone holds the bus's clock line low.
    pub bus_is_held: bool,
    /// Flags to give with the next wait.
    pub wishes: u8,
    /// Untouched bytes of the stack and its size, as told last.
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
}

impl Scene {
    /// Returns a scene with a bench whose fixture is not yet started.
    pub fn new(bench: Bench) -> Self {
        Self {
            bench,
            started_ns: 0,
            pin: Vec::new(),
            starts: Vec::new(),
            failures: Vec::new(),
            log: Vec::new(),
            flash: vec![0xFF; FLASH],
            flash_power: usize::MAX,
            power_has_failed: false,
            bus_is_held: false,
            wishes: 0,
            stack: None,
            executed_ns: 0,
            longest_pass_ns: 0,
            now_ns: 0,
            pass_ns: 0,
            answered_ns: 0,
            pace: Pace::new(),
        }
    }

    /// Returns when the enable pin fell last.
    pub fn fell_ns(&self) -> Option<u64> {
        self.pin.windows(2).rev().find(|pair| pair[0].1 && !pair[1].1).map(|pair| pair[1].0)
    }

    /// Gives the fixture power for as long as it wants.
    pub fn restore_power(&mut self) {
        (self.flash_power, self.power_has_failed) = (usize::MAX, false);
    }

    fn set_pin(&mut self, on: bool) {
        if self.bench.load_is_on() != on {
            self.pin.push((self.bench.now_ns(), on));
        }
        self.bench.set_load_enable(on);
    }

    /// The program has started; whatever it drove before has fallen with the reset.
    fn awake(&mut self) {
        self.set_pin(false);
        self.started_ns = self.bench.now_ns();
        self.starts.push(self.started_ns);
        (self.answered_ns, self.pass_ns) = (0, 0);
        self.pace.begin_anew();
    }

    fn account(&mut self, clock_ns: u64) {
        let executed = clock_ns.saturating_sub(self.answered_ns);
        self.executed_ns += executed;
        self.pass_ns += executed;
    }

    fn transact(&mut self, rest: &[u8]) -> Option<(u8, Vec<u8>)> {
        let (&address, mut rest) = rest.split_first()?;
        let mut writes = Vec::new();
        while let [direction, length, after @ ..] = rest {
            let length = usize::from(*length);
            let (bytes, after) =
                if *direction == 0 { after.split_at_checked(length)? } else { (&[][..], after) };
            writes.push((*direction == 0, bytes.to_vec(), vec![0; length]));
            rest = after;
        }
        let mut operations: Vec<Operation<'_>> = writes
            .iter_mut()
            .map(|(is_write, bytes, into)| match is_write {
                true => Operation::Write(bytes),
                false => Operation::Read(into),
            })
            .collect();
        let refused = self.bench.transaction(address, &mut operations).is_err();
        let read =
            writes.into_iter().filter(|(is_write, ..)| !is_write).flat_map(|(_, _, into)| into).collect();
        Some((if refused { flag::REFUSED } else { 0 }, read))
    }

    /// Changes one byte of the flash; nothing where the power is gone.
    fn change_flash(&mut self, at: usize, change: impl Fn(u8) -> u8) -> Option<()> {
        self.power_has_failed = self.flash_power == 0;
        self.flash_power = self.flash_power.checked_sub(1)?;
        let byte = self.flash.get_mut(at)?;
        *byte = change(*byte);
        Some(())
    }

    /// Answers a question; nothing where the fixture's power fails over it.
    fn answer(&mut self, kind: u8, clock_ns: u64, rest: &[u8]) -> Option<(u8, u64, Vec<u8>)> {
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
        self.bench.sleep_until(self.started_ns + clock_ns);
        let (mut flags, mut bytes) = (0, Vec::new());
        match kind {
            kind::AWAKE => {}
            kind::PIN => self.set_pin(rest == [1]),
            kind::BUS if self.bus_is_held => {
                flags |= flag::HELD;
                bytes = vec![0; self.transact(rest).expect("a whole question").1.len()];
            }
            kind::BUS => (flags, bytes) = self.transact(rest).expect("a whole question"),
            kind::WAIT => {
                self.longest_pass_ns = self.longest_pass_ns.max(std::mem::take(&mut self.pass_ns));
                let until_ns = u64::from(number(0)) | u64::from(number(4)) << 32;
                let granted = self.pace.grant(clock_ns, until_ns, number(8));
                self.bench.sleep_until(self.started_ns + granted);
                flags |= std::mem::take(&mut self.wishes);
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
                (number(0)..number(4)).try_for_each(|at| self.change_flash(at as usize, |_| 0xFF))?;
            }
            kind::FLASH_WRITE => {
                let places = number(0) as usize..;
                places.zip(&rest[4..]).try_for_each(|(at, byte)| self.change_flash(at, |old| old & byte))?;
            }
            kind::STACK => self.stack = Some((number(0), number(4))),
            other => panic!("the fixture asks something unknown: {other}"),
        }
        if self.bench.cell_is_reversed() {
            flags |= flag::REVERSED;
        }
        self.now_ns = self.bench.now_ns();
        self.answered_ns = self.now_ns - self.started_ns;
        Some((flags, self.answered_ns, bytes))
    }
}

/// Locks a scene, also after a test has failed with it locked.
pub fn lock(scene: &Arc<Mutex<Scene>>) -> MutexGuard<'_, Scene> {
    scene.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}

/// Answers questions until the fixture is gone or its power has failed.
pub fn play(
    scene: &Arc<Mutex<Scene>>,
    questions: &mut impl Read,
    answers: &mut impl Write,
    program: &[u8],
) -> io::Result<()> {
    let table = Table::parse(program).ok().flatten().expect("the program has a defmt table");
    let mut decoder = table.new_stream_decoder();
    loop {
        let mut head = [0; QUESTION];
        questions.read_exact(&mut head)?;
        let [kind, clock @ .., l0, l1] = head;
        let mut rest = vec![0; usize::from(u16::from_le_bytes([l0, l1]))];
        questions.read_exact(&mut rest)?;
        let mut scene = lock(scene);
        match kind {
            kind::LOG => {
                decoder.received(&rest);
                while let Ok(frame) = decoder.decode() {
                    scene.log.push(frame.display_message().to_string());
                }
            }
            kind::FAILED => {
                let now_ns = scene.bench.now_ns();
                scene.failures.push(now_ns);
                scene.set_pin(false);
            }
            _ => {
                let Some((flags, clock_ns, bytes)) = scene.answer(kind, u64::from_le_bytes(clock), &rest)
                else {
                    return Err(io::Error::other("the fixture's power has failed"));
                };
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
