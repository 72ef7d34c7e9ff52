//! What the rules need of a paper, as points with source, whom to ask, and doubt.

use celltriage_custody::need::Need;
use celltriage_document::document::Point;
use celltriage_document::phrase::Phrase;

/// Lays a need out as a point of a paper.
pub(crate) fn point(need: &Need) -> Point {
    Point {
        text: need.text.as_str().into(),
        source: need.citation.as_str().into(),
        verify_with: need.verify.then(|| whom(&need.verify_with)),
        doubt: need.doubt.clone(),
    }
}

/// Earlier drafts do not name whom to ask.
pub(crate) fn whom(verify_with: &str) -> String {
    if verify_with.is_empty() { Phrase::TheAuthority.english().to_owned() } else { verify_with.to_owned() }
}
