//! What a scanner reads: a Data Matrix or a QR code as a square of modules, with the quiet zone it needs.

use celltriage_document::label::is_scanned_alike;
use datamatrix::{DataMatrix, SymbolList};
use qrcodegen::{QrCode, QrCodeEcc, QrSegment, Version};

/// Which code.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CodeKind {
    /// Data Matrix, ECC 200: the smallest for a short name.
    #[default]
    DataMatrix,
    /// QR code of the highest error correction: what every telephone reads.
    Qr,
}

/// A code as modules.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Code {
    /// Which one.
    pub kind: CodeKind,
    /// Modules on a side, without the quiet zone.
    pub side: usize,
    /// Row by row, whether a module is dark.
    dark: Vec<bool>,
}

/// Why there is no code.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BadCode {
    /// Scanners read other letters wrongly.
    #[error(
        "`{0}` cannot stand in a code: scanners read only letters A to Z, digits and the signs of a keyboard alike"
    )]
    NotAscii(String),
    /// It is longer than any code.
    #[error("`{0}` is too long for a code")]
    TooLong(String),
}

impl CodeKind {
    /// Returns how many modules must stay free on each side: ISO/IEC 16022 asks for one, ISO/IEC 18004 for four (from memory).
    pub const fn quiet_zone(self) -> usize {
        match self {
            CodeKind::DataMatrix => 1,
            CodeKind::Qr => 4,
        }
    }
}

impl Code {
    /// Makes the codes of a text, from the one that stands most damage to the smallest.
    ///
    /// One stain over a tenth of a code is read past with 26 modules (Data Matrix) or 25 (QR) on a side and not with fewer: a stain
    /// of that share touches more of the few words of a small code than it can mend (tried in the tests of labels).
    ///
    /// # Errors
    /// The text is empty, too long, or not printable ASCII.
    pub fn all_of(text: &str, kind: CodeKind) -> Result<Vec<Self>, BadCode> {
        if !is_scanned_alike(text) {
            return Err(BadCode::NotAscii(text.to_owned()));
        }
        let mut codes: Vec<Self> = match kind {
            CodeKind::DataMatrix => [26, 10].iter().filter_map(|least| data_matrix(text, *least)).collect(),
            CodeKind::Qr => [2, 1].iter().filter_map(|least| qr(text, *least)).collect(),
        };
        codes.dedup();
        if codes.is_empty() { Err(BadCode::TooLong(text.to_owned())) } else { Ok(codes) }
    }

    /// Returns modules on a side with the quiet zone.
    pub const fn whole_side(&self) -> usize {
        self.side + 2 * self.kind.quiet_zone()
    }

    /// Returns the runs of dark modules, row by row: column, row, length.
    pub(crate) fn runs(&self) -> Vec<[usize; 3]> {
        let mut runs: Vec<[usize; 3]> = Vec::new();
        for (row, modules) in self.dark.chunks(self.side.max(1)).enumerate() {
            for (column, _) in modules.iter().enumerate().filter(|(_, dark)| **dark) {
                match runs.last_mut() {
                    Some([first, at, length]) if *at == row && *first + *length == column => *length += 1,
                    _ => runs.push([column, row, 1]),
                }
            }
        }
        runs
    }
}

fn data_matrix(text: &str, least_side: usize) -> Option<Code> {
    let squares = SymbolList::default().enforce_square().enforce_width_in(least_side..);
    let map = DataMatrix::encode(text.as_bytes(), squares).ok()?.bitmap();
    Some(Code { kind: CodeKind::DataMatrix, side: map.width(), dark: map.bits().to_vec() })
}

fn qr(text: &str, least_version: u8) -> Option<Code> {
    let (least, most) = (Version::new(least_version), Version::new(40));
    let parts = QrSegment::make_segments(text);
    let code = QrCode::encode_segments_advanced(&parts, QrCodeEcc::High, least, most, None, false).ok()?;
    let side = code.size();
    let rows = (0..side).flat_map(|y| (0..side).map(move |x| (x, y)));
    let dark = rows.map(|(x, y)| code.get_module(x, y)).collect();
    Some(Code { kind: CodeKind::Qr, side: side.unsigned_abs() as usize, dark })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tag_takes_a_small_square_and_its_runs_are_all_its_dark_modules() {
        for (kind, sides) in [(CodeKind::DataMatrix, [26, 14]), (CodeKind::Qr, [25, 21])] {
            let codes = Code::all_of("PE-0412+K", kind).unwrap();
            assert_eq!(codes.iter().map(|code| code.side).collect::<Vec<_>>(), sides);
            for code in codes {
                assert_eq!(code.whole_side(), code.side + 2 * kind.quiet_zone());
                let dark = code.dark.iter().filter(|dark| **dark).count();
                assert_eq!(code.runs().iter().map(|[_, _, length]| length).sum::<usize>(), dark);
            }
        }
    }

    #[test]
    fn what_scanners_read_wrongly_is_refused() {
        for text in ["Ä-1", "", "a\nb", "セル"] {
            assert_eq!(Code::all_of(text, CodeKind::Qr), Err(BadCode::NotAscii(text.to_owned())));
        }
        let long = "x".repeat(4000);
        assert_eq!(Code::all_of(&long, CodeKind::DataMatrix), Err(BadCode::TooLong(long)));
    }
}
