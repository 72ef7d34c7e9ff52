//! Offers the simulated fixture on a pseudo-terminal, so that the host's `--port` can be tried without hardware.
//!
//! ```sh
//! cargo run --release -p celltriage-simulated-board --example on_a_port -- sound 10
//! celltriage assess --id PE-1 --port /dev/pts/N --no-signs ...
//! ```
//! The first argument is the kind of cell, the second how many times faster than real time the bench runs.

use celltriage_protocol::units::Micros;
use celltriage_simulated_board::{fixture::SimulatedFixture, library};
use serialport::{SerialPort, TTYPort};
use std::error::Error;
use std::io::{ErrorKind, Read, Write};
use std::time::{Duration, Instant};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let kind = arguments.next().unwrap_or_else(|| "sound".to_owned());
    let speed: u32 = arguments.next().unwrap_or_else(|| "1".to_owned()).parse()?;
    let cell = library::all()
        .into_iter()
        .find(|cell| cell.parameters.tables().name.replace(' ', "-") == kind)
        .ok_or_else(|| format!("there is no cell `{kind}`"))?;
    let options = cell.options(1);
    let mut fixture = SimulatedFixture::new(cell.parameters, options);

    let (mut line, far_end) = TTYPort::pair()?;
    line.set_timeout(Duration::from_millis(2))?;
    println!("{}", far_end.name().ok_or("the pseudo-terminal has no name")?);

    let began = Instant::now();
    let (mut buffer, mut out) = ([0u8; 4096], Vec::new());
    loop {
        match line.read(&mut buffer) {
            Ok(count) => fixture.send(buffer.get(..count).unwrap_or_default()),
            Err(error) if error.kind() == ErrorKind::TimedOut => {}
            Err(error) => return Err(error.into()),
        }
        let due = began.elapsed().as_micros() as u64 * u64::from(speed);
        loop {
            let behind = due.saturating_sub(fixture.now().get());
            if behind == 0 {
                break;
            }
            fixture.receive(Micros::new(behind), &mut out);
            line.write_all(&out)?;
            out.clear();
        }
    }
}
