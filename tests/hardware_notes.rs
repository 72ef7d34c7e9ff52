//! What the hardware notes tell the maker is what firmware, protocol and host do.

use celltriage_firmware::drivers::thermometer::Thermometer;
use celltriage_firmware::drivers::{power_monitor, set_point};
use celltriage_firmware::second_look;
use celltriage_protocol::usb;
use celltriage_simulated_board::controller_adc;
use celltriage_tests::read_of_project as read;
use toml::Table;

fn table(path: &str) -> Table {
    read(path).parse().unwrap_or_else(|error| panic!("{path}: {error}"))
}

#[test]
fn the_chips_answer_where_the_drivers_look_for_them() {
    let wiring = table("hardware-notes/wiring.toml");
    for (chip, address) in [
        ("power_monitor", power_monitor::ADDRESS),
        ("cell_thermometer", Thermometer::Cell.address()),
        ("air_thermometer", Thermometer::Ambient.address()),
        ("set_point", set_point::ADDRESS),
    ] {
        assert_eq!(wiring["address"][chip]["at"].as_integer(), Some(i64::from(address)), "{chip}");
    }
}

#[test]
fn the_second_look_is_worked_out_with_the_values_of_the_circuit() {
    let circuit = table("hardware-notes/circuit/circuit.toml");
    let value = |part: &str| circuit["part"][part]["value"].as_str().expect("a value").to_owned();
    assert_eq!(value("RS2"), format!("{} mOhm 0.5 %", second_look::SENSE_UOHM / 1_000));
    assert_eq!(value("U6"), format!("{:.1} V reference", second_look::REFERENCE_UV as f64 / 1e6));
    for (upper, lower, ohms) in
        [("R29", "R30", controller_adc::FORCE_OHM), ("R31", "R32", controller_adc::REFERENCE_OHM)]
    {
        let told = format!("{} kOhm", ohms / 1e3);
        assert_eq!((value(upper), value(lower)), (told.clone(), told), "two equal halves");
    }
    assert_eq!(value("R33"), format!("{} kOhm", controller_adc::CURRENT_OHM / 1e3));
    assert_eq!(value("RS2"), format!("{} mOhm 0.5 %", controller_adc::SENSE_OHM * 1e3));
    assert_eq!(controller_adc::REFERENCE_V, second_look::REFERENCE_UV as f64 / 1e6);
}

#[test]
fn the_port_says_what_the_wiring_table_says() {
    let wiring = table("hardware-notes/wiring.toml");
    let told = &wiring["usb"];
    assert_eq!(told["vendor"].as_integer(), Some(i64::from(usb::VENDOR_ID)));
    assert_eq!(told["product"].as_integer(), Some(i64::from(usb::PRODUCT_ID)));
    assert_eq!(told["maker_text"].as_str(), Some(usb::MANUFACTURER));
    assert_eq!(told["product_text"].as_str(), Some(usb::PRODUCT));
}

#[test]
fn the_technician_reads_of_the_lamp_what_the_board_does_with_it() {
    let page = read("hardware-notes/use.md");
    let lamp = read("firmware/boards/pico2/src/lamp.rs");
    let rows: Vec<&str> = lamp
        .lines()
        .filter_map(|line| line.strip_prefix("//! | "))
        .filter(|row| !row.starts_with("it is"))
        .collect();
    assert!(rows.len() >= 4, "only {} rows of the lamp's table were found", rows.len());
    for row in rows {
        let (looks, _) = row.split_once(" | ").expect("two columns");
        assert!(page.contains(looks), "use.md does not tell of a lamp that is {looks}");
    }
}

/// Returns the lines of a page's shell blocks that call the program, without comments.
fn calls(page: &str) -> Vec<String> {
    let mut inside = false;
    let mut found = Vec::new();
    for line in read(page).lines() {
        if line.starts_with("```") {
            inside = line == "```sh";
        } else if let Some(call) = line.strip_prefix("celltriage ").filter(|_| inside) {
            found.push(call.split('#').next().unwrap_or_default().trim().to_owned());
        }
    }
    found
}

#[test]
fn every_command_that_the_calibration_page_tells_is_one_of_the_program() {
    let calls = calls("hardware-notes/calibration.md");
    assert!(calls.len() >= 8, "only {} commands were found", calls.len());
    for call in calls {
        let words: Vec<&str> = call.split(' ').collect();
        let command: Vec<&str> = words.iter().copied().take_while(|word| !word.starts_with('-')).collect();
        let answer = celltriage_tests::call(&[&command[..], &["--help"]].concat(), None);
        assert_eq!(answer.code, 0, "`{call}`: {}", answer.err);
        for option in words.iter().filter(|word| word.starts_with("--")) {
            let known = answer.out.split_whitespace().any(|shown| shown == *option);
            assert!(known, "`{call}`: {option} is no option");
        }
    }
}
