//! Whole runs on the simulated bench: accuracy, faults, links that lose and break, a book that is locked, the end of a run.

#[path = "adapter.rs"]
mod adapter;
#[path = "bad_lines.rs"]
mod bad_lines;
#[path = "bench_accuracy.rs"]
mod bench_accuracy;
#[path = "bench_faults.rs"]
mod bench_faults;
#[path = "keep_alive.rs"]
mod keep_alive;
#[path = "label_ends.rs"]
mod label_ends;
#[path = "link_breaks.rs"]
mod link_breaks;
#[path = "link_losses.rs"]
mod link_losses;
#[path = "locked_book.rs"]
mod locked_book;
#[path = "owners.rs"]
mod owners;
#[path = "port_strangers.rs"]
mod port_strangers;
#[path = "proof.rs"]
mod proof;
#[path = "run_end.rs"]
mod run_end;
#[path = "run_kept.rs"]
mod run_kept;
#[path = "run_unheard.rs"]
mod run_unheard;
#[path = "serial_delays.rs"]
mod serial_delays;
#[path = "serial_port.rs"]
mod serial_port;
#[path = "smallest_cell.rs"]
mod smallest_cell;
#[path = "unkept_run.rs"]
mod unkept_run;
#[path = "workshop_alone.rs"]
mod workshop_alone;
