//! What the cells really are: their kind on the bench, and what a careful eye would see.

use celltriage_measure::observation::Sign;
use std::fmt;

/// Cells of the shop's life.
pub const CELLS: u8 = 10;

/// What a cell really is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Sound.
    Sound,
    /// Has lost capacity.
    Faded,
    /// Has a high resistance.
    Tired,
    /// Swollen.
    Swollen,
    /// Leaks, and measures as a sound one.
    Leaking,
    /// Warms by itself.
    Warming,
    /// Far too deeply discharged.
    Dead,
    /// Its poles are the other way round.
    Reversed,
}

impl Kind {
    /// All kinds; the commoner ones more than once.
    pub const DRAWN: [Self; 10] = [
        Self::Sound,
        Self::Sound,
        Self::Sound,
        Self::Faded,
        Self::Tired,
        Self::Swollen,
        Self::Leaking,
        Self::Warming,
        Self::Dead,
        Self::Reversed,
    ];

    /// Its name on the simulated bench.
    pub const fn on_bench(self) -> &'static str {
        match self {
            Self::Sound | Self::Leaking => "sound",
            Self::Faded => "faded",
            Self::Tired => "high-resistance",
            Self::Swollen => "swollen",
            Self::Warming => "self-warming",
            Self::Dead => "deeply-discharged",
            Self::Reversed => "reversed",
        }
    }

    /// What a careful eye sees.
    pub const fn sign(self) -> Option<Sign> {
        match self {
            Self::Swollen => Some(Sign::Swollen),
            Self::Leaking => Some(Sign::Leaked),
            _ => None,
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Sound => "sound",
            Self::Faded => "faded",
            Self::Tired => "high-resistance",
            Self::Swollen => "swollen",
            Self::Leaking => "leaking",
            Self::Warming => "self-warming",
            Self::Dead => "deeply discharged",
            Self::Reversed => "reversed",
        })
    }
}

/// The name on a cell's tag.
pub fn name(cell: u8) -> String {
    format!("PE-{:04}", u32::from(cell) + 1)
}

/// The name on a box.
pub fn box_name(one: u8) -> String {
    format!("B-{one}")
}
