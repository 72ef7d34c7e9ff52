//! The real board's pins are those of the wiring table that a person builds from.

use celltriage_tests::read_of_project as read;
use toml::Table;

/// Returns the number after a text in the source, up to a semicolon.
fn number_after(source: &str, text: &str) -> i64 {
    let rest = source.split_once(text).unwrap_or_else(|| panic!("`{text}` is not in pins.rs")).1;
    let digits = rest.split(';').next().unwrap_or_default().replace('_', "");
    digits.trim().parse().unwrap_or_else(|error| panic!("`{text}` is followed by `{digits}`: {error}"))
}

#[test]
fn the_pins_of_the_board_file_are_those_of_the_wiring_table() {
    let pins = read("firmware/boards/pico2/src/pins.rs");
    let wiring: Table = read("hardware-notes/wiring.toml").parse().expect("TOML");
    let told = |table: &str, name: &str| match &wiring[table][name] {
        toml::Value::Table(line) => line["gpio"].as_integer().expect("a number"),
        value => value.as_integer().expect("a number"),
    };
    for (name, table, key) in [
        ("Sda", "bus", "sda"),
        ("Scl", "bus", "scl"),
        ("LoadEnable", "load_enable", "gpio"),
        ("Polarity", "polarity", "gpio"),
        ("Lamp", "lamp", "gpio"),
        ("Force", "look_force", "gpio"),
        ("SinkCurrent", "look_current", "gpio"),
        ("Reference", "look_reference", "gpio"),
    ] {
        let here = number_after(&pins, &format!("pub type {name} = peripherals::PIN_"));
        assert_eq!(here, told(table, key), "{name}");
    }
    assert_eq!(number_after(&pins, "const LOAD_ENABLE: u8 = "), told("load_enable", "gpio"));
    assert_eq!(number_after(&pins, "const DATA_LINE: usize = "), told("bus", "sda"));
    assert_eq!(number_after(&pins, "const CLOCK_LINE: usize = "), told("bus", "scl"));
    assert_eq!(number_after(&pins, "pub const BUS_HERTZ: u32 = "), told("bus", "hertz"));
}

#[test]
fn the_levels_that_the_board_file_takes_for_granted_are_those_of_the_wiring_table() {
    let wiring: Table = read("hardware-notes/wiring.toml").parse().expect("TOML");
    assert_eq!(wiring["load_enable"]["on"].as_str(), Some("high"));
    assert_eq!(wiring["polarity"]["reversed"].as_str(), Some("high"));
    assert_eq!(wiring["lamp"]["on"].as_str(), Some("high"));
    let board = read("firmware/boards/pico2/src/board.rs");
    assert!(board.contains("self.load_enable.set_level(on.into())"));
    assert!(board.contains("self.polarity.is_high()"));
}

#[test]
fn both_boards_set_the_same_stack_aside_and_bite_after_the_same_time() {
    let stack = |board: &str| {
        let map = read(&format!("firmware/boards/{board}/memory.x"));
        let line =
            map.lines().find(|line| line.trim_start().starts_with("STACK")).expect("a stack").to_owned();
        line.rsplit('=').next().expect("a length").trim().to_owned()
    };
    assert_eq!(stack("pico2"), stack("emulated"));
    assert!(
        read("firmware/boards/pico2/src/board.rs")
            .contains("const WATCHDOG: Duration = Duration::from_millis(100);")
    );
    assert!(
        read("firmware/boards/emulated/src/board.rs")
            .contains("const WATCHDOG: Micros = Micros::from_millis(100);")
    );
    assert!(
        read("firmware/boards/simulated/src/fixture.rs").contains("const WATCHDOG_NS: u64 = 100_000_000;")
    );
}
