//! Photographs, three beside each other, each whole.

use super::super::piece::{Content, Part, Piece, Role};
use super::Maker;
use crate::font::Weight;
use crate::pdf_file::{BadPdf, POINTS_IN_MM};
use celltriage_document::document::{Block, Packing, Picture};
use krilla::image::Image;

/// Most in a row, the space between them and their greatest height, in points.
const IN_ROW: usize = 3;
const BETWEEN: f64 = 3.0 * POINTS_IN_MM;
const MOST_HIGH: f64 = 50.0 * POINTS_IN_MM;

impl Maker {
    /// Makes a piece of each row, with what each shows below it.
    pub(super) fn photographs(&self, blocks: &[Block]) -> Result<Vec<Piece>, BadPdf> {
        let found: Vec<&Picture> = blocks
            .iter()
            .filter_map(|block| match block {
                Block::Picture(picture) => Some(picture),
                _ => None,
            })
            .collect();
        found
            .chunks(IN_ROW)
            .flat_map(|row| row.iter().enumerate())
            .map(|(place, picture)| self.photograph(picture, place))
            .collect()
    }

    /// The first of a row is as high as the row may be; those after it stand beside it and take no height.
    fn photograph(&self, picture: &Picture, place: usize) -> Result<Piece, BadPdf> {
        let size = 0.9 * self.letters.size;
        let room = (self.width - BETWEEN * (IN_ROW - 1) as f64) / IN_ROW as f64;
        let left = place as f64 * (room + BETWEEN);
        let image = image(picture)?;
        let (wide, high) = image.size();
        let scale = (room / f64::from(wide.max(1))).min(MOST_HIGH / f64::from(high.max(1)));
        let shown = [f64::from(wide) * scale, f64::from(high) * scale];
        let shows = self.letters.printed(&picture.shows.said());
        let top = if place == 0 { 0.0 } else { -row_height(size) };
        let words = self.letters.lines(&picture.shows, size, room, Weight::Regular);
        let line = |(number, runs)| {
            let baseline = top + MOST_HIGH + size * (number as f64 * crate::font::LINE + crate::font::ABOVE);
            Content::Line { runs, at: [left, baseline], size }
        };
        let mut content = vec![Content::Image { image, at: [left, top + MOST_HIGH - shown[1]], size: shown }];
        content.extend(words.into_iter().take(2).enumerate().map(line));
        let (above, height) = if place == 0 { (0.8 * size, row_height(size)) } else { (0.0, 0.0) };
        let mut piece = Piece::new(Role::Figure(shows), above, height);
        piece.parts.push(Part { content, head: false });
        piece.with_next = place + 1 < IN_ROW;
        Ok(piece)
    }
}

/// A row with two lines of words.
fn row_height(size: f64) -> f64 {
    MOST_HIGH + 2.0 * size * crate::font::LINE
}

fn image(picture: &Picture) -> Result<Image, BadPdf> {
    let bytes = picture.bytes.clone();
    let read = match picture.packing {
        Packing::Jpeg => Image::from_jpeg(bytes.into(), false),
        Packing::Png => Image::from_png(bytes.into(), false),
    };
    read.map_err(|why| BadPdf(format!("{}: it cannot be read as a photograph: {why}", picture.shows.said())))
}
