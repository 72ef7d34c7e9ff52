//! Everything a workshop can do, as calls that any face can make.

pub mod capacity_run;
pub mod charge_permit;
pub mod history;
pub mod known_label;
