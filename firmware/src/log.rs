//! Log lines over a debug probe: with the feature `defmt` they are sent, without it they are nothing.
//!
//! Trips, starts and ends of plans and chips that cannot be set up are logged, as plain numbers: the contract's types
//! know nothing of logging. The host gets all of this as events; the log is for whoever has a probe on the board.

/// Something is wrong.
macro_rules! warning {
    ($($part:expr),+ $(,)?) => {{
        #[cfg(feature = "defmt")]
        defmt::warn!($($part),+);
        #[cfg(not(feature = "defmt"))]
        { let _ = ($(&$part),+,); }
    }};
}

/// Something has happened.
macro_rules! note {
    ($($part:expr),+ $(,)?) => {{
        #[cfg(feature = "defmt")]
        defmt::info!($($part),+);
        #[cfg(not(feature = "defmt"))]
        { let _ = ($(&$part),+,); }
    }};
}

pub(crate) use {note, warning};
