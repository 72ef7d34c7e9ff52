//! The far end of a serial line: a pseudo-terminal with the simulated fixture behind it, in a thread of its own.
//!
//! The fixture's clock runs ahead as fast as the host listens; the host paces its keep-alives by the fixture's time. On a
//! busy machine the host may not get its turn for longer than the fixture bears its silence: the clock then waits for it,
//! up to a real time after which the host is taken for dead and the guard for what it is.

use celltriage_protocol::limits;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::{fixture::SimulatedFixture, library};
use serialport::{SerialPort, TTYPort};
use std::io::{ErrorKind, Read, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The far end of the line: a thread that plays the fixture, and may garble what it sends.
pub struct FarEnd {
    /// The name of the near end.
    pub port: String,
    /// Ends the thread: the line is then unplugged.
    pub quit: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    _slave: TTYPort,
}

/// The fixture's clock runs in steps of this length.
const STEP: Micros = Micros::from_millis(20);

/// So far the fixture's clock runs without a word from the host: half of what its guard bears.
const AHEAD: Micros = Micros::new(limits::HOST_SILENCE.get() / 2);

/// A host that is silent for so much real time is dead, not slow; the host's own patience is shorter by far.
pub const PATIENCE: Duration = Duration::from_secs(20);

impl FarEnd {
    /// Plays a fixture that waits for a slow host, and garbles every n-th byte if there is an n.
    ///
    /// # Panics
    /// If the system gives no pseudo-terminal.
    pub fn start(garble_every: Option<usize>) -> Self {
        Self::with_patience(garble_every, PATIENCE)
    }

    /// The same with so much real time for a host that says nothing.
    ///
    /// # Panics
    /// If the system gives no pseudo-terminal.
    pub fn with_patience(garble_every: Option<usize>, patience: Duration) -> Self {
        let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
        let port = slave.name().expect("a pseudo-terminal has a name");
        let quit = Arc::new(AtomicBool::new(false));
        let ended = Arc::clone(&quit);
        let thread = std::thread::spawn(move || {
            let cell = library::sound();
            let options = cell.options(11);
            let mut fixture = SimulatedFixture::new(cell.parameters, options);
            master.set_timeout(Duration::from_millis(1)).expect("a time-out");
            let (mut buffer, mut out, mut sent) = ([0u8; 512], Vec::new(), 0usize);
            let (mut heard, mut alone) = (Instant::now(), Micros::ZERO);
            while !ended.load(Ordering::Relaxed) {
                match master.read(&mut buffer) {
                    Ok(count) => {
                        fixture.send(&buffer[..count]);
                        (heard, alone) = (Instant::now(), Micros::ZERO);
                    }
                    Err(error) if error.kind() == ErrorKind::TimedOut => {}
                    Err(_) => break,
                }
                if alone >= AHEAD && heard.elapsed() < patience {
                    continue;
                }
                out.clear();
                fixture.receive(STEP, &mut out);
                alone = alone.saturating_add(STEP);
                for byte in &mut out {
                    sent += 1;
                    if garble_every.is_some_and(|every| sent.is_multiple_of(every)) {
                        *byte ^= 0x5A;
                    }
                }
                if !sent_whole(&mut master, &out, &ended) {
                    break;
                }
            }
        });
        Self { port, quit, thread: Some(thread), _slave: slave }
    }
}

/// Sends all bytes; a line that is full waits for its reader. Returns whether it is still there.
fn sent_whole(master: &mut TTYPort, mut bytes: &[u8], ended: &AtomicBool) -> bool {
    while !bytes.is_empty() && !ended.load(Ordering::Relaxed) {
        match master.write(bytes) {
            Ok(count) => bytes = bytes.get(count..).unwrap_or_default(),
            Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::WouldBlock) => {}
            Err(_) => return false,
        }
    }
    true
}

impl Drop for FarEnd {
    fn drop(&mut self) {
        self.quit.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().expect("the far end ends well");
        }
    }
}
