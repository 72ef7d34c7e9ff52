//! The house is in order: floors, files, limits stated once, notes and wiring against the code.

#[path = "circles.rs"]
mod circles;
#[path = "floors.rs"]
mod floors;
#[path = "hardware_notes.rs"]
mod hardware_notes;
#[path = "house.rs"]
mod house;
#[path = "pico2_wiring.rs"]
mod pico2_wiring;
