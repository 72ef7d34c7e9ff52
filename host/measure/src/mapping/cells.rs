//! Fields of a line.

use super::parts::Separator;

impl Separator {
    /// Splits a line; a quoted field may hold separators.
    pub(super) fn fields(self, line: &str) -> Vec<String> {
        let line = line.trim_end_matches(['\r', '\n']);
        let byte = match self {
            Self::Space => return line.split_whitespace().map(str::to_owned).collect(),
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
        };
        if !line.contains('"') {
            return line.split(char::from(byte)).map(|field| field.trim().to_owned()).collect();
        }
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(byte)
            .flexible(true)
            .has_headers(false)
            .from_reader(line.as_bytes());
        let mut record = csv::StringRecord::new();
        match reader.read_record(&mut record) {
            Ok(true) => record.iter().map(|field| field.trim().to_owned()).collect(),
            Ok(false) | Err(_) => Vec::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quoted_fields_and_runs_of_spaces_are_fields() {
        assert_eq!(Separator::Comma.fields("1,\"a,b\",3 \r\n"), ["1", "a,b", "3"]);
        assert_eq!(Separator::Space.fields("  1   2\t3"), ["1", "2", "3"]);
        assert_eq!(Separator::Semicolon.fields("1;;3,5;"), ["1", "", "3,5", ""]);
        assert!(Separator::Comma.fields("\"").len() <= 1);
    }
}
