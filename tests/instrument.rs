//! The fixture as an instrument, and the watch over a hot cell.

#[path = "calibrate_by_hand.rs"]
mod calibrate_by_hand;
#[path = "calibration.rs"]
mod calibration;
#[path = "check_standard.rs"]
mod check_standard;
#[path = "fixture_command.rs"]
mod fixture_command;
#[path = "hot_cell_command.rs"]
mod hot_cell_command;
#[path = "hot_cell_locked.rs"]
mod hot_cell_locked;
#[path = "hot_cell_watch.rs"]
mod hot_cell_watch;
#[path = "update_command.rs"]
mod update_command;
#[path = "update_fixture.rs"]
mod update_fixture;
#[path = "update_image.rs"]
mod update_image;
#[path = "update_workshop.rs"]
mod update_workshop;
