//! Text files that people write: read as TOML key by key, so that one reading finds every fault with its place.
//!
//! ```text
//! text --Reading::begin--> Reading (faults so far) + Fields (keys not yet taken)
//!      --Fields::take, need, tables--> values with their places
//!      --Fields::finish--> a fault for each key that nobody took: "did you mean ...?"
//!      --Reading::end--> the value, or all Faults in the order of the file
//! ```
//! A file whose form serde can read whole may be read with [`Place`] and [`read`] at once; the first fault ends that.

mod fault;
mod fields;
mod place;
mod reading;
mod toml_text;
mod words;

pub use fault::{Fault, Faults};
pub use fields::{Fields, Found};
pub use place::Place;
pub use reading::Reading;
pub use toml_text::read;
pub use words::{closest, suggestion};
