//! The fixture as an instrument, and the watch over a hot cell.

#[path = "calibrate_by_hand.rs"]
mod calibrate_by_hand;
#[path = "fixture_assurance.rs"]
mod fixture_assurance;
#[path = "fixture_command.rs"]
mod fixture_command;
#[path = "hot_cell_watch.rs"]
mod hot_cell_watch;
