//! Bytes of a text file to letters.

use super::parts::Encoding;

impl Encoding {
    /// Guesses how a text is written: by its byte order mark, by the zero bytes that Latin letters have in UTF-16, by whether
    /// it is whole UTF-8; else one byte a letter.
    pub(super) fn of(bytes: &[u8]) -> Self {
        let beginning = bytes.get(..bytes.len().min(4096)).unwrap_or(bytes);
        let zeros = |odd: usize| beginning.iter().skip(odd).step_by(2).filter(|byte| **byte == 0).count();
        let half = beginning.len() / 2;
        match bytes {
            [0xFF, 0xFE, ..] => Self::Utf16LittleEndian,
            [0xFE, 0xFF, ..] => Self::Utf16BigEndian,
            _ if half > 8 && zeros(1) * 2 > half => Self::Utf16LittleEndian,
            _ if half > 8 && zeros(0) * 2 > half => Self::Utf16BigEndian,
            _ if std::str::from_utf8(bytes).is_ok_and(|text| !text.contains('\0')) => Self::Utf8,
            _ => Self::Latin1,
        }
    }

    /// Returns the letters; a byte order mark is left out.
    ///
    /// # Errors
    /// What does not fit, and where.
    pub(super) fn decode(self, bytes: &[u8]) -> Result<String, String> {
        let text = match self {
            Self::Utf8 => std::str::from_utf8(bytes).map(str::to_owned).map_err(|error| {
                let line = bytes.iter().take(error.valid_up_to()).filter(|byte| **byte == b'\n').count() + 1;
                format!(
                    "line {line} is not UTF-8; if letters like the degree sign are in it, it may be `latin-1`"
                )
            })?,
            Self::Latin1 => bytes.iter().map(|byte| char::from(*byte)).collect(),
            Self::Utf16LittleEndian => wide(bytes, u16::from_le_bytes)?,
            Self::Utf16BigEndian => wide(bytes, u16::from_be_bytes)?,
        };
        if text.contains('\0') {
            return Err(format!("it is no text as {self} (zero bytes in it)"));
        }
        Ok(text.strip_prefix('\u{feff}').map_or_else(|| text.clone(), str::to_owned))
    }
}

fn wide(bytes: &[u8], unit: impl Fn([u8; 2]) -> u16) -> Result<String, String> {
    let (pairs, rest) = bytes.as_chunks::<2>();
    if !rest.is_empty() {
        return Err("it ends in the middle of a letter of UTF-16; copy it again".to_owned());
    }
    let units: Vec<u16> = pairs.iter().map(|pair| unit(*pair)).collect();
    String::from_utf16(&units).map_err(|_| "it is not whole as UTF-16; copy it again".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_encoding_is_recognised_and_gives_the_same_letters() {
        let text = "Zeit;Spannung;Temperatur °C\n0;3,7;25\n";
        let wide = |order: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(order).collect::<Vec<u8>>();
        let cases: [(Encoding, Vec<u8>); 4] = [
            (Encoding::Utf8, text.as_bytes().to_vec()),
            (Encoding::Latin1, text.chars().map(|letter| u8::try_from(letter).unwrap()).collect()),
            (Encoding::Utf16LittleEndian, wide(u16::to_le_bytes)),
            (Encoding::Utf16BigEndian, wide(u16::to_be_bytes)),
        ];
        for (encoding, bytes) in cases {
            assert_eq!(Encoding::of(&bytes), encoding);
            assert_eq!(encoding.decode(&bytes).unwrap(), text);
        }
        let marked = [&[0xEF, 0xBB, 0xBF], text.as_bytes()].concat();
        assert_eq!(Encoding::Utf8.decode(&marked).unwrap(), text);
    }

    #[test]
    fn what_is_cut_or_no_text_is_refused_with_what_to_do() {
        assert!(Encoding::Utf16LittleEndian.decode(&[65, 0, 66]).unwrap_err().contains("copy it again"));
        assert!(Encoding::Utf8.decode(&[b'\n', 0xB0]).unwrap_err().contains("line 2"));
        assert!(Encoding::Utf8.decode(b"a\0b").unwrap_err().contains("no text"));
    }
}
