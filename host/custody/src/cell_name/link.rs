//! A link that a scanner read where a cell is asked for: it names the thing elsewhere, and is no name of this shop.
//!
//! Makers print links into codes (IEC 61406-1: identification links; GS1 Digital Link URI Syntax: the serial number after `/21/`);
//! that both are web addresses with the number of the piece at the end of the path or among the queries is from memory. Nothing is
//! fetched, and nothing in a link is believed: its last part is offered as a name, and a person takes it or writes another.

use super::CellName;

/// A link that was scanned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ForeignLink {
    /// The link as it was read.
    pub link: String,
    /// Its last part, where a cell may be called so.
    pub offered: Option<String>,
}

/// Returns the link that a text is; `None` if it is none.
pub fn foreign_link(text: &str) -> Option<ForeignLink> {
    let text = text.trim();
    let (scheme, rest) = text.split_once("://")?;
    if !["http", "https"].contains(&scheme.to_lowercase().as_str()) {
        return None;
    }
    let rest = rest.split('#').next().unwrap_or_default();
    let (place, query) = rest.split_once('?').unwrap_or((rest, ""));
    let last_of_path = place.split('/').skip(1).filter(|part| !part.is_empty()).last();
    let last_of_query = || query.split('&').filter_map(|pair| pair.split_once('=')).next_back();
    let last = last_of_path.or_else(|| last_of_query().map(|(_, value)| value));
    let offered = last.and_then(unescaped).and_then(|name| CellName::new(name.trim()).ok());
    Some(ForeignLink { link: text.to_owned(), offered: offered.map(|name| name.to_string()) })
}

/// Returns a part of a link with its escaped bytes (`%2F`, RFC 3986) as letters; `None` if they are no text.
fn unescaped(part: &str) -> Option<String> {
    let mut bytes = Vec::new();
    let mut rest = part.bytes();
    while let Some(byte) = rest.next() {
        if byte != b'%' {
            bytes.push(byte);
            continue;
        }
        let digit =
            |byte: Option<u8>| char::from(byte?).to_digit(16).and_then(|digit| u8::try_from(digit).ok());
        let (high, low) = (digit(rest.next())?, digit(rest.next())?);
        bytes.push(high << 4 | low);
    }
    String::from_utf8(bytes).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_part_of_a_link_is_offered_and_nothing_else_of_it() {
        for (link, offered) in [
            ("https://id.example.org/01/00012345678905/21/A-77", Some("A-77")),
            ("HTTPS://example.org/cells/PE-0412/", Some("PE-0412")),
            ("https://example.org/21/A-77?17=271231#top", Some("A-77")),
            ("https://example.org?pn=12&sn=S%2F9", Some("S/9")),
            ("https://example.org/?sn=S9", Some("S9")),
            ("http://example.org", None),
            ("https://example.org/%00", None),
            ("https://example.org/%zz", None),
            ("https://example.org/a+b", None),
        ] {
            let found = foreign_link(&format!(" {link}\n")).unwrap();
            assert_eq!((found.link.as_str(), found.offered.as_deref()), (link, offered));
        }
        for text in ["PE-0412", "PE-0412+K", "cell:PE-1", "ftp://example.org/PE-1", "://", ""] {
            assert_eq!(foreign_link(text), None, "{text}");
        }
    }
}
