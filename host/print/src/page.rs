//! A document as pages of A4 in a tagged PDF: one page where that can be read, more where it cannot; nothing is cut.
//!
//! | file | what |
//! |---|---|
//! | `styled` | words with their weight and shade, broken into lines |
//! | `piece` | what stands on its own and stays on one page |
//! | `pieces` | the blocks of a document as pieces, for one size of letters |
//! | `shapes` | drawings |
//! | `tags` | what each piece is, for whoever has the pages read aloud |

mod piece;
mod pieces;
mod shapes;
mod styled;
mod tags;

use crate::font::Weight;
use crate::pdf_file::{About, BadPdf, Fonts, POINTS_IN_MM, begun, ended};
use celltriage_document::document::Document;
use krilla::color::rgb;
use krilla::geom::Size;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::Fill;
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag};
use piece::Piece;
use pieces::Maker;
use tags::Tags;

/// A4 in points, and its free edges.
const WIDTH: f64 = 210.0 * POINTS_IN_MM;
const HEIGHT: f64 = 297.0 * POINTS_IN_MM;
const SIDE: f64 = 16.0 * POINTS_IN_MM;
const ABOVE: f64 = 13.0 * POINTS_IN_MM;
const BELOW: f64 = 15.0 * POINTS_IN_MM;
/// Sizes of letters in points that are tried for one page, and the one for more pages; our choice: 7 points are the least that is
/// read with ease.
const SIZES: [f64; 6] = [9.5, 9.0, 8.5, 8.0, 7.5, 7.0];
const USUAL: f64 = 9.0;

/// Writes a document as PDF.
///
/// # Errors
/// It cannot be made, for example since a photograph is damaged.
pub fn pdf(document: &Document, about: &About) -> Result<Vec<u8>, BadPdf> {
    let width = WIDTH - 2.0 * SIDE;
    let room = HEIGHT - ABOVE - BELOW;
    let made = |size: f64| Maker::new(size, width)?.pieces(document);
    let mut chosen = None;
    for size in SIZES {
        let pieces = made(size)?;
        if heights(&pieces) <= room {
            chosen = Some((size, pieces));
            break;
        }
    }
    let (size, pieces) = match chosen {
        Some(found) => found,
        None => (USUAL, made(USUAL)?),
    };
    let pages = split(pieces, room);
    let fonts = Fonts::open()?;
    let mut file = begun(about)?;
    let mut tags = Tags::default();
    let sheet = Size::from_wh(WIDTH as f32, HEIGHT as f32)
        .ok_or_else(|| BadPdf("a page without a size".to_owned()))?;
    for (number, pieces) in pages.iter().enumerate() {
        let mut page = file.start_page_with(PageSettings::new(sheet));
        let mut surface = page.surface();
        let mut top = ABOVE;
        for (place, piece) in pieces.iter().enumerate() {
            top += if place == 0 { 0.0 } else { piece.above };
            tags.draw(piece, [SIDE, top], &fonts, &mut surface);
            top += piece.height;
        }
        foot(&mut surface, &fonts, &about.title, size, [number + 1, pages.len()]);
        surface.finish();
        page.finish();
    }
    ended(file, about, tags.ended())
}

/// How high pieces are one below the other.
fn heights(pieces: &[Piece]) -> f64 {
    let first = pieces.first().map_or(0.0, |piece| piece.above);
    pieces.iter().map(|piece| piece.above + piece.height).sum::<f64>() - first
}

/// Puts pieces on as many pages as it takes; a heading goes with what follows it.
fn split(pieces: Vec<Piece>, room: f64) -> Vec<Vec<Piece>> {
    let mut pages: Vec<Vec<Piece>> = Vec::new();
    let mut page: Vec<Piece> = Vec::new();
    let mut together: Vec<Piece> = Vec::new();
    for piece in pieces {
        let goes_on = piece.with_next;
        together.push(piece);
        if goes_on {
            continue;
        }
        let fits =
            heights(&page) + together.iter().map(|piece| piece.above + piece.height).sum::<f64>() <= room;
        if !fits && !page.is_empty() {
            pages.push(std::mem::take(&mut page));
        }
        page.append(&mut together);
    }
    page.append(&mut together);
    pages.push(page);
    pages
}

/// What it is and which page, at the foot.
fn foot(surface: &mut Surface<'_>, fonts: &Fonts, title: &str, size: f64, [page, of]: [usize; 2]) {
    surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Footer)));
    surface.set_fill(Some(shade(0x55)));
    let size = size.min(8.0);
    let face = Weight::Regular.face();
    let words = face.as_ref().map(|face| face.spelt(&format!("{title} · {page}/{of}"))).unwrap_or_default();
    let width = face.map_or(0.0, |face| face.width(&words)) * size;
    fonts.write(surface, &words, Weight::Regular, size, [WIDTH - SIDE - width, HEIGHT - 0.6 * BELOW]);
    surface.set_fill(None);
    surface.end_tagged();
}

/// A grey, from black (0) to white.
fn shade(grey: u8) -> Fill {
    Fill { paint: rgb::Color::new(grey, grey, grey).into(), opacity: NormalizedF32::ONE, ..Fill::default() }
}

#[cfg(test)]
mod tests;
