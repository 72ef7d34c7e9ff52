//! What people read of the fixture itself: list, identity, self-test, live values; as snapshots, without hardware.

use celltriage_link::discovery::ask;
use celltriage_link::{LinkError, SerialLink};
use celltriage_tests::{call, foreign_frame, snapshot};
use serialport::{SerialPort, TTYPort};
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

#[test]
fn identity_and_self_test_read_well() {
    snapshot!(
        "fixture_identify",
        call(&["fixture", "identify", "--simulated", "check-standard"], None).shown()
    );
    snapshot!(
        "fixture_self_test",
        call(&["fixture", "self-test", "--simulated", "check-standard", "--load"], None).shown()
    );
    snapshot!(
        "fixture_self_test_drifted",
        call(&["fixture", "self-test", "--simulated", "drifted", "--load"], None).shown()
    );
    snapshot!(
        "fixture_self_test_warm",
        call(&["fixture", "self-test", "--simulated", "self-warming"], None).shown()
    );
    snapshot!(
        "fixture_watch",
        call(&["fixture", "watch", "--simulated", "sound", "--for", "3"], None).shown()
    );
    snapshot!("fixture_unknown", call(&["fixture", "watch", "--simulated", "nothing"], None).shown());
    snapshot!("help_fixture_self_test", call(&["fixture", "self-test", "--help"], None).shown());
}

#[test]
fn json_keeps_to_its_contract_and_stands_alone_on_standard_output() {
    for (typed, schema) in [
        (vec!["fixture", "identify", "--simulated", "sound", "--json"], "celltriage.fixture/1"),
        (vec!["fixture", "self-test", "--simulated", "supply", "--json"], "celltriage.self-test/1"),
        (vec!["fixture", "list", "--json"], "celltriage.ports/1"),
    ] {
        let value: serde_json::Value = serde_json::from_str(&call(&typed, None).out).expect("JSON alone");
        assert_eq!(value["schema"], schema);
    }
    let lines = call(&["fixture", "watch", "--simulated", "sound", "--for", "2", "--json"], None).out;
    for line in lines.lines() {
        let value: serde_json::Value = serde_json::from_str(line).expect("one object on each line");
        assert!(value["voltage_v"].is_number(), "{line}");
    }
}

#[test]
fn the_newest_readings_are_drawn_over_the_ones_before_only_on_a_screen() {
    let call = call(&["fixture", "watch", "--simulated", "sound", "--for", "2"], None);
    assert!(!call.out.contains('\u{1b}'), "{}", call.out);
    assert_eq!(call.out.lines().count(), 3, "at the beginning, after one second, after two");
}

/// Asks at a port at which somebody says `words` again and again.
fn ask_at(words: &[u8]) -> LinkError {
    let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let name = slave.name().expect("a name");
    let quit = Arc::new(AtomicBool::new(false));
    let (ended, words) = (Arc::clone(&quit), words.to_vec());
    let far = std::thread::spawn(move || {
        while !ended.load(Ordering::Relaxed) && master.write_all(&words).is_ok() {
            std::thread::sleep(Duration::from_millis(10));
        }
    });
    let error = ask(&name).map(|_| ()).expect_err("not a fixture of ours");
    quit.store(true, Ordering::Relaxed);
    drop(slave);
    far.join().expect("the far end ends");
    error
}

/// A frame of another version with a message that this build does not know.
fn of_version(version: u8) -> Vec<u8> {
    const REPLY: u8 = 1;
    foreign_frame(version, REPLY, 1, &[250])
}

#[test]
fn older_and_newer_firmware_and_strangers_are_told_apart() {
    let newer = ask_at(&of_version(200));
    assert!(matches!(newer, LinkError::TooNew { theirs: 200 }), "{newer:?}");
    assert!(newer.to_string().contains("Update this program"), "{newer}");
    let older = ask_at(&of_version(0));
    assert!(matches!(older, LinkError::TooOld { theirs: 0 }), "{older:?}");
    assert!(older.to_string().contains("Update the fixture's firmware"), "{older}");
    let stranger = ask_at(b"login: \0");
    assert!(matches!(stranger, LinkError::NotOurs { .. }), "{stranger:?}");
}

#[test]
fn a_port_in_use_is_told_from_one_that_is_not_there() {
    let (_master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let name = slave.name().expect("a name");
    let first = SerialLink::open(&name).expect("free");
    let error = SerialLink::open(&name).map(|_| ()).expect_err("in use");
    assert!(matches!(error, LinkError::Busy { .. }), "{error:?}");
    let listed = call(&["fixture", "list", "--port", &name], None);
    assert!(listed.out.contains("is in use by another program"), "{}", listed.out);
    drop(first);
    // The system may take a moment to let go.
    let again = (0..40).find_map(|_| match SerialLink::open(&name) {
        Ok(link) => Some(link),
        Err(_) => {
            std::thread::sleep(Duration::from_millis(50));
            None
        }
    });
    assert!(again.is_some(), "free again: {:?}", SerialLink::open(&name).map(|_| ()));
}
