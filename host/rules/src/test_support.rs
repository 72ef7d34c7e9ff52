//! What the tests of several crates share.

/// No place, every place with rules of its own, some without, and one that does not exist.
pub const PLACES: [Option<&str>; 16] = [
    None,
    Some("US"),
    Some("US-CA"),
    Some("US-WA"),
    Some("US-NY"),
    Some("EU"),
    Some("DE"),
    Some("FR"),
    Some("GB"),
    Some("CA"),
    Some("CA-ON"),
    Some("AU"),
    Some("IN"),
    Some("JP"),
    Some("SG"),
    Some("ZZ"),
];
