//! The contract between fixture and host: frozen bytes, random damage, bytes per sample.

#[path = "wire.rs"]
mod wire;
#[path = "wire_v01.rs"]
mod wire_v01;
#[path = "wire_v02.rs"]
mod wire_v02;
