//! How many wires measured: with two, leads and clips are in every resistance. A person says it; no trace shows it.

/// Checks that a number of wires is one that cells are measured with.
pub(super) fn number_of_wires(number: u32) -> Result<u32, String> {
    match number {
        2 | 4 => Ok(number),
        _ => Err("a cell is measured with 2 wires, or with 4: two for the current and two for the voltage"
            .to_owned()),
    }
}
