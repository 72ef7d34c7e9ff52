//! A person calibrates a fixture on a serial port and types what the reference reads, at times wrongly.
//!
//! The fixture is the simulated one with a supply on its leads, at the far end of a pseudo-terminal.

use celltriage_instrument::calibration::{CALIBRATION, CalibrationRecord};
use celltriage_link::{Client, Link, SerialLink, SimulatedLink};
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_tests::{Call, FIXTURE, NOON, Shop};
use serialport::{SerialPort, TTYPort};
use std::io::{ErrorKind, Read, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

/// A fixture with a supply on its leads, played by a thread, and the workshop that calibrates it.
struct PlayedFixture {
    port: String,
    shop: Shop,
    quit: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    _slave: TTYPort,
}

impl PlayedFixture {
    fn new() -> Self {
        let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
        let port = slave.name().expect("a pseudo-terminal has a name");
        let quit = Arc::new(AtomicBool::new(false));
        let ended = Arc::clone(&quit);
        let thread = std::thread::spawn(move || {
            let mut fixture = SimulatedLink::with("supply", 5, None).expect("there is a supply");
            master.set_timeout(Duration::from_millis(1)).expect("a time-out");
            let (mut buffer, mut out) = ([0u8; 512], Vec::new());
            while !ended.load(Ordering::Relaxed) {
                match master.read(&mut buffer) {
                    Ok(count) => fixture.send(&buffer[..count]).expect("the simulated link holds"),
                    Err(error) if error.kind() == ErrorKind::TimedOut => {}
                    Err(_) => break,
                }
                out.clear();
                fixture.receive(&mut out, Duration::from_millis(20)).expect("the simulated link holds");
                if master.write_all(&out).is_err() {
                    break;
                }
            }
        });
        Self { port, shop: Shop::new(), quit, thread: Some(thread), _slave: slave }
    }

    fn calibrate(&self, quantity: &str, typed: &[&str]) -> Call {
        let mut all = vec!["fixture", "calibrate", quantity, "--port", &self.port];
        all.extend(["--by", "M. Adeyemi", "--reference", "bench meter 7"]);
        all.extend(["--of-reading-percent", "0.2", "--plus", "0.0005"]);
        self.shop.call(NOON, &all, Some(typed))
    }

    fn stored(&self) -> Calibration {
        let link = SerialLink::open(&self.port).expect("the port opens");
        let (mut client, ..) = Client::connect(link).expect("the fixture answers");
        match client.ask(&Request::ReadCalibration) {
            Ok(Reply::Calibration(calibration)) => calibration,
            other => panic!("{other:?}"),
        }
    }

    fn records(&self) -> Vec<CalibrationRecord> {
        let found = self
            .shop
            .open()
            .records(
                CALIBRATION,
                &celltriage_book::Subject::new(celltriage_book::SubjectKind::Fixture, FIXTURE),
            )
            .expect("it is read");
        found.into_iter().map(|(_, record)| record).collect()
    }
}

impl Drop for PlayedFixture {
    fn drop(&mut self) {
        self.quit.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().expect("the far end ends well");
        }
    }
}

#[test]
fn a_slip_of_the_keyboard_is_asked_again_and_what_is_accepted_is_stored() {
    let fixture = PlayedFixture::new();
    // The supply of the simulated bench stands at 4 V; the comma is that of a keyboard in Port Ellery.
    let done = fixture.calibrate("current", &["o", "0,0000", "", "inf", "1.5 A", "1,5000", "y"]);
    assert_eq!(done.code, 0, "{}", done.err);
    for slip in ["\"o\" is no number", "\"inf\" is no number", "\"1.5 A\" is no number"] {
        assert!(done.err.contains(slip), "{slip}: {}", done.err);
    }
    let records = fixture.records();
    assert_eq!(records.len(), 1);
    assert_eq!(records[0].points.iter().map(|point| point.reference).collect::<Vec<_>>(), [0.0, 1.5]);
    assert_eq!(fixture.stored(), records[0].new);
    assert_ne!(records[0].new.current, records[0].old.current, "it was off, and is moved");
}

#[test]
fn whoever_goes_away_in_the_middle_or_says_no_leaves_everything_as_it_was() {
    let fixture = PlayedFixture::new();
    let cases: [(&str, &[&str]); 6] = [
        ("voltage", &[]),
        // The supply stands at 4 V: no reading of 3 V is believed.
        ("voltage", &["3.0"]),
        ("current", &["0"]),
        ("current", &["0", ""]),
        ("thermometers", &["25.0"]),
        ("thermometers", &["25.0", "n"]),
    ];
    for (quantity, typed) in cases {
        let done = fixture.calibrate(quantity, typed);
        assert_eq!(done.code, 2, "{quantity} {typed:?}: {}", done.err);
        assert!(done.err.contains("nothing was stored"), "{quantity} {typed:?}: {}", done.err);
    }
    assert_eq!(fixture.stored(), Calibration::default());
    assert_eq!(fixture.records().len(), 0);
}
