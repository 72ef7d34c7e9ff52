//! Files of other kinds than those that are read: known by their first bytes, named as what they are.
//!
//! The marks are those of the formats' own specifications: ZIP (APPNOTE 4.3.7) and gzip (RFC 1952, 2.3.1), Apache Parquet ("PAR1"),
//! the compound file of older spreadsheets ([MS-CFB] 2.2), PDF (ISO 32000-1, 7.5.2) and SQLite ("SQLite format 3"). Marks and places are from memory; the worst that a wrong one does is the message of before.

/// A kind of file that is not read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Foreign {
    mark: &'static [u8],
    /// What it is, in words.
    pub(crate) kind: &'static str,
    /// What makes a file of it that is read.
    pub(crate) remedy: &'static str,
}

const AS_CSV: &str = "save the sheet with the readings as CSV (comma-separated, UTF-8) and grade that";

/// All of them.
const KINDS: [Foreign; 7] = [
    Foreign { mark: b"PK\x03\x04", kind: "a spreadsheet (xlsx, ods) or another ZIP file", remedy: AS_CSV },
    Foreign {
        mark: b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1",
        kind: "a spreadsheet of the older form (xls)",
        remedy: AS_CSV,
    },
    Foreign { mark: b"PAR1", kind: "a Parquet file", remedy: "write its columns out as CSV and grade that" },
    Foreign {
        mark: b"\x1F\x8B",
        kind: "a compressed file (gzip)",
        remedy: "unpack it and grade what was in it",
    },
    Foreign {
        mark: b"%PDF-",
        kind: "a PDF file",
        remedy: "grade the readings that it was made from, as CSV",
    },
    Foreign {
        mark: b"SQLite format 3\0",
        kind: "a database",
        remedy: "a book is not graded; write out the traces that it has kept, and grade those",
    },
    Foreign { mark: b"{", kind: "a JSON file", remedy: "write the readings out as CSV and grade that" },
];

impl Foreign {
    /// Returns what kind a file is of, if it is one that is not read.
    pub(crate) fn of(bytes: &[u8]) -> Option<Self> {
        KINDS.into_iter().find(|kind| bytes.starts_with(kind.mark))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_known_by_its_first_bytes_and_what_is_read_is_not_foreign() {
        for kind in KINDS {
            assert_eq!(Foreign::of(&[kind.mark, b"rest"].concat()), Some(kind));
        }
        for read in [
            &b""[..],
            b"Test Time / s,Voltage / V\n",
            b"\xEF\xBB\xBFTest Time / s",
            b"P,K\n",
            b"\x03\x01\x02\x00",
        ] {
            assert_eq!(Foreign::of(read), None, "{read:?}");
        }
    }
}
