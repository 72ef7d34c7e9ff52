//! A photograph, as it was given.

use crate::text::Text;

/// How the bytes of a photograph are packed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Packing {
    /// JPEG.
    Jpeg,
    /// PNG.
    Png,
}

/// A photograph.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Its bytes, never changed.
    pub bytes: Vec<u8>,
    /// How they are packed.
    pub packing: Packing,
    /// What it shows, for whoever does not see it.
    pub shows: Text,
}

impl Packing {
    /// Tells it from the first bytes of a file.
    pub fn of(bytes: &[u8]) -> Option<Self> {
        if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
            Some(Packing::Jpeg)
        } else if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
            Some(Packing::Png)
        } else {
            None
        }
    }

    /// Returns its media type.
    pub const fn media_type(self) -> &'static str {
        match self {
            Packing::Jpeg => "image/jpeg",
            Packing::Png => "image/png",
        }
    }
}

impl Picture {
    /// Takes a photograph; `None` if the bytes are neither JPEG nor PNG.
    pub fn of(bytes: Vec<u8>, shows: impl Into<Text>) -> Option<Self> {
        Some(Self { packing: Packing::of(&bytes)?, bytes, shows: shows.into() })
    }

    /// Returns it as an address that holds all of it, for a page that loads nothing.
    pub(crate) fn address(&self) -> String {
        format!("data:{};base64,{}", self.packing.media_type(), base64(&self.bytes))
    }
}

/// Writes bytes as letters (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let byte = |index: usize| u32::from(three.get(index).copied().unwrap_or_default());
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for place in 0..4 {
            let letter = LETTERS.get((bits >> (18 - 6 * place)) as usize & 63).copied().unwrap_or_default();
            out.push(if place > three.len() { '=' } else { char::from(letter) });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_become_the_letters_of_the_standard() {
        let known = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (bytes, letters) in known {
            assert_eq!(base64(bytes.as_bytes()), letters);
        }
    }

    #[test]
    fn only_photographs_are_taken() {
        assert!(Picture::of(b"GIF89a".to_vec(), "x").is_none());
        let jpeg = Picture::of(vec![0xff, 0xd8, 0xff, 0xe0], "x").unwrap();
        assert_eq!(
            (jpeg.packing, jpeg.address().as_str()),
            (Packing::Jpeg, "data:image/jpeg;base64,/9j/4A==")
        );
    }
}
