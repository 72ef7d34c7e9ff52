//! The parts of a screen: each in a shortest form, which is always there, and richer ones for the room that is left.

use super::layout::Layout;
use celltriage_document::document::Block;

/// Lines of a screen: those of the usual terminal but one, on which the next command is typed.
pub(super) const LINES: usize = 23;
/// Columns of the usual terminal; a narrower one has as many letters in more lines.
const COLUMNS: usize = 80;

/// A part of the screen.
#[derive(Debug, Default)]
pub(super) struct Part {
    /// Its forms, the shortest first, each with the rank of its claim to room: the lowest takes first.
    forms: Vec<(u8, Vec<Block>)>,
}

impl Part {
    /// Makes a part of what is shown in any case.
    pub(super) fn of(shortest: Vec<Block>) -> Self {
        Self { forms: vec![(0, shortest)] }
    }

    /// Adds a form that says more.
    #[must_use]
    pub(super) fn richer(mut self, rank: u8, form: Vec<Block>) -> Self {
        self.forms.push((rank, form));
        self
    }
}

/// Chooses the richest forms for which there is room, those with the better claim first; `taken` lines are taken already.
pub(super) fn fitted(parts: Vec<Part>, taken: usize, width: usize, layout: &Layout) -> Vec<Block> {
    let most = LINES * COLUMNS / width.clamp(1, COLUMNS);
    let lines: Vec<Vec<usize>> =
        parts.iter().map(|part| part.forms.iter().map(|(_, form)| layout.count(form)).collect()).collect();
    let at =
        |part: usize, form: usize| lines.get(part).and_then(|forms| forms.get(form)).copied().unwrap_or(0);
    let mut claims: Vec<(u8, usize, usize)> = Vec::new();
    for (part, found) in parts.iter().enumerate() {
        claims.extend(found.forms.iter().enumerate().skip(1).map(|(form, (rank, _))| (*rank, part, form)));
    }
    claims.sort_by_key(|(rank, part, form)| (*rank, *form, *part));
    let mut chosen = vec![0; parts.len()];
    let mut all = taken + (0..parts.len()).map(|part| at(part, 0)).sum::<usize>();
    for (_, part, form) in claims {
        let Some(now) = chosen.get_mut(part) else { continue };
        let then = (all + at(part, form)).saturating_sub(at(part, *now));
        // A richer form may also be the shorter one, where a drawing takes the place of words.
        if then <= most || then <= all {
            (*now, all) = (form, then);
        }
    }
    let picked = parts.into_iter().zip(chosen).filter_map(|(part, form)| part.forms.into_iter().nth(form));
    picked.flat_map(|(_, form)| form).collect()
}
