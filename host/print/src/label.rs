//! A label laid out in whole dots: the code and the words as large as there is room for, nothing cut.
//!
//! Of what fits, the largest code wins with which the words are easy to read, then the largest words; if there is none, words are
//! made smaller down to the least that can be read, and the code down to its least modules. Words of rules keep the height that is
//! asked of their letters: where they do not fit, the label says where they stand.

mod arrangement;
mod fault;

pub use fault::LabelFault;

use crate::code::{Code, CodeKind};
use crate::font::Weight;
use crate::paper::{Fineness, Paper, SIDES_MM};
use arrangement::{Faces, arranged};
use celltriage_document::label::Label;
use celltriage_document::plain::plain;

/// A label laid out; all places are dots from the top left.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// What it is printed on.
    pub paper: Paper,
    /// Width and height.
    pub dots: [u32; 2],
    /// The code.
    pub code: Option<PlacedCode>,
    /// The words, in the order in which they are read.
    pub lines: Vec<PlacedLine>,
    /// Lines drawn across: left, top, width, height.
    pub bars: Vec<[u32; 4]>,
    /// Whether words that rules ask for had no room.
    pub marks_elsewhere: bool,
}

/// A code in its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlacedCode {
    /// The code.
    pub code: Code,
    /// Left edge of its first module.
    pub x: u32,
    /// Top edge of its first module.
    pub y: u32,
    /// Dots in the side of a module.
    pub module: u32,
}

/// A line of words in its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlacedLine {
    /// The words.
    pub words: String,
    /// How heavy.
    pub weight: Weight,
    /// Size of the font.
    pub size: u32,
    /// Where it begins.
    pub x: u32,
    /// Where its letters stand.
    pub baseline: u32,
    /// Whether the line before it is of the same text.
    pub goes_on: bool,
}

impl PlacedCode {
    /// Returns its dark rectangles: left, top, width, height.
    pub(crate) fn rectangles(&self) -> impl Iterator<Item = [u32; 4]> + '_ {
        let dots = |modules: usize| self.module * modules as u32;
        self.code.runs().into_iter().map(move |[column, row, length]| {
            [self.x + dots(column), self.y + dots(row), dots(length), self.module]
        })
    }
}

/// Lays a label out.
///
/// # Errors
/// The paper is out of range, the font has not all letters, the code cannot be made, or there is no room: then with sizes that would do.
pub fn laid_out(label: &Label, paper: Paper, kind: CodeKind) -> Result<Layout, LabelFault> {
    if !paper.is_plausible() {
        return Err(LabelFault::Size {
            width_mm: paper.width_mm,
            height_mm: paper.height_mm,
            sides: SIDES_MM,
        });
    }
    let faces = Faces::open().ok_or(LabelFault::NoFont)?;
    let missing = faces.missing(label);
    if !missing.is_empty() {
        return Err(LabelFault::Letters(missing.into_iter().collect()));
    }
    let codes = match label.code.as_deref() {
        Some(text) => Code::all_of(text, kind)?.into_iter().map(Some).collect(),
        None => vec![None],
    };
    let fits = |width_mm: f64, height_mm: f64| {
        let paper = Paper { width_mm, height_mm, ..paper };
        let with = |marks| codes.iter().find_map(|code| arranged(label, paper, code.as_ref(), &faces, marks));
        with(true).or_else(|| if label.marks.is_empty() { None } else { with(false) })
    };
    fits(paper.width_mm, paper.height_mm).ok_or_else(|| LabelFault::NoRoom {
        width_mm: paper.width_mm,
        height_mm: paper.height_mm,
        instead: would_do(paper, |width, height| fits(width, height).is_some()),
    })
}

/// Returns the smallest papers on which it fits: in the same proportions, and as wide but higher.
fn would_do(paper: Paper, fits: impl Fn(f64, f64) -> bool) -> Vec<[f64; 2]> {
    let [_, most] = SIDES_MM;
    let Paper { width_mm, height_mm, .. } = paper;
    let steps =
        |side: f64| (1..).map(move |step| side.floor() + f64::from(step)).take_while(|side| *side <= most);
    let grown = steps(width_mm).map(|width| [width, (height_mm * width / width_mm).ceil()]);
    let grown = grown.filter(|[_, height]| *height <= most).find(|[width, height]| fits(*width, *height));
    let higher =
        steps(height_mm).map(|height| [width_mm, height]).find(|[width, height]| fits(*width, *height));
    grown.into_iter().chain(higher).collect()
}

/// Returns a text as it is printed: one line, what does not show spelt out.
fn printed(text: &celltriage_document::text::Text) -> String {
    plain(&text.said()).replace('\u{a0}', " ")
}

/// Returns the fineness as it is sold.
pub const fn sold_as(fineness: Fineness) -> u32 {
    match fineness {
        Fineness::Dpi203 => 203,
        Fineness::Dpi300 => 300,
        Fineness::Dpi600 => 600,
    }
}

#[cfg(test)]
mod tests;
