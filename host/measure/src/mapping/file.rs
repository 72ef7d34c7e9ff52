//! A mapping as a text file that a person may read and write.

use super::parts::Mapping;
use celltriage_written::Faults;

impl Mapping {
    /// Reads a mapping from the text of its file; `name` is what messages call it.
    ///
    /// # Errors
    /// The first fault with its place.
    pub fn from_toml(text: &str, name: &str) -> Result<Self, Faults> {
        let mapping: Self = celltriage_written::read(name, text)?;
        let fault = |what: &str| Err(Faults::of_whole(name, what));
        let layout = mapping.text;
        if layout.first_row_in_line == 0 {
            return fault("`first_row_in_line` is 0: lines are counted from 1");
        }
        if layout.names_in_line >= layout.first_row_in_line {
            return fault(
                "`names_in_line` must stand before `first_row_in_line`; 0 where no line names the columns",
            );
        }
        Ok(mapping)
    }

    /// Writes it as a file that [`Mapping::from_toml`] reads.
    ///
    /// # Errors
    /// What the writer of TOML says; none is known.
    pub fn to_toml(&self) -> Result<String, String> {
        let body = toml::to_string(self).map_err(|error| error.to_string())?;
        Ok(format!(
            "# How a file of another program is read: columns by name (or place, from 1), units, sign, which rows.\n{body}"
        ))
    }
}
