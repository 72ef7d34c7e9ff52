//! The temperatures between which a person is told to charge a cell: one figure for every page.
//!
//! The narrower of what is published on each side: the US Fire Administration has lithium-ion cells charged neither below
//! 0 °C nor above 40 °C; the standard band of charging without further measures begins at 10 °C and ends at 45 °C (IEC
//! 62133-2 Annex A, from memory).

/// Coldest and hottest cell that is charged, in °C.
pub const CHARGE_C: (i32, i32) = (10, 40);

/// Returns the band in words.
pub fn charge_temperature() -> String {
    let (coldest, hottest) = CHARGE_C;
    format!("between {coldest} and {hottest} °C")
}
